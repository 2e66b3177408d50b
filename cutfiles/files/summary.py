"""``summary.json``: what was cut, in figures (format ``cutfiles-summary/1``)."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from cutfiles.cuts.plan import ROLES, CutPlan
from cutfiles.errors import Finding
from cutfiles.files.roles import INKS
from cutfiles.job.job import Job
from cutfiles.lay.lay import Lay, PlacedPiece, cut_outs_of

FORMAT = "cutfiles-summary/1"


def summary_table(
    job: Job,
    lays: Sequence[Lay],
    plans: Sequence[CutPlan],
    findings: Sequence[Finding],
    seed: int,
    *,
    panels_ordered: int = 0,
) -> dict[str, Any]:
    """The summary as a table of plain values; lengths in mm, areas in mm2, times in s.

    ``panels_ordered`` counts every outline of every drawing.
    """
    return {
        "format": FORMAT,
        "title": job.title,
        "seed": seed,
        "machine": {"kind": job.machine.kind, "kerf_mm": job.machine.kerf_mm},
        "roles": {role: INKS[role].layer for role in ROLES},
        "lays": [_lay_table(lay, plan) for lay, plan in zip(lays, plans, strict=True)],
        "totals": {
            "caps_ordered": sum(line.quantity for line in job.caps),
            "caps": sum(lay.cap_count for lay in lays),
            "panels_ordered": panels_ordered,
            "panels": sum(lay.panel_count for lay in lays),
            "cloth_length_mm": round(sum(lay.length_mm * lay.cloth.plies for lay in lays), 3),
        },
        "findings": [
            {"code": finding.code, "severity": finding.severity, "text": finding.text}
            for finding in findings
        ],
    }


def summary_bytes(table: dict[str, Any]) -> bytes:
    """The table as JSON in UTF-8."""
    return (json.dumps(table, indent=2, ensure_ascii=False) + "\n").encode("utf-8")


def _lay_table(lay: Lay, plan: CutPlan) -> dict[str, Any]:
    return {
        "name": lay.name,
        "cloth": lay.cloth.name,
        "plies": lay.cloth.plies,
        "width_mm": round(lay.width_mm, 4),
        "length_mm": round(lay.length_mm, 4),
        "efficiency": round(lay.efficiency, 5),
        "pieces": [_piece_table(placed) for placed in lay.placed],
        "cut_length_mm": round(plan.cut_length_mm, 2),
        "travel_mm": round(plan.travel_mm, 2),
        "time_s": round(plan.time_s, 1),
        "nested_by": lay.engine,
        "files": {"dxf": f"{lay.name}.dxf", "svg": f"{lay.name}.svg"},
    }


def _piece_table(placed: PlacedPiece) -> dict[str, Any]:
    table: dict[str, Any] = {
        "id": placed.ordered.id,
        "name": placed.ordered.name,
        "cap": placed.ordered.cap,
        "grain_deg": placed.grain_deg,
        "area_mm2": round(placed.outline.area, 3),
    }
    cut_outs = cut_outs_of(placed.ordered)
    if cut_outs:
        table["cut_outs_mm2"] = [round(cut_out.area, 3) for cut_out in cut_outs]
    return table
