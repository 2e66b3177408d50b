"""The drafted pieces of a job as data, to be drawn while it is being written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path as FilePath
from typing import Any, Final

from cutfiles.errors import Finding, JobError
from cutfiles.geometry.path import Path
from cutfiles.job.job import CapLine, Job
from cutfiles.pieces.cut_list import draft_line
from cutfiles.pieces.piece import Draft, Piece, PieceEdge
from cutfiles.pieces.walk import sewn_angle_deg, walk_seam
from cutfiles.pipeline.drawings import load_panels

_OFF_MM: Final = 0.05
"""How far a drawn curve may be off the true one."""

_DECIMALS: Final = 3
_LINES_KEPT: Final = 256


def pattern_table(job: Job, folder: FilePath) -> tuple[dict[str, Any], list[Finding]]:
    """The pieces of every line of a job as drafted, not grown for shrinkage, with its walk report,
    those of its panels, and what was found. Millimetres, each piece in its own frame: x along its
    grain, y up."""
    findings: list[Finding] = []
    rows = []
    for line in job.caps:
        try:
            row = _line_row(replace(line, quantity=1, number=0, cloth="", sources=(), overcut=0))
        except JobError as error:
            where = f"{job.source}: [[caps]] {line.number}"
            findings += [replace(f, text=f"{where}: {f.text}") for f in error.findings]
            continue
        rows.append({"line": line.number, "quantity": line.quantity, **row})
    panels = []
    try:
        read, said = load_panels(job, folder)
        findings += said
        panels = [
            {"line": panel.line.number, "name": panel.name, "quantity": panel.quantity}
            | piece_row(panel.piece)
            for panel in read
        ]
    except JobError as error:
        findings += error.findings
    return {"lines": rows, "panels": panels}, findings


@lru_cache(maxsize=_LINES_KEPT)
def _line_row(line: CapLine) -> dict[str, Any]:
    """What a line's draft is; of a job that is being written most lines are as they were."""
    draft = draft_line(line)
    fit = draft.fit
    return {
        "title": draft.title,
        "style": line.style,
        "size": line.size.name,
        "girth_mm": line.size.girth_mm,
        "edge": line.edge,
        "pieces": [{"count": part.count} | piece_row(part.piece) for part in draft.parts],
        "walk": _walk_rows(draft),
        "corners": [
            {"name": corner.name, "angle_deg": round(sewn_angle_deg(draft, corner), _DECIMALS)}
            for corner in draft.corners
        ],
        "fit": {
            "head_mm": [draft.girth_low_mm, draft.girth_high_mm],
            "goes_round_mm": _rounded((fit.smallest_girth_mm, fit.largest_girth_mm)),
            "elastic_cut_mm": round(fit.elastic_cut_mm, _DECIMALS),
        },
    }


def _walk_rows(draft: Draft) -> list[dict[str, Any]]:
    """Every seam, walked from notch to notch."""
    rows = []
    for seam in draft.seams:
        walked = walk_seam(draft, seam)
        spans = [
            {
                "from": round(span.from_fraction, 6),
                "to": round(span.to_fraction, 6),
                "first_mm": round(span.first_mm, _DECIMALS),
                "second_mm": round(span.second_mm, _DECIMALS),
                "ease_mm": round(span.ease_mm, _DECIMALS),
                "error_mm": round(span.error_mm, _DECIMALS),
            }
            for span in walked.spans
        ]
        rows.append(
            {
                "seam": seam.name,
                "first": _edge_row(seam.first),
                "second": _edge_row(seam.second),
                "ease_mm": round(seam.ease_mm, _DECIMALS),
                "worst_error_mm": round(walked.worst_error_mm, _DECIMALS),
                "spans": spans,
            }
        )
    return rows


def _edge_row(edge: PieceEdge) -> dict[str, str]:
    return {"piece": edge.piece, "edge": edge.edge}


def piece_row(piece: Piece) -> dict[str, Any]:
    """A piece as lines: outline, cut-outs, stitch lines, notches, grain; and how large it is."""
    outline = _points(piece.cut)
    xs, ys = zip(*outline, strict=True)
    ends = [(notch.at, notch.at + notch.inward * notch.depth_mm) for notch in piece.notches]
    return {
        "name": piece.name,
        "outline": outline,
        "inner": [_points(path) for path in piece.inner],
        "stitch": [_points(path) for path in piece.stitch_lines],
        "notches": [[_rounded((at.x, at.y)), _rounded((to.x, to.y))] for at, to in ends],
        "grain": [
            _rounded((piece.grain.start.x, piece.grain.start.y)),
            _rounded((piece.grain.end.x, piece.grain.end.y)),
        ],
        "label_at": _rounded((piece.label.centre.x, piece.label.centre.y)),
        "size_mm": _rounded((max(xs) - min(xs), max(ys) - min(ys))),
    }


def _points(path: Path) -> list[list[float]]:
    return [_rounded(point) for point in path.flattened(_OFF_MM).tolist()]


def _rounded(numbers: Iterable[float]) -> list[float]:
    return [round(number, _DECIMALS) for number in numbers]
