"""Calls on runs: asked for, watched, stopped and dropped."""

from __future__ import annotations

from typing import Any, Final

from cutfiles.errors import errors_of
from cutfiles.pipeline.job_text import text_findings
from cutfiles.web.answers import Table, real_number, whole_number, with_places
from cutfiles.web.desk import Desk
from cutfiles.web.index import GOING_ON, KeptRun
from cutfiles.web.job_calls import revision_of
from cutfiles.web.refusal import RefusedError

_MOST_SECONDS: Final = 86_400.0
_NO_RUN: Final[Table] = {"run": None, "state": "none", "lays": [], "findings": [], "note": ""}


def nest(desk: Desk, words: Table, body: Table) -> Any:
    """A run of the job as it is now, in the line."""
    kept = desk.index.job(words["job"])
    seconds = real_number(body, "seconds", low=0.1, high=_MOST_SECONDS)
    seed = whole_number(body, "seed", low=0, high=2**31)
    wrong = errors_of(
        text_findings(kept.toml, desk.job_folder(kept.id), desk.index.drawings(kept.id))
    )
    revision = revision_of(body)
    if wrong and kept.revision == revision:
        raise RefusedError(422, wrong)
    anew = body.get("anew") is True
    return {"run": desk.runs.order(kept.id, revision, seconds=seconds, seed=seed, anew=anew)}


def show_run(desk: Desk, words: Table, _body: Table) -> Any:
    """The newest run of a job."""
    kept = desk.index.job(words["job"])
    run = desk.index.last_run(kept.id)
    if run is None:
        return _NO_RUN
    seen = words.get("seen", "")
    table = dict(desk.runs.shown(run, int(seen) if seen.isdecimal() and len(seen) < 10 else -1))
    return table | {"findings": with_places(table["findings"])}


def stop(desk: Desk, words: Table, body: Table) -> Any:
    """The search ends, and its best is written."""
    desk.runs.stop(_going_on(desk, words))
    return show_run(desk, words, body)


def cancel(desk: Desk, words: Table, body: Table) -> Any:
    """The run is dropped."""
    desk.runs.cancel(_going_on(desk, words))
    return show_run(desk, words, body)


def _going_on(desk: Desk, words: Table) -> KeptRun:
    run = desk.index.last_run(desk.index.job(words["job"]).id)
    if run is None or run.state not in GOING_ON:
        raise RefusedError.of(409, "no-run", "no run of this job goes on: it has ended already")
    return run
