"""What every browser test stands on: a home, `loopbook study` in it, a browser, and a page in it. One of each for a module.

A module that wants a notebook of one cell beside the lessons says `NOTEBOOK = (name, source)`.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.pages import SLOW_MS, Server, chrome, serving


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("home")


@pytest.fixture(scope="module")
def server(home: Path, request: pytest.FixtureRequest) -> Iterator[Server]:
    with serving(home, *getattr(request.module, "NOTEBOOK", ())) as running:
        yield running


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chrome() as running:
        yield running


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1280, "height": 800}, color_scheme="light")
    page = context.new_page()
    page.set_default_timeout(SLOW_MS)
    yield page
    context.close()
