"""A learner's JupyterLab on a socket that the hub has opened for it, in a folder of root's own.

Were the learner's server to make the socket itself, the learner could put a link in its place, and the proxy, which may open
every socket of the host, would follow it.
"""

from __future__ import annotations

import importlib
import os
import socket
import sys

LISTEN_VARIABLE = "LOOPBOOK_LISTEN"
"""The number of the descriptor on which to listen."""


def main() -> None:
    """Serve until stopped."""
    opened = int(os.environ.pop(LISTEN_VARIABLE))
    os.set_inheritable(opened, False)
    serverapp = importlib.import_module("jupyter_server.serverapp")
    if not hasattr(serverapp, "bind_unix_socket"):
        sys.exit("loopbook: this jupyter_server cannot take over a socket; install the one that Loopbook asks for")

    def already_bound(*_: object, **__: object) -> socket.socket:
        bound = socket.socket(fileno=opened)
        bound.setblocking(False)
        return bound

    vars(serverapp)["bind_unix_socket"] = already_bound
    importlib.import_module("jupyterhub.singleuser").main()


if __name__ == "__main__":
    main()
