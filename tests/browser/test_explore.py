"""Explore in a real browser: a slider by mouse and by keyboard, moving water and the wish for none of it, a phone."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, TimeoutError, expect

from tests.browser.pages import SLOW_MS, Server, address, at_rest, listen

CODE = """from figures import Scheme
from widgets import explore
explore(Scheme(tank="system loop"), call="heat")"""
NOTEBOOK = ("99-explore.ipynb", CODE)


def opened(browser: Browser, server: Server, **more: object) -> Page:
    page = browser.new_page(**{"viewport": {"width": 1280, "height": 900}, **more})
    page.set_default_timeout(SLOW_MS)
    page.goto(address(server, NOTEBOOK[0]))
    try:
        page.locator(".lb-explore svg .lb-laid text").first.wait_for(state="attached", timeout=SLOW_MS)
    except TimeoutError:
        pytest.fail(f"no figures on the drawing; the page shows: {page.locator('body').inner_text()[:2000]}")
    return page


def texts(page: Page) -> list[str]:
    return page.locator(".lb-explore svg .lb-laid text").all_text_contents()


def test_slider_switch_and_chart(browser: Browser, server: Server) -> None:
    """The svg that stands stays; its figures change; a wrong setting brings a second drawing; a chart has its words; no
    request leaves the machine and nothing is said in the console."""
    page = opened(browser, server)
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    outside = listen(page)
    page.locator(".lb-motion input").first.uncheck()
    page.evaluate("document.querySelector('.lb-explore svg').dataset.same = 'yes'")
    before = texts(page)
    slider = page.get_by_label("PS speed")
    slider.focus()
    for _ in range(6):
        page.keyboard.press("ArrowLeft")
    page.wait_for_function("before => JSON.stringify([...document.querySelectorAll('.lb-explore svg .lb-laid text')]"
                           ".map(t => t.textContent)) !== JSON.stringify(before)", arg=before)
    at_rest(page)
    assert texts(page) != before and slider.input_value() == "94"
    assert page.locator(".lb-explore svg").first.get_attribute("data-same") == "yes"
    page.get_by_label("ZV1 is open (motorised valve)").focus()
    page.keyboard.press("Space")
    expect(page.locator(".lb-explore")).to_contain_text("E1: its water stands still")
    page.get_by_label("Configuration that is set").select_option("DHW on the boiler loop")
    page.get_by_label("Who calls").select_option("both")
    expect(page.locator(".lb-explore .lb-canvas:visible")).to_have_count(2)
    expect(page.locator(".lb-explore svg.lbk").last).to_have_attribute("data-moving", "no")
    page.get_by_role("button", name="Show chart").click()
    assert (page.locator(".lb-chart img").get_attribute("alt") or "").startswith("2 days beside each other: water, air and")
    assert outside == [] and said == []
    page.close()


def test_water_moves_and_can_be_stopped(browser: Browser, server: Server) -> None:
    """Beads move with the water; the switch stops and hides them, and the arrows stay."""
    page = opened(browser, server)
    offset = ("() => [...document.querySelectorAll('.lb-bead')].filter(p => p.style.display !== 'none')"
              ".map(p => parseFloat(p.style.strokeDashoffset) || 0)")
    first = page.evaluate(offset)
    page.wait_for_timeout(400)
    second = page.evaluate(offset)
    assert len(first) > 3 and all(a != b for a, b in zip(first, second))
    dashes = page.evaluate("() => [getComputedStyle(document.querySelector('.lb-bead')).strokeDasharray, "
                           "getComputedStyle(document.querySelector('.lbk .return .p')).strokeDasharray]")
    assert dashes[0].startswith("0.01") and not dashes[1].startswith("0.01")
    page.locator(".lb-motion input").first.uncheck()
    assert page.evaluate(offset) == []
    assert page.locator(".lb-arrow:visible").count() > 3
    page.close()


def test_less_motion_is_respected_and_a_phone_holds_it(browser: Browser, server: Server) -> None:
    """Nothing moves where the reader's system asks for less motion; nothing hangs over the side of a phone; axe finds
    nothing in what is ours."""
    page = opened(browser, server, viewport={"width": 390, "height": 844}, reduced_motion="reduce")
    at_rest(page)
    assert page.locator(".lb-explore svg").first.get_attribute("data-moving") == "no"
    assert not page.locator(".lb-motion input").first.is_checked()
    assert page.evaluate("() => { const e = document.querySelector('.lb-explore'); return e.scrollWidth - e.clientWidth; }") <= 1
    drawing, panel = (page.locator(css).first.bounding_box() for css in (".lb-explore .lb-frame", ".lb-explore-panel"))
    assert drawing["y"] < panel["y"]
    found = Axe().run(page, context=".lb-explore").response["violations"]
    assert [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in found] == []
    page.close()
