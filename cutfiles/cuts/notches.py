"""From a notch to the stroke that cuts it: slit, V, T, castle, check or U.

Every shape is one open line that begins on the tool's path round the piece, and all but slit and T
end there too. Its slot, half a kerf longer than the line, ends at the notch's depth; on the
cut line it is as wide as asked. Of a check one side is square to the edge, at the notch's place.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.geometry import LineString, Polygon

from cutfiles.cuts.plan import Stroke
from cutfiles.geometry.bulges import Place
from cutfiles.job.machine import NotchCut
from cutfiles.lay.lay import PlacedPiece
from cutfiles.pieces.piece import Notch


def notch_stroke(
    placed: PlacedPiece, notch: Notch, path: Polygon, kerf_mm: float, cut: NotchCut
) -> Stroke:
    """The stroke of one notch of a placed piece, whose tool path is given.

    Raises
    ------
    ValueError
        If kerf, depth and width do not go together, or the notch is wider than its edge.
    """
    if kerf_mm >= notch.depth_mm:
        raise ValueError(
            f"a kerf of {kerf_mm:g} mm is as wide as the notch on {notch.edge!r} is deep "
            f"({notch.depth_mm:g} mm): use a finer tool"
        )
    local, bulges = _shape(cut, notch, kerf_mm)
    side = notch.inward.left
    points: list[Place] = []
    for u, v in local:
        moved = placed.motion.point(notch.at + notch.inward * u + side * v)
        points.append((moved.x, moved.y))
    # after growth a notch is no longer quite square to its edge, and edges bend: its line starts
    # where it meets the tool's path itself
    reach = kerf_mm + cut.width_mm
    if kerf_mm or cut.shape != "slit":
        points[0] = _met(points[1], points[0], path, reach, notch, exact=cut.shape != "slit")
    if cut.shape not in ("slit", "T"):
        points[-1] = _met(points[-2], points[-1], path, reach, notch, exact=True)
    return Stroke("notch", placed.ordered.id, tuple(points), closed=False, bulges=bulges)


def _shape(cut: NotchCut, notch: Notch, kerf_mm: float) -> tuple[list[Place], tuple[float, ...]]:
    """Points as (depth below the cut line, place along it), and bulges."""
    out, deep = -kerf_mm / 2.0, notch.depth_mm - kerf_mm / 2.0
    half = (cut.width_mm - kerf_mm) / 2.0
    if cut.shape == "slit":
        return [(out, 0.0), (deep, 0.0)], ()
    if half <= 0.0:
        raise ValueError(
            f"a kerf of {kerf_mm:g} mm is as wide as a notch ({cut.width_mm:g} mm): make it wider"
        )
    if cut.shape == "V":
        return [(0.0, -half), (deep, 0.0), (0.0, half)], ()
    if cut.shape == "T":
        return [(out, 0.0), (deep, 0.0), (deep, -half), (deep, half)], ()
    if cut.shape == "castle":
        return [(0.0, -half), (deep, -half), (deep, half), (0.0, half)], ()
    if cut.shape == "check":
        return [(0.0, 0.0), (deep, 0.0), (0.0, 2.0 * half)], ()
    if deep <= half:
        raise ValueError(
            f"a U notch {cut.width_mm:g} mm wide is deeper than the {notch.depth_mm:g} mm of the "
            f"notch on {notch.edge!r}: make it narrower, or give another shape"
        )
    bottom = deep - half
    return [(0.0, -half), (bottom, -half), (bottom, half), (0.0, half)], (0.0, 1.0, 0.0)


def _met(
    inner: Place, outer: Place, path: Polygon, reach_mm: float, notch: Notch, *, exact: bool
) -> Place:
    """Where the line from inside a piece outward meets the tool's path, nearest to a guess."""
    length = math.dist(inner, outer)
    share = (length + reach_mm) / length
    far = inner[0] + (outer[0] - inner[0]) * share, inner[1] + (outer[1] - inner[1]) * share
    met = _points(LineString([inner, far]).intersection(path.exterior))
    if met:
        return min(met, key=lambda place: math.dist(place, outer))
    if exact:
        raise ValueError(
            f"a notch on {notch.edge!r} is wider than its edge: make it narrower, or give a slit"
        )
    return outer


def _points(shape: shapely.Geometry) -> Sequence[Place]:
    return [(float(x), float(y)) for x, y in shapely.get_coordinates(shape)]
