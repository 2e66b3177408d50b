"""One browser for all tests of pages, and a page of its own for each; the local page's server."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, expect

from cutfiles.lay.race import SEARCHES_VARIABLE
from cutfiles.pipeline.store import FOLDER_VARIABLE
from cutfiles.web.index import Index
from cutfiles.web.run_one import main
from cutfiles.web.runs import Runs
from tests.browser.chromium import chromium
from tests.conftest import ROOT, SMALL_JOB

OpenPage = Callable[..., Page]

DESK = {"width": 1280, "height": 900}
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


@dataclass(frozen=True, slots=True)
class Site:
    """The address of a server, and in it two orders of one cap that were nested before."""

    address: str
    laid: tuple[str, str]


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """A server of its own."""
    folder = tmp_path_factory.mktemp("orders")
    laid = with_orders(folder)
    command = [sys.executable, "-m", "cutfiles", "serve", "--port", "0", "--folder", str(folder)]
    # other cores are for the tests beside these
    own = {FOLDER_VARIABLE: str(folder / "kept lays"), SEARCHES_VARIABLE: "1"}
    env = {**os.environ, **own, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env) as server:
        assert server.stdout is not None
        found = re.search(r"http://[\d.]+:\d+/", server.stdout.readline())
        assert found
        one, other = (f"{found[0]}jobs/{job}" for job in laid)
        try:
            yield Site(found[0], (one, other))
        finally:
            server.send_signal(signal.SIGINT)
            ended = server.wait(30)
        assert ended in (0, 130)


def with_orders(folder: Path) -> tuple[str, str]:
    """Two orders in a folder, nested once, as a run's process does it."""
    index = Index(folder)
    runs = Runs(folder, index)

    def ordered(title: str) -> str:
        job = index.add(SMALL_JOB, title)
        (folder / job).mkdir()
        runs.order(job, 1, seconds=0.1, seed=1, anew=True)
        index.set_run(job, 1, "done")
        return job

    one, other = ordered("Nested before"), ordered("Nested as well")
    made, same = (runs.folder_of(index.runs(job)[0]) for job in (one, other))
    main(made.path)
    shutil.copytree(made.path, same.path, dirs_exist_ok=True)
    index.close()
    return one, other


@pytest.fixture
def watched(browser: Browser, site: Site) -> Iterator[Callable[..., BrowserContext]]:
    """Makes browser windows that are watched: whatever they ask for goes to the server that was
    started here, and no script stumbles."""
    asked: list[str] = []
    stumbles: list[str] = []

    with ExitStack() as opened:

        def make(**how: Any) -> BrowserContext:
            context = browser.new_context(**{"viewport": DESK, "accept_downloads": True, **how})
            opened.callback(context.close)
            context.set_default_timeout(PATIENCE_MS)
            context.on("request", lambda request: asked.append(request.url))
            context.on("weberror", lambda error: stumbles.append(str(error.error)))
            context.on("console", lambda message: stumbles.append(message.text))
            return context

        yield make
    assert asked
    own = (site.address, "blob:", "data:")
    assert [url for url in asked if not url.startswith(own)] == []
    # a refusal with words, which the page shows, is no stumble
    refusal = re.compile(r"Failed to load resource: .* status of (409|422) ")
    assert [said for said in stumbles if not refusal.match(said)] == []
