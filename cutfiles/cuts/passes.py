"""How far the passes of a tool are from the strokes that they make."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from cutfiles.cuts.plan import Pass, Stroke
from cutfiles.cuts.stretch import as_pass
from cutfiles.geometry.bulges import flattened
from cutfiles.tolerances import CURVE_FIT_MM


def off_strokes_mm(strokes: Sequence[Stroke], passes: Sequence[Pass]) -> float:
    """How far the passes leave the lines of their strokes, at most: by ways in, overlaps, and the
    swing of a trailing blade."""
    made: dict[int, list[Pass]] = {}
    for cut in passes:
        stroke = strokes[cut.stroke]
        if cut != as_pass(cut.stroke, stroke, stroke.spans):
            made.setdefault(cut.stroke, []).append(cut)
    # a lay has thousands of equal pieces: each shape is measured once
    shapes = {_shape((strokes[number], *cuts)): (number, cuts) for number, cuts in made.items()}
    far = 0.0
    for number, cuts in shapes.values():
        stroke = strokes[number]
        lines = [
            flattened(cut.points, cut.bulges, closed=False, tolerance_mm=CURVE_FIT_MM)
            for cut in cuts
        ]
        drawn = flattened(
            stroke.points, stroke.bulges, closed=stroke.closed, tolerance_mm=CURVE_FIT_MM
        )
        off = shapely.MultiLineString(lines).hausdorff_distance(shapely.LineString(drawn))
        far = max(far, float(off))
    return far


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
