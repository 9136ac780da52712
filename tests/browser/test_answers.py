"""The show of answers in a real browser: a phone, an old phone without JavaScript, and the projector."""

from __future__ import annotations

from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.browser.pages import listen, shoot
from tests.widgets.serve.shows import Device, Show
from widgets.learn import OBJECTIVES
from widgets.serve.answers_questions import from_bank

PHONE, PROJECTOR = {"width": 390, "height": 844}, {"width": 1920, "height": 1080}


def accessible(page: Page) -> None:
    """axe finds nothing, and nothing but the drawing scrolls sideways."""
    found = Axe().run(page).response["violations"]
    assert [(row["id"], row["nodes"][0]["html"][:160]) for row in found] == []
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_a_class_answers_and_the_histogram_grows(browser: Browser, tmp_path: Path) -> None:
    """Joined by the address of the QR code and by typing the code; answered, changed, closed; then the key with its reasons.
    No request leaves the machine and no script is refused by the page's own policy."""
    with Show(objectives=[(code, one.text) for code, one in OBJECTIVES.items()], prepared=[from_bank("R7", 1)]) as show:
        complaints: list[str] = []

        def opened(size: dict[str, int], script: bool = True) -> Page:
            context = browser.new_context(viewport=size, java_script_enabled=script)  # type: ignore[arg-type]
            page = context.new_page()
            page.set_default_timeout(20_000)
            outside.append(listen(page))
            if script:
                page.on("console", lambda said: complaints.append(said.text) if said.type in ("error", "warning") else None)
            return page

        outside: list[list[str]] = []
        projector, phone, old = opened(PROJECTOR), opened(PHONE), opened(PHONE, script=False)
        projector.goto(f"{show.address}show?key={show.session.secret}")
        assert "key=" not in projector.url
        accessible(projector)
        phone.goto(f"{show.address}?code={show.session.code}")
        expect(phone.get_by_role("heading", name="You are in")).to_be_visible()
        assert "code=" not in phone.url
        old.goto(show.address)
        old.get_by_label("Code of six figures").fill(f"{show.session.code[:3]} {show.session.code[3:]}")
        old.get_by_role("button", name="Join").click()
        expect(old.get_by_role("heading", name="You are in")).to_be_visible()
        expect(projector.locator("#joined")).to_have_text("2")

        projector.get_by_role("button", name="Next question").click()
        right = show.session.now.question.right or 0
        wrong = (right + 1) % len(show.session.now.question.options)
        expect(phone.locator(".choices button")).to_have_count(len(show.session.now.question.options))
        accessible(phone)
        shoot(phone, "answers-phone-asks", tmp_path)
        phone.locator(".choices button").nth(wrong).click()
        expect(phone.locator(".mine")).to_contain_text("Your answer is")
        old.get_by_role("link", name="Look again").click()
        old.locator(".choices button").nth(right).click()
        expect(old.locator(".mine")).to_contain_text("Your answer is")
        for number in range(2, 40):
            device = Device(show, number)
            _, page = device.join()
            device.answer(right if number % 3 else wrong, page)
        expect(projector.locator("#total")).to_have_text("40")
        expect(projector.locator("progress").nth(right)).to_have_js_property("value", show.session.now.counts[right])
        accessible(projector)
        shoot(projector, "answers-projector-open", tmp_path)

        projector.get_by_role("button", name="Hide the bars").click()
        expect(projector.locator("progress")).to_have_count(0)
        projector.get_by_role("button", name="Close the question").click()
        expect(phone.get_by_text("The question is closed.")).to_be_visible()
        projector.get_by_role("button", name="Show the key").click()
        expect(projector.locator("li.key")).to_contain_text("✓ right")
        expect(projector.locator(".why").first).to_be_visible()
        accessible(projector)
        shoot(projector, "answers-projector-key", tmp_path)
        expect(phone.get_by_text("✓ Right is")).to_be_visible()
        accessible(phone)
        shoot(phone, "answers-phone-key", tmp_path)
        old.get_by_role("link", name="Look again").click()
        expect(old.get_by_text("That was your answer.")).to_be_visible()

        projector.get_by_text("Put another question").click()
        projector.get_by_label("Question").fill("Does a pump that is off block the water?")
        projector.get_by_label("Answer A").fill("Yes")
        projector.get_by_label("Answer B").fill("No")
        accessible(projector)
        projector.get_by_role("button", name="Put this question").last.click()
        expect(phone.get_by_role("button", name="No", exact=False)).to_be_visible()
        assert outside == [[], [], []] and complaints == []
        for page in (projector, phone, old):
            page.context.close()
