"""How soon a presented lesson stands on the screen, and what it costs in memory."""

from __future__ import annotations

import os
import statistics
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.pages import ARGUMENTS, chromium
from widgets.serve import present

from .measure import Row

OUT_OF_TURN = ("07-where-two-loops-meet", "12-which-configuration", "16-practice-test")
IN_TURN = ("01-start-here", "02-what-is-in-the-room", "03-follow-the-water", "04-pressure-and-air", "05-what-the-control-does",
           "06-one-loop")
FIRST_WIDGET = ".step .lb-frame svg, .step .jupyter-widgets"
RUN_AHEAD_MS = 6000
"""A teacher stays longer than this with a lesson; meanwhile the next one is run."""


def rows() -> Iterator[Row]:
    """The first widget after a page's opening: after the start, of the next lesson, of any other, of a page opened again."""
    with tempfile.TemporaryDirectory() as data:
        os.environ["LOOPBOOK_DATA"] = data
        begun = time.perf_counter()
        server, port, (token, _) = present.start(None, "127.0.0.1")
        yield Row("present: start to the first answer", time.perf_counter() - begun, "s", f"{worked():.2g} of work")
        try:
            with sync_playwright() as play:
                browser = play.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
                page = browser.new_page(viewport={"width": 1920, "height": 1080})
                at = f"http://127.0.0.1:{port}"

                def first_widget(address: str) -> tuple[float, float]:
                    begun, before = time.perf_counter(), worked()
                    page.goto(address, wait_until="commit")
                    page.wait_for_selector(FIRST_WIDGET, state="attached")
                    return time.perf_counter() - begun, worked() - before

                def settled() -> None:
                    page.wait_for_function("!document.querySelector('.voila-skeleton-container')")
                    page.wait_for_timeout(RUN_AHEAD_MS)

                time.sleep(2)
                seconds, work = first_widget(f"{at}/lesson/{IN_TURN[0]}?token={token}")
                yield Row("present: first widget, the browser's first page", seconds, "s", f"{work:.2g} of work; at most 2.5")
                settled()
                numbers = [f"{at}/lesson/{OUT_OF_TURN[0]}?seed={number}" for number in (31, 32, 33)]
                for what, ways in (("of the next lesson, run ahead", [f"{at}/lesson/{name}" for name in IN_TURN[1:]]),
                                   ("of a lesson out of turn, warm kernel", [f"{at}/lesson/{name}" for name in OUT_OF_TURN]),
                                   ("of the next class number, warm kernel", numbers),
                                   ("of a page opened again", [f"{at}/lesson/{OUT_OF_TURN[2]}"] * 3)):
                    taken = []
                    for way in ways:
                        taken.append(first_widget(way))
                        settled()
                    yield Row(f"present: first widget {what}", statistics.median(one for one, _ in taken), "s",
                              f"{min(taken)[0]:.2g} to {max(taken)[0]:.2g}, {len(taken)} pages; "
                              f"{statistics.median(work for _, work in taken):.2g} of work; at most 0.5")
                yield from memory(server.pid)
                browser.close()
        finally:
            present._stop(server)
            del os.environ["LOOPBOOK_DATA"]


def worked() -> float:
    """Seconds of work on the processor of all that this process started, which a busy machine changes less than the clock."""
    table, mine, work = Path("/proc"), {os.getpid()}, 0.0
    if not table.is_dir():
        return float("nan")
    for pid in sorted(int(one.name) for one in table.iterdir() if one.name.isdigit()):
        if _parent(pid) in mine:
            mine.add(pid)
            try:
                said = Path(f"/proc/{pid}/stat").read_text("utf-8").rpartition(")")[2].split()
            except OSError:
                continue
            work += (int(said[11]) + int(said[12])) / os.sysconf("SC_CLK_TCK")
    return work


def memory(pid: int) -> Iterator[Row]:
    """Of the server and of its kernels, where the system tells (Linux)."""
    table = Path("/proc")
    if not table.is_dir():
        return
    kernels = [child for child in (int(one.name) for one in table.iterdir() if one.name.isdigit()) if _parent(child) == pid]
    yield Row("present: server", _resident(pid), "MB", "resident")
    sizes = [_resident(kernel) for kernel in kernels]
    yield Row("present: a kernel", statistics.median(sizes), "MB", f"resident, {len(sizes)} run; at most 150")


def _parent(pid: int) -> int:
    try:
        return int(Path(f"/proc/{pid}/stat").read_text("utf-8").rpartition(")")[2].split()[1])
    except OSError:
        return 0


def _resident(pid: int) -> float:
    return int(Path(f"/proc/{pid}/statm").read_text("utf-8").split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
