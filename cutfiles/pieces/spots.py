"""Where the grain line and the label go on a piece: over its middle, clear of edges and holes."""

from __future__ import annotations

from typing import Final

import shapely
from shapely.geometry import Polygon

from cutfiles.geometry.segments import Line
from cutfiles.geometry.vector import Point
from cutfiles.pieces.piece import LabelSpot
from cutfiles.tolerances import FLATTEN_MM

_LEAST_ROOM: Final = 2.0
"""A label wants at least this many letter heights of straight room beside the grain line."""


def grain_line(inside: Polygon) -> Line:
    """A line along x over the middle of the piece, clear of its edges."""
    centre = _heart(inside)
    low, _, high, _ = inside.bounds
    ray = shapely.LineString([(low - 1, centre.y), (high + 1, centre.y)]).intersection(inside)
    runs = list(getattr(ray, "geoms", [ray]))
    run = next(r for r in runs if r.distance(shapely.Point(centre.x, centre.y)) < 1e-6)
    left, _, right, _ = run.bounds
    margin = 0.15 * (right - left)
    return Line(Point(left + margin, centre.y), Point(right - margin, centre.y))


def label_spot(inside: Polygon) -> LabelSpot:
    """Beside the grain line, reading along the longer side of the piece; in the widest round
    spot where there is no room beside it."""
    centre = _heart(inside)
    x0, y0, x1, y1 = inside.bounds
    height = min(8.0, 0.2 * min(x1 - x0, y1 - y0))
    clear = 1.5 * height
    if x1 - x0 >= y1 - y0:
        probe = shapely.LineString([(x0, centre.y + clear), (x1, centre.y + clear)])
    else:
        probe = shapely.LineString([(centre.x, centre.y + clear), (centre.x, y1)])
    angle = 0.0 if x1 - x0 >= y1 - y0 else 90.0
    # the first stretch of it; where it only touches the piece there is none
    stretches = shapely.get_parts(probe.intersection(inside))
    run = next((one for one in stretches if one.length), shapely.LineString())
    if run.length < _LEAST_ROOM * height:
        spot = shapely.maximum_inscribed_circle(inside, FLATTEN_MM)
        middle, radius = shapely.Point(spot.coords[0]), spot.length
        return LabelSpot(Point(middle.x, middle.y), angle, 1.4 * radius, min(height, 0.4 * radius))
    middle = run.interpolate(0.5, normalized=True)
    return LabelSpot(Point(middle.x, middle.y), angle, 0.85 * run.length, height)


def _heart(inside: Polygon) -> Point:
    """The centroid where it lies inside, else the middle of the largest circle inside."""
    middle = inside.centroid
    if not inside.contains(middle):
        middle = shapely.Point(shapely.maximum_inscribed_circle(inside, FLATTEN_MM).coords[0])
    return Point(middle.x, middle.y)
