"""A learner's seat on a school's server: started by JupyterHub as the learner, it becomes that learner's JupyterLab.

It closes the learner's home to others, puts the lessons into it, and then is the server itself (the process is
replaced).  Nothing here runs with more rights than the learner has.
"""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from .folder import BadFolder, fill
from .study import NoLab, lab_flags, lab_places

SOCKETS_VARIABLE = "LOOPBOOK_SOCKETS"
"""A folder of this learner's own for sockets. Where it is set, neither server nor kernel listens on a port."""
IDLE_VARIABLE = "LOOPBOOK_IDLE_MINUTES"
MEMORY_VARIABLE = "LOOPBOOK_MEMORY_MIB"
IDLE_MINUTES = 60
MOST_PROCESSES = 400
NOT_NEEDED = ("voila.server_extension", "jupyter_lsp")
"""What would cost each learner's server time and memory, and serves none of the lessons."""
UNSET_PORT = 8888
"""The port at which a server takes none to be asked for; beside a socket it accepts no other."""


class NoSeat(Exception):
    """The learner's server cannot start. The message is one line for who looks after the machine."""


def main(words: Sequence[str]) -> int:
    """Sit down: only comes back, with 2, where that cannot be."""
    try:
        command, environment = seat(words, Path.home())
    except (NoSeat, BadFolder, NoLab) as bad:
        print(f"loopbook: no seat: {bad}", file=sys.stderr)
        return 2
    sys.stdout.flush()
    return os.execve(command[0], command, environment)


def seat(words: Sequence[str], home: Path) -> tuple[list[str], dict[str, str]]:
    """Make a home ready; the command line and the environment of its server.

    words: what JupyterHub adds for its server.  home: the learner's own folder.  Raises NoSeat, BadFolder, NoLab.
    """
    os.umask(0o077)
    sockets = os.environ.get(SOCKETS_VARIABLE)
    if sockets:     # a host that others use too; in a pod of its own a home is a volume that may well belong to root
        close(home)
    limit(os.environ.get(MEMORY_VARIABLE))
    filled = fill(home / "Loopbook")
    for line in filled.said:
        print(line)
    environment = {**os.environ, **lab_places()}
    idle = 60 * _minutes(os.environ.get(IDLE_VARIABLE))
    flags = [
        *lab_flags(filled.folder),
        "--LabApp.log_level=ERROR",
        f"--MappingKernelManager.cull_idle_timeout={idle}",
        f"--MappingKernelManager.cull_interval={min(60, idle)}",
        "--MappingKernelManager.cull_connected=True",
        f"--ServerApp.shutdown_no_activity_timeout={idle}",
        *(f"--ServerApp.jpserver_extensions={name}=False" for name in NOT_NEEDED),
    ]
    if sockets:
        flags += on_sockets(Path(sockets), environment)
    server = "widgets.serve.seat_server" if sockets else "jupyterhub.singleuser"
    return [sys.executable, "-P", "-m", server, *flags, *words], environment


def close(home: Path) -> None:
    """Take away what others may do with a home: with none of these rights they cannot pass it on the way to anything.

    Raises NoSeat where it is not this user's own folder. Not to be asked of a volume that nobody else can reach.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as place:
    ...     os.chmod(place, 0o755)
    ...     close(Path(place))
    ...     oct(os.stat(place).st_mode & 0o777)
    '0o700'
    """
    try:
        seen = home.stat()
        if seen.st_uid != os.geteuid() or not stat.S_ISDIR(seen.st_mode):
            raise NoSeat(f"{home}: this home folder belongs to somebody else; `chown` it to the learner")
        if seen.st_mode & 0o077:
            home.chmod(stat.S_IMODE(seen.st_mode) & 0o700)
    except OSError as error:
        raise NoSeat(f"{home}: {(error.strerror or str(error)).lower()}; the learner needs a home folder of their own") from None


def limit(memory_mib: str | None) -> None:
    """No learner's process may take the host down: processes are counted, and each one's memory can be limited."""
    import resource

    _, hard = resource.getrlimit(resource.RLIMIT_NPROC)
    most = MOST_PROCESSES if hard == resource.RLIM_INFINITY else min(hard, MOST_PROCESSES)
    if os.geteuid() != 0:
        resource.setrlimit(resource.RLIMIT_NPROC, (most, most))
    if memory_mib and memory_mib.isdigit() and int(memory_mib):
        resource.setrlimit(resource.RLIMIT_DATA, (int(memory_mib) * 2**20,) * 2)


def on_sockets(place: Path, environment: dict[str, str]) -> list[str]:
    """Flags that put a server and its kernels on sockets: the server on one that the hub has opened and hands over, the
    kernels on sockets in a folder that no other user can enter.

    A port on this machine could be reached by everybody on it, what a kernel prints could be read there by anybody who
    connects, and a port that falls free could be taken by another user.  Raises NoSeat for a folder that others can enter.
    """
    try:
        seen = place.lstat()
    except OSError as error:
        raise NoSeat(f"{place}: {(error.strerror or str(error)).lower()}") from None
    if not stat.S_ISDIR(seen.st_mode) or seen.st_uid != os.geteuid() or seen.st_mode & 0o077:
        raise NoSeat(f"{place}: must be a folder of this user's own that nobody else may enter")
    environment["JUPYTER_RUNTIME_DIR"] = str(place)
    environment["JUPYTERHUB_SERVICE_URL"] = f"http://127.0.0.1:{UNSET_PORT}{_prefix(environment)}"
    return [f"--ServerApp.sock={place / 'handed-over'}", "--KernelManager.transport=ipc"]


def _prefix(environment: Mapping[str, str]) -> str:
    return environment.get("JUPYTERHUB_SERVICE_PREFIX", "/")


def _minutes(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and int(text) else IDLE_MINUTES


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
