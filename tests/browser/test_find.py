"""Find the fault in a real browser: by click, by keyboard, with a false alarm, and on small screens."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Locator, Page, expect

from tests.bench.explore import notebook
from tests.browser.pages import SLOW_MS, Server, address, at_rest, listen, shoot
from widgets.learn.find import FindTask, find_task
from widgets.learn.wrong import WRONG

SEED = 6
SOURCES = {"find": f"from widgets import FindTheFault\nFindTheFault(seed={SEED}, faults=1, record=False)",
           "findings": "from figures import Scheme\nfrom widgets import show_findings\n"
                       "show_findings(Scheme(boilers=2, tank='system loop', faults=('relief-missing', 'tee-spacing')))"}
SIZES = {"desktop": (1280, 800), "phone": (390, 844)}


@pytest.fixture(scope="module")
def task() -> FindTask:
    """The plant that the page shows, made here too."""
    made = find_task(SEED, faults=1)
    assert len(made.faults) == 1
    return made


def open_cell(page: Page, server: Server, home: Path, name: str) -> Locator:
    """A notebook with one cell of ours, opened as a lesson is."""
    notebook(home / "Loopbook" / f"{name}.ipynb", SOURCES[name])
    page.goto(address(server, f"{name}.ipynb"))
    shown = page.locator(".lb-exercise")
    expect(shown.locator("svg").first).to_be_visible(timeout=SLOW_MS)
    at_rest(page)
    return shown


def unfounded(task: FindTask) -> str:
    """Words that nothing on the plant bears out."""
    fired = {f.finding.rule for f in (*task.faults, *task.notes)}
    return next(rule for rule in task.rules if rule not in fired)


def part(shown: Locator, name: str) -> Locator:
    """A part or pipe on the drawing."""
    return shown.locator(f'[data-tag="{name}"], [data-run="{name}"]').first


def test_click_the_faulty_part_and_see_the_mark(page: Page, server: Server, home: Path, task: FindTask,
                                                tmp_path: Path) -> None:
    """The part is picked by a click on the picture; the mark stands in words and on the part; nothing leaves the machine."""
    outside = listen(page)
    shown = open_cell(page, server, home, "find")
    claim, = task.right
    part(shown, claim.place).click()
    expect(shown.get_by_label("Where", exact=True)).to_have_value(claim.place)
    expect(shown.locator(".lb-caption")).to_contain_text(f"{claim.place}: ")
    shown.get_by_label("What is wrong there").select_option(label=WRONG[claim.rule].label)
    shoot(page, "find-picked", tmp_path)
    shown.get_by_role("button", name="Add", exact=True).click()
    expect(shown.locator(".lb-said li")).to_have_count(1)
    shown.get_by_role("button", name="Check", exact=True).click()
    expect(shown.locator(".lb-said li")).to_contain_text("✓ Found")
    expect(shown.locator(".lb-said li")).to_contain_text(task.faults[0].finding.fix)
    expect(shown.get_by_role("status")).to_contain_text("1 of 1 points")
    expect(shown.locator('.finding[data-finding="1"]')).to_be_visible()
    expect(part(shown, claim.place)).to_have_class(re.compile(r"\bright\b"))
    shoot(page, "find-right", tmp_path)
    assert outside == []


def test_by_keyboard_alone_on_the_drawing(page: Page, server: Server, home: Path, task: FindTask) -> None:
    """Arrow keys go from part to part, Enter picks; Tab leads on to the words, Add and Check."""
    shown = open_cell(page, server, home, "find")
    claim, = task.right
    shown.locator("svg [tabindex='0']").first.focus()
    for _ in range(len(task.places)):
        if page.evaluate("document.activeElement.dataset.tag") == claim.place:
            break
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    expect(shown.get_by_label("Where", exact=True)).to_have_value(claim.place)

    def tab_to(wanted: Locator) -> None:
        for _ in range(12):
            page.keyboard.press("Tab")
            if wanted.evaluate("one => one === document.activeElement"):
                return
        raise AssertionError(f"Tab never came to {wanted}")

    tab_to(shown.get_by_label("What is wrong there"))
    for _ in task.rules:
        page.keyboard.press("ArrowDown")
        if shown.get_by_label("What is wrong there").input_value() == claim.rule:
            break
    tab_to(shown.get_by_role("button", name="Add", exact=True))
    page.keyboard.press("Enter")
    expect(shown.locator(".lb-said li")).to_have_count(1)
    tab_to(shown.get_by_role("button", name="Check", exact=True))
    page.keyboard.press("Enter")
    expect(shown.locator(".lb-said li")).to_contain_text("✓ Found")


def test_a_false_alarm_is_counted_and_the_list_of_tags_serves_as_well(page: Page, server: Server, home: Path,
                                                                      task: FindTask, tmp_path: Path) -> None:
    """The place is chosen from the list; why it is sound is said; a second try finds the fault; removing works."""
    shown = open_cell(page, server, home, "find")
    claim, = task.right
    sound = next(tag for tag, one in task.plant.parts.items() if one.kind == "emitter" and tag not in task.faults[0].places)

    def say(place: str, rule: str) -> None:
        """At once after what was said before: no answer of the kernel may undo the next choice."""
        shown.get_by_label("Where", exact=True).select_option(place)
        shown.get_by_label("What is wrong there").select_option(rule)
        shown.get_by_role("button", name="Add", exact=True).click()

    said = shown.locator(".lb-said li")
    say(sound, unfounded(task))
    shown.get_by_role("button", name="Check", exact=True).click()
    expect(said).to_contain_text("✗ False alarm")
    expect(shown.get_by_role("status")).to_contain_text("1 false alarm")
    expect(part(shown, sound)).to_have_class(re.compile(r"\bwrong\b"))
    shoot(page, "find-alarm", tmp_path)
    say(claim.place, claim.rule)
    say(claim.place, unfounded(task))
    expect(said).to_have_count(3)
    said.last.get_by_role("button", name="Remove").click()
    expect(said).to_have_count(2)
    shown.get_by_role("button", name="Check", exact=True).click()
    expect(shown.get_by_role("status")).to_contain_text("1 of 1 points")


@pytest.mark.parametrize("name", list(SOURCES))
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_fits_every_screen_and_everybody(browser: Browser, server: Server, home: Path, name: str,
                                            scheme: str, tmp_path: Path) -> None:
    """Nothing runs out of the page on a desktop or a phone, and axe finds nothing serious."""
    context = browser.new_context(viewport={"width": 1280, "height": 800}, color_scheme=scheme)  # type: ignore[arg-type]
    page = context.new_page()
    page.set_default_timeout(SLOW_MS)
    shown = open_cell(page, server, home, name)
    if name == "findings":
        shown.locator(".lb-line").first.click()
    else:
        shown.get_by_role("button", name="Show the answer", exact=True).click()
    at_rest(page)
    for screen, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        at_rest(page)
        shoot(page, f"{name}-{screen}-{scheme}", tmp_path)
        outer = page.locator(".jp-WindowedPanel-outer")
        wide, room = outer.evaluate("box => [box.scrollWidth, box.clientWidth]")
        assert wide <= room, (screen, wide, room)
        inside = shown.evaluate("""box => [...box.querySelectorAll('button, input, select, legend, p, h3, svg')].filter(
            one => { const edge = one.getBoundingClientRect();
            return !one.closest('.lb-frame') && edge.width && edge.right > box.getBoundingClientRect().right + 1; })
            .map(one => one.outerHTML.slice(0, 120))""")
        assert inside == [], screen
    found = Axe().run(page, context=".lb-exercise").response["violations"]
    assert [(row["id"], row["nodes"][0]["html"][:160]) for row in found if row["impact"] in ("serious", "critical")] == []
    context.close()
