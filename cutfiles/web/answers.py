"""From functions on the desk to calls of the page: bodies read, answers and refusals as JSON."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Awaitable, Callable, Iterable, Mapping
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from cutfiles.errors import CutfilesError, Finding
from cutfiles.pipeline.job_text import place_of
from cutfiles.web.desk import Desk
from cutfiles.web.refusal import RefusedError

_MOST_SAID: Final = 80
"""So many characters of a wrong value are said."""

Table = Mapping[str, Any]
Work = Callable[[Desk, Table, Table], Any]
"""What answers a call: from the desk, the path's and query's words, and the body."""


def finding_rows(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Findings with the place in the job that each names."""
    return [finding.table() | {"path": list(place_of(finding))} for finding in findings]


def with_places(rows: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Findings that were written down as rows, with the place in the job that each names."""
    return finding_rows(Finding(row["code"], row["severity"], row["text"]) for row in rows)


def call(work: Work) -> Callable[[Request], Awaitable[Response]]:
    """The call that some work answers, on a thread of its own."""

    async def answer(request: Request) -> Response:
        body = {} if request.method in ("GET", "DELETE") else await _body(request)
        named = {**request.query_params, **request.path_params}
        data = await run_in_threadpool(work, request.app.state.desk, named, body)
        return data if isinstance(data, Response) else JSONResponse(data)

    return answer


async def _body(request: Request) -> dict[str, Any]:
    """The table of JSON that was sent."""
    if request.headers.get("content-type", "").split(";")[0].strip() != "application/json":
        raise RefusedError.of(415, "not-json", "the body must be application/json")
    content = await request.body()
    try:
        table = json.loads(content or b"{}")
    except (ValueError, RecursionError):
        raise RefusedError.of(400, "not-json", "the body is no JSON: send a table") from None
    if not isinstance(table, dict):
        raise RefusedError.of(400, "not-json", "the body is no table of JSON: send one")
    return table


def whole_number(body: Table, key: str, *, low: int, high: int) -> int:
    """A whole number of a body.

    Raises
    ------
    RefusedError
        If it is none, or out of its limits.
    """
    value = body.get(key)
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise _bad_number(body, key, "a whole number", low, high)
    return value


def real_number(body: Table, key: str, *, low: float, high: float) -> float:
    """A number of a body.

    Raises
    ------
    RefusedError
        If it is none, or out of its limits.
    """
    value = body.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise _bad_number(body, key, "a number", low, high)
    return float(value)


def _bad_number(body: Table, key: str, what: str, low: float, high: float) -> RefusedError:
    text = f"{key}: {_shortened(body.get(key))}: must be {what}, {low:.15g} to {high:.15g}"
    return RefusedError.of(400, "bad-value", text)


def _shortened(value: Any) -> str:
    """A value as a refusal names it."""
    said = ascii(value)
    return said if len(said) <= _MOST_SAID else f"{said[:_MOST_SAID]}…"


def plain_text(body: Table, key: str) -> str:
    """A text of a body.

    Raises
    ------
    RefusedError
        If it is none.
    """
    value = body.get(key)
    if not isinstance(value, str) or "\0" in value or not _can_be_written(value):
        text = f"{key}: {_shortened(value)}: must be text, without half characters and nulls"
        raise RefusedError.of(400, "bad-value", text)
    return value


def _can_be_written(text: str) -> bool:
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


async def _refused(_request: Request, error: Exception) -> Response:
    assert isinstance(error, RefusedError)
    table: dict[str, Any] = {"findings": finding_rows(error.findings)}
    if error.revision is not None:
        table["revision"] = error.revision
    return JSONResponse(table, status_code=error.status)


async def _wrong(_request: Request, error: Exception) -> Response:
    assert isinstance(error, CutfilesError)
    return JSONResponse({"findings": finding_rows(error.findings)}, status_code=422)


async def _no_call(_request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    finding = Finding("no-call", "error", f"{error.status_code}: {error.detail}")
    return JSONResponse({"findings": finding_rows([finding])}, status_code=error.status_code)


async def _no_disk(_request: Request, error: Exception) -> Response:
    reason = getattr(error, "strerror", None) or str(error)
    text = (
        f"a file in the folder of jobs cannot be read or written: {reason}; see that it is there, "
        "and that there is room"
    )
    return JSONResponse({"findings": finding_rows([Finding("output", "error", text)])}, 507)


async def _broken(_request: Request, _error: Exception) -> Response:
    text = "the server made a mistake of its own, and says so where it was started; jobs are kept"
    finding = Finding("broken", "error", text)
    return JSONResponse({"findings": finding_rows([finding])}, status_code=500)


HANDLERS: Mapping[Any, Callable[[Request, Exception], Awaitable[Response]]] = {
    RefusedError: _refused,
    CutfilesError: _wrong,
    HTTPException: _no_call,
    OSError: _no_disk,
    sqlite3.OperationalError: _no_disk,
    Exception: _broken,
}
"""How errors are answered: never with a traceback."""
