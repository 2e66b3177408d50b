"""Calls on pieces: drafted ones to draw, places to try, pins to set and to take out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Set
from functools import lru_cache, partial
from pathlib import Path
from typing import Any, Final

from cutfiles.errors import errors_of
from cutfiles.pipeline.job_text import job_of_text
from cutfiles.pipeline.pattern import pattern_table
from cutfiles.pipeline.tryout import Place, Tryout, tryout_of, tryout_of_job
from cutfiles.web.answers import Table, finding_rows, plain_text, real_number
from cutfiles.web.desk import Desk
from cutfiles.web.edits import Change, EditError, edited, readable_tables
from cutfiles.web.index import KeptJob, KeptRun
from cutfiles.web.job_calls import revision_of, show_job, write_text
from cutfiles.web.refusal import RefusedError, not_there, stale

_FARTHEST_MM: Final = 1e6
_TRYOUTS_KEPT: Final = 4
_DECIMALS: Final = 4


def pattern(desk: Desk, words: Table, _body: Table) -> Any:
    """The drafted pieces of every line, and of the panels."""
    kept = desk.index.job(words["job"])
    folder = desk.job_folder(kept.id)
    job = job_of_text(kept.toml, folder, desk.index.drawings(kept.id))
    table, findings = pattern_table(job, folder)
    return table | {"revision": kept.revision, "findings": finding_rows(findings)}


def trial(desk: Desk, words: Table, body: Table) -> Any:
    """Whether a piece may lie in a place of the lay that is shown."""
    run = _shown_run(desk, words, body)
    folder = desk.runs.folder_of(run)
    piece = plain_text(body, "piece")
    lays = folder.progress().get("lays", [])
    lay = next((lay for lay in lays if any(p["id"] == piece for p in lay["pieces"])), None)
    if lay is None:
        raise not_there(f"piece {piece!r} in the lays shown")
    others = {
        row["id"]: Place(row["at_mm"][0], row["at_mm"][1], row["turn_deg"])
        for row in lay["pieces"]
        if row["id"] != piece
    }
    moved = {plain_text(row, "piece"): _place(row) for row in _rows(body, "moved")}
    others |= {name: place for name, place in moved.items() if name in others}
    tried = _tryout(folder.job).trial(others, piece, _place(body))
    return {
        "fits": tried.fits,
        "against": list(tried.against),
        "reasons": list(tried.reasons),
        "turn_deg": tried.turn_deg,
    }


def pin(desk: Desk, words: Table, body: Table) -> Any:
    """Pieces pinned where the page says, if they may lie there."""
    kept = _current(desk, words, body)
    places = {plain_text(row, "piece"): _place(row) for row in _rows(body, "pieces")}
    text = _changed(kept.toml, partial(_pin_changes, places=places))
    folder, drawings = desk.job_folder(kept.id), desk.index.drawings(kept.id)
    wrong = tryout_of_job(job_of_text(text, folder, drawings), folder).pin_findings()
    if errors_of(wrong):
        raise RefusedError(422, wrong)
    write_text(desk, kept.id, kept.revision, text, None)
    return show_job(desk, words, body)


def unpin(desk: Desk, words: Table, body: Table) -> Any:
    """Pieces that may lie anywhere again."""
    kept = _current(desk, words, body)
    named = body.get("pieces")
    if not isinstance(named, list) or not all(isinstance(piece, str) for piece in named):
        raise RefusedError.of(400, "bad-value", "pieces: must be a list of ids")
    text = _changed(kept.toml, partial(_unpin_changes, named=set(named)))
    write_text(desk, kept.id, kept.revision, text, None)
    return show_job(desk, words, body)


def _current(desk: Desk, words: Table, body: Table) -> KeptJob:
    """The job, if it is as the page showed it."""
    kept = desk.index.job(words["job"])
    if kept.revision != revision_of(body):
        raise stale(kept.revision)
    return kept


def _shown_run(desk: Desk, words: Table, body: Table) -> KeptRun:
    """The run whose lay is shown: the newest, or the one that the page names."""
    runs = desk.index.runs(desk.index.job(words["job"]).id)
    number = body.get("result")
    chosen = runs[-1:] if number is None else [run for run in runs if run.number == number]
    if not chosen:
        raise RefusedError.of(409, "no-lay", "there is no lay yet to try a piece in: nest first")
    return chosen[0]


@lru_cache(maxsize=_TRYOUTS_KEPT)
def _tryout(job: Path) -> Tryout:
    """What a run's job orders: it does not change once the run is asked for."""
    return tryout_of(job)


def _rows(body: Table, key: str) -> list[Mapping[str, Any]]:
    rows = body.get(key, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise RefusedError.of(400, "bad-value", f"{key}: must be a list of tables")
    return rows


def _place(row: Table) -> Place:
    return Place(
        real_number(row, "x_mm", low=-_FARTHEST_MM, high=_FARTHEST_MM),
        real_number(row, "y_mm", low=-_FARTHEST_MM, high=_FARTHEST_MM),
        real_number(row, "turn_deg", low=-360.0, high=360.0),
    )


def _pins(tables: Table) -> dict[str, int]:
    """The number of every pinned piece's table, from 0."""
    rows = tables.get("pinned", [])
    pins = enumerate(rows if isinstance(rows, list) else [])
    return {str(row.get("piece")): number for number, row in pins if isinstance(row, dict)}


def _pin_changes(tables: Table, places: Mapping[str, Place]) -> list[Change]:
    """What pins pieces, and moves the pins that are there."""
    pins, unit = _pins(tables), tables.get("length_unit", "mm")
    changes: list[Change] = []
    new: list[dict[str, Any]] = []
    for piece, place in places.items():
        at = [_length(place.x_mm, unit), _length(place.y_mm, unit)]
        if piece not in pins:
            new.append({"piece": piece, "at": at, "turn_deg": place.turn_deg})
            continue
        changes += [
            Change(("pinned", pins[piece], "at"), "set", at),
            Change(("pinned", pins[piece], "turn_deg"), "set", place.turn_deg),
        ]
    return [*changes, Change(("pinned",), "append", new)] if new else changes


def _unpin_changes(tables: Table, named: Set[str]) -> list[Change]:
    """What takes pins out, the last first, so that the numbers of the others stay."""
    pins = _pins(tables)
    for piece in sorted(named - pins.keys()):
        raise not_there(f"pin of {piece!r}")
    if named and len(named) == len(tables["pinned"]):
        return [Change(("pinned",), "remove", True)]
    numbers = sorted((pins[piece] for piece in named), reverse=True)
    return [Change(("pinned", number), "remove", True) for number in numbers]


def _length(length_mm: float, unit: str) -> float | str:
    rounded = round(length_mm, _DECIMALS)
    return rounded if unit == "mm" else f"{rounded:.{_DECIMALS}f} mm"


def _changed(text: str, changes_in: Callable[[Table], list[Change]]) -> str:
    """A job's text after the changes that its tables call for."""
    try:
        return edited(text, changes_in(readable_tables(text)))
    except EditError as error:
        raise RefusedError.of(422, "no-change", str(error)) from None
