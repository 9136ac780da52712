"""A real hub on this machine: three real users log in, do an exercise, and see nothing of each other's."""

from __future__ import annotations

import json
import os
import sqlite3
import stat
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import nbformat
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.hubs import Hub, User, need
from tests.browser.pages import CONTROL, labels, listen, question, shoot
from widgets.learn.record import FILE_NAME

SEED = 41
HANDED = "handed-out/exercise.ipynb"
VERY_SLOW_MS = 180_000
TRESPASS = Path(__file__).with_name("trespass.py").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def hub(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Hub]:
    """Three users with an exercise handed out to each."""
    need()
    running = Hub(3)
    try:
        book = nbformat.v4.new_notebook(metadata={"loopbook": {"format": 1}}, cells=[
            nbformat.v4.new_code_cell("from widgets import Exercise\nfrom widgets.learn.consent import choose\n"
                                      f"choose(keep=True)\nExercise(seed={SEED}, key='hub')")])
        path = tmp_path_factory.mktemp("class") / "exercise.ipynb"
        nbformat.write(book, path)
        everybody = [word for user in running.users for word in ("--learner", user.name)]
        assert "put there" in running.loopbook("hub", "hand-out", str(path), *everybody)
        assert "open to others (755)" in running.loopbook("hub", "check", *everybody, exit_code=2)
        running.start()
        yield running
    finally:
        running.stop()


def log_in(browser: Browser, hub: Hub, user: User) -> tuple[BrowserContext, Page, list[str]]:
    """As a learner does, on to what was handed out; the server starts meanwhile."""
    context = browser.new_context(viewport={"width": 1280, "height": 800}, color_scheme="light")
    page = context.new_page()
    page.set_default_timeout(VERY_SLOW_MS)
    outside = listen(page)
    where = quote(f"/hub/spawn?next={quote(f'/user/{user.name}/doc/tree/{HANDED}')}", safe="")
    page.goto(f"{hub.address}/hub/login?next={where}", wait_until="commit")
    page.get_by_label("Username").fill(user.name)
    page.get_by_label("Password").fill(user.password)
    page.get_by_role("button", name="Sign in").click(no_wait_after=True)
    return context, page, outside


def test_three_learners_work_and_see_nothing_of_each_other(hub: Hub, browser: Browser, tmp_path: Path) -> None:
    """Files, kernels, records, tokens and addresses: each is tried, in the browser and with all that a kernel may do."""
    seats = [(user, *log_in(browser, hub, user)) for user in hub.users]
    right, _ = labels(SEED)
    for user, _context, page, outside in seats:
        exercise = page.locator(".lb-exercise").last
        expect(exercise.locator("legend").first).to_be_visible(timeout=VERY_SLOW_MS)
        control = question(exercise, CONTROL)
        control.get_by_label(right, exact=True).check()
        exercise.get_by_role("button", name="Check", exact=True).click()
        expect(control).to_contain_text("✓ Right", timeout=VERY_SLOW_MS)
        shoot(page, f"hub-{user.name[-1]}", tmp_path)
        assert outside == []
        assert (user.home / "Loopbook" / "01-start-here.ipynb").is_file()

    for user in hub.users:
        assert stat.S_IMODE(user.home.stat().st_mode) == 0o700
        [record] = user.home.rglob(FILE_NAME)
        with sqlite3.connect(record) as rows:
            assert rows.execute("SELECT count(*) FROM rows WHERE kind = 'answer'").fetchone()[0] >= 1

    for (user, context, _, _), other in zip(seats, [*hub.users[1:], hub.users[0]]):
        _in_the_browser(hub, context, other)
        came = _on_the_host(hub, user, other)
        assert [f"{name}: {what}" for name, what in came.items() if not what.startswith("refused")] == []
        assert len(came) > 30

    tokens = _tokens(hub)
    assert len(tokens) >= 3
    commands = b"".join((Path("/proc") / str(pid) / "cmdline").read_bytes() for user in hub.users for pid in hub.of(user))
    assert not [token for token in tokens if token.encode() in commands]
    for _, context, _, _ in seats:
        context.close()
    _collected(hub, tmp_path)


def _in_the_browser(hub: Hub, context: BrowserContext, other: User) -> None:
    """What one learner's browser, with the learner's cookies, gets of another's."""
    for path in (f"user/{other.name}/doc/tree/{HANDED}", f"user/{other.name}/api/kernels", f"user/{other.name}/api/sessions",
                 f"user/{other.name}/files/{HANDED}", f"user/{other.name}/api/contents/{HANDED}",
                 f"user/{other.name}/api/terminals", f"hub/api/users/{other.name}", "hub/api/users", "hub/api/proxy",
                 "hub/admin", f"hub/spawn/{other.name}", f"hub/api/users/{other.name}/tokens"):
        answer = context.request.get(f"{hub.address}/{path}")
        assert answer.status in (403, 404), (path, answer.status, answer.text()[:200])


def _on_the_host(hub: Hub, user: User, other: User) -> dict[str, str]:
    """What one learner's processes get of another's."""
    sockets = hub.sockets / "users" / str(other.uid)
    [record] = other.home.rglob(FILE_NAME)
    told = {"other": other.name, "uid": other.uid, "home": str(other.home), "sockets": str(sockets),
            "web": str(hub.sockets / "web" / str(other.uid)),
            "hub_sockets": str(hub.sockets), "state": str(hub.state), "port": hub.port, "name": HANDED,
            "lesson": str(other.home / "Loopbook" / HANDED), "record": str(record),
            "kernel_sockets": [str(path) for path in sorted(sockets.glob("kernel-*-ipc-*"))],
            "connection_file": str(next(sockets.glob("kernel-*.json")))}
    assert len(told["kernel_sockets"]) == 5, "the kernel's channels are sockets in the learner's own folder"
    return json.loads(user.run([str(hub.python), "-I", "-c", TRESPASS], json.dumps(told) + "\n",
                               LD_LIBRARY_PATH=hub.environment["LD_LIBRARY_PATH"]))


def _tokens(hub: Hub) -> set[str]:
    """The learners' own tokens, which root can see."""
    found = set()
    for user in hub.users:
        for pid in hub.of(user):
            lines = (Path("/proc") / str(pid) / "environ").read_bytes().split(b"\0")
            found |= {line.partition(b"=")[2].decode() for line in lines if line.startswith(b"JUPYTERHUB_API_TOKEN=")}
    return found


def _collected(hub: Hub, tmp_path: Path) -> None:
    """The instructor gets what each has, and nothing that a learner's link points to."""
    first, second = hub.users[:2]
    for name, target in (("shadow.txt", "/etc/shadow"), ("theirs.ipynb", second.home / "Loopbook" / HANDED)):
        first.run(["ln", "-s", str(target), str(first.home / "Loopbook" / "handed-out" / name)])
    everybody = [word for user in hub.users for word in ("--learner", user.name)]
    hub.loopbook("hub", "collect", "handed-out", *everybody, "--to", str(hub.place / "collected"))
    got = sorted(str(path.relative_to(hub.place / "collected")) for path in (hub.place / "collected").rglob("*")
                 if not path.is_dir())
    assert got == sorted(f"{user.name}/{HANDED}" for user in hub.users)
    assert all(path.stat().st_uid == os.geteuid() for path in (hub.place / "collected").rglob("*"))
