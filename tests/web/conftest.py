"""A desk in a folder of its own, and a browser's calls on it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from cutfiles.web.app import application
from cutfiles.web.desk import Desk
from cutfiles.web.guard import LOOPBACK_NAMES, Address
from cutfiles.web.index import Index
from cutfiles.web.runs import Runs
from tests.web.page import ORIGIN, PORT


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """A desk on which no run's turn comes before `Runs.start`."""
    folder = tmp_path / "jobs"
    folder.mkdir()
    index = Index(folder)
    yield Desk(folder, index, Runs(folder, index))
    index.close()


@pytest.fixture
def page(desk: Desk) -> TestClient:
    """The page's calls, as a browser makes them."""
    app = application(desk, Address(LOOPBACK_NAMES, PORT))
    return TestClient(app, base_url=ORIGIN, headers={"origin": ORIGIN})
