"""Views in a real browser: a loop, a step and what is missing by keyboard, on a light and a dark ground, nothing redrawn."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, expect

from tests.browser.pages import SLOW_MS, Server, address, at_rest, shoot

CODE = """from figures import Scheme
from widgets import views
views(Scheme(boilers=2, tank="boiler loop", faults=("relief-missing", "mixing-valve")))"""
NOTEBOOK = ("99-views.ipynb", CODE)
COVERED = """() => { const frame = document.querySelector('.lb-views svg');
    return [...frame.querySelectorAll('text.tag')].filter(text => { const box = text.getBoundingClientRect();
        const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
        return box.y > 0 && box.bottom < innerHeight && top !== text && top?.closest('svg') === frame; })
        .map(text => text.textContent); }"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_views_by_keyboard(browser: Browser, server: Server, scheme: str, tmp_path: object) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 1000}, color_scheme=scheme)  # type: ignore[arg-type]
    page.set_default_timeout(SLOW_MS)
    page.goto(address(server, NOTEBOOK[0]))
    shown = page.locator(".lb-views")
    shown.locator("svg text.tag").first.wait_for(timeout=SLOW_MS)
    at_rest(page)
    page.evaluate("document.querySelector('.lb-views svg').dataset.same = 'yes'")
    expect(shown.locator(".ghost").first).to_be_hidden()
    shown.get_by_label("What is missing (2)").focus()
    page.keyboard.press("Space")
    expect(shown.locator(".ghost")).to_have_count(2)
    expect(shown.locator(".ghost").first).to_be_visible()
    expect(shown.locator(".lb-caption")).to_have_text("Missing: relief valve at B1; mixing valve at IT.")
    shoot(page, f"views-missing-{scheme}", tmp_path)  # type: ignore[arg-type]
    shown.get_by_label("Loop", exact=True).select_option("boiler loop")
    expect(shown.locator('[data-tag="E1"]')).to_have_class("part dim")
    expect(shown.locator('[data-tag="B1"]')).to_have_class("part")
    shown.get_by_label("Water to").select_option("IT")
    expect(shown.locator(".lb-caption")).to_contain_text("B1 (boiler, leads) heats the water.")
    shown.get_by_role("button", name="Next step").focus()
    for _ in range(7):
        page.keyboard.press("Enter")
    expect(shown.locator(".lb-caption")).to_contain_text("Step 8 of 12.")
    expect(shown.locator(".part.look")).to_have_count(1)
    at_rest(page)
    assert page.evaluate(COVERED) == []
    assert shown.locator("svg").get_attribute("data-same") == "yes"
    shoot(page, f"views-step-{scheme}", tmp_path)  # type: ignore[arg-type]
    ground = page.evaluate("getComputedStyle(document.querySelector('.lb-views .lb-frame')).backgroundColor")
    assert ground == "rgb(255, 255, 255)", "a drawing stands on white in either theme"
    found = Axe().run(page, context=".lb-views").response["violations"]
    assert [(v["id"], [n["html"][:160] for n in v["nodes"]]) for v in found] == []
    page.close()


SMALLEST = """() => { const svg = document.querySelector('.lb-views svg'), scale = svg.getScreenCTM().a;
    return Math.min(...[...svg.querySelectorAll('[data-tag] text, text.tag, text.name')]
        .map(text => parseFloat(text.getAttribute('font-size')) * scale)); }"""
CAPITAL = """() => { const svg = document.querySelector('.lb-views svg'), frame = svg.parentNode;
    return 13 * 0.716 * svg.getScreenCTM().a / frame.clientWidth; }"""


def test_a_phone_scrolls_rather_than_shrink(browser: Browser, server: Server) -> None:
    """At 360 px no text is under 11 px, nothing hangs over the side, and the whole drawing is one press away."""
    page = browser.new_page(viewport={"width": 360, "height": 760})
    page.set_default_timeout(SLOW_MS)
    page.goto(address(server, NOTEBOOK[0]))
    shown = page.locator(".lb-views")
    shown.locator("svg text.tag").first.wait_for(timeout=SLOW_MS)
    at_rest(page)
    assert page.evaluate(SMALLEST) >= 11
    assert page.evaluate("() => { const e = document.querySelector('.lb-views'); return e.scrollWidth - e.clientWidth; }") <= 1
    shown.get_by_role("button", name="Whole drawing").click()
    expect(shown.get_by_role("button", name="Larger drawing")).to_be_visible()
    assert page.evaluate(SMALLEST) < 11
    page.close()


def test_a_projected_drawing_has_large_tags_and_follows_the_water(browser: Browser, server: Server) -> None:
    """Capitals of tags are a fiftieth of the picture's width, 40 mm of 2 m, and what is lit up is in sight."""
    page = browser.new_page(viewport={"width": 1280, "height": 800})
    page.set_default_timeout(SLOW_MS)
    page.goto(address(server, NOTEBOOK[0]))
    shown = page.locator(".lb-views")
    shown.locator("svg text.tag").first.wait_for(timeout=SLOW_MS)
    at_rest(page)
    shown.get_by_label("For a projector").check()
    page.wait_for_function(f"({CAPITAL})() >= 0.0199")
    shown.get_by_label("Water to").select_option("E1")
    seen = """() => { const lit = document.querySelector('.lb-views .part.look')?.getBoundingClientRect(),
        frame = document.querySelector('.lb-views .lb-frame').getBoundingClientRect();
        return lit && lit.left >= frame.left && lit.right <= frame.right; }"""
    for _ in range(9):
        page.wait_for_function(seen)
        shown.get_by_role("button", name="Next step").click()
    page.wait_for_function(seen)
    page.close()
