"""Keep-out regions: where one outline must not be shifted to, for it would touch another.

The set of shifts of ``other`` at which it overlaps ``one`` is the Minkowski sum of ``one`` and
``other`` turned by 180 degrees (T. Lozano-Perez, "Spatial planning: a configuration space
approach", IEEE Transactions on Computers 32(2), 1983). Its boundary runs along sums of an edge
of the one and a corner of the other that faces the same way.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final, TypeVar

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon

from cutfiles.geometry.polygons import moved_polygon
from cutfiles.geometry.vector import Motion, Vector

Array = npt.NDArray[np.float64]

Shape = TypeVar("Shape")

Turned = tuple[Polygon, float]
"""An outline and its turn in degrees."""

_KEPT: Final = 4096
"""So many regions are kept, of some hundred corners each; those asked for last."""

_BUFFER_SHORT = 1.01
"""GEOS smooths what it buffers by up to a hundredth of the distance; so much more is asked for."""

_ROUND_STEPS = 8
"""Chords of a quarter circle where a gap goes round a corner."""


def keep_out(one: Polygon, other: Polygon, gap: float) -> Polygon:
    """The shifts of ``other`` that bring it nearer to ``one`` than ``gap``, as a region.

    Holes in the region are closed: a piece never lies inside another one's bay without a way
    out. The region is never smaller than the exact one, and larger by at most two hundredths of the
    gap.
    """
    return widened(overlapping(one, other), gap)


def overlapping(one: Polygon, other: Polygon) -> Polygon:
    """The same without a gap: the shifts of ``other`` at which it overlaps ``one``."""
    a = corners(one)
    b = -corners(other)
    segments = np.concatenate([_edges_at_corners(a, b), _edges_at_corners(b, a)])
    lines = shapely.unary_union(shapely.linestrings(segments))
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(lines)))
    region = shapely.unary_union(faces)
    if not isinstance(region, Polygon):
        region = max(shapely.get_parts(region), key=lambda part: float(part.area))
    return Polygon(region.exterior)


def overlap_of(one: Turned, other: Turned) -> Polygon:
    """The same of outlines in a turn. What was worked out is kept for as long as the program runs;
    a pair turned by half has the same region, turned by half."""
    half = half_turned(one), half_turned(other)
    if (half[0][1], half[1][1]) < (one[1], other[1]):
        return shapely.transform(_overlap_of(*half), lambda xy: -xy)
    return _overlap_of(one, other)


@lru_cache(maxsize=_KEPT)
def _overlap_of(one: Turned, other: Turned) -> Polygon:
    at_rest = Vector(0.0, 0.0)
    return overlapping(
        *(moved_polygon(outline, Motion(turn_deg, at_rest)) for outline, turn_deg in (one, other))
    )


def half_turned(turned: tuple[Shape, float]) -> tuple[Shape, float]:
    """A shape and its turn, turned by half."""
    return turned[0], (turned[1] + 180.0) % 360.0


def widened(region: Polygon, gap: float) -> Polygon:
    """A region of overlap, and what is nearer to it than ``gap``."""
    if gap <= 0.0:
        return region
    reach = _BUFFER_SHORT * gap / math.cos(math.pi / (4 * _ROUND_STEPS))
    return Polygon(region.buffer(reach, quad_segs=_ROUND_STEPS).exterior)


def corners(outline: Polygon) -> Array:
    """The corners of an outline, counter-clockwise, each once."""
    return np.asarray(
        shapely.get_coordinates(shapely.geometry.polygon.orient(outline).exterior)[:-1]
    )


def _edges_at_corners(edged: Array, cornered: Array) -> Array:
    """Every edge of the one at every convex corner of the other that faces the edge's way."""
    start, step = edged, np.roll(edged, -1, axis=0) - edged
    leaving = np.roll(cornered, -1, axis=0) - cornered
    coming = np.roll(leaving, 1, axis=0)
    convex = _cross(coming, leaving) > 0.0
    corner, coming, leaving = cornered[convex], coming[convex], leaving[convex]
    # An edge rests on a convex corner where its direction is between the corner's two sides.
    turned = _cross(coming[None], step[:, None])
    ahead = _cross(step[:, None], leaving[None])
    slack = 1e-9 * np.linalg.norm(step, axis=1)[:, None]
    between = (turned >= -slack * np.linalg.norm(coming, axis=1)) & (
        ahead >= -slack * np.linalg.norm(leaving, axis=1)
    )
    edge, at = np.nonzero(between)
    first = start[edge] + corner[at]
    # The end is the next corner's own sum, to the last bit: pieces of boundary must join.
    last = np.roll(edged, -1, axis=0)[edge] + corner[at]
    return np.stack([first, last], axis=1)


def _cross(one: Array, other: Array) -> Array:
    return np.asarray(one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0])
