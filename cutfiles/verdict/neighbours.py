"""Whether outlines are apart from each other, or share a side where they may."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry import Polygon

from cutfiles.tolerances import KERF_MM, LAY_MM, READ_BACK_MM

_SHORT_MM: Final = LAY_MM + 2.0 * KERF_MM
"""How much nearer than the clearance two outlines may be: what the lay may fall short of its gap
by, and what each of them is off as read."""

_BESIDE_MM: Final = LAY_MM + 2.0 * READ_BACK_MM
"""How far off each other's sides two rectangles may be that share one: what the lay may be off, and
each of them as read, which is straight."""

Say = Callable[[str, str], None]


def judge_neighbours(
    paths: Sequence[Polygon], clearance_mm: float, say: Say, *, shared: bool = False
) -> None:
    """Every two outlines that overlap, or are nearer than the clearance, in mm. Of ``shared`` edges
    the pieces may be equal rectangles with a side in common."""
    if not paths:
        return
    tree = shapely.STRtree(paths)
    enough = max(0.0, clearance_mm - _SHORT_MM)
    first, second = tree.query(paths, predicate="dwithin", distance=enough)
    for i, j in zip(first.tolist(), second.tolist(), strict=True):
        if i >= j or (shared and _share_a_side(paths[i], paths[j])):
            continue
        common = paths[i].intersection(paths[j])
        if _is_deep(common):
            x, y = common.representative_point().coords[0]
            say("overlap", f"two outlines overlap at ({x:.1f}, {y:.1f}) mm")
        elif enough > 0.0:
            x, y = paths[i].centroid.coords[0]
            say(
                "too-close",
                f"the outline round ({x:.1f}, {y:.1f}) mm is "
                f"{paths[i].distance(paths[j]):.2f} mm from another, and {clearance_mm:g} mm are "
                "to be left",
            )


def _is_deep(common: shapely.Geometry) -> bool:
    """Whether an overlap is more than roundings along a side."""
    if shapely.area(common) <= READ_BACK_MM**2:
        return False
    return not shapely.is_empty(shapely.buffer(common, -READ_BACK_MM / 2.0))


def _share_a_side(one: Polygon, other: Polygon) -> bool:
    """Whether two outlines are equal rectangles a whole side apart: a step as long as a side, along
    it, takes one to the other."""
    box = shapely.oriented_envelope(one)
    if not isinstance(box, Polygon) or box.hausdorff_distance(one) > _BESIDE_MM:
        return False
    start, end = shapely.get_coordinates(shapely.centroid([one, other]))
    corners = shapely.get_coordinates(box.exterior)
    steps = [sign * side for side in np.diff(corners[:3], axis=0) for sign in (1.0, -1.0)]
    if min(float(np.hypot(*(end - start - step))) for step in steps) > _BESIDE_MM:
        return False
    return translate(one, *(end - start)).hausdorff_distance(other) <= _BESIDE_MM
