"""``ruler-plan.json``: the plans in figures (format ``cutfiles-ruler/1``)."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from cutfiles.errors import Finding
from cutfiles.ruler.plan import BlockRow, RulerCut, RulerPlan
from cutfiles.units import RULER_STEP_MM

RULER_FORMAT: Final = "cutfiles-ruler/1"


@dataclass(frozen=True, slots=True)
class RulerSheet:
    """One cloth's plan, and what is told of it: its blocks, its steps in words, its cuts with the
    numbers of their steps, the name and bytes of its drawing."""

    plan: RulerPlan
    rows: tuple[BlockRow, ...]
    steps: tuple[str, ...]
    cuts: tuple[tuple[int, RulerCut], ...]
    drawing: str
    content: bytes
    nested_mm: float | None = None


def ruler_table(
    title: str,
    sheets: Sequence[RulerSheet],
    findings: Sequence[Finding],
    counts: Mapping[str, int],
    written: Sequence[str],
) -> dict[str, Any]:
    """All plans of a job as a table of plain values, lengths in mm. ``counts`` are its totals."""
    return {
        "format": RULER_FORMAT,
        "title": title,
        "plans": [_plan_table(sheet) for sheet in sheets],
        "totals": dict(counts),
        "findings": [finding.table() for finding in findings],
        "written": sorted(written),
    }


def _plan_table(sheet: RulerSheet) -> dict[str, Any]:
    plan, step = sheet.plan, RULER_STEP_MM[sheet.plan.unit]

    def mm(*steps: int) -> list[float]:
        return [round(n * step, 4) for n in steps]

    (width, length, bound, widest, fold) = mm(
        plan.width, plan.length, plan.bound, plan.rules.widest, plan.start_across
    )
    table: dict[str, Any] = {
        "cloth": plan.cloth,
        "stages": plan.rules.stages,
        "layers": plan.layers,
        "step_mm": step,
        "width_mm": width,
        "fold_trimmed_mm": fold,
        "length_mm": length,
        "at_least_mm": bound,
        "proved": plan.is_proved,
        "widest_strip_mm": widest,
        "blocks": [
            {
                "name": row.name,
                "grain": row.grain,
                "count": row.count,
                "sizes_mm": [mm(*size) for size in row.sizes],
            }
            for row in sheet.rows
        ],
        "steps": list(sheet.steps),
        "placed": [
            {
                "names": list(placed.block.names),
                "from_mm": mm(placed.at.x0, placed.at.y0),
                "to_mm": mm(placed.at.x1, placed.at.y1),
            }
            for placed in plan.blocks()
        ],
        "cuts": [
            {"step": number, "from_mm": mm(*cut.start), "to_mm": mm(*cut.end)}
            for number, cut in sheet.cuts
        ],
        "drawing": sheet.drawing,
        "sha256": hashlib.sha256(sheet.content).hexdigest(),
    }
    if sheet.nested_mm is not None:
        table["nested_length_mm"] = round(sheet.nested_mm, 4)
    return table
