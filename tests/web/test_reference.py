"""The reference of the page says what is so."""

from __future__ import annotations

import inspect
import re
from typing import get_args

import pytest
from starlette.routing import Route

from cutfiles import cli
from cutfiles.web.app import routes
from cutfiles.web.guard import DRAWING_BYTES, JSON_BYTES, LOOPBACK_NAMES
from cutfiles.web.index import MOST_STEPS, RunState
from tests.conftest import ROOT

TEXT = (ROOT / "docs" / "reference" / "serve.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("route", routes(), ids=lambda r: f"{r.path} {min(r.methods)}")
def test_every_call_is_told(route: Route) -> None:
    path, methods = route.path, route.methods or set()
    if not path.startswith("/api"):
        return
    tail = path.removeprefix("/api/jobs/{job}").replace("{number}", "N")
    (method,) = methods - {"HEAD"}
    table = TEXT.partition("## Calls")[2]
    if tail:
        calls = re.findall(r"`((?:GET|POST|PUT|DELETE)?) ?(/[\w/.]*)(?:\?\w+=\w+)?`", table)
        assert tail in {call for _, call in calls}, tail
    assert f"`{method}" in table


def test_every_state_and_limit_is_told() -> None:
    for state in get_args(RunState):
        assert f"`{state}`" in TEXT
    assert f"{MOST_STEPS} of each" in TEXT
    assert (JSON_BYTES, DRAWING_BYTES) == (1_000_000, 5_000_000)
    assert "at most a million bytes, a drawing five" in TEXT
    assert all(f"`{name}`" in TEXT for name in LOOPBACK_NAMES)
    options = inspect.signature(cli.serve).parameters
    assert f"| {options['port'].default} |" in TEXT
    assert f"`{options['host'].default}`" in TEXT
    assert all(f"`--{name} " in TEXT for name in options)
