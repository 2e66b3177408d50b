"""What a script needs beside the picture of a lay: its pieces, and what the machine does when."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import shapely

from cutfiles.cuts.plan import Leg, Letters
from cutfiles.geometry.bulges import flattened
from cutfiles.preview.lay import PreviewLay
from cutfiles.preview.path_data import path_data
from cutfiles.units import MM_PER_UNIT

NEAR_MM: Final = 20.0
"""Pieces whose outlines are no further apart are neighbours."""
MOST_NEIGHBOURS: Final = 8

_WAY_MM = 0.05
"""How far the shown way of the tool may be off its arcs."""
_SECONDS = 4
"""Decimals of a time; ten thousand of them sum up to less than a second off."""

Step = list[Any]
"""What is done (a role), the piece's place in the order of cutting, the seconds of the cloth moved
on, of the way there, of going down and of the line itself, and where: for a pass the data of a
path, for a line that is drawn its number among the piece's lines of that role, null for all."""


def lay_table(lay: PreviewLay, *, length_unit: str, tool: str) -> dict[str, Any]:
    """The table as plain values for JSON; lengths in mm, areas in mm2, times in s. ``steps`` take
    ``time_s`` together."""
    return {
        "name": lay.row["name"],
        "unit": length_unit,
        "mm_per_unit": MM_PER_UNIT[length_unit],
        "length_mm": lay.length_mm,
        "width_mm": lay.width_mm,
        "plies": lay.row["plies"],
        "tool": tool,
        "time_s": lay.row["time_s"],
        "pieces": _pieces(lay),
        "steps": [*_marks(lay), *_passes(lay)],
    }


def _pieces(lay: PreviewLay) -> list[dict[str, Any]]:
    near = neighbours(lay)
    rows = []
    for number, row in enumerate(lay.pieces):
        table = {
            "name": row["name"],
            "cap": row["cap"],
            "size": row.get("size", ""),
            "grain_deg": round(row["grain_deg"], 2),
            "area_mm2": round(row["area_mm2"]),
            "notches": len(row["notch_ends_mm"]),
            "time_s": row["time_s"],
            "near": near[number],
        }
        rows.append(table | {key: row[key] for key in ("frame", "pinned") if key in row})
    return rows


def neighbours(lay: PreviewLay) -> list[list[tuple[int, float]]]:
    """Of every piece, in the order of cutting, its neighbours and how far apart their outlines are
    as written, in mm; the nearest first."""
    outlines = lay.outlines
    tree = shapely.STRtree(outlines)
    ones, others = tree.query(outlines, predicate="dwithin", distance=NEAR_MM)
    is_first = ones < others
    ones, others = ones[is_first], others[is_first]
    gaps = shapely.distance(tree.geometries[ones], tree.geometries[others]).round(2)
    near: list[list[tuple[int, float]]] = [[] for _ in outlines]
    for one, other, gap in zip(ones.tolist(), others.tolist(), gaps.tolist(), strict=True):
        near[one].append((other, gap))
        near[other].append((one, gap))
    return [sorted(found, key=lambda pair: (pair[1], pair[0]))[:MOST_NEIGHBOURS] for found in near]


def _marks(lay: PreviewLay) -> Iterator[Step]:
    """The lines that are drawn, in order; the letters of a label are one step."""
    order = {row["id"]: number for number, row in enumerate(lay.pieces)}
    seen: dict[tuple[str, int], int] = {}
    plan = lay.plan
    for line, leg in zip(plan.drawn if plan.marking_legs else (), plan.marking_legs, strict=True):
        piece = order[line.piece_id]
        number = seen.get((line.role, piece), 0)
        seen[line.role, piece] = number + 1
        yield [line.role, piece, *_times(leg), None if isinstance(line, Letters) else number]


def _passes(lay: PreviewLay) -> Iterator[Step]:
    """The passes of the tool, in order."""
    order = {row["id"]: number for number, row in enumerate(lay.pieces)}
    for cut, leg in zip(lay.plan.passes, lay.plan.legs, strict=True):
        line = flattened(cut.points, cut.bulges, closed=False, tolerance_mm=_WAY_MM)
        way = path_data(line, closed=False)
        yield [cut.role, order[cut.piece_id], *_times(leg), way]


def _times(leg: Leg) -> list[float]:
    seconds = leg.advance_s, leg.travel_s, leg.start_s, leg.line_s
    return [round(part, _SECONDS) for part in seconds]
