"""One browser for all tests of pages."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser

from tests.browser.chromium import chromium


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """A headless Chromium, started once."""
    with chromium() as started:
        yield started
