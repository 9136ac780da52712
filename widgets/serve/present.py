"""`loopbook present`: a lesson for the projector, or for a tablet in the room.

The server is a process of its own, on this machine only unless a host is named.  It remembers the class's number and
the step in the data folder.
"""

from __future__ import annotations

import importlib.util
import json
import os
import secrets
import socket
import subprocess
import sys
import time
from difflib import get_close_matches
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.parse import quote
from urllib.request import ProxyHandler, Request, build_opener

from widgets.learn.lessons import shipped_lessons
from widgets.learn.record import data_folder

from .folder import BadFolder
from .study import NoLab, _ended_like_ctrl_c, _stop, lab_places, open_browser, pick_lesson

HOST = "127.0.0.1"
FIRST_PORT, PORTS_TRIED = 9040, 60
PATIENCE_S = 120.0
IDLE_S = 900
"""A kernel that no page is connected to ends after this."""
WARM, MOST = 1, 24
LOCAL = ("127.0.0.1", "localhost", "::1")


def present(lesson: str | None = None, *, browser: bool = True, port: int | None = None, host: str = HOST,
            seed: int | None = None, idle_s: int = IDLE_S) -> int:
    """Serve lessons for the projector until that is stopped.

    lesson: its name or a part of it; the contents page unless given.  browser: False only prints the address.
    port: the first free one from 9040 on unless given.  host: where to listen; 127.0.0.1 is this machine only, 0.0.0.0 is
    for tablets in the room.  seed: the class's number, 0 to 999999; the one of last time unless given.
    idle_s: after so many seconds without a page a kernel ends.
    Returns what the command exits with: 0 when stopped, 2 with one clear line on stderr.
    """
    with _ended_like_ctrl_c():
        try:
            chosen = named(lesson)
            print("Starting …", flush=True)
            server, taken, tokens = start(port, host, seed, idle_s, lesson=chosen)
        except NoLab as bad:
            print(f"loopbook present: {bad}", file=sys.stderr)
            return 2
        except KeyboardInterrupt:
            print("\nStopped before a page was open.")
            return 0
        try:
            address = f"http://{HOST if host not in LOCAL and host in ('0.0.0.0', '::') else host}:{taken}"
            page = f"/lesson/{quote(chosen)}" if chosen else "/"
            print(f"For the projector:\n  {address}{page}?token={tokens[0]}")
            if host not in LOCAL:
                print(f"For tablets in the room:\n  http://{_name_for_others(host)}:{taken}{page}?token={tokens[1]}")
            print("Keep this window open while you teach. To stop: Ctrl+C.", flush=True)
            if browser and not open_browser(f"{address}{page}?token={tokens[0]}"):
                print("No browser could be opened from here: copy the address into one on this machine.", flush=True)
            code = server.wait()
            if code != 0:
                print(f"loopbook present: the server ended by itself (exit {code}); what it said is in {log_file(taken)}",
                      file=sys.stderr)
            return 2 if code else 0
        except KeyboardInterrupt:
            print("\nStopped. The step and the class number are kept.")
            return 0
        finally:
            _stop(server)


def named(lesson: str | None) -> str:
    """The name of the lesson that a word means, '' for None. Raises NoLab with the nearest name where none does.

    >>> named("which configuration?")
    '12-which-configuration'
    """
    if lesson is None:
        return ""
    lessons = shipped_lessons()
    try:
        return pick_lesson(lessons, lesson).stem
    except BadFolder as bad:
        word = lesson.strip().lower().removesuffix(".ipynb").replace(" ", "-")
        stems = [path.stem for path in lessons]
        plain = {stem.partition("-")[2]: stem for stem in stems} | dict(zip(stems, stems))
        near = get_close_matches(word, plain, 1, 0.5)
        raise NoLab(f"'{lesson}' names no lesson; did you mean '{plain[near[0]]}'?" if near else str(bad)) from None


def start(port: int | None, host: str, seed: int | None = None, idle_s: int = IDLE_S, warm: int = WARM,
          lesson: str = "") -> tuple[subprocess.Popen[bytes], int, tuple[str, str]]:
    """Start the server and wait until it answers: the process, its port, the tokens of presenter and room. Raises NoLab.

    lesson: the name of the one that will be opened first, '' for the one of last time.
    """
    if importlib.util.find_spec("voila") is None:
        raise NoLab(f"Voilà is not installed for {sys.executable}; install Loopbook again, which brings it along")
    for last in (False, False, True):
        taken = free_port(port, host)
        tokens = (secrets.token_urlsafe(24), secrets.token_urlsafe(9))
        try:
            told = {"seed": seed, "idle_s": idle_s, "warm": warm, "most": MOST, "lesson": lesson}
            return _started(taken, host, tokens, told), taken, tokens
        except NoLab:
            if last or port is not None or is_free(taken, host):
                raise
    raise AssertionError("the last try returns or raises")


def _started(port: int, host: str, tokens: tuple[str, str], told: dict[str, Any]) -> subprocess.Popen[bytes]:
    """The server, answering."""
    home = data_folder() / "present"
    remember: Path | None = data_folder()
    try:
        home.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        # Nothing can be remembered then, but a class can still be taught.
        import tempfile

        home, remember = Path(tempfile.mkdtemp(prefix="loopbook-")), None
        print(f"{data_folder()}: {(error.strerror or str(error)).lower()}; the step and the class number hold until this ends.",
              file=sys.stderr, flush=True)
    told = told | {"port": port, "host": host, "token": tokens[0], "guest_token": tokens[1], "home": str(home),
                   "remember": str(remember) if remember else ""}
    places = _places(home, remember is not None)
    log = log_file(port, home)
    with log.open("wb") as said:
        server = subprocess.Popen([sys.executable, "-P", "-m", "widgets.serve.present_server"], cwd=home, stdin=subprocess.PIPE,
                                  stdout=said, stderr=said, env=os.environ | places | {"LOOPBOOK_PRESENT": json.dumps(told)})
    try:
        _wait_until_up(server, host, port, tokens[0], log)
    except BaseException:
        _stop(server)
        raise
    return server


def _places(home: Path, kept: bool) -> dict[str, str]:
    """Environment of the server and its kernels: ours first, and nothing of what a class answers is kept as the presenter's."""
    path = os.pathsep.join(filter(None, [str(Path(__file__).resolve().parents[2]), os.environ.get("PYTHONPATH", "")]))
    kernels = str(Path(__file__).resolve().parent / "lab")
    places = lab_places() if kept else {"JUPYTER_PATH": kernels, "JUPYTER_CONFIG_DIR": str(home)}
    return {**places, "PYTHONPATH": path, "PYTHONUTF8": "1", "LOOPBOOK_KEEP": "no", "LOOPBOOK_SHOWN": "1",
            "JUPYTER_RUNTIME_DIR": str(home), "JUPYTER_NO_CONFIG": "1", "IPYTHONDIR": str(home / "ipython")}


def log_file(port: int, home: Path | None = None) -> Path:
    """Where the server's own words go."""
    return (home or data_folder() / "present") / f"server-{port}.log"


def free_port(wanted: int | None, host: str) -> int:
    """The port that was asked for, or the first free one. Raises NoLab."""
    if wanted is not None and not 1 <= wanted <= 65535:
        raise NoLab(f"port {wanted}: a port is a number from 1 to 65535")
    for port in [wanted] if wanted is not None else range(FIRST_PORT, FIRST_PORT + PORTS_TRIED):
        if is_free(port, host):
            return port
    if wanted is not None:
        raise NoLab(f"port {wanted}: another program uses it; leave --port out, and a free one is found")
    raise NoLab(f"no free port from {FIRST_PORT} to {FIRST_PORT + PORTS_TRIED - 1}; name one with --port")


def is_free(port: int, host: str) -> bool:
    """Nobody listens there. Raises NoLab for a host that is none of this machine's."""
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
    except OSError:
        raise NoLab(f"host {host}: this name leads nowhere; 0.0.0.0 is every network of this machine") from None
    with socket.socket(family, socket.SOCK_STREAM) as probe:
        if os.name == "posix":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except PermissionError:
            raise NoLab(f"port {port}: may not be used by you; take one above 1024") from None
        except OSError as error:
            if error.errno in (99, 49, 10049):      # Linux, macOS, Windows: not an address of this machine
                raise NoLab(f"host {host}: is none of this machine's addresses; 0.0.0.0 is every network of it") from None
            return False
    return True


def _name_for_others(host: str) -> str:
    """An address of this machine that a tablet can reach, as far as this machine knows; asking sends nothing."""
    if host not in ("0.0.0.0", "::"):
        return host
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))         # an address for documentation, RFC 5737; UDP: nothing leaves
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()


def _wait_until_up(server: subprocess.Popen[bytes], host: str, port: int, token: str, log: Path) -> None:
    """Until our server answers to our token; another program's on the same port would not."""
    asked = HOST if host in ("0.0.0.0", "::") else host
    ask = Request(f"http://{asked}:{port}/present/state", headers={"Authorization": f"token {token}"})
    opener = build_opener(ProxyHandler({}))
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        if server.poll() is not None:
            raise NoLab(f"the server stopped again (exit {server.returncode}); what it said is in {log}")
        try:
            with opener.open(ask, timeout=2):
                return
        except HTTPError:
            raise NoLab(f"port {port}: another program answers there; leave --port out, and a free one is found") from None
        except OSError:
            time.sleep(0.05)
    raise NoLab(f"the server did not answer within {PATIENCE_S:.0f} s; what it said is in {log}")
