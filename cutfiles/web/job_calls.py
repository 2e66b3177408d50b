"""Calls on jobs: the list, one job with its findings, changes, undo and redo."""

from __future__ import annotations

import math
import shutil
from datetime import UTC, date, datetime, time
from typing import Any, Final

from cutfiles.pipeline.job_form import job_form
from cutfiles.pipeline.job_text import text_findings
from cutfiles.web.answers import Table, finding_rows, plain_text, whole_number
from cutfiles.web.desk import Desk
from cutfiles.web.edits import Change, EditError, change_of, edited
from cutfiles.web.refusal import RefusedError
from cutfiles.web.toml_lines import tables_of

_MOST_REVISIONS: Final = 2**53

BLANK: Final = """\
title = "Caps"
length_unit = "mm"

[[cloth]]
name = "cloth"
width = 1120
selvedge = 10
fibre = "cotton"

[[caps]]
style = "tie-back"
size = "M"
quantity = 1

[machine]
kind = "laser"
"""
"""A job to begin with."""


def form(_desk: Desk, _words: Table, _body: Table) -> Any:
    """The keys of a job file."""
    return job_form()


def list_jobs(desk: Desk, _words: Table, _body: Table) -> Any:
    """All jobs, the one changed last first."""
    rows = []
    for kept in desk.index.all():
        last = desk.index.last_run(kept.id)
        state = "new" if last is None else last.state
        changed = clock(kept.changed_s)
        rows.append({"id": kept.id, "title": kept.title, "changed": changed, "state": state})
    return rows


def create_job(desk: Desk, _words: Table, body: Table) -> Any:
    """A new job, blank or from a text."""
    text = plain_text(body, "toml").removeprefix("\ufeff") if "toml" in body else BLANK
    job = desk.index.add(text, _title(text))
    (desk.folder / job).mkdir()
    return {"id": job}


def show_job(desk: Desk, words: Table, _body: Table) -> Any:
    """One job, and what is wrong with it now."""
    kept = desk.index.job(words["job"])
    drawings = desk.index.drawings(kept.id)
    return {
        "id": kept.id,
        "revision": kept.revision,
        "toml": kept.toml,
        "tables": _shown(_tables(kept.toml)),
        "findings": finding_rows(text_findings(kept.toml, desk.job_folder(kept.id), drawings)),
        "can_undo": kept.can_undo,
        "can_redo": kept.can_redo,
        "drawings": sorted(drawings),
    }


def change_job(desk: Desk, words: Table, body: Table) -> Any:
    """A job after changes, or with a new text."""
    text = plain_text(body, "toml") if "toml" in body else None
    changes = _changes(body) if "changes" in body else None
    if (text is None) == (changes is None):
        raise RefusedError.of(400, "bad-value", "give one of toml and changes")
    write_text(desk, words["job"], revision_of(body), text, changes)
    return show_job(desk, words, body)


def write_text(
    desk: Desk, job: str, revision: int, text: str | None, changes: list[Change] | None
) -> None:
    """Give a job a text, or what changes make of the one that it has.

    Raises
    ------
    RefusedError
        If the job is not at that revision, or cannot be changed so.
    """
    kept = desk.index.job(job)
    if text is None:
        try:
            text = edited(kept.toml, changes or [])
        except EditError as error:
            if kept.revision == revision:
                raise RefusedError.of(422, "no-change", str(error)) from None
            text = kept.toml
    desk.index.write(kept.id, revision, text, _title(text))


def remove_job(desk: Desk, words: Table, _body: Table) -> Any:
    """A job is thrown away, with its drawings and results."""
    kept = desk.index.job(words["job"])
    folder = desk.job_folder(kept.id)
    desk.index.remove(kept.id)
    shutil.rmtree(folder, ignore_errors=True)
    return {}


def undo(desk: Desk, words: Table, body: Table) -> Any:
    """A job as it was before the last change."""
    desk.index.step(words["job"], revision_of(body), -1, _title)
    return show_job(desk, words, body)


def redo(desk: Desk, words: Table, body: Table) -> Any:
    """A job as it was before the last undo."""
    desk.index.step(words["job"], revision_of(body), 1, _title)
    return show_job(desk, words, body)


def revision_of(body: Table) -> int:
    """The revision of the job that the page showed."""
    return whole_number(body, "revision", low=1, high=_MOST_REVISIONS)


def clock(seconds: float) -> str:
    """A time of day in the form of ISO 8601, in UTC."""
    return datetime.fromtimestamp(seconds, UTC).isoformat(timespec="seconds")


def _changes(body: Table) -> list[Change]:
    rows = body["changes"]
    if not isinstance(rows, list):
        raise RefusedError.of(400, "bad-value", "changes: must be a list")
    try:
        return [change_of(row) for row in rows]
    except EditError as error:
        raise RefusedError.of(400, "bad-value", str(error)) from None


def _tables(text: str) -> dict[str, Any]:
    """The tables of a text; none where it cannot be read."""
    try:
        return tables_of(text)
    except ValueError:
        return {}


def _title(text: str) -> str:
    title = _tables(text).get("title")
    return title[:200] if isinstance(title, str) and title.strip() else "Caps"


def _shown(value: Any) -> Any:
    """A value of TOML as JSON has it: dates and numbers without end become text."""
    if isinstance(value, dict):
        return {key: _shown(part) for key, part in value.items()}
    if isinstance(value, list):
        return [_shown(part) for part in value]
    if isinstance(value, date | time | datetime):
        return value.isoformat()
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return value
