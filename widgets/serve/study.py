"""`loopbook study`: puts the lessons into the learner's folder and opens one in JupyterLab.

JupyterLab is started for this alone, with settings of ours that lie beside this file and a place of its own
for what it remembers. The learner's own JupyterLab, its settings and its workspaces stay as they are.
"""

from __future__ import annotations

import importlib.util
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import weakref
import webbrowser
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote
from urllib.request import ProxyHandler, Request, build_opener

from .folder import BadFolder, fill, shadows

HOST = "127.0.0.1"
FIRST_PORT = 8940
PORTS_TRIED = 60
PATIENCE_S = 120.0
LONGEST_SOCKET = 103
"""Letters that the path of a socket may have: 103 on macOS, 107 on Linux."""
SOCKET = "loopbook-12345678/kernel-12345678-1234-1234-1234-123456789012-ipc-5"
_LAB = Path(__file__).resolve().parent / "lab"


class NoLab(Exception):
    """JupyterLab could not be started. The message is one line for the learner."""


def study(
    folder: str | Path | None = None,
    *,
    browser: bool = True,
    port: int | None = None,
    lesson: str | None = None,
) -> int:
    """Put the lessons into a folder, open one of them in JupyterLab, and stay until that is stopped.

    folder: the learner's; `Loopbook` in the home folder unless given.
    browser: False only prints the address.
    port: of the server, on this machine only; the first free one from 8940 on unless given.
    lesson: the name of a lesson or a part of it; the first lesson unless given.
    Returns what the command exits with: 0 when stopped by the learner, 2 with one clear line on stderr where
    the folder, the port or the lesson will not do, or where JupyterLab does not start.
    """
    with _ended_like_ctrl_c():
        return _study(folder, browser, port, lesson)


def _study(folder: str | Path | None, browser: bool, port: int | None, lesson: str | None) -> int:
    try:
        filled = fill(Path(folder) if folder is not None else Path.home() / "Loopbook")
        for line in filled.said:
            print(line)
        for place in shadows(filled.folder):
            print(
                f"{place}: Python would take this for a part of Loopbook, and the lessons would fail. "
                "Give it another name.",
                file=sys.stderr,
            )
        chosen = pick_lesson(filled.lessons, lesson)
        print("Starting JupyterLab …", flush=True)
        server, address = start(filled.folder, chosen, port)
    except (BadFolder, NoLab) as bad:
        print(f"loopbook study: {bad}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("\nStopped before a lesson was open.")
        return 0
    try:
        print(f"Your lessons are in {filled.folder}")
        print(f"{chosen.name} is open at\n  {address}")
        print("Keep this window open while you learn. To stop: Ctrl+C.", flush=True)
        if browser and not open_browser(address):
            print("No browser could be opened from here: copy the address into one on this machine.", flush=True)
        return _stay(server)
    except KeyboardInterrupt:
        print("\nStopped. What you did is saved in your folder.")
        return 0
    finally:
        _stop(server)


@contextmanager
def _ended_like_ctrl_c() -> Iterator[None]:
    """Whoever ends this process ends the server with it, and not this process alone."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def pick_lesson(lessons: Sequence[Path], wanted: str | None) -> Path:
    """The lesson that a word names, the first one for None. Raises BadFolder with the names where none fits.

    >>> pick_lesson([Path("01-start-here.ipynb"), Path("12-which-configuration.ipynb")], "which").name
    '12-which-configuration.ipynb'
    """
    if wanted is None:
        return lessons[0]
    word = wanted.strip().lower().removesuffix(".ipynb").replace(" ", "-").rstrip("?")
    exact = [one for one in lessons if one.stem == word]
    fits = exact or [one for one in lessons if word and word in one.stem]
    if len(fits) != 1:
        which = "more than one lesson" if fits else "no lesson"
        raise BadFolder(f"'{wanted}' names {which}; say one of: {', '.join(one.stem for one in lessons)}")
    return fits[0]


def address_of(lesson: Path, port: int, token: str) -> str:
    """Where a lesson opens by itself, without tabs about it."""
    return f"http://{HOST}:{port}/doc/tree/{quote(lesson.name)}?token={token}"


def lab_command(folder: Path, port: int) -> list[str]:
    """The command line that starts JupyterLab for a folder: this Python, our settings, nobody else's."""
    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        "--no-browser",
        "-y",
        "--log-level=ERROR",
        "--LabApp.log_level=ERROR",
        f"--ServerApp.ip={HOST}",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        *lab_flags(folder),
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        # In a container one is root; Jupyter refuses that unless told. It listens on this machine only.
        command.append("--allow-root")
    return command


def lab_flags(folder: Path) -> list[str]:
    """What makes a JupyterLab that serves this folder look and start like ours, wherever it listens."""
    memory = _memory_dir()
    return [
        f"--ServerApp.root_dir={folder}",
        f"--LabApp.app_settings_dir={_LAB / 'settings'}",
        f"--LabApp.user_settings_dir={memory / 'settings'}",
        f"--LabApp.workspaces_dir={memory / 'workspaces'}",
        "--ServerApp.kernel_spec_manager_class=jupyter_client.kernelspec.KernelSpecManager",
        "--KernelSpecManager.allowed_kernelspecs=python3",
        "--LanguageServerManager.autodetect=False",
        # Voilà serves `loopbook present`; beside the lessons it would only cost time and offer a button more.
        "--ServerApp.jpserver_extensions=voila.server_extension=False",
    ]


def lab_environment(token: str) -> dict[str, str]:
    """The environment variables that JupyterLab is started with.

    The token goes this way, for a command line can be read by everybody on the machine. The folder beside
    this file comes first where Jupyter looks for kernels: its 'python' is the Python that Jupyter itself runs
    in, so that a kernel of the same name from another environment is never taken. A config folder of our own
    keeps a password or a port that is set for the learner's Jupyter out of this start.
    """
    return os.environ | {"JUPYTER_TOKEN": token, **lab_places()}


def lab_places() -> dict[str, str]:
    """Where our JupyterLab looks for kernels, extensions and configuration, as environment variables."""
    return {
        "JUPYTER_PATH": os.pathsep.join(filter(None, [str(_LAB), os.environ.get("JUPYTER_PATH", "")])),
        "JUPYTER_CONFIG_DIR": str(_memory_dir() / "config"),
    }


def start(folder: Path, lesson: Path, port: int | None = None) -> tuple[subprocess.Popen[bytes], str]:
    """Start JupyterLab and wait until it answers. Returns the process and the lesson's address.

    Raises NoLab where it is not installed, the port is taken, or it stops again or stays silent.
    """
    if importlib.util.find_spec("jupyterlab") is None:
        raise NoLab(
            f"JupyterLab is not installed for {sys.executable}; install Loopbook again, which brings it along"
        )
    # Between finding a free port and using it another program may take it; then the next one is tried.
    for last in (False, False, True):
        taken = _free_port(port)
        token = secrets.token_urlsafe(24)
        try:
            return _started(folder, taken, token), address_of(lesson, taken, token)
        except NoLab:
            if last or port is not None or _is_free(taken):
                raise
    raise AssertionError("the last try returns or raises")


def _started(folder: Path, port: int, token: str) -> subprocess.Popen[bytes]:
    log = _memory_dir() / f"server-{port}.log"
    command, environment, sockets = lab_command(folder, port), lab_environment(token), sockets_folder()
    if sockets is not None:
        command.append("--KernelManager.transport=ipc")
        environment["JUPYTER_RUNTIME_DIR"] = str(sockets)
    with log.open("wb") as said:
        server = subprocess.Popen(command, env=environment, stdin=subprocess.DEVNULL, stdout=said, stderr=said)
    if sockets is not None:
        weakref.finalize(server, shutil.rmtree, sockets, ignore_errors=True)     # at the latest when this process ends
    try:
        _wait_until_up(server, port, token, log)
    except BaseException:
        _stop(server)
        raise
    return server


def sockets_folder() -> Path | None:
    """A new folder for the sockets of the kernels, which no other user can enter: on a port of this machine each of its users
    could read what a kernel prints. None where the system has no such sockets, or no folder whose name is short enough.
    """
    if not sockets_fit():
        return None
    try:
        return Path(tempfile.mkdtemp(prefix="loopbook-"))
    except OSError:     # a full disk or the like: the lessons open all the same
        return None


def sockets_fit() -> bool:
    """The system has sockets that are files, and in a folder for what is temporary their names are short enough."""
    return os.name == "posix" and len(os.fsencode(os.path.join(tempfile.gettempdir(), SOCKET))) <= LONGEST_SOCKET


def _memory_dir() -> Path:
    """Where our start of JupyterLab remembers what the learner set in it, a dark theme say."""
    from widgets.learn.record import data_folder

    place = data_folder() / "lab"
    try:
        for name in ("settings", "workspaces", "config"):
            (place / name).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise NoLab(
            f"{place}: {(error.strerror or str(error)).lower()}; this folder must be yours to write"
        ) from None
    return place


def _free_port(wanted: int | None) -> int:
    if wanted is not None and not 1 <= wanted <= 65535:
        raise NoLab(f"port {wanted}: a port is a number from 1 to 65535")
    for port in [wanted] if wanted is not None else range(FIRST_PORT, FIRST_PORT + PORTS_TRIED):
        if _is_free(port):
            return port
    if wanted is not None:
        raise NoLab(f"port {wanted}: another program uses it; leave --port out, and a free one is found")
    raise NoLab(f"no free port from {FIRST_PORT} to {FIRST_PORT + PORTS_TRIED - 1}; name one with --port")


def _is_free(port: int) -> bool:
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        if os.name == "posix":
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((HOST, port))
        except PermissionError:
            raise NoLab(f"port {port}: may not be used by you; take one above 1024") from None
        except OSError:
            return False
        return True


def _wait_until_up(server: subprocess.Popen[bytes], port: int, token: str, log: Path) -> None:
    """Until our server answers to our token; another program's on the same port would not."""
    ask = Request(f"http://{HOST}:{port}/api/status", headers={"Authorization": f"token {token}"})
    # A proxy set for the outside world has no business between this machine and itself.
    opener = build_opener(ProxyHandler({}))
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        if server.poll() is not None:
            raise NoLab(f"JupyterLab stopped again (exit {server.returncode}); what it said is in {log}")
        try:
            with opener.open(ask, timeout=2):
                return
        except OSError:
            time.sleep(0.1)
    raise NoLab(f"JupyterLab did not answer within {PATIENCE_S:.0f} s; what it said is in {log}")


def open_browser(address: str) -> bool:
    """Send a browser there; False where there is none that could show a lesson."""
    screen = any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"))
    if sys.platform.startswith("linux") and not screen:
        # Without a screen Python would take a browser of text, which holds this window and shows no lesson.
        return False
    try:
        return webbrowser.open(address)
    except webbrowser.Error:
        return False


def _stay(server: subprocess.Popen[bytes]) -> int:
    """Until the server ends; Ctrl+C reaches it as well as us."""
    code = server.wait()
    if code != 0:
        print(
            f"loopbook study: JupyterLab ended by itself (exit {code}); start again with the same command. "
            "Lessons are saved every 20 seconds.",
            file=sys.stderr,
        )
        return 2
    return 0


def _stop(server: subprocess.Popen[bytes]) -> None:
    """End the server and with it the kernels; by force after ten seconds."""
    if server.poll() is None:
        server.terminate()
    try:
        server.wait(10)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()
