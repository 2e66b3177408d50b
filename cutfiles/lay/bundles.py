"""Bundles: copies of a shape that are placed as one, so that a search has fewer things to place.

A bundle gives away the freedom to put its members into different gaps, so bundling is one way of
searching among several and never the only one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from cutfiles.geometry.polygons import moved_polygon
from cutfiles.geometry.vector import Motion, Point, Vector
from cutfiles.lay.problem import Shape, Spot, StripLayout, StripProblem

_BASE_SHARE: Final = 0.2
"""A side of at least this part of the whole outline is a base to lay against another."""

_SQUARE: Final = 1e-6
"""How far off square, per unit of length, a base may be to be across the strip."""


@dataclass(frozen=True, slots=True)
class StackedProblem:
    """A problem with bundles in it.

    ``members`` gives for every shape of ``stacked`` the copies it holds: the shape in the problem
    that it was made from, and its motion within the bundle.
    """

    stacked: StripProblem
    members: tuple[tuple[tuple[int, Motion], ...], ...]

    def unstacked(self, layout: StripLayout) -> StripLayout:
        """The layout of the original problem that a layout of bundles stands for."""
        spots = tuple(
            Spot(index, _after(motion, spot.motion))
            for spot in layout.spots
            for index, motion in self.members[spot.shape]
        )
        return replace(layout, spots=spots)


@dataclass(frozen=True, slots=True)
class Bundling:
    """Which bundles to make: strips in stacks of ``height``, of shapes with a base across the
    strip up to ``walls`` walls, and the rest of these in ``pairs`` back to back."""

    height: int = 1
    walls: int = 0
    pairs: bool = False


def bundled(problem: StripProblem, bundling: Bundling) -> StackedProblem:
    """A problem with its shapes in bundles, as far as there are enough copies for them.

    A wall is as many copies as fit across the strip, their bases in one line; a pair is two
    copies with their bases together, a half turn apart.
    """
    shapes: list[Shape] = []
    members: list[tuple[tuple[int, Motion], ...]] = []
    for index, shape in enumerate(problem.shapes):
        left = shape.count
        for bundle, motions, most in _bundles(problem, shape, bundling):
            count = min(left // len(motions), most)
            if count:
                shapes.append(replace(bundle, count=count))
                members.append(tuple((index, motion) for motion in motions))
                left -= count * len(motions)
        if left:
            shapes.append(replace(shape, count=left))
            members.append(((index, _STAY),))
    return StackedProblem(replace(problem, shapes=tuple(shapes)), tuple(members))


_STAY: Final = Motion(0.0, Vector(0.0, 0.0))

_Bundle = tuple[Shape, tuple[Motion, ...], int]
"""A bundle, how its members lie in it, and the most there may be."""


def _bundles(problem: StripProblem, shape: Shape, bundling: Bundling) -> Iterator[_Bundle]:
    if shape.register is not None:  # each copy has a place of its own to keep to
        return
    if _is_strip(shape):
        height = min(bundling.height, _fitting(problem, shape))
        if height > 1:
            yield _stack(shape, problem.gap, height)
        return
    base = _base(shape.outline)
    if base is None:
        return
    if bundling.walls:
        wall = _wall(problem, shape, base, bundling.walls)
        if wall is not None:
            yield wall
    half_turn = all((turn + 180.0) % 360.0 in shape.turns_deg for turn in shape.turns_deg)
    if bundling.pairs and half_turn:
        pair = _pair(shape, base, problem.gap)
        if pair is not None:
            yield pair


def _fitting(problem: StripProblem, shape: Shape) -> int:
    """How many copies fit one over the other across the strip."""
    _, y0, _, y1 = shape.outline.bounds
    room = problem.width - 2.0 * problem.margin + problem.gap
    return int(room // (y1 - y0 + problem.gap))


def _stack(shape: Shape, gap: float, height: int) -> _Bundle:
    x0, y0, x1, y1 = shape.outline.bounds
    wide = x1 - x0 >= y1 - y0
    step = Vector(0.0, y1 - y0 + gap) if wide else Vector(x1 - x0 + gap, 0.0)
    last = step * (height - 1)
    outline = box(x0, y0, x1 + last.x, y1 + last.y)
    motions = tuple(Motion(0.0, step * k) for k in range(height))
    return Shape(f"{height} x {shape.name}", outline, shape.turns_deg, 1), motions, shape.count


def _wall(
    problem: StripProblem, shape: Shape, base: tuple[Point, Point], most: int
) -> _Bundle | None:
    """Copies one over the other across the strip, where more than one fits."""
    start, end = base
    quarter = any(turn % 180.0 for turn in shape.turns_deg)
    if quarter or abs(end.x - start.x) > _SQUARE * start.distance(end):
        return None
    _, y0, _, y1 = shape.outline.bounds
    step = y1 - y0 + problem.gap
    height = _fitting(problem, shape)
    if height < 2:
        return None
    motions = tuple(Motion(0.0, Vector(0.0, step * k)) for k in range(height))
    # The room between two copies' bases is of no use to other pieces, and fills the outline up.
    inwards = 0.5 * (shape.outline.centroid.x - start.x)
    x0, x1 = sorted((start.x, start.x + inwards))
    low, high = sorted((start.y, end.y))
    filling = box(x0, low, x1, high + step * (height - 1))
    wall = _as_one(f"wall of {shape.name}", shape, motions, filling, gap=problem.gap)
    return None if wall is None else (wall, motions, most)


def _pair(shape: Shape, base: tuple[Point, Point], gap: float) -> _Bundle | None:
    """Two copies back to back: the second turned by half about the middle of the base."""
    start, end = base
    along = (end - start).unit
    apart = along.right * gap
    middle = start.toward(end, 0.5)
    turn = Motion(180.0, Vector(2.0 * middle.x + apart.x, 2.0 * middle.y + apart.y))
    inside = along.left * gap
    corners = [start + inside, end + inside, end + apart + -inside, start + apart + -inside]
    filling = Polygon([(corner.x, corner.y) for corner in corners])
    motions = _STAY, turn
    pair = _as_one(f"pair of {shape.name}", shape, motions, filling, gap=gap)
    return None if pair is None else (pair, motions, shape.count)


def _as_one(
    name: str,
    shape: Shape,
    motions: tuple[Motion, ...],
    filling: Polygon,
    *,
    gap: float,
) -> Shape | None:
    """A bundle as a single outline round its members; None where they do not hang together."""

    def around(outline: Polygon) -> Polygon | None:
        parts = [*(moved_polygon(outline, motion) for motion in motions), filling]
        whole = shapely.unary_union(parts).buffer(gap, join_style="mitre")
        whole = whole.buffer(-gap, join_style="mitre")
        return Polygon(whole.exterior) if isinstance(whole, Polygon) else None

    outline, guard = around(shape.outline), around(shape.search_outline)
    if outline is None or guard is None:
        return None
    return Shape(name, outline, shape.turns_deg, 1, guard)


def _base(outline: Polygon) -> tuple[Point, Point] | None:
    """The ends of the longest side, counter-clockwise, if it is long and nothing is beyond it."""
    ring = shapely.get_coordinates(shapely.geometry.polygon.orient(outline).exterior)
    steps = np.diff(ring, axis=0)
    lengths = np.linalg.norm(steps, axis=1)
    longest = int(lengths.argmax())
    if lengths[longest] < _BASE_SHARE * lengths.sum():
        return None
    (x, y), (dx, dy) = ring[longest], steps[longest]
    off = (ring[:, 1] - y) * dx - (ring[:, 0] - x) * dy
    if off.min() < -_SQUARE * lengths[longest] ** 2:
        return None
    return Point(float(x), float(y)), Point(float(x + dx), float(y + dy))


def _after(first: Motion, then: Motion) -> Motion:
    """Both motions, one after the other."""
    end = then.point(Point(first.shift.x, first.shift.y))
    turn = (first.turn_deg + then.turn_deg) % 360.0 if first.turn_deg else then.turn_deg
    return Motion(turn, end - Point(0.0, 0.0))


def is_rectangle(outline: Polygon) -> bool:
    """Whether an outline is a rectangle along the axes."""
    x0, y0, x1, y1 = outline.bounds
    return bool(abs(outline.area - (x1 - x0) * (y1 - y0)) <= 1e-9 * outline.area)


def _is_strip(shape: Shape) -> bool:
    quarter = any(turn % 180.0 for turn in shape.turns_deg)
    return is_rectangle(shape.outline) and not quarter
