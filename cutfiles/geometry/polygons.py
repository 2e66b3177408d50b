"""Bridges to shapely, for area, overlap and distance. Polygons are flattened, in mm."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Polygon

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Array
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.tolerances import FLATTEN_MM


def polygon_of(path: Path, *, tolerance_mm: float = FLATTEN_MM) -> Polygon:
    """The region inside a closed path.

    Raises
    ------
    ValueError
        If the path is open, crosses itself, or encloses nothing.
    """
    if not path.is_closed:
        raise ValueError("the path is open")
    points = path.flattened(tolerance_mm)
    # ends that meet but for a rounding must not make an edge of their own, which may cross others
    points[-1] = points[0]
    polygon = Polygon(points)
    if not polygon.is_valid or polygon.area <= 0.0:
        raise ValueError(f"the path is no simple outline: {shapely.is_valid_reason(polygon)}")
    return polygon


def moved_polygon(polygon: Polygon, motion: Motion) -> Polygon:
    """Under a rigid motion."""
    a, b, d, e, x, y = motion.matrix
    return Polygon(
        shapely.get_coordinates(polygon.exterior) @ [[a, d], [b, e]] + [x, y],
        [shapely.get_coordinates(ring) @ [[a, d], [b, e]] + [x, y] for ring in polygon.interiors],
    )


def turned_bounds(polygon: Polygon, turn_deg: float) -> tuple[float, float, float, float]:
    """The bounds of a polygon turned about the origin, in mm: left, bottom, right, top."""
    cos, minus_sin, sin, _, _, _ = Motion(turn_deg, Vector(0.0, 0.0)).matrix
    points = shapely.get_coordinates(polygon.exterior) @ [[cos, sin], [minus_sin, cos]]
    (left, bottom), (right, top) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return left, bottom, right, top


def moved_points(points: Array, motion: Motion) -> Array:
    """Points ``(n, 2)`` under a rigid motion, each to the place that `Motion.point` gives it."""
    a, b, d, e, x, y = motion.matrix
    u, v = points[:, 0], points[:, 1]
    return np.column_stack((a * u + b * v + x, d * u + e * v + y))
