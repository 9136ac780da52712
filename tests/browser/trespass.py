"""What one learner of a hub may try against another, with all that the learner's own kernel can do. Read as text, run as them.

Takes a JSON object on standard input and prints one: for each try what came of it, 'refused: …' or 'GOT …'.
"""

import ctypes
import glob
import http.client
import json
import os
import signal
import socket
import sys
from urllib.parse import quote


def main():
    """Try everything."""
    told = json.loads(sys.stdin.readline())
    other, home, sockets, hub_sockets = told["other"], told["home"], told["sockets"], told["hub_sockets"]
    came = {}

    def attempt(name):
        """Run what it decorates at once, and note what came of it."""
        def run(do):
            try:
                got = do()
            except (OSError, http.client.HTTPException) as error:
                came[name] = f"refused: {type(error).__name__} {error.strerror if isinstance(error, OSError) else error}"
            else:
                came[name] = got if isinstance(got, str) and got.startswith("refused") else f"GOT {str(got)[:200]}"
        return run

    def read(path):
        """A file's first bytes."""
        with open(path, "rb") as file:
            return file.read(200)

    def _uid_of(path):
        try:
            return os.lstat(path).st_uid
        except OSError:
            return -1

    def of_other(what):
        """The same thing of each process of the other's."""
        pids = [pid for pid in map(int, filter(str.isdigit, os.listdir("/proc"))) if _uid_of(f"/proc/{pid}") == told["uid"]]
        assert pids, "the other has no process to look at"
        got = []
        for pid in pids:
            try:
                got.append(what(pid))
            except OSError:
                continue
        return got or "refused: by each process"

    def connect(path):
        """Open a socket by its path."""
        with socket.socket(socket.AF_UNIX) as wire:
            wire.connect(path)
            return "a connection"

    class _OnSocket(http.client.HTTPConnection):
        def connect(self):
            """To the hub's socket."""
            self.sock = socket.socket(socket.AF_UNIX)
            self.sock.connect(os.path.join(hub_sockets, "hub"))

    def own(name):
        """A value in the environment of the learner's own server, which the learner may read."""
        for pid in filter(str.isdigit, os.listdir("/proc")):
            try:
                environment = read_all(f"/proc/{pid}/environ")
            except OSError:
                continue
            for line in environment.split(b"\0"):
                if line.startswith(name.encode() + b"="):
                    return line.partition(b"=")[2].decode()
        return ""

    def read_all(path):
        """A file's bytes."""
        with open(path, "rb") as file:
            return file.read()

    def ask(path, wire=None):
        """Ask the hub, or the front door, with the learner's own token."""
        wire = wire or _OnSocket("hub")
        wire.request("GET", path, headers={"Authorization": f"token {own('JUPYTERHUB_API_TOKEN')}"})
        answer = wire.getresponse()
        body = answer.read().decode("utf-8", "replace")
        if answer.status == 200 and (other in body or "kernel" in body):
            return f"{answer.status} {body}"
        return f"refused: {answer.status}"

    attempt("list the home")(lambda: os.listdir(home))
    attempt("read the lesson")(lambda: read(told["lesson"]))
    attempt("read the record")(lambda: read(told["record"]))
    attempt("enter the home")(lambda: os.chdir(home))
    attempt("write into the home")(lambda: os.mkdir(os.path.join(home, "was-here")))
    attempt("list the sockets")(lambda: os.listdir(sockets))
    attempt("connect to the server's socket")(lambda: connect(told["web"]))
    attempt("list the servers' sockets")(lambda: os.listdir(os.path.dirname(told["web"])))
    attempt("put a link in the place of my own server")(lambda: os.symlink(
        os.path.join(hub_sockets, "proxy", "api"), os.path.join(os.path.dirname(told["web"]), f"{os.getuid()}.new")))
    attempt("put a socket in its place")(lambda: os.rename(sockets, sockets + ".gone"))
    for number, path in enumerate(told["kernel_sockets"]):
        attempt(f"connect to the kernel's socket {number}")(lambda path=path: connect(path))
    attempt("read the kernel's connection file")(lambda: read(told["connection_file"]))
    attempt("connect to the proxy's own socket")(lambda: connect(os.path.join(hub_sockets, "proxy", "api")))
    attempt("take the hub's socket away")(lambda: os.unlink(os.path.join(hub_sockets, "hub")))
    attempt("read the hub's database")(lambda: read(os.path.join(told["state"], "hub.sqlite")))
    attempt("read the hub's cookie secret")(lambda: read(os.path.join(told["state"], "cookie_secret")))
    attempt("read environments")(lambda: of_other(lambda pid: read(f"/proc/{pid}/environ")))
    attempt("list open files")(lambda: of_other(lambda pid: os.listdir(f"/proc/{pid}/fd")))
    attempt("see where processes stand")(lambda: of_other(lambda pid: os.readlink(f"/proc/{pid}/cwd")))
    attempt("read memory")(lambda: of_other(lambda pid: read(f"/proc/{pid}/mem")))
    attempt("end processes")(lambda: of_other(lambda pid: os.kill(pid, signal.SIGURG)))
    libc = ctypes.CDLL(None, use_errno=True)

    def _trace(pid):
        if libc.ptrace(16, pid, 0, 0) != 0:
            raise OSError(ctypes.get_errno(), "ptrace")
        return pid

    attempt("trace processes")(lambda: of_other(_trace))
    attempt("ask the hub for everybody")(lambda: ask("/hub/api/users"))
    attempt("ask the hub for the other")(lambda: ask(f"/hub/api/users/{other}"))
    attempt("ask the hub for the other's tokens")(lambda: ask(f"/hub/api/users/{other}/tokens"))
    attempt("ask the hub for the routes")(lambda: ask("/hub/api/proxy"))
    for path in ("api/kernels", "api/sessions", "api/contents", f"files/{quote(told['name'])}", "api/terminals"):
        attempt(f"ask the other's server for {path}")(
            lambda path=path: ask(f"/user/{other}/{path}", http.client.HTTPConnection("127.0.0.1", told["port"], timeout=20)))
    attempt("find the other's words in /tmp")(lambda: [path for path in glob.glob("/tmp/*") + glob.glob("/dev/shm/*")
                                                       if _uid_of(path) == told["uid"] and os.access(path, os.R_OK)]
                                              or "refused: nothing there can be read")

    def _heard():
        """What the other's listening ports tell to whoever connects and waits."""
        with open("/proc/net/tcp") as table:
            rows = [line.split() for line in table][1:]
        ports = [int(row[1].partition(":")[2], 16) for row in rows if row[3] == "0A" and int(row[7]) == told["uid"]]
        heard = []
        for port in ports:
            with socket.create_connection(("127.0.0.1", port), 2) as wire:
                wire.settimeout(1)
                # The greeting of ZMTP 3.0 and a SUB's hello: a kernel's open outlet would answer as PUB or XPUB.
                wire.sendall(b"\xff" + b"\0" * 8 + b"\x7f\x03\0NULL" + b"\0" * 48)
                wire.sendall(b"\x04\x19\x05READY\x0bSocket-Type\0\0\0\x03SUB")
                said = b""
                try:
                    while part := wire.recv(4096):
                        said += part
                except OSError:
                    said += b""
                if b"PUB" in said or b"ROUTER" in said:
                    heard.append((port, said[-80:]))
        return heard or f"refused: {len(ports)} ports, none of a kernel's channels"

    attempt("listen at the other's ports")(_heard)
    print(json.dumps(came))


if __name__ == "__main__":
    main()
