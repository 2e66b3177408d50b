"""Whether outlines are the same to within a tolerance, many pairs at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon

from cutfiles.verdict.drawing import Array, Ints

Bools = npt.NDArray[np.bool_]

_AT_ONCE: Final = 250
"""Pairs that are compared in one table: 20 MB of outlines with 500 corners."""


def are_near(ones: Sequence[Polygon], others: Sequence[Polygon], tolerance_mm: float) -> Bools:
    """Of pairs of outlines, in which no corner of either is further from the other outline than
    the tolerance.

    Corners are compared with the other outline's sides at the same share of the way round, which
    is quick and never too kind; where that does not do, shapely compares all with all.
    """
    found = np.zeros(len(ones), dtype=bool)
    for start in range(0, len(ones), _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        a, b = _rings_of(ones[part]), _rings_of(others[part])
        found[part] = _run_along(a, b, tolerance_mm) & _run_along(b, a, tolerance_mm)
    for k in np.flatnonzero(~found).tolist():
        found[k] = ones[k].hausdorff_distance(others[k]) <= tolerance_mm
    return found


@dataclass(frozen=True, slots=True)
class _Rings:
    """Rings, counter-clockwise, in tables: the corners of all of them ``(n, 2)``, none repeated;
    of each corner the ring that it is of, the way to it from the ring's first, and the side that
    begins there; of each ring which corner is its first, how many it has, and its whole length."""

    corners: Array
    ring: Ints
    way: Array
    sides: Array
    lengths: Array
    first: Ints
    counts: Ints
    whole: Array


def _rings_of(polygons: Sequence[Polygon]) -> _Rings:
    rings = shapely.get_exterior_ring(list(polygons))
    level = np.where(shapely.is_ccw(rings), rings, shapely.reverse(rings))
    points, owner = shapely.get_coordinates(level, return_index=True)
    begins = np.flatnonzero(np.diff(owner) == 0)  # the last point of a ring is its first again
    ring, sides = owner[begins], (points[1:] - points[:-1])[begins]
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    counts = np.bincount(ring, minlength=len(rings))
    first = np.cumsum(counts) - counts
    way = np.cumsum(lengths) - lengths
    whole = np.add.reduceat(lengths, first)
    return _Rings(
        points[begins], ring, way - way[first][ring], sides, lengths, first, counts, whole
    )


def _run_along(one: _Rings, other: _Rings, tolerance_mm: float) -> Bools:
    """Of which rings every corner is near the sides of their others, where both run the same way
    round at the same pace; not those of which they do not."""
    # where each ring begins on its other: at the first of the sides nearest to its first corner
    away, share = _off(one.corners[one.first][other.ring], other, np.arange(len(other.ring)))
    least = np.minimum.reduceat(away, other.first)
    nearest = np.flatnonzero(away == least[other.ring])
    start = nearest[np.searchsorted(other.ring[nearest], np.arange(len(least)))]
    begin = other.way[start] + share[start] * other.lengths[start]
    # how far round the other each corner is, from 0 to 1, and beside which of its sides
    ring, whole = one.ring, other.whole
    round_ = ((begin / whole)[ring] + one.way / one.whole[ring]) % 1.0
    places = other.ring + other.way / whole[other.ring]
    middle = np.searchsorted(places, ring + round_, side="right") - 1 - other.first[ring]
    left = np.arange(len(ring))
    for step in (0, -1, 1, -2, 2):
        of = ring[left]
        side = other.first[of] + (middle[left] + step) % other.counts[of]
        away, _ = _off(one.corners[left], other, side)
        left = left[away > tolerance_mm]
    near = least <= tolerance_mm
    near[ring[left]] = False
    return near


def _off(points: Array, rings: _Rings, side: Ints) -> tuple[Array, Array]:
    """How far points are from sides of rings, and at which share of each side the nearest place
    is."""
    starts, sides = rings.corners[side], rings.sides[side]
    dx, dy = points[:, 0] - starts[:, 0], points[:, 1] - starts[:, 1]
    along = dx * sides[:, 0] + dy * sides[:, 1]
    share = np.clip(along / np.maximum(rings.lengths[side] ** 2, 1e-300), 0.0, 1.0)
    return np.hypot(dx - share * sides[:, 0], dy - share * sides[:, 1]), share
