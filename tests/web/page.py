"""What the tests of the page say in common."""

from __future__ import annotations

import time
from collections.abc import Collection
from typing import Any, Protocol

PORT = 8420
ORIGIN = f"http://127.0.0.1:{PORT}"

SVG = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'
    b'<rect x="5" y="5" width="60" height="40"/></svg>'
)


class Answer(Protocol):
    """What a call gives back."""

    @property
    def status_code(self) -> int: ...

    def json(self) -> Any: ...


class Page(Protocol):
    """Who makes calls: within this process, or through a socket."""

    def get(self, url: str) -> Any: ...

    def post(self, url: str, *, json: Any) -> Any: ...

    def put(self, url: str, *, json: Any) -> Any: ...


def new_job(page: Page, toml: str | None = None) -> str:
    """The calls of a new job, blank or of a text."""
    answer = page.post("/api/jobs", json={} if toml is None else {"toml": toml})
    assert answer.status_code == 200, answer.text
    return f"/api/jobs/{answer.json()['id']}"


def changed(page: Page, job: str, *changes: dict[str, Any]) -> dict[str, Any]:
    """The job after some changes."""
    revision = page.get(job).json()["revision"]
    answer = page.put(job, json={"revision": revision, "changes": list(changes)})
    assert answer.status_code == 200, answer.text
    table: dict[str, Any] = answer.json()
    return table


def with_panels(page: Any, toml: str) -> tuple[str, str]:
    """A job with three panels more, which are quickly cut, and the name of their drawing."""
    job = new_job(page, toml)
    drawing = page.post(f"{job}/files", files={"file": ("a.svg", SVG)}).json()["name"]
    row = {"file": drawing, "quantity": 3, "grain_deg": 0}
    assert changed(page, job, {"path": ["panels"], "append": row})["findings"] == []
    return job, drawing


def refusal(answer: Answer, status: int) -> dict[str, Any]:
    """The only finding of a call that was refused so."""
    assert answer.status_code == status, answer.json()
    (finding,) = answer.json()["findings"]
    assert "Traceback" not in finding["text"]
    assert isinstance(finding, dict)
    return finding


def nest(page: Page, job: str, seconds: float) -> None:
    """Ask for a run."""
    revision = page.get(job).json()["revision"]
    asked = {"revision": revision, "seconds": seconds, "seed": 1, "anew": True}
    answer = page.post(f"{job}/nest", json=asked)
    assert answer.status_code == 200, answer.text


def run_in(page: Page, job: str, states: Collection[str], *, lays: bool = False) -> dict[str, Any]:
    """The newest run once it is in one of some states, and has lays where these are waited for."""
    end = time.monotonic() + 60.0
    while time.monotonic() < end:
        run: dict[str, Any] = page.get(f"{job}/run").json()
        if run["state"] in states and (run["lays"] or not lays):
            return run
        time.sleep(0.05)
    raise AssertionError(f"the run is {run['state']}: {run}")
