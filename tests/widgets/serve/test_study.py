"""`study`: the clear lines it gives up with, and the JupyterLab that it starts."""

import gc
import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any, ClassVar
from urllib.parse import parse_qs, urlsplit

import pytest
import websocket

from widgets.learn.lessons import shipped_lessons
from widgets.serve import study as s
from widgets.serve.study import study

NAMES = ", ".join(path.stem for path in shipped_lessons())


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A learner's home with a Jupyter of their own: a foreign python3 kernel, a port and a password."""
    home = tmp_path_factory.mktemp("home")
    kernel = home / ".local" / "share" / "jupyter" / "kernels" / "python3"
    kernel.mkdir(parents=True)
    (kernel / "kernel.json").write_text(
        json.dumps(
            {"argv": ["/bin/false", "{connection_file}"], "display_name": "Foreign", "language": "python"}
        ),
        "utf-8",
    )
    config = home / ".jupyter"
    config.mkdir()
    (config / "jupyter_server_config.json").write_text(
        json.dumps(
            {"ServerApp": {"base_url": "/elsewhere/"}, "KernelSpecManager": {"ensure_native_kernel": False}}
        ),
        "utf-8",
    )
    return home


def environment(home: Path) -> dict[str, str]:
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("JUPYTER", "XDG_", "PYTEST", "IPYTHON", "LOOPBOOK"))
    }
    return kept | {"HOME": str(home)}


def hears_ctrl_c() -> None:
    """A shell's background job is deaf to Ctrl+C, and so is all that it starts; a learner's is not."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


class Started:
    """`study` as its own process, up and answering."""

    def __init__(self, home: Path) -> None:
        self.folder = home / "Loopbook"
        code = "import sys; from widgets.serve.study import study; sys.exit(study(browser=False))"
        self.process = subprocess.Popen(
            [sys.executable, "-c", code],
            cwd=home,
            env=environment(home),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            preexec_fn=hears_ctrl_c if os.name == "posix" else None,
        )
        self.said: list[str] = []
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line.strip())
            if line.startswith("Keep this window"):
                break
        if not any(line.startswith("http://") for line in self.said):
            raise AssertionError(self.process.communicate(timeout=60))
        address = next(line for line in self.said if line.startswith("http://"))
        self.at, self.path = urlsplit(address), urlsplit(address).path
        self.token = parse_qs(self.at.query)["token"][0]

    def read(self, path: str) -> str:
        request = urllib.request.Request(
            f"http://{self.at.netloc}{path}", headers={"Authorization": f"token {self.token}"}
        )
        with urllib.request.build_opener(urllib.request.ProxyHandler({})).open(request, timeout=20) as answer:
            return answer.read().decode()

    def ask(self, path: str, body: dict[str, Any] | None = None, token: str | None = None) -> Any:
        request = urllib.request.Request(
            f"http://{self.at.netloc}{path}",
            data=json.dumps(body).encode() if body is not None else None,
            headers={"Authorization": f"token {token or self.token}"},
        )
        with urllib.request.build_opener(urllib.request.ProxyHandler({})).open(request, timeout=20) as answer:
            return json.load(answer)

    def run(self, code: str) -> str:
        """What a lesson's kernel prints."""
        session = self.ask(
            "/api/sessions",
            {"path": "01-start-here.ipynb", "type": "notebook", "name": "", "kernel": {"name": "python3"}},
        )
        line = websocket.create_connection(
            f"ws://{self.at.netloc}/api/kernels/{session['kernel']['id']}/channels?token={self.token}",
            timeout=30,
        )
        header = {
            "msg_id": uuid.uuid4().hex,
            "msg_type": "execute_request",
            "username": "",
            "version": "5.3",
            "session": uuid.uuid4().hex,
            "date": "2027-01-01T00:00:00Z",
        }
        line.send(
            json.dumps(
                {
                    "header": header,
                    "parent_header": {},
                    "metadata": {},
                    "channel": "shell",
                    "content": {
                        "code": code,
                        "silent": False,
                        "store_history": False,
                        "user_expressions": {},
                        "allow_stdin": False,
                    },
                }
            )
        )
        said = ""
        while True:
            message = json.loads(line.recv())
            if message["parent_header"].get("msg_id") != header["msg_id"]:
                continue
            if message["msg_type"] == "stream":
                said += message["content"]["text"]
            if message["msg_type"] == "status" and message["content"]["execution_state"] == "idle":
                line.close()
                return said


@pytest.fixture(scope="module")
def started(home: Path) -> Iterator[Started]:
    one = Started(home)
    yield one
    if one.process.poll() is None:
        one.process.terminate()
    one.process.communicate(timeout=60)


def test_the_kernel_is_this_python(started: Started) -> None:
    """A python3 kernel of another environment in the learner's home is not taken; ours finds Loopbook."""
    printed = started.run(
        "import sys, figures, widgets, os; print(sys.executable); print(os.path.realpath('.'))"
    )
    assert [sys.executable, str(started.folder.resolve())] == printed.split()


def test_the_learners_own_jupyter_is_neither_obeyed_nor_changed(started: Started, home: Path) -> None:
    """Their base_url plays no part here, and nothing is written into their Jupyter folder."""
    assert started.path == "/doc/tree/01-start-here.ipynb"
    assert {"jupyter_server_config.json"} == {p.name for p in (home / ".jupyter").iterdir()}
    assert list(started.ask("/api/kernelspecs")["kernelspecs"]) == ["python3"]


def test_nobody_without_the_token_gets_in(started: Started) -> None:
    """The server listens on this machine only, and asks for the token."""
    assert started.at.hostname == "127.0.0.1"
    with pytest.raises(urllib.error.HTTPError, match="403"):
        started.ask("/api/contents", token="wrong")


def test_what_a_kernel_prints_passes_no_port(started: Started) -> None:
    """Every user of the machine could listen there: the kernel's sockets lie in a folder that only the learner can enter."""
    told = json.loads(
        started.run("from ipykernel.connect import get_connection_file as f; print(open(f(), encoding='utf-8').read())")
    )
    assert told["transport"] == "ipc"
    assert Path(told["ip"]).parent.stat().st_mode & 0o777 == 0o700


def test_the_folder_of_the_sockets_goes_with_the_server(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And where its name would be too long for a socket, there is none, and kernels listen on ports."""
    place = tmp_path / "sockets"
    place.mkdir()
    monkeypatch.setattr(s, "sockets_folder", lambda: place)
    monkeypatch.setattr(s, "lab_command", lambda folder, port: [sys.executable, "-c", ""])
    monkeypatch.setattr(s, "_memory_dir", lambda: tmp_path)
    monkeypatch.setattr(s, "_wait_until_up", lambda *_: None)
    server = s._started(tmp_path, 1, "token")
    s._stop(server)
    assert place.is_dir() and "--KernelManager.transport=ipc" in server.args
    del server
    gc.collect()
    assert not place.exists()
    monkeypatch.undo()
    monkeypatch.setattr(s.tempfile, "tempdir", str(tmp_path / ("a" * 60)))
    assert s.sockets_folder() is None


def test_settings_of_ours_are_in_force(started: Started) -> None:
    """No news, one document at a time, kernels start by themselves, the page of ours is there."""

    def in_force(plugin: str) -> dict[str, Any]:
        keys = started.ask(f"/lab/api/settings/@jupyterlab/{plugin}")["schema"]["properties"]
        return {name: key.get("default") for name, key in keys.items()}

    assert in_force("application-extension:shell")["startMode"] == "single"
    assert in_force("apputils-extension:notification")["fetchNews"] == "false"
    assert in_force("notebook-extension:tracker")["autoStartDefaultKernel"] is True
    assert "loopbook-lab" in started.read("/lab")


@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM])
def test_ctrl_c_ends_it_all_with_exit_0(home: Path, ending: signal.Signals) -> None:
    """The server is gone a moment later, and the last line says that the work is kept."""
    one = Started(home)
    one.process.send_signal(ending)
    out, err = one.process.communicate(timeout=60)
    assert (one.process.returncode, err) == (0, "")
    assert "Stopped. What you did is saved in your folder." in out
    time.sleep(0.1)
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.1", one.at.port or 0), timeout=2)


def test_a_taken_port_is_said_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 2, and the mend."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        assert study(tmp_path / "here", browser=False, port=port) == 2
    assert (
        f"loopbook study: port {port}: another program uses it; leave --port out, and a free one is found\n"
        == capsys.readouterr().err
    )


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ({"port": 0}, "port 0: a port is a number from 1 to 65535"),
        ({"port": 70000}, "port 70000: a port is a number from 1 to 65535"),
        (
            {"lesson": "plumbing"},
            f"'plumbing' names no lesson; say one of: {NAMES}",
        ),
        ({"lesson": ""}, f"'' names no lesson; say one of: {NAMES}"),
        (
            {"lesson": "-"},
            f"'-' names more than one lesson; say one of: {NAMES}",
        ),
    ],
)
def test_a_wrong_argument_is_said_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: dict[str, Any], says: str
) -> None:
    """Exit 2 before anything is started."""
    assert study(tmp_path / "here", browser=False, **arguments) == 2
    assert f"loopbook study: {says}\n" == capsys.readouterr().err


def test_a_folder_that_is_a_file_is_said_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 2, no traceback."""
    (tmp_path / "here").write_text("", "utf-8")
    assert study(tmp_path / "here", browser=False) == 2
    assert (
        f"loopbook study: {tmp_path / 'here'}: this is a file, not a folder; name another folder\n"
        == capsys.readouterr().err
    )


def test_a_shadowing_file_is_said_before_anything_opens(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The learner's own figures.py is named, with what to do."""
    (tmp_path / "figures.py").write_text("", "utf-8")
    assert study(tmp_path, browser=False, port=0) == 2
    assert (
        f"{tmp_path / 'figures.py'}: Python would take this for a part of Loopbook" in capsys.readouterr().err
    )


def test_a_jupyterlab_that_dies_at_once_is_said_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 2, with the place where its own words are kept."""
    monkeypatch.setattr(s, "lab_command", lambda folder, port: [sys.executable, "-c", "raise SystemExit(7)"])
    monkeypatch.setattr(s, "_memory_dir", lambda: tmp_path)
    assert study(tmp_path / "here", browser=False) == 2
    assert "JupyterLab stopped again (exit 7); what it said is in " in capsys.readouterr().err


def test_a_missing_jupyterlab_is_said_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Exit 2, and what to install."""
    monkeypatch.setattr(s.importlib.util, "find_spec", lambda name: None)
    assert study(tmp_path / "here", browser=False) == 2
    assert "JupyterLab is not installed for " in capsys.readouterr().err


def test_the_browser_is_sent_to_the_lesson(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where no browser opens, the learner is told to copy the address."""
    sent: list[str] = []

    class Server:
        def wait(self, timeout: float = 0.0) -> int:
            return 0

        def poll(self) -> int:
            return 0

    monkeypatch.setattr(s, "start", lambda folder, lesson, port: (Server(), s.address_of(lesson, 9, "t")))
    monkeypatch.setattr(s.webbrowser, "open", lambda address: bool(sent.append(address)))
    monkeypatch.setenv("BROWSER", "one of the learner's")
    assert study(tmp_path, lesson="Which configuration?") == 0
    assert sent == ["http://127.0.0.1:9/doc/tree/12-which-configuration.ipynb?token=t"]
    assert "copy the address into one on this machine" in capsys.readouterr().out


def test_what_stops_a_start_is_said_with_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """No port is free; the place where settings are kept is a file."""
    monkeypatch.setattr(s, "_is_free", lambda port: False)
    assert study(tmp_path / "here", browser=False) == 2
    assert "no free port from 8940 to 8999; name one with --port" in capsys.readouterr().err
    monkeypatch.undo()
    (tmp_path / "data").write_text("", "utf-8")
    monkeypatch.setenv("LOOPBOOK_DATA", str(tmp_path / "data"))
    assert study(tmp_path / "here", browser=False) == 2
    assert "not a directory; this folder must be yours to write" in capsys.readouterr().err


def test_a_server_that_ends_by_itself_is_told_of_and_a_deaf_one_is_ended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 2, and what is lost at most; whoever hears no asking is ended by force."""
    with subprocess.Popen([sys.executable, "-c", "raise SystemExit(3)"]) as server:
        assert s._stay(server) == 2
    assert "JupyterLab ended by itself (exit 3); start again" in capsys.readouterr().err

    class Deaf:
        asked: ClassVar[list[str]] = []

        def poll(self) -> None:
            return None

        def terminate(self) -> None:
            self.asked.append("terminate")

        def kill(self) -> None:
            self.asked.append("kill")

        def wait(self, seconds: float | None = None) -> int:
            if seconds is not None:
                raise subprocess.TimeoutExpired("lab", seconds)
            return 0

    s._stop(Deaf())  # type: ignore[arg-type]
    assert Deaf.asked == ["terminate", "kill"]


def test_without_a_screen_no_browser_of_text_is_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    """It would hold the window and could not show a lesson."""
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(s.sys, "platform", "linux")
    monkeypatch.setattr(s.webbrowser, "open", lambda address: pytest.fail("a browser was opened"))
    assert s.open_browser("http://127.0.0.1:9/") is False


def test_ctrl_c_while_it_starts_ends_it_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """No traceback, and no server left behind."""

    def interrupted(folder: Path, lesson: Path, port: int | None) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(s, "start", interrupted)
    assert study(tmp_path, browser=False) == 0
    assert "Stopped before a lesson was open." in capsys.readouterr().out


def test_a_port_that_is_taken_at_the_last_moment_is_given_up_for_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two learners who start at once on one machine both get their lessons."""
    tried: list[int] = []

    def beaten_once(folder: Path, port: int, token: str) -> str:
        tried.append(port)
        if len(tried) == 1:
            held.bind(("127.0.0.1", port))
            held.listen()
            raise s.NoLab("JupyterLab stopped again")
        return "server"

    monkeypatch.setattr(s, "_started", beaten_once)
    with socket.socket() as held:
        held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        server, address = s.start(tmp_path, tmp_path / "01-a.ipynb")
    assert server == "server"
    assert len(set(tried)) == 2
    assert f":{tried[1]}/doc/tree/01-a.ipynb?token=" in address
