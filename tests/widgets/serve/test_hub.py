"""What `loopbook hub` writes, a learner's seat, and material that goes to learners and comes back."""

import ast
import os
import re
import shutil
import stat
import sys
import tempfile
from pathlib import Path

import pytest
import yaml

from widgets.command import main
from widgets.serve import hub as h
from widgets.serve import hub_class as c
from widgets.serve import seat as s

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="a hub needs a system with users of its own")
MIB = 2**20


@pytest.fixture
def commons():
    """A folder that every user of this machine can enter; pytest's own are closed."""
    place = Path(tempfile.mkdtemp(prefix="lbcommons-"))
    place.chmod(0o755)
    yield place
    shutil.rmtree(place)


@pytest.fixture
def ann(commons) -> c.Learner:
    """A learner with a home that is closed to others: another user where this is root, and this user where it is not."""
    home = commons / "ann"
    (home / "Loopbook").mkdir(parents=True)
    uid, gid = (54321, 54321) if os.geteuid() == 0 else (os.geteuid(), os.getegid())
    for place in (home, home / "Loopbook"):
        os.chown(place, uid, gid)
    home.chmod(0o700)
    return c.Learner("ann", uid, gid, str(home))


def lessons(ann: c.Learner) -> Path:
    """Where Ann's lessons are."""
    return Path(ann.home) / "Loopbook"


# -- what is written --------------------------------------------------------------------------------------

def test_a_configuration_holds_what_keeps_learners_apart(tmp_path):
    """It is Python, listens on sockets but for the front door, lets nobody into another's server, and ends what is idle."""
    text = h.host_config(h.Host(learners=["ann", "ben"], groups=["course"], most=30))
    ast.parse(text)
    for line in ("allowed_users = {'ann', 'ben'}", "allowed_groups = {'course'}", "admin_users = set()", "os.umask(0o077)",
                 "hub_bind_url = c.JupyterHub.hub_connect_url = on_socket(", "active_server_limit = 30",
                 "disable_user_config = True", '"LOOPBOOK_IDLE_MINUTES": "60"', "bind_url = 'http://127.0.0.1:8000'"):
        assert line in text
    assert "@" not in re.sub(r"@(property|server\.setter)", "", text)
    assert "subdomain_host = 'https://learn.example'" in h.host_config(h.Host(learners=["ann"], domain="learn.example"))


@pytest.mark.parametrize("host, says", [
    (h.Host(), "say who may log in"),
    (h.Host(learners=["root"]), "root does not learn"),
    (h.Host(learners=["ann'}; import os #"]), "no system name"),
    (h.Host(groups=["../x"]), "no system name"),
    (h.Host(learners=["ann"], address="0.0.0.0"), "unencrypted"),
    (h.Host(learners=["ann"], address="example.org"), "is no address"),
    (h.Host(learners=["ann"], certificate="a.pem"), "go together"),
    (h.Host(learners=["ann"], domain="x y"), "no name of a host"),
    (h.Host(learners=["ann"], state="here"), "whole path"),
    (h.Host(learners=["ann"], sockets="/" + "s" * 50), "too long"),
])
def test_a_hub_that_would_be_unsafe_is_refused(host, says):
    """In one line that says what to do instead."""
    with pytest.raises(h.BadHub, match=says) as refused:
        h.host_config(host)
    assert "\n" not in str(refused.value)


def test_values_for_a_cluster_hide_nothing_of_the_image():
    """They parse; the only volume is the learner's home, and what the seat starts with lies elsewhere in the image."""
    files = h.kubernetes("images.example/loopbook", "learn.example", tag="7", most=10_000)
    values = yaml.safe_load(files["values.yaml"])
    seat = values["singleuser"]
    home = seat["storage"]["homeMountPath"]
    program = seat["cmd"][0]
    assert not program.startswith(home + "/") and program in files["Containerfile"]
    assert f"python -m venv {program.removesuffix('/bin/python')}" in files["Containerfile"]
    assert seat["cmd"][1:] == ["-P", "-m", "widgets.serve.seat"]
    assert seat["image"] == {"name": "images.example/loopbook", "tag": "7", "pullPolicy": "IfNotPresent"}
    assert seat["storage"]["type"] == "dynamic" and values["cull"]["timeout"] == 3600
    assert values["hub"]["activeServerLimit"] == 10_000 and values["scheduling"]["userPlaceholder"]["replicas"] == 500
    assert seat["defaultUrl"] == f"/doc/tree/{h.first_lesson()}"
    for wrong in ({"image": 'x"\nhub: y'}, {"host": "a\nb: c"}, {"tag": '"'}, {"volume": "2Gi\nx: y"}, {"limit": "much"}):
        words = {"image": "i", "host": "h", **{key: value for key, value in wrong.items() if key in ("image", "host")}}
        with pytest.raises(h.BadHub):
            h.kubernetes(**words, **{key: value for key, value in wrong.items() if key not in words})


def test_files_are_never_written_over_unless_forced(tmp_path, capsys):
    """One that is there stays, and none of the others is written."""
    (tmp_path / "values.yaml").write_text("mine")
    words = ["hub", "kubernetes", "--image", "i", "--host", "h", "--out", str(tmp_path)]
    assert main(words) == 2
    assert "--force" in capsys.readouterr().err
    assert (tmp_path / "values.yaml").read_text() == "mine" and not (tmp_path / "Containerfile").exists()
    assert main([*words, "--force"]) == 0


def test_a_python_that_learners_cannot_run_is_refused(commons):
    """The closed folder is named; a hub set up with it would fail at the first login."""
    (commons / "closed").mkdir(mode=0o700)
    (commons / "closed" / "python").write_text("")
    assert h.closed_to_learners(commons / "closed" / "python") == f"{commons / 'closed'}: is closed to others"
    assert h.closed_to_learners(Path("/bin/sh")) == ""


# -- the seat ---------------------------------------------------------------------------------------------

def test_a_seat_fills_an_empty_home_and_becomes_the_server(tmp_path, monkeypatch):
    """As on a new volume: lessons are put there, what a learner changed stays, and the server shows that folder."""
    monkeypatch.setenv("LOOPBOOK_DATA", str(tmp_path / "data"))
    monkeypatch.setattr(s, "limit", lambda memory: None)
    monkeypatch.delenv(s.SOCKETS_VARIABLE, raising=False)
    before = os.umask(0o022)
    try:
        command, environment = s.seat(["--debug"], tmp_path)
        mine = tmp_path / "Loopbook" / h.first_lesson()
        mine.write_text(mine.read_text().replace('"source": [', '"source": [\n    "# mine\\n",', 1))
        changed = mine.read_bytes()
        s.seat([], tmp_path)
    finally:
        os.umask(before)
    assert mine.read_bytes() == changed
    assert command[:4] == [sys.executable, "-P", "-m", "jupyterhub.singleuser"] and command[-1] == "--debug"
    assert f"--ServerApp.root_dir={tmp_path / 'Loopbook'}" in command
    assert not any("sock" in word or "token" in word.lower() for word in command)
    assert environment["JUPYTER_PATH"]


def test_on_a_host_a_seat_is_on_sockets_that_nobody_else_can_open(tmp_path):
    """A folder that others can enter, or that is a link, is refused."""
    place = tmp_path / "sockets"
    place.mkdir(mode=0o700)
    environment = {"JUPYTERHUB_SERVICE_PREFIX": "/user/ann/"}
    flags = s.on_sockets(place, environment)
    assert "--KernelManager.transport=ipc" in flags and any(flag.startswith("--ServerApp.sock=") for flag in flags)
    assert environment["JUPYTERHUB_SERVICE_URL"] == f"http://127.0.0.1:{s.UNSET_PORT}/user/ann/"
    place.chmod(0o750)
    with pytest.raises(s.NoSeat, match="nobody else"):
        s.on_sockets(place, environment)
    (tmp_path / "link").symlink_to(place)
    with pytest.raises(s.NoSeat, match="nobody else"):
        s.on_sockets(tmp_path / "link", environment)


# -- to learners and back ---------------------------------------------------------------------------------

def test_what_is_handed_out_is_the_learners_and_never_over_their_work(ann, tmp_path):
    """Owner and mode are right; what the learner changed stays, and the new one is put beside it."""
    (tmp_path / "week" / "plants").mkdir(parents=True)
    (tmp_path / "week" / "plants" / "a.toml").write_text("format = 1\n")
    (tmp_path / "week" / "task.ipynb").write_text("one")

    def give() -> tuple[str, ...]:
        [told] = c.hand_out([tmp_path / "week"], [ann], most_bytes=MIB)
        assert told.ok, told
        return told.lines

    assert give() == ("week/plants/a.toml: put there", "week/task.ipynb: put there")
    task = lessons(ann) / "handed-out" / "week" / "task.ipynb"
    assert (task.stat().st_uid, stat.S_IMODE(task.stat().st_mode)) == (ann.uid, 0o600)
    task.write_text("my work")
    (tmp_path / "week" / "task.ipynb").write_text("two")
    assert give()[1].endswith("task (new).ipynb")
    assert give() == ("week/plants/a.toml: is there already", "week/task.ipynb: is there already")
    assert task.read_text() == "my work" and (task.parent / "task (new).ipynb").read_text() == "two"


def test_a_learners_links_lead_nothing_astray(ann, tmp_path):
    """Nothing is written through a link, and nothing that only others may read comes back by one."""
    secret = tmp_path / "secret"
    secret.write_text("only root")
    secret.chmod(0o600)
    (tmp_path / "victim").mkdir()
    (tmp_path / "task.txt").write_text("task")
    (lessons(ann) / "handed-out").symlink_to(tmp_path / "victim")
    [told] = c.hand_out([tmp_path / "task.txt"], [ann], most_bytes=MIB)
    assert not told.ok and "is a link" in told.lines[0]
    assert list((tmp_path / "victim").iterdir()) == []
    (lessons(ann) / "handed-out").unlink()
    work = lessons(ann) / "work"
    work.mkdir()
    (work / "mine.txt").write_text("mine")
    (work / "shadow").symlink_to("/etc/shadow")
    (work / "secret").symlink_to(secret)
    (work / "folder").symlink_to(tmp_path)
    (work / "loop").symlink_to(work)
    (work / ".hidden").write_text("no")
    (work / "bad\nname").write_text("no")
    os.mkfifo(work / "pipe")
    if os.geteuid() == 0:
        (work / "closed").write_text("root's")
        (work / "closed").chmod(0o600)
        os.link(secret, work / "hard")
        for place in (work, work / "mine.txt"):
            os.chown(place, ann.uid, ann.gid)
    [told] = c.collect("work", [ann], tmp_path / "got", most_bytes=MIB)
    assert told.ok and told.lines == ("work/mine.txt: 4 bytes",)
    [got] = [path for path in (tmp_path / "got").rglob("*") if not path.is_dir()]
    assert got.read_text() == "mine" and got.stat().st_uid == os.geteuid() and not got.stat().st_mode & 0o077


def test_what_comes_back_is_bounded(ann, tmp_path):
    """Too much, too many, and a folder that is not new; one learner's trouble does not stop the others."""
    (lessons(ann) / "big.bin").write_bytes(b"x" * 3000)
    [told] = c.collect("big.bin", [ann], tmp_path / "a", most_bytes=2000)
    assert not told.ok and "more than may be copied" in told.lines[-1]
    (lessons(ann) / "sparse").touch()
    os.truncate(lessons(ann) / "sparse", 1 << 40)
    [told] = c.collect("sparse", [ann], tmp_path / "b", most_bytes=MIB)
    assert not told.ok
    nobody = c.Learner("gone", ann.uid, ann.gid, str(tmp_path / "nowhere"))
    told = list(c.collect("big.bin", [nobody, ann], tmp_path / "c", most_bytes=MIB))
    assert [one.ok for one in told] == [False, True]
    with pytest.raises(h.BadHub, match="is not empty"):
        list(c.collect("big.bin", [ann], tmp_path / "c", most_bytes=MIB))
    for path in ("../x", "/etc/passwd", "a/../../b", "", "a//b", "x\n", "."):
        with pytest.raises(h.BadHub, match="no plain path"):
            list(c.collect(path, [ann], tmp_path / "d", most_bytes=MIB))


def test_what_a_child_says_is_not_believed():
    """The child is the learner; a stream that lies about its length or breaks off is refused."""
    for lie in (c._HEAD.pack(4, 2**60) + b"name", c._HEAD.pack(2**31, 1), c._HEAD.pack(1, 5) + b"nabc"):
        with pytest.raises(h.BadHub):
            list(c._unpacked([lie], 1000))
    row = c._HEAD.pack(1, 2) + b"nab"
    assert list(c._unpacked([row[:5], row[5:] + row], 1000)) == [("n", b"ab"), ("n", b"ab")]


def test_homes_that_are_open_are_told_and_closed(ann, tmp_path):
    """Only told unless asked; closed as the learner."""
    Path(ann.home).chmod(0o755)
    [told] = c.homes([ann], mend=False)
    assert not told.ok and "open to others (755)" in told.lines[0]
    [told] = c.homes([ann], mend=True)
    assert told.ok and stat.S_IMODE(os.stat(ann.home).st_mode) == 0o700
    [told] = c.homes([c.Learner("ben", ann.uid + 1, 1, ann.home)], mend=True)
    assert not told.ok and "own" in told.lines[0]


@pytest.mark.parametrize("words, says", [
    (["hand-out", "x", "--learner", "nobody-here-x"], "no such user"),
    (["collect", "x", "--to", "y", "--group", "no-group-x"], "no such group"),
    (["check"], "say whose"),
    (["check", "--learner", "root"], "root does not learn"),
    (["host", "--out", "x", "--learner", "ann", "--python", "/nowhere/python"], "is not there"),
])
def test_words_that_will_not_do_are_one_line(words, says, capsys):
    """Exit 2, and nothing is done."""
    assert main(["hub", *words]) == 2
    printed = capsys.readouterr()
    assert says in printed.err and printed.err.count("\n") == 1
