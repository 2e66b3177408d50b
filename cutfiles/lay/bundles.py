"""Stacks of equal strips, placed as one: fewer things to search among, and tidy bundles.

A stack gives away the freedom to put a single strip into a gap, so it is one way of searching
among several and never the only one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from shapely.geometry import Polygon, box

from cutfiles.geometry.vector import Motion, Point, Vector
from cutfiles.lay.problem import Shape, Spot, StripLayout, StripProblem


@dataclass(frozen=True, slots=True)
class StackedProblem:
    """A problem with stacks in it, and the problem it was made from.

    ``members`` gives for every shape of ``stacked`` the copies it holds: the shape in
    ``original`` and its shift within the stack.
    """

    original: StripProblem
    stacked: StripProblem
    members: tuple[tuple[tuple[int, Vector], ...], ...]

    def unstacked(self, layout: StripLayout) -> StripLayout:
        """The layout of the original problem that a layout of stacks stands for."""
        spots = tuple(
            Spot(index, Motion(spot.motion.turn_deg, spot.motion.point(_tip(shift)) - _ORIGIN))
            for spot in layout.spots
            for index, shift in self.members[spot.shape]
        )
        return replace(layout, spots=spots)


_ORIGIN = Point(0.0, 0.0)


def _tip(shift: Vector) -> Point:
    return _ORIGIN + shift


def stack_strips(problem: StripProblem, height: int) -> StackedProblem:
    """Put equal rectangles side by side in stacks of ``height``, as many as there are enough for.

    Only rectangles along the axes that may not turn a quarter are stacked, across their shorter
    side, the problem's gap apart. A height of 1 leaves everything as it is.
    """
    shapes: list[Shape] = []
    members: list[tuple[tuple[int, Vector], ...]] = []
    for index, shape in enumerate(problem.shapes):
        stacks = shape.count // height if height > 1 and _is_strip(shape) else 0
        if stacks:
            x0, y0, x1, y1 = shape.outline.bounds
            wide = x1 - x0 >= y1 - y0
            step = (
                Vector(0.0, y1 - y0 + problem.gap) if wide else Vector(x1 - x0 + problem.gap, 0.0)
            )
            last = step * (height - 1)
            outline = box(x0, y0, x1 + last.x, y1 + last.y)
            shapes.append(Shape(f"{height} x {shape.name}", outline, shape.turns_deg, stacks))
            members.append(tuple((index, step * k) for k in range(height)))
        left = shape.count - stacks * height
        if left:
            shapes.append(replace(shape, count=left))
            members.append(((index, Vector(0.0, 0.0)),))
    return StackedProblem(problem, replace(problem, shapes=tuple(shapes)), tuple(members))


def is_rectangle(outline: Polygon) -> bool:
    """Whether an outline is a rectangle along the axes."""
    x0, y0, x1, y1 = outline.bounds
    return bool(abs(outline.area - (x1 - x0) * (y1 - y0)) <= 1e-9 * outline.area)


def _is_strip(shape: Shape) -> bool:
    quarter = any(turn % 180.0 for turn in shape.turns_deg)
    return is_rectangle(shape.outline) and not quarter
