"""*Your own plant* in a real browser, by mouse and by keyboard alone; what it saves is read as it should be."""

from __future__ import annotations

import json
import time
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from figures import read
from figures.plant import read_plant
from tests.browser.pages import SLOW_MS, Server, address, at_rest, listen, question, shoot
from tests.plants import SAMPLES
from tests.widgets.show.test_form import LIKE
from widgets.show.questions import QUESTIONS, settled

CELL = {"cell_type": "code", "id": "own", "source": "from widgets import PlantForm\nPlantForm()", "metadata": {}, "outputs": [],
        "execution_count": None}


def open_form(page: Page, server: Server, home: Path) -> None:
    """A notebook of the learner's own with the form in it, run as anybody runs a cell."""
    (home / "Loopbook" / "own.ipynb").write_text(json.dumps(
        {"cells": [CELL], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}), "utf-8")
    page.goto(address(server, "own.ipynb"))
    page.locator(".jp-CodeCell").first.click()
    page.keyboard.press("Shift+Enter")
    expect(page.locator(".lb-exercise legend").first).to_be_visible(timeout=SLOW_MS)
    at_rest(page)


@pytest.mark.parametrize("name", ["tees-tank-on-boiler-cascade", "single-loop-bypass-misplaced", "tees-no-relief-pump-reversed"])
def test_three_plants_are_put_together_and_saved(page: Page, server: Server, home: Path, name: str,
                                                 tmp_path: Path) -> None:
    """Answered as a technician would in front of the sample, in far less than five minutes of the machine's time."""
    outside = listen(page)
    open_form(page, server, home)
    began = time.monotonic()
    form = page.locator(".lb-exercise")
    form.get_by_label("What is the plant called?").fill(name)
    form.get_by_label("What is the plant called?").press("Enter")
    given: dict[str, tuple[str, ...]] = {}
    for asked in QUESTIONS:
        if asked.key not in LIKE[name]:
            continue
        wanted = LIKE[name][asked.key]
        given[asked.key] = (wanted,) if isinstance(wanted, str) else tuple(wanted)
        labels = dict(asked.options(settled(given)))
        for value in given[asked.key]:
            question(form, asked.text).get_by_label(labels[value], exact=True).check()
        at_rest(page)
    form.get_by_role("button", name="Save the plant file").click()
    expect(form.get_by_text("Saved as")).to_contain_text(f"{name}.toml")
    took = time.monotonic() - began
    shoot(page, f"form-{name}", tmp_path)
    assert took < 300
    seen = read(read_plant(home / "Loopbook" / f"{name}.toml"))
    sample = read(read_plant(next(path for path in SAMPLES if path.stem == name)))
    assert (seen.arrangement, seen.control, seen.dhw_priority) == (sample.arrangement, sample.control, sample.dhw_priority)
    assert {f.rule for f in seen.findings if f.severity == "must fix"} == {
        f.rule for f in sample.findings if f.severity == "must fix"}
    assert outside == []


def test_by_keyboard_alone(page: Page, server: Server, home: Path) -> None:
    """Arrow keys choose, the place is kept while the questions below change, and nothing of the form fails axe."""
    open_form(page, server, home)
    form = page.locator(".lb-exercise")
    question(form, "How many boilers are there?").get_by_label("1", exact=True).focus()
    page.keyboard.press("ArrowDown")
    expect(form.locator('[data-tag="B2"]')).to_have_count(1)
    at_rest(page)
    page.keyboard.press("ArrowDown")
    expect(form.locator('[data-tag="B3"]')).to_have_count(1)
    expect(question(form, "Which boiler leads?")).to_be_visible()
    assert page.evaluate("document.activeElement.value") == "3"
    found = Axe().run(page, context=".lb-exercise").response["violations"]
    assert [(row["id"], row["nodes"][0]["html"][:120]) for row in found] == []
