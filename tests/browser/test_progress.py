"""The page of progress in a real browser, on a phone and on a wide screen: nothing runs out of it, and axe finds nothing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, expect

from tests.browser.pages import SLOW_MS, Server, address, at_rest, shoot
from widgets.learn import Record

NOTEBOOK = ("99-progress.ipynb", "from widgets import progress\nprogress()")
SIDEWAYS = "(() => { const box = document.querySelector('.lb-exercise'); return box.scrollWidth - box.clientWidth; })()"


@pytest.fixture(scope="module", autouse=True)
def answered(home: Path) -> None:
    """Some answers in the record that the page reads."""
    record = Record(home / "data")
    for n, code in enumerate(("R7", "R7", "R8", "C1", "F1")):
        at = (datetime.now(UTC) - timedelta(days=9 - n)).isoformat()
        record.add("answer", exercise="practice", item="q", objective=code, answer="a", points=float(n > 0), of=1.0,
                   more={"at": at, "misconception": None if n else 1})


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 390)])
def test_the_page_by_keyboard(browser: Browser, server: Server, scheme: str, width: int, tmp_path: object) -> None:
    page = browser.new_page(viewport={"width": width, "height": 1000}, color_scheme=scheme)  # type: ignore[arg-type]
    page.set_default_timeout(SLOW_MS)
    page.goto(address(server, NOTEBOOK[0]))
    expect(page.get_by_role("row", name="R7")).to_contain_text("1 of 2, 50 %", timeout=SLOW_MS)
    at_rest(page)
    expect(page.locator(".lb-scroll img")).to_have_count(0)
    page.get_by_role("button", name="Chart of objectives").focus()
    page.keyboard.press("Enter")
    expect(page.locator(".lb-scroll img")).to_have_js_property("complete", True)
    assert page.locator(".lb-scroll img").evaluate("image => image.naturalWidth") > 0
    at_rest(page)
    assert page.evaluate(SIDEWAYS) == 0, "a wide chart scrolls in its own frame"
    found = Axe().run(page, context=".lb-exercise").response["violations"]
    assert [(v["id"], [n["html"][:160] for n in v["nodes"]]) for v in found] == []
    shoot(page, f"progress-{scheme}-{width}", tmp_path)  # type: ignore[arg-type]
    page.close()
