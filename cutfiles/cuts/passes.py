"""How far the passes of a tool are from the strokes that they make."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from cutfiles.cuts.plan import Pass, Stroke
from cutfiles.cuts.shared_edges import Parts
from cutfiles.cuts.stretch import as_pass
from cutfiles.geometry.bulges import flattened
from cutfiles.tolerances import CURVE_FIT_MM


def off_strokes_mm(strokes: Sequence[Stroke], passes: Sequence[Pass], left: Parts) -> float:
    """How far the passes leave the lines of their strokes, or what is left to cut of some of them,
    at most: by ways in, overlaps, and the swing of a trailing blade."""
    made: dict[int, list[Pass]] = {}
    for cut in passes:
        stroke = strokes[cut.stroke]
        if cut.stroke in left or cut != as_pass(cut.stroke, stroke, stroke.spans):
            made.setdefault(cut.stroke, []).append(cut)
    # a lay has thousands of equal pieces: each shape is measured once
    shapes: dict[tuple[float, ...], tuple[Sequence[Stroke], Sequence[Pass]]] = {}
    for number, cuts in made.items():
        lines = left.get(number, (strokes[number],))
        shapes.setdefault(_shape((*lines, *cuts)), (lines, cuts))
    return max((_apart_mm(lines, cuts) for lines, cuts in shapes.values()), default=0.0)


def _apart_mm(strokes: Sequence[Stroke], passes: Sequence[Pass]) -> float:
    drawn = [
        flattened(s.points, s.bulges, closed=s.closed, tolerance_mm=CURVE_FIT_MM) for s in strokes
    ]
    made = [
        flattened(cut.points, cut.bulges, closed=False, tolerance_mm=CURVE_FIT_MM) for cut in passes
    ]
    off = shapely.MultiLineString(made).hausdorff_distance(shapely.MultiLineString(drawn))
    return float(off)


def _shape(lines: Sequence[Stroke | Pass]) -> tuple[float, ...]:
    """What lines have in common with the same ones elsewhere: to a millionth of a millimetre, and a
    bulge to as much of a chord of 1 m."""
    x0, y0 = lines[0].points[0]
    found: list[float] = []
    for line in lines:
        for x, y in line.points:
            found += round(x - x0, 6), round(y - y0, 6)
        found += (math.inf, *(round(bulge, 9) for bulge in line.bulges), math.inf)
    return tuple(found)
