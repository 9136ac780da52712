"""A real JupyterHub on this machine with real users, as `loopbook hub host` sets it up."""

from __future__ import annotations

import compileall
import importlib.util
import os
import pwd
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from urllib.request import ProxyHandler, build_opener

import pytest

from widgets.serve.hub import PROXY, closed_to_learners

TOP = Path(__file__).parents[2]
PATIENCE_S = 120.0


def missing() -> str:
    """What a hub with real users lacks here; '' where it has all that can be installed."""
    for program in ("useradd", "userdel", "chpasswd"):
        if shutil.which(program) is None:
            return f"{program} is missing, so no users can be made"
    if importlib.util.find_spec("jupyterhub") is None:
        return "jupyterhub is missing: pip install loopbook[hub]"
    if shutil.which(proxy()) is None:
        return f"{PROXY} is missing: npm install -g {PROXY}, or name it in LOOPBOOK_PROXY"
    return ""


def forbidden() -> str:
    """Why this user may try no hub here; '' where they may."""
    return "" if sys.platform == "linux" and os.geteuid() == 0 else "a hub with real users needs Linux and root"


def need() -> None:
    """Skip with the reason where no hub can be tried, and fail where CI is set and something could have been installed.

    Not to be root is no such thing: it is skipped with the reason, also there.
    """
    if sys.platform == "linux" and (reason := missing()):
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    if reason := forbidden():
        pytest.skip(reason)


def proxy() -> str:
    """The proxy's program."""
    return os.environ.get("LOOPBOOK_PROXY") or PROXY


@dataclass(frozen=True)
class User:
    """A system user made for a test."""

    name: str
    password: str
    uid: int
    home: Path

    def run(self, words: list[str], told: str = "", **environment: str) -> str:
        """What a program prints that runs as this user, with this user's rights and no more."""
        done = subprocess.run(words, input=told, capture_output=True, text=True, timeout=120, user=self.uid,
                              group=pwd.getpwnam(self.name).pw_gid, extra_groups=[], cwd="/",
                              env={"PATH": os.environ["PATH"], "HOME": str(self.home), **environment})
        assert done.returncode == 0, done.stderr
        return done.stdout


class Hub:
    """Users, a configuration, and the hub itself, all gone afterwards."""

    def __init__(self, count: int, *flags: str) -> None:
        self.place = Path(tempfile.mkdtemp(prefix="lbhub-", dir="/tmp"))
        self.place.chmod(0o755)
        self.users: list[User] = []
        self.process: subprocess.Popen[bytes] | None = None
        try:
            self._set_up(count, flags)
        except BaseException:
            self.stop()
            raise

    def _set_up(self, count: int, flags: tuple[str, ...]) -> None:
        (self.place / "homes").mkdir(mode=0o755)
        mark = secrets.token_hex(3)
        for number in range(count):
            self.users.append(self._user(f"lb{mark}{chr(97 + number % 26)}{number // 26 or ''}"))
        self.python = self._python()
        for part in ("figures", "widgets", "lessons"):
            shutil.copytree(TOP / part, self.place / "tree" / part, ignore=shutil.ignore_patterns("*.ipynb_checkpoints"))
        compileall.compile_dir(self.place / "tree", quiet=2)      # or each learner's processes would do it again
        self.environment = {**os.environ, "PYTHONPATH": str(self.place / "tree"), "OPENBLAS_NUM_THREADS": "1",
                            "LD_LIBRARY_PATH": str(self.place / "python" / "lib")}
        self.environment.pop("LOOPBOOK_DATA", None)
        self.environment.pop("LOOPBOOK_KEEP", None)
        self.port = _free_port()
        self.state, self.sockets = self.place / "state", self.place / "run"
        learners = [word for user in self.users for word in ("--learner", user.name)]
        self.loopbook("hub", "host", "--out", str(self.place / "config"), "--port", str(self.port), "--state", str(self.state),
                      "--sockets", str(self.sockets), "--proxy", str(shutil.which(proxy())), *learners, *flags)

    def _user(self, name: str) -> User:
        home, password = self.place / "homes" / name, secrets.token_urlsafe(12)
        # No skeleton, and open to others as many systems make them: closing it is what is to be seen.
        subprocess.run(["useradd", "--create-home", "--skel", "/nowhere", "--home-dir", home, "--shell", "/bin/sh",
                        "--key", "HOME_MODE=0755", name], check=True, capture_output=True)
        subprocess.run(["chpasswd"], input=f"{name}:{password}", text=True, check=True, capture_output=True)
        return User(name, password, pwd.getpwnam(name).pw_uid, home)

    def _python(self) -> Path:
        """A Python that the users may run: this one, or a copy where it lies behind a closed door."""
        if not closed_to_learners(Path(sys.executable)):
            return Path(sys.executable)
        real = Path(sys.base_prefix)

        def link(source: str, target: str) -> None:
            try:
                os.link(source, target)
            except OSError:
                shutil.copy2(source, target)

        def heavy(_: str, names: list[str]) -> list[str]:
            return [name for name in names if name in ("site-packages", "test", "idlelib", "ensurepip") or name.endswith(".a")]
        for part in ("bin", "lib"):
            shutil.copytree(real / part, self.place / "python" / part, symlinks=True, ignore=heavy, copy_function=link)
        version = f"python{sys.version_info[0]}.{sys.version_info[1]}"
        venv = self.place / "venv"
        (venv / "bin").mkdir(parents=True)
        (venv / "lib" / version).mkdir(parents=True)
        (venv / "pyvenv.cfg").write_text(f"home = {self.place / 'python' / 'bin'}\ninclude-system-site-packages = false\n")
        (venv / "bin" / "python").symlink_to(self.place / "python" / "bin" / version)
        (venv / "lib" / version / "site-packages").symlink_to(Path(sys.prefix) / "lib" / version / "site-packages")
        for part in ("etc", "share"):
            (venv / part).symlink_to(Path(sys.prefix) / part)
        return venv / "bin" / "python"

    def loopbook(self, *words: str, exit_code: int = 0) -> str:
        """The command line as root, from the tree that the users see."""
        done = subprocess.run([self.python, "-P", "-m", "widgets.command", *words], env=self.environment, cwd=self.place,
                              capture_output=True, text=True, timeout=120)
        assert done.returncode == exit_code, done.stdout + done.stderr
        return done.stdout + done.stderr

    def start(self) -> None:
        """Start the hub and wait until it answers."""
        with (self.place / "hub.log").open("wb") as log:
            self.process = subprocess.Popen([sys.executable, "-P", "-m", "jupyterhub", "-f",
                                             str(self.place / "config" / "jupyterhub_config.py")], env=self.environment,
                                            cwd=self.place, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        opener, over = build_opener(ProxyHandler({})), time.monotonic() + PATIENCE_S
        while True:
            try:
                opener.open(f"{self.address}/hub/login", timeout=5).close()
                return
            except OSError:
                assert self.process.poll() is None and time.monotonic() < over, self.said()
                time.sleep(0.2)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def said(self) -> str:
        """The end of what the hub has logged."""
        return (self.place / "hub.log").read_text("utf-8", "replace")[-6000:]

    def of(self, user: User) -> list[int]:
        """The processes of a user."""
        found = []
        for entry in Path("/proc").iterdir():
            try:
                if entry.name.isdigit() and entry.stat().st_uid == user.uid:
                    found.append(int(entry.name))
            except OSError:     # it ended while we looked
                continue
        return found

    def stop(self) -> None:
        """End the hub, with it every learner's server, and take the users away."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            try:
                self.process.wait(40)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
        for user in self.users:
            for pid in self.of(user):
                try:
                    os.kill(pid, signal.SIGKILL)
                except ProcessLookupError:
                    continue
            subprocess.run(["userdel", user.name], capture_output=True)
        shutil.rmtree(self.place, ignore_errors=True)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
