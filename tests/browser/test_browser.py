"""Lessons in a real browser, against a real `loopbook study`."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.browser.pages import CONTROL, SLOW_MS, Server, address, at_rest, labels, listen, open_lesson, question, shoot

WHICH = "12-which-configuration.ipynb"
SIZES = {"desktop": (1280, 800), "projector": (1920, 1080), "phone": (390, 844)}
OURS = (".lb-workbook", ".lb-card", ".lb-exercise", ".lb-aloud", ".lb-predict", ".lb-canvas")


def test_a_wrong_answer_then_the_right_one_then_another_plant(page: Page, server: Server, tmp_path: Path) -> None:
    """Both marks show, in words and on the drawing; a restart of the kernel keeps plant and marks; no request
    leaves the machine."""
    outside = listen(page)
    open_lesson(page, address(server, WHICH), exercises=2)
    exercise = page.locator(".lb-reading").last
    title = exercise.locator("h3")
    number = int(re.findall(r"Plant (\d+)", title.inner_text())[0])
    right, wrong = labels(number)
    control = question(exercise, CONTROL)

    control.get_by_label(wrong, exact=True).check()
    exercise.get_by_role("button", name="Check", exact=True).click()
    expect(control).to_contain_text("once more")
    expect(control).to_contain_text(f"You said “{wrong}”")
    shoot(page, "wrong", tmp_path)

    control.get_by_label(right, exact=True).check()
    exercise.get_by_role("button", name="Check", exact=True).click()
    expect(control).to_contain_text("✓ Right")
    expect(exercise.get_by_role("status")).to_contain_text("1 of 8 right")
    shoot(page, "right", tmp_path)

    page.evaluate("""async () => { const token = document.cookie.match(/_xsrf=([^;]*)/)[1];
        for (const kernel of await (await fetch('/api/kernels')).json()) await fetch(
            `/api/kernels/${kernel.id}/restart`, {method: 'POST', headers: {'X-XSRFToken': token}}); }""")
    open_lesson(page, address(server, WHICH), exercises=2)
    expect(title).to_contain_text(f"Plant {number}:")
    expect(control).to_contain_text("✓ Right")

    exercise.get_by_role("button", name="Another plant").click()
    expect(title).not_to_contain_text(f"Plant {number}:")
    expect(control).not_to_contain_text("✓ Right")
    exercise.get_by_label("Plant number").fill(str(number))
    exercise.get_by_label("Plant number").press("Enter")
    expect(title).to_contain_text(f"Plant {number}:")
    assert outside == []


def test_a_lesson_opens_calm_and_ready(page: Page, server: Server) -> None:
    """No code, no proofs, no news, no side bar, no word on what to press: what our start does by itself."""
    open_lesson(page, address(server), exercises=1)
    expect(page.get_by_role("heading", name="Start here", level=1)).to_be_visible()
    assert page.locator(".jp-CodeCell .jp-InputArea:visible, .jp-InputPlaceholder:visible").count() == 0
    assert page.locator(".jp-Dialog, .Toastify__toast, #jp-left-stack:visible").count() == 0
    expect(page.locator("strong", has_text="No drawings on this page?")).to_be_hidden()
    expect(page.get_by_text("3 of 3 right")).to_be_hidden()
    assert page.evaluate("document.querySelector('.jp-WindowedPanel-outer').scrollTop") == 0


def test_the_link_to_the_next_lesson_opens_it_ready_as_well(page: Page, server: Server) -> None:
    """In the same window, run and folded."""
    open_lesson(page, address(server), exercises=1)
    page.get_by_role("link", name="What is in the room").click()
    expect(page.get_by_role("heading", name="What is in the room", level=1)).to_be_visible()
    expect(page.locator(".loopbook-lesson .lb-exercise legend").last).to_be_visible()
    assert page.locator(".jp-CodeCell .jp-InputArea:visible, .jp-InputPlaceholder:visible").count() == 0


def test_a_notebook_that_is_not_ours_is_left_alone(page: Page, server: Server, home: Path) -> None:
    """It is not run, and its code shows."""
    cell = {"cell_type": "code", "id": "mine", "source": "print('ran by itself')", "metadata": {}, "outputs": [],
            "execution_count": None}
    (home / "Loopbook" / "mine.ipynb").write_text(json.dumps(
        {"cells": [cell], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}), "utf-8")
    page.goto(address(server, "mine.ipynb"))
    expect(page.locator(".jp-CodeCell .jp-InputArea")).to_be_visible()
    page.wait_for_timeout(3000)
    assert page.locator(".jp-OutputArea-output").count() == 0


def test_all_of_it_can_be_done_by_keyboard(page: Page, server: Server) -> None:
    """From the drawing on: answer, check, take another plant, with Tab, arrows and space or Enter alone."""
    open_lesson(page, address(server, WHICH), exercises=2)
    exercise = page.locator(".lb-reading").last
    exercise.locator(".lb-frame").focus()

    def tab_to(wanted: str) -> None:
        for _ in range(80):
            page.keyboard.press("Tab")
            if page.evaluate(f"document.activeElement.matches({wanted!r})"):
                return
        raise AssertionError(f"Tab never came to {wanted}")

    tab_to("fieldset input")
    page.keyboard.press("Space")
    page.keyboard.press("ArrowDown")
    expect(exercise.locator("fieldset").first.locator("input").nth(1)).to_be_checked()
    tab_to(".lb-bar button")
    page.keyboard.press("Enter")
    expect(exercise.get_by_role("status")).to_contain_text("of 8 right")
    before = exercise.locator("h3").inner_text()
    tab_to(".lb-bar button")
    tab_to(".lb-bar button")
    page.keyboard.press("Space")
    expect(exercise.locator("h3")).not_to_have_text(before)
    assert page.locator(".jp-mod-editMode").count() == 0


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_lesson_fits_every_screen_and_everybody(browser: Browser, server: Server, scheme: str, tmp_path: Path) -> None:
    """Nothing runs out of the page on a desktop, a projector or a phone; axe finds nothing serious in what is ours."""
    context = browser.new_context(viewport={"width": 1280, "height": 800}, color_scheme=scheme)
    page = context.new_page()
    page.set_default_timeout(SLOW_MS)
    open_lesson(page, address(server, WHICH), exercises=2)
    for screen, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        at_rest(page)
        outer = page.locator(".jp-WindowedPanel-outer")
        wide, room = outer.evaluate("box => [box.scrollWidth, box.clientWidth]")
        assert wide <= room, (screen, wide, room)
        for kind, place in (("guess", ".lb-predict"), ("aloud", ".lb-aloud"), ("exercise", ".lb-reading")):
            box = page.locator(place).last
            box.scroll_into_view_if_needed()
            box.evaluate("box => box.closest('.jp-Cell').scrollIntoView()")
            at_rest(page)
            shoot(page, f"{screen}-{scheme}-{kind}", tmp_path)
            inside = box.evaluate("""box => [...box.querySelectorAll('button, input, legend, p, h3, svg')].filter(
                one => { const in_frame = one.closest('.lb-frame'); const edge = one.getBoundingClientRect();
                return !in_frame && edge.width && edge.right > box.getBoundingClientRect().right + 1; })
                .map(one => one.outerHTML.slice(0, 120))""")
            assert inside == [], (screen, kind)
        found = Axe().run(page, context={"include": [[name] for name in OURS]})
        serious = [(one["id"], [node["html"][:160] for node in one["nodes"]][:3])
                   for one in found.response["violations"] if one["impact"] in ("serious", "critical")]
        assert serious == [], screen
    context.close()


def test_in_a_jupyterlab_of_ones_own_the_first_cell_says_what_to_press(page: Page, server: Server, tmp_path: Path) -> None:
    """A plain JupyterLab does not run a lesson by itself; what its first cell says works."""
    lessons = tmp_path / "lessons"
    lessons.mkdir()
    source = Path(server.log).parent / "Loopbook" / "01-start-here.ipynb"
    (lessons / source.name).write_bytes(source.read_bytes())
    own = Server([sys.executable, "-m", "jupyterlab", "--no-browser", "--allow-root", "-y", "--ServerApp.port=8871",
                  f"--ServerApp.root_dir={lessons}", "--IdentityProvider.token=own"], tmp_path, "?token=")
    try:
        port = re.findall(r"http://(?:localhost|127\.0\.0\.1):(\d+)/lab\?token=", own.said)[0]
        page.goto(f"http://127.0.0.1:{port}/lab/tree/{source.name}?token=own")
        expect(page.locator("strong", has_text="No drawings on this page?")).to_be_visible()
        expect(page.locator(".lb-exercise")).to_have_count(0)
        expect(page.get_by_role("button", name=re.compile(r"\| Idle$"))).to_be_visible()     # or the menu runs nothing
        page.locator(".lm-MenuBar-item", has_text="Run").first.click()
        page.locator(".lm-Menu-item", has_text=re.compile(r"^Run All Cells$")).click()
        # JupyterLab leaves the view at the end of what was run.
        expect(page.get_by_text("3 of 3 right").last).to_be_visible()
        page.get_by_role("heading", name="Your turn").scroll_into_view_if_needed()
        expect(page.locator(".lb-exercise legend").first).to_be_visible()
    finally:
        own.stop()


def test_words_are_explained_units_follow_and_a_card_prints_alone(page: Page, server: Server) -> None:
    """By pointer and by keyboard, Escape takes the tip away; figures in the text follow the bar; the card goes to the printer
    from a page of its own, with nothing asked of the network."""
    outside = listen(page)
    open_lesson(page, address(server, "15-your-own-boiler-room.ipynb"), exercises=1)
    tip = page.locator(".lb-tip")
    page.locator(".lb-word").first.hover()
    expect(tip).to_be_visible()
    page.keyboard.press("Escape")
    expect(tip).to_be_hidden()
    word = page.locator(".lb-word[data-word='pump']").first
    word.focus()
    expect(tip).to_contain_text("pump: It moves the water.")
    expect(word).to_have_accessible_description(re.compile("It moves the water"))
    figure = page.locator(".lb-us").first
    expect(figure).to_be_hidden()
    page.locator(".lb-workbook input[value=us]").check()
    expect(figure).to_be_visible()
    expect(page.locator(".lb-si").first).to_be_hidden()
    page.locator(".lb-workbook input[value=si]").check()
    expect(figure).to_be_hidden()
    page.get_by_role("button", name="Print this card").first.click()
    printed = page.frame_locator("iframe.lb-print").locator("body")
    expect(printed.locator("h3")).to_have_text("Your own boiler room")
    expect(printed.locator("li")).to_have_count(4)
    assert outside == []
