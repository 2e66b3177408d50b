"""The region that closed lines fill, by either rule of SVG 2 (chapter 13.4.2), and what of a drawn
shape is seen through another region."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from cutfiles.geometry.path import Path
from cutfiles.geometry.vector import Point
from cutfiles.tolerances import FLATTEN_MM

Array = NDArray[np.float64]

_LEAST_MM2 = 1e-4
_LEAST_MM = 1e-3
"""What is smaller is left by rounding where two edges lie on one another."""


def filled_region(paths: Sequence[Path], *, even_odd: bool) -> shapely.Geometry:
    """What paths fill together, each closed by a straight line (mm, curves as chords)."""
    rings = [path.flattened(FLATTEN_MM / 2.0) for path in paths]
    rings = [np.vstack((ring, ring[:1])) for ring in rings if len(ring) > 2]
    if not rings:
        return Polygon()
    if len(rings) == 1:
        whole = Polygon(rings[0])
        if whole.is_valid:
            return whole
    faces = shapely.polygonize([shapely.union_all([LineString(ring) for ring in rings])])
    kept = []
    for face in faces.geoms:
        spot = face.representative_point()
        turns = [_winding(ring, spot.x, spot.y) for ring in rings]
        if (sum(abs(turn) for turn in turns) % 2) if even_odd else sum(turns):
            kept.append(face)
    return shapely.union_all(kept)


def seen_through(
    paths: Sequence[Path], clip: shapely.Geometry, *, filled: bool, even_odd: bool
) -> list[Path] | None:
    """What is seen of a shape through a region; None where that is all of it.

    Of a filled shape of closed paths it is the outline of what is seen, of others the lines in the
    region; both as straight lines within `FLATTEN_MM`.
    """
    room = shapely.buffer(clip, FLATTEN_MM)
    if filled and all(path.is_closed for path in paths):
        region = filled_region(paths, even_odd=even_odd)
        if shapely.covers(room, region):
            return None
        seen = shapely.intersection(region, clip)
        areas = [part for part in shapely.get_parts(seen) if part.area > _LEAST_MM2]
        rings = [ring for area in areas for ring in (area.exterior, *area.interiors)]
        return [_through(ring) for ring in rings]
    lines = [LineString(path.flattened(FLATTEN_MM)) for path in paths]
    if all(shapely.covers(room, line) for line in lines):
        return None
    merged = [shapely.line_merge(shapely.intersection(line, clip)) for line in lines]
    parts = [part for one in merged for part in shapely.get_parts(one)]
    return [_through(part) for part in parts if part.length > _LEAST_MM]


def _through(line: shapely.Geometry) -> Path:
    return Path.through([Point(float(x), float(y)) for x, y in shapely.get_coordinates(line)])


def _winding(ring: Array, x: float, y: float) -> int:
    """How often a closed ring goes round a point, counter-clockwise."""
    x0, y0, x1, y1 = ring[:-1, 0], ring[:-1, 1], ring[1:, 0], ring[1:, 1]
    side = (x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)
    up = (y0 <= y) & (y1 > y) & (side > 0.0)
    down = (y0 > y) & (y1 <= y) & (side < 0.0)
    return int(up.sum()) - int(down.sum())
