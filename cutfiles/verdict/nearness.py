"""Whether two outlines are the same to within a tolerance."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Polygon

from cutfiles.verdict.drawing import Array


def is_near(one: Polygon, other: Polygon, tolerance_mm: float) -> bool:
    """Whether no corner of either outline is further from the other outline than the tolerance.

    Corners are compared with the other outline's sides at the same share of the way round, which
    is quick and never too kind; where that does not do, shapely compares all with all.
    """
    a, b = (_counter_clockwise(polygon) for polygon in (one, other))
    if _runs_along(a, b, tolerance_mm) and _runs_along(b, a, tolerance_mm):
        return True
    return bool(one.hausdorff_distance(other) <= tolerance_mm)


def _counter_clockwise(polygon: Polygon) -> Array:
    ring = np.asarray(shapely.get_coordinates(polygon.exterior))
    return ring if polygon.exterior.is_ccw else ring[::-1]


def _runs_along(ring: Array, other: Array, tolerance_mm: float) -> bool:
    """Whether every corner of a closed ring ``(n, 2)`` is near the sides of another, where both
    run the same way round at the same pace; no, where they do not."""
    sides = np.diff(other, axis=0)
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    way = np.concatenate(([0.0], np.cumsum(lengths)))
    own = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))))
    # where the ring begins on the other: at the side nearest to its first corner
    away, share = _off(ring[:1], other[:-1], sides, lengths)
    start = int(np.argmin(away))
    if away[start] > tolerance_mm:
        return False
    begin = way[start] + share[start] * lengths[start]
    at = (begin + own[:-1] * (way[-1] / own[-1])) % way[-1]
    middle = np.searchsorted(way, at, side="right") - 1
    points = ring[:-1]
    for step in (0, -1, 1, -2, 2):
        side = (middle + step) % len(sides)
        away, _ = _off(points, other[side], sides[side], lengths[side])
        far = away > tolerance_mm
        if not far.any():
            return True
        points, middle = points[far], middle[far]
    return False


def _off(points: Array, starts: Array, sides: Array, lengths: Array) -> tuple[Array, Array]:
    """How far points are from sides, and at which share of each side the nearest place is."""
    dx, dy = points[:, 0] - starts[:, 0], points[:, 1] - starts[:, 1]
    along = dx * sides[:, 0] + dy * sides[:, 1]
    share = np.minimum(np.maximum(along / np.maximum(lengths**2, 1e-300), 0.0), 1.0)
    return np.hypot(dx - share * sides[:, 0], dy - share * sides[:, 1]), share
