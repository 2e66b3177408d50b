"""One browser for all tests of pages, and a page of its own for each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, expect

from tests.browser.chromium import chromium

OpenPage = Callable[..., Page]

PATIENCE_MS = 20_000
"""On a busy machine."""

expect.set_options(timeout=PATIENCE_MS)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Fails where there is no Chromium: what a page does is only seen in one."""
    with chromium() as started:
        yield started


@pytest.fixture
def open_page(browser: Browser) -> Iterator[OpenPage]:
    """Opens an address or file in a context of its own, whose options are given by name. What the
    page complains of fails the test."""
    wrong: list[str] = []

    def listen(said: ConsoleMessage) -> None:
        if said.type == "error":
            wrong.append(said.text)

    with ExitStack() as opened:

        def opens(address: str | Path, **options: Any) -> Page:
            context = browser.new_context(**{"viewport": {"width": 1280, "height": 800}} | options)
            opened.callback(context.close)
            page = context.new_page()
            page.set_default_timeout(PATIENCE_MS)
            page.on("pageerror", lambda error: wrong.append(str(error)))
            page.on("console", listen)
            page.goto(address.as_uri() if isinstance(address, Path) else address)
            return page

        yield opens
    assert wrong == []
