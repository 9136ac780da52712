"""An examination in a real browser, by keyboard alone: begun, closed in the middle, resumed, handed in."""

from __future__ import annotations

import re
from pathlib import Path

from playwright.sync_api import Browser, Page, expect

from tests.bench.explore import notebook
from tests.browser.pages import SLOW_MS, Server, address, at_rest, shoot
from tests.widgets.learn.short import short_blueprint
from widgets.learn import Record
from widgets.learn.bank.plain import STEPS as STEPS_IN_ORDER

BLUEPRINT = short_blueprint('P1 = {share = 50, questions = 2, difficulty = [1], kinds = ["arrange", "missing"]}',
                            "R8 = {share = 50, questions = 2, difficulty = [1]}", minutes=30, pass_share=0.5)
MOST_TABS = 150


def open_sitting(page: Page, server: Server, home: Path) -> None:
    """A notebook with the examination in its one cell, opened as a lesson is."""
    (home / "Loopbook" / "short.toml").write_text(BLUEPRINT, "utf-8")
    notebook(home / "Loopbook" / "sitting.ipynb", "from widgets import Sitting\nSitting(seed=3, blueprint='short.toml')")
    page.goto(address(server, "sitting.ipynb"))
    expect(page.locator(".lb-exercise fieldset")).to_be_visible(timeout=SLOW_MS)
    at_rest(page)
    page.locator(".lb-exercise fieldset").evaluate("field => { field.tabIndex = -1; field.focus(); }")


def tab_to(page: Page, wanted: str) -> None:
    """Press Tab until the element that has the focus is of that kind or bears that name."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if page.evaluate("""wanted => { const at = document.activeElement;
                return at.type === wanted || at.textContent.trim() === wanted || at.getAttribute("aria-label") === wanted; }""",
                         wanted):
            return
    raise AssertionError(f"Tab never reached '{wanted}'")


def answer(page: Page, number: int) -> None:
    """Choose an answer with the space bar, or move steps, and wait until it is kept."""
    if page.locator(".lb-arrange").count():
        arrange(page)
    else:
        tab_to(page, "radio")
        page.keyboard.press("Space")
    expect(page.get_by_text("Kept.", exact=True)).to_be_visible()
    expect(page.get_by_text(f"{number} answered", exact=False).first).to_be_visible()


STEPS = ".lb-arrange li"


def arrange(page: Page) -> None:
    """Put the steps in order: each down to its place by the Enter key on its button, or up by the arrow key."""
    words = [step.lower() for step in STEPS_IN_ORDER]
    rows = page.locator(STEPS)
    expect(rows).to_have_count(4)
    wanted = sorted(rows.locator(".lb-step-text").all_inner_texts(), key=lambda text: words.index(text.lower()))
    for place, label in enumerate(wanted):
        while (at := rows.locator(".lb-step-text").all_inner_texts().index(label)) > place:
            if page.evaluate("document.activeElement.getAttribute('aria-label')") != f"Move up: {label}":
                tab_to(page, f"Move up: {label}")
            page.keyboard.press("ArrowUp" if at - place > 1 else "Enter")
            expect(page.get_by_text(f"{label}: now {at} of 4.", exact=True)).to_be_visible()
    assert rows.locator(".lb-step-text").all_inner_texts() == wanted


def go_on(page: Page, number: int) -> None:
    """Next, with the Enter key."""
    tab_to(page, "Next")
    page.keyboard.press("Enter")
    expect(page.get_by_text(f"question {number} of 4", exact=False).first).to_be_visible()
    at_rest(page)
    page.locator(".lb-exercise fieldset").evaluate("field => { field.tabIndex = -1; field.focus(); }")


def test_an_examination_by_keyboard_alone_closed_and_resumed(browser: Browser, server: Server, home: Path,
                                                             tmp_path: Path) -> None:
    """Two answers, the page closed; opened again both are there; two more, handed in with a second press, a result."""
    first = browser.new_page()
    open_sitting(first, server, home)
    clock = first.get_by_role("timer")
    expect(clock).to_have_text(re.compile(r"^(30:00|29:\d\d) left$"))
    expect(clock).not_to_have_text(clock.inner_text())      # it ticks without a press,
    assert clock.get_attribute("aria-live") == "off"        # and is not read aloud each time
    expect(first.get_by_text("questions are being made", exact=False)).to_have_count(0)
    answer(first, 1)
    go_on(first, 2)
    answer(first, 2)
    shoot(first, "exam-middle", tmp_path)
    first.close()

    second = browser.new_page()
    open_sitting(second, server, home)
    expect(second.get_by_text("its clock went on", exact=False).first).to_be_visible()
    expect(second.get_by_text("2 answered", exact=False).first).to_be_visible()
    answer(second, 3)
    go_on(second, 4)
    answer(second, 4)
    tab_to(second, "Hand in")
    second.keyboard.press("Enter")
    expect(second.get_by_text("once more to hand it in", exact=False)).to_be_visible()
    second.keyboard.press("Enter")
    expect(second.get_by_text("practice for a certificate, and not one", exact=False).first).to_be_visible()
    expect(second.get_by_text("4 of 4 questions answered", exact=False)).to_be_visible()
    shoot(second, "exam-result", tmp_path)
    second.close()
    record = Record(home / "data")
    rows = [row for row in record.rows(kind="answer") if row.exercise.startswith("exam/3/")]
    assert len({row.more["number"] for row in rows}) == 4
    arranged = [row for row in rows if "/arrange/" in row.item]
    assert isinstance(arranged[-1].answer, list) and arranged[-1].points == 1.0     # put in order before or after the page closed
