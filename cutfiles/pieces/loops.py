"""Loops of a drawing, measured: simple ones, each once, and which lies in which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from cutfiles.geometry.path import Path
from cutfiles.geometry.vector import Point
from cutfiles.pieces.drawn import MOST_SAID, Notes, place_text
from cutfiles.tolerances import DRAWN_JOIN_MM, FLATTEN_MM


@dataclass(frozen=True, slots=True)
class Loop:
    """A closed path and the region inside it, in mm in the drawing's frame."""

    path: Path
    polygon: Polygon

    @property
    def corner(self) -> Point:
        """The lower left corner of its extent: where to look for it."""
        x0, y0, _, _ = self.polygon.bounds
        return Point(x0, y0)


def measured_loops(paths: Sequence[Path], notes: Notes) -> list[Loop]:
    """The simple ones among closed paths, each once; the others are findings."""
    loops: list[Loop] = []
    corners: dict[tuple[int, int], list[Loop]] = {}
    crossing = 0
    for path in paths:
        points = path.flattened(FLATTEN_MM)
        points[-1] = points[0]
        polygon = Polygon(points)
        if not polygon.is_valid or polygon.area <= DRAWN_JOIN_MM:
            crossing += 1
            if crossing <= MOST_SAID:
                notes.say(
                    "self-crossing", "error",
                    "an outline crosses or touches itself: draw it as one simple line round",
                    _where_invalid(polygon),
                )  # fmt: skip
            continue
        x, y = (round(value) for value in polygon.bounds[:2])
        near = (o for i in (-1, 0, 1) for j in (-1, 0, 1) for o in corners.get((x + i, y + j), ()))
        twin = next((other for other in near if _same(polygon, other.polygon)), None)
        if twin is not None:
            text = "an outline lies twice in the same place and is cut once: delete one of the two"
            notes.say("duplicate-line", "warning", text, twin.corner)
            continue
        loops.append(Loop(path, polygon))
        corners.setdefault((x, y), []).append(loops[-1])
    return loops


def shared_out(
    outlines: Sequence[Loop], inner: Sequence[Loop], notes: Notes
) -> list[tuple[Loop, list[Loop]]]:
    """Every outermost outline with the cut-outs in it.

    A loop within an outline is a cut-out, whatever layer it is on; ``inner`` are those that must
    be one. Findings: loops that cross one another, a cut-out in none or in another.
    """
    loops = [*outlines, *inner]
    if not loops:
        return []
    polygons = [loop.polygon for loop in loops]
    tree = shapely.STRtree(polygons)
    holders: dict[int, list[int]] = {k: [] for k in range(len(loops))}
    said = 0
    for i, j in tree.query(polygons, predicate="intersects").T:
        if i == j:
            continue
        if polygons[j].contains_properly(polygons[i]):
            holders[int(i)].append(int(j))
        elif i < j and not polygons[i].contains_properly(polygons[j]):
            said += _say_crossing(polygons[i], polygons[j], notes) if said < MOST_SAID else 0
    if notes.has_errors:
        return []
    found: dict[int, list[Loop]] = {}
    holes: list[tuple[int, Loop]] = []
    for k, loop in enumerate(loops):
        within = holders[k]
        if not within and k < len(outlines):
            found[k] = []
        elif len(within) == 1 and within[0] < len(outlines):
            holes.append((within[0], loop))
        else:
            what = "lies in no outline" if not within else "lies in another cut-out"
            text = f"a cut-out {what}: move it, or give it another layer"
            notes.say("stray-cut-out", "error", text, loop.corner)
    for outer, loop in holes:
        if outer in found:
            found[outer].append(loop)
    return [(loops[k], holes_in) for k, holes_in in found.items()]


def _say_crossing(one: Polygon, other: Polygon, notes: Notes) -> int:
    """Neighbours may share an edge; anything more is a fault."""
    shared = one.intersection(other)
    separate = shared.area <= DRAWN_JOIN_MM * min(one.length, other.length)
    if separate and shared.area < 0.5 * min(one.area, other.area):
        return 0
    met = one.exterior.intersection(other.exterior)
    x, y = (met if not met.is_empty else shared).representative_point().coords[0]
    _, _, x1, y1 = other.bounds
    text = (
        f"two outlines cross or touch there (the other reaches to {place_text(Point(x1, y1))}): "
        "draw them apart"
    )
    notes.say("crossing-outlines", "error", text, Point(x, y))
    return 1


def _same(one: Polygon, other: Polygon) -> bool:
    """Within what two flattenings of one curve may differ."""
    if abs(one.area - other.area) > 2.0 * FLATTEN_MM * other.length:
        return False
    if max(abs(a - b) for a, b in zip(one.bounds, other.bounds, strict=True)) > 2.0 * FLATTEN_MM:
        return False
    return bool(one.hausdorff_distance(other) <= 2.0 * FLATTEN_MM)


def _where_invalid(polygon: Polygon) -> Point:
    """shapely's reason ends with the place: ``Self-intersection[5 5]``."""
    reason = shapely.is_valid_reason(polygon)
    _, _, place = reason.partition("[")
    numbers = place.rstrip("]").split()
    if len(numbers) >= 2:
        return Point(float(numbers[0]), float(numbers[1]))
    x, y, _, _ = polygon.bounds
    return Point(x, y)
