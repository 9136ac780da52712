"""`loopbook present` in a real browser: a class is shown a lesson, the tab is lost, and the class goes on."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.browser.pages import ARGUMENTS, CODE, SLOW_MS, Server, chromium, listen, shoot


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    chromium()
    running = Server([sys.executable, "-c", CODE, "present", "start here", "--no-browser"], tmp_path_factory.mktemp("hör saal"),
                     "Keep this window open")
    yield next(line.strip() for line in running.said.splitlines() if line.strip().startswith("http://"))
    running.stop()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as play:
        running = play.chromium.launch(executable_path=chromium(), args=ARGUMENTS)
        yield running
        running.close()


def opened(browser: Browser, address: str, wide: int, high: int) -> tuple[Page, list[str]]:
    """A browser that never was there, on the page, and what it asks of the outside."""
    page = browser.new_context(viewport={"width": wide, "height": high}, reduced_motion="reduce").new_page()
    page.set_default_timeout(SLOW_MS)
    outside = listen(page)
    page.goto(address)
    page.wait_for_function("!document.querySelector('.voila-skeleton-container')")
    return page, outside


def serious(page: Page) -> list[object]:
    """What axe finds serious, on the whole page: nothing is left out."""
    found = [one for one in Axe().run(page).response["violations"] if one["impact"] in ("serious", "critical")]
    return [(one["id"], [node["html"][:120] for node in one["nodes"]]) for one in found]


def test_a_class_is_shown_a_lesson_and_a_lost_tab_loses_nothing(browser: Browser, address: str, tmp_path: Path) -> None:
    """By keys alone: question, pause, answer; sentences wait; layers, lines drawn, another plant; then another browser."""
    page, outside = opened(browser, address, 1920, 1080)
    here = page.locator(".step:not([hidden])")
    expect(here.locator("h2")).to_have_text("Start here")
    assert serious(page) == []
    page.keyboard.press("ArrowRight")
    page.keyboard.press("PageDown")
    expect(here.locator("h2")).to_have_text("A guess before you read on")
    expect(here.locator(".carried svg")).to_be_visible()        # the drawing of the step before, beside its question
    expect(here.get_by_text("The answer is")).to_have_count(0)
    page.keyboard.press("Space")
    expect(here.get_by_text("The answer is “the radiator”.")).to_be_visible()
    assert serious(page) == []
    shoot(page, "present-guess", tmp_path)

    drawing = here.locator(".lb-frame > svg")
    page.keyboard.press("t")
    assert "tags" in str(drawing.get_attribute("data-hide")).split()
    page.keyboard.press("d")
    box = drawing.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 60, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + 200, box["y"] + 120, steps=4)
    page.mouse.up()
    expect(page.locator("#ink path")).to_have_count(1)
    page.keyboard.press("Escape")
    page.wait_for_timeout(700)

    again, _ = opened(browser, address, 1920, 1080)
    expect(again.locator(".step:not([hidden]) h2")).to_have_text("A guess before you read on")
    expect(again.locator("#ink path")).to_have_count(1)
    expect(again.get_by_text("The answer is “the radiator”.")).to_be_visible()
    again.context.close()

    held = page.locator('.step:not([hidden]) [data-cell].held')
    while held.count() == 0:
        page.keyboard.press("ArrowRight")
    expect(held).to_be_hidden()
    page.keyboard.press("ArrowRight")
    expect(held).to_be_visible()

    title = here.locator("h2").inner_text()
    page.keyboard.press("n")
    expect(page.locator("#class-number")).to_have_value("2")
    expect(here.locator("h2")).to_have_text(title)
    page.keyboard.press("?")
    expect(page.get_by_role("dialog")).to_be_visible()
    assert serious(page) == []
    assert outside == []
    page.context.close()


def test_a_phone_and_twice_the_letters_lose_nothing(browser: Browser, address: str, tmp_path: Path) -> None:
    """Nothing runs out of the page, whatever the step; all of it can be touched; axe finds nothing serious."""
    page, outside = opened(browser, address, 390, 844)
    for wide, high, name in ((390, 844, "phone"), (960, 540, "twice")):      # 1920 by 1080 at 200 %
        page.set_viewport_size({"width": wide, "height": high})
        for at in (0, 1, 2, 8):
            page.get_by_label("Step").select_option(str(at))
            out = page.evaluate("""() => { const main = document.getElementById('steps');
                return [document.documentElement.scrollWidth - innerWidth, main.scrollWidth - main.clientWidth]; }""")
            assert max(out) <= 0, (name, at, out)
            shoot(page, f"present-{name}-{at}", tmp_path)
        small = page.evaluate("""() => [...document.querySelectorAll('.bar button')].filter(one => one.offsetParent)
            .map(one => one.getBoundingClientRect().height).filter(height => height < 44)""")
        assert small == [], name
        assert serious(page) == [], name
    page.get_by_role("link", name="Contents").click()
    expect(page.get_by_role("heading", name="Lessons")).to_be_visible()
    assert serious(page) == []
    page.get_by_role("link", name="90 minutes").click()
    expect(page.get_by_role("table")).to_be_visible()
    assert serious(page) == []
    assert outside == []
    page.context.close()
