"""Strips and blocks edge to edge: rectangles that share a whole side, which is cut once.

What is nested is the tool's path, so that two pieces whose paths share a side are a kerf apart.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from cutfiles.geometry.polygons import turned_bounds
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.lay.bundles import StackedProblem, is_rectangle
from cutfiles.lay.problem import Shape, StripProblem
from cutfiles.tolerances import COINCIDENT_MM

_MOST: Final = 6
"""Copies in a block: five of twelve long sides are saved, and a block still finds its place."""

_STAY: Final = Vector(0.0, 0.0)


def in_blocks(problem: StripProblem) -> StackedProblem:
    """The problem with the copies of every free rectangle in blocks of about equal height, side by
    side with nothing between them. Pieces that keep to a print or a fold are left alone."""
    shapes: list[Shape] = []
    members: list[tuple[tuple[int, Motion], ...]] = []
    for index, shape in enumerate(problem.shapes):
        step, most = _stacking(problem, shape)
        blocks = -(-shape.count // most)
        low, higher = divmod(shape.count, blocks)
        for height, count in ((low + 1, higher), (low, blocks - higher)):
            if count:
                shapes.append(replace(_block(shape, step, height), count=count))
                members.append(tuple((index, Motion(0.0, step * k)) for k in range(height)))
    stacked = replace(problem, shapes=tuple(shapes), edge_to_edge=False)
    return StackedProblem(stacked, tuple(members))


def _stacking(problem: StripProblem, shape: Shape) -> tuple[Vector, int]:
    """Which way the copies of a shape go on from one to the next, and how many a block may hold: by
    their long sides if that gives a block no longer along the strip than it is wide."""
    x0, y0, x1, y1 = shape.outline.bounds
    along, across = x1 - x0, y1 - y0
    if shape.register is not None or not is_rectangle(shape.outline):
        return _STAY, 1
    if across >= 2.0 * along:
        return Vector(along, 0.0), min(_MOST, shape.count, int(across // along))
    step = Vector(0.0, across)
    most = min(_MOST, shape.count)
    while most > 1 and not _fits(problem, _block(shape, step, most)):
        most -= 1
    return step, most


def _block(shape: Shape, step: Vector, height: int) -> Shape:
    """So many copies as one shape."""
    if height == 1:
        return shape
    x0, y0, x1, y1 = shape.outline.bounds
    last = step * (height - 1)
    outline = box(x0, y0, x1 + last.x, y1 + last.y)
    return Shape(f"{height} x {shape.name}", outline, shape.turns_deg, 1)


def _fits(problem: StripProblem, block: Shape) -> bool:
    """Whether a block has room across the strip in one of the turns in which it may lie."""
    room = problem.width - 2.0 * problem.margin
    bounds = (turned_bounds(block.outline, turn) for turn in block.turns_deg)
    return any(y1 - y0 <= room for _, y0, _, y1 in bounds)


def share_a_side(one: Polygon, other: Polygon, tolerance: float) -> bool:
    """Whether two outlines are equal rectangles, one on each side of a common side, to within a
    tolerance at each of its ends."""
    corners = [_corners(outline) for outline in (one, other)]
    if any(len(four) != 4 for four in corners):
        return False
    apart = np.linalg.norm(corners[0][:, None] - corners[1][None], axis=2)
    ends = np.argwhere(apart <= tolerance)
    if len(ends) != 2 or (ends[0, 0] - ends[1, 0]) % 2 == 0:
        return False
    width = apart[ends[0, 0], ends[1, 1]]  # of the common side
    return bool(abs(one.area - other.area) <= 2.0 * tolerance * width + COINCIDENT_MM)


def _corners(outline: Polygon) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """The corners of an outline, without what lies on its sides ``(n, 2)``; none of a shape that is
    no rectangle."""
    box = shapely.oriented_envelope(outline)
    if not isinstance(box, Polygon) or abs(box.area - outline.area) > COINCIDENT_MM * box.length:
        return np.empty((0, 2))
    return np.asarray(shapely.get_coordinates(box.exterior)[:-1], dtype=np.float64)
