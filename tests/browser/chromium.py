"""The browser of the system, as tests, benchmarks and pictures start it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, sync_playwright

QUIET = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip


@contextmanager
def chromium() -> Iterator[Browser]:
    """A headless Chromium.

    Raises
    ------
    RuntimeError
        If there is none on the path.
    """
    path = shutil.which("chromium")
    if path is None:
        raise RuntimeError("chromium is not on the path: install it, on Debian by apt-get")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(QUIET))
        yield browser
        browser.close()
