"""Calls on what finished runs left: figures to compare, lays, previews, and all files at once."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from starlette.responses import HTMLResponse, Response

from cutfiles.pipeline.manifests import PREVIEW, SUMMARY
from cutfiles.web.answers import Table, with_places
from cutfiles.web.desk import Desk
from cutfiles.web.guard import PREVIEW_POLICY
from cutfiles.web.index import KeptRun
from cutfiles.web.job_calls import clock
from cutfiles.web.refusal import not_there

_LONG_AGO: Final = (1980, 1, 1, 0, 0, 0)
"""The date of everything in a zip: the same files make the same bytes."""


def list_results(desk: Desk, words: Table, _body: Table) -> Any:
    """Figures of every run that left files, the newest first."""
    kept = desk.index.job(words["job"])
    return [_figures(desk, run) for run in reversed(desk.index.runs(kept.id)) if _left(desk, run)]


def show_result(desk: Desk, words: Table, _body: Table) -> Any:
    """One of them, with its lays, and what is to be known before they are cut."""
    run = _result(desk, words)
    progress = desk.runs.folder_of(run).progress()
    shown = {"lays": progress["lays"], "findings": with_places(progress["findings"])}
    return _figures(desk, run) | shown | {"cautions": progress["cautions"]}


def preview(desk: Desk, words: Table, _body: Table) -> Any:
    """The preview of a result, which runs in a frame of no origin."""
    path = desk.runs.folder_of(_result(desk, words)).out / PREVIEW
    headers = {"content-security-policy": PREVIEW_POLICY}
    return HTMLResponse(path.read_bytes(), headers=headers)


def all_files(desk: Desk, words: Table, _body: Table) -> Any:
    """Everything that a run wrote, and what it was made from, as one zip."""
    run = _result(desk, words)
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in _files(desk, run):
            entry = zipfile.ZipInfo(path.name, _LONG_AGO)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, path.read_bytes())
    name = f"cutfiles-{run.job}-{run.number}.zip"
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(packed.getvalue(), media_type="application/zip", headers=headers)


def _files(desk: Desk, run: KeptRun) -> Iterator[Path]:
    folder = desk.runs.folder_of(run)
    yield folder.job
    for name in sorted(desk.index.drawings(run.job)):
        if (folder.path / name).is_file():
            yield folder.path / name
    yield from sorted(path for path in folder.out.iterdir() if path.is_file())


def _left(desk: Desk, run: KeptRun) -> bool:
    """Whether a run left files that were proved."""
    return run.state in ("done", "stopped") and (desk.runs.folder_of(run).out / SUMMARY).is_file()


def _result(desk: Desk, words: Table) -> KeptRun:
    kept = desk.index.job(words["job"])
    for run in desk.index.runs(kept.id):
        if str(run.number) == str(words["number"]) and _left(desk, run):
            return run
    raise not_there("this result")


def _figures(desk: Desk, run: KeptRun) -> dict[str, Any]:
    summary = json.loads((desk.runs.folder_of(run).out / SUMMARY).read_bytes())
    lays, totals = summary["lays"], summary["totals"]
    room = sum(lay["width_mm"] * lay["length_mm"] for lay in lays)
    used = sum(lay["efficiency"] * lay["width_mm"] * lay["length_mm"] for lay in lays)
    return {
        "number": run.number,
        "revision": run.revision,
        "state": run.state,
        "when": clock(run.queued_s),
        "of_seconds": run.seconds,
        "seed": run.seed,
        "cloth_mm": totals["cloth_length_mm"],
        "efficiency": round(used / room, 6),
        "caps": totals["caps"],
        "panels": totals["panels"],
        "time_s": round(sum(lay["time_s"] for lay in lays), 1),
        "cut_length_mm": round(sum(lay["cut_length_mm"] for lay in lays), 2),
        "lay_count": len(lays),
    }
