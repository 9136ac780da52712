"""How quickly an exploration answers, in the kernel and on the screen, what it holds in memory, and what a day costs."""

from __future__ import annotations

import json
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from figures.physics.day import day
from figures.physics.operation import Operator
from figures.plant.scheme import Scheme

from .measure import TOP, Row, spread, timed

MOVES = 30
CELL = """from figures import Scheme
from widgets import explore
explore(Scheme(boilers=4, emitters=4, tank="system loop"), call="both")"""

MEASURE = """async ([name, moves]) => {
  const slider = document.querySelector(`.lb-explore input[type=range][data-name="${name}"]`);
  const wait = ms => new Promise(done => setTimeout(done, ms));
  const times = [];
  for (let n = 0; n < moves; n++) {
    const changed = new Promise(done => {
      const watch = new MutationObserver(() => { watch.disconnect(); done(performance.now()); });
      watch.observe(document.querySelector('.lb-explore svg .layer-figures.lb-laid'), {subtree: true, childList: true,
                    characterData: true});
      setTimeout(() => done(NaN), 5000);
    });
    const start = performance.now();
    slider.value = String(60 + (n * 35) % 85);
    slider.dispatchEvent(new Event('input', {bubbles: true}));
    times.push(await changed - start);
    await wait(80);
  }
  return times; }"""


def notebook(path: Path, code: str) -> None:
    """A notebook of one cell that runs when it is opened, as a lesson does."""
    cell = {"cell_type": "code", "id": "a1", "metadata": {"jupyter": {"source_hidden": True}}, "source": code, "outputs": [],
            "execution_count": None}
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    path.write_text(json.dumps({"cells": [cell], "metadata": {"kernelspec": kernel, "loopbook": {"lesson": 99}},
                                "nbformat": 4, "nbformat_minor": 5}), encoding="utf-8")


def on_the_screen() -> Row | None:
    """A slider moved in a real browser, from its event to new figures on the drawing; None without a Chromium."""
    if next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None) is None:
        return None
    from playwright.sync_api import sync_playwright

    from tests.browser.pages import ARGUMENTS, SLOW_MS, address, at_rest, chromium, study

    with tempfile.TemporaryDirectory() as home:
        server = study(Path(home))
        try:
            lesson = next(Path(home).rglob("01-*.ipynb"))
            notebook(lesson.parent / "99-explore.ipynb", CELL)
            with sync_playwright() as play:
                browser = play.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
                page = browser.new_page(viewport={"width": 1280, "height": 900})
                page.set_default_timeout(SLOW_MS)
                page.goto(address(server, "99-explore.ipynb"))
                page.locator(".lb-explore svg .lb-laid text").first.wait_for(state="attached", timeout=SLOW_MS)
                page.locator(".lb-motion input").first.uncheck()
                at_rest(page)
                seconds = [ms / 1e3 for ms in page.evaluate(MEASURE, ["speed:PS", MOVES])]
                browser.close()
        finally:
            server.stop()
    return Row("slider moved in Chromium to new figures on the drawing", statistics.median(seconds) * 1e3, "ms",
               f"{spread(seconds, 1e3)}; quickest {min(seconds) * 1e3:.3g}; in the kernel at most 60")


def kernel_memory(*codes: str) -> list[float]:
    """Resident memory of one kernel after each of these codes [MB]."""
    from jupyter_client.manager import start_new_kernel

    manager, client = start_new_kernel(kernel_name="python3", cwd=str(TOP))
    found = []
    try:
        for code in codes:
            answer = client.execute_interactive(code, timeout=120, output_hook=lambda message: None)
            assert answer["content"]["status"] == "ok", answer["content"]
            time.sleep(0.3)
            status = Path(f"/proc/{manager.provisioner.pid}/status").read_text(encoding="utf-8")
            found.append(int(next(line.split()[1] for line in status.splitlines() if line.startswith("VmRSS"))) / 1024)
    finally:
        client.stop_channels()
        manager.shutdown_kernel(now=True)
    return found


def rows() -> Iterator[Row]:
    """In the kernel, on the screen, in memory; and a day."""
    from widgets import Explore

    for title, scheme, wrong in (("1 boiler", Scheme(tank="system loop"), False),
                                 ("4 boilers", Scheme(boilers=4, emitters=4, tank="system loop"), False),
                                 ("4 boilers, set wrongly", Scheme(boilers=4, emitters=4, tank="system loop"), True)):
        widget = Explore(scheme, call="both", configuration="DHW on the boiler loop" if wrong else None)
        speeds = iter(60.0 + 5.0 * (n % 17) for n in range(1000))
        yield timed(f"slider to figures in the kernel, {title}", lambda w=widget, s=speeds: w.turn("speed:PS", next(s)), 60.0)
    shown = on_the_screen()
    if shown is not None:
        yield shown
    for title, scheme in (("1 boiler", Scheme(tank="system loop")),
                          ("4 boilers", Scheme(boilers=4, emitters=4, tank="system loop"))):
        operator = Operator(scheme.plant())
        yield timed(f"a day in steps of 10 s, {title}", lambda o=operator: day(o), 1000.0, runs=5)
        began = time.process_time()
        day(operator)
        yield Row(f"the same, work on the processor, {title}", (time.process_time() - began) * 1e3, "ms", "one run")
    if sys.platform == "linux":
        for name, code in (("an exercise", "x = Exercise(seed=3, record=False)"),
                           ("a drawing to look at", "x = look_at(Scheme.random(3).plant())")):
            used = kernel_memory(f"from figures import Scheme\nfrom widgets import Exercise, look_at\n{code}")
            yield Row(f"kernel with {name} (at most 110)", used[0], "MB", "resident")
        charts = ["x.show_chart('direct against reverse return')", "x.show_chart('the day')"]
        used = kernel_memory("pass", CELL.replace("\nexplore(", "\nx = explore("), *charts)
        names = ("with nothing", "with an exploration open (at most 110)", "and one chart (at most 150)",
                 "and the chart of a day")
        for name, value in zip(names, used):
            yield Row(f"kernel {name}", value, "MB", "resident")
