"""From strokes to passes: what the tool does for each of them from going down to coming up."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely

from cutfiles.cuts.plan import CUT_ROLES, Pass, Stroke
from cutfiles.geometry.bulges import flattened
from cutfiles.tolerances import CURVE_FIT_MM


def passes_of(strokes: Sequence[Stroke]) -> tuple[Pass, ...]:
    """A pass for each stroke that is cut, in order; a closed one ends where it began."""
    return tuple(
        _along(number, stroke) for number, stroke in enumerate(strokes) if stroke.role in CUT_ROLES
    )


def _along(number: int, stroke: Stroke) -> Pass:
    points = stroke.points + (stroke.points[:1] if stroke.closed else ())
    return Pass(number, stroke.role, stroke.piece_id, points, stroke.bulges)


def off_strokes_mm(strokes: Sequence[Stroke], passes: Sequence[Pass]) -> float:
    """How far the passes leave the lines of their strokes, at most: by ways in, overlaps, and the
    swing of a trailing blade."""
    made: dict[int, list[npt.NDArray[np.float64]]] = {}
    for cut in passes:
        if cut == _along(cut.stroke, strokes[cut.stroke]):
            continue
        line = flattened(cut.points, cut.bulges, closed=False, tolerance_mm=CURVE_FIT_MM)
        made.setdefault(cut.stroke, []).append(line)
    far = 0.0
    for number, lines in made.items():
        stroke = strokes[number]
        drawn = flattened(
            stroke.points, stroke.bulges, closed=stroke.closed, tolerance_mm=CURVE_FIT_MM
        )
        off = shapely.MultiLineString(lines).hausdorff_distance(shapely.LineString(drawn))
        far = max(far, float(off))
    return far
