"""A real browser on a real `loopbook study`: what the browser tests stand on."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Locator, Page, expect, sync_playwright

from figures import Scheme, read
from tests.bench.explore import notebook
from widgets.learn import items_for

ARGUMENTS = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync", "--force-color-profile=srgb")
SLOW_MS = 90_000
CONTROL = "What must the boiler control be told"
expect.set_options(timeout=60_000)
CODE = "import sys; from widgets.command import main; sys.exit(main(sys.argv[1:]))"


def chromium() -> str:
    """Where Chromium is. Without it a browser test is skipped, and fails where CI is set."""
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if found is None:
        reason = "there is no Chromium on this machine, so nothing can be seen in a browser"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return found


class Server:
    """A JupyterLab as its own process, and the address that it is open at."""

    def __init__(self, command: list[str], home: Path, until: str) -> None:
        environment = {name: value for name, value in os.environ.items() if not name.startswith(("JUPYTER", "XDG_"))}
        environment |= {"HOME": str(home), "LOOPBOOK_DATA": str(home / "data")}
        self.log = home / "said.txt"
        with self.log.open("w") as said:
            self.process = subprocess.Popen(command, cwd=home, env=environment, stdout=said, stderr=said)
        self.said = ""
        patience = time.monotonic() + SLOW_MS / 1000
        while until not in self.said:
            assert self.process.poll() is None and time.monotonic() < patience, self.said
            time.sleep(0.1)
            self.said = self.log.read_text("utf-8")

    def stop(self) -> None:
        self.process.terminate()   # Ctrl+C is not heard where the tests themselves run in the background
        try:
            self.process.wait(15)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


def study(home: Path) -> Server:
    """`loopbook study`, as the README says it."""
    return Server([sys.executable, "-c", CODE, "study", "--no-browser"], home, "Keep this window open")


@contextmanager
def serving(home: Path, name: str = "", source: str = "") -> Iterator[Server]:
    """`loopbook study`, stopped afterwards. name, source: of a notebook with one cell to lay beside the lessons."""
    chromium()
    running = study(home)
    try:
        if name:
            notebook(next(home.rglob("01-*.ipynb")).parent / name, source)
        yield running
    finally:
        running.stop()


@contextmanager
def chrome() -> Iterator[Browser]:
    """A browser, closed afterwards."""
    path = chromium()
    with sync_playwright() as play:
        running = play.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield running
        running.close()


def address(server: Server, lesson: str = "") -> str:
    """The address that `study` printed, for another lesson if one is named."""
    given = next(line.strip() for line in server.said.splitlines() if line.strip().startswith("http://"))
    if not lesson:
        return given
    parts = urlsplit(given)
    return parts._replace(path=f"{parts.path.rpartition('/')[0]}/{lesson}").geturl()


def listen(page: Page) -> list[str]:
    """All addresses outside this machine that the page asks for, from now on."""
    outside: list[str] = []

    def note(request: Any) -> None:
        if urlsplit(request.url).scheme not in ("data", "blob") and urlsplit(request.url).hostname != "127.0.0.1":
            outside.append(request.url)

    page.on("request", note)
    return outside


def open_lesson(page: Page, where: str, exercises: int) -> None:
    """Go there and wait until its exercises stand and the kernel is at rest."""
    page.goto(where)
    expect(page.locator(".lb-reading")).to_have_count(exercises, timeout=SLOW_MS)
    expect(page.locator(".lb-reading legend").last).to_be_visible(timeout=SLOW_MS)
    at_rest(page)


def at_rest(page: Page) -> None:
    """Wait until nothing has changed on the page for half a second."""
    page.evaluate("""() => new Promise(done => {
        let timer = setTimeout(done, 500);
        new MutationObserver(() => { clearTimeout(timer); timer = setTimeout(done, 500); })
            .observe(document.body, {subtree: true, childList: true, characterData: true});
        setTimeout(done, 20000); })""")


def question(exercise: Locator, name: str) -> Locator:
    """The fieldset of one question, by its text."""
    return exercise.locator("fieldset").filter(has=exercise.page.locator("legend", has_text=name))


def labels(number: int) -> tuple[str, str]:
    """What is right to say of the control of a made plant, and something that is not, as the page words it."""
    plant = Scheme.random(number).plant()
    (item,) = items_for(plant, read(plant), questions=["control"])
    right = next(option.label for option in item.options if option.value in item.key)
    return right, next(option.label for option in item.options if option.value not in item.key)


def shoot(page: Page, name: str, folder: Path) -> None:
    """A screenshot; kept where LOOPBOOK_SHOTS names a folder, for somebody to look at."""
    kept = os.environ.get("LOOPBOOK_SHOTS")
    page.screenshot(path=Path(kept) / f"{name}.png" if kept else folder / f"{name}.png")
