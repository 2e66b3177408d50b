"""Between which bounds the lay of some caps lies, at once."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Final

from shapely.geometry import box

from cutfiles.geometry.polygons import moved_polygon, turned_bounds
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.lay.edge_to_edge import in_blocks
from cutfiles.lay.obstacles import flaws_on_lay
from cutfiles.lay.problem import NoPlaceError, Obstacle, Shape, StripLayout, StripProblem
from cutfiles.lay.reach import Fill, Reach
from cutfiles.lay.rows import nest_in_rows
from cutfiles.lay.sketch import sketched_mm, tries_within, work_of
from cutfiles.lay.skyline import skyline_layout
from cutfiles.lay.table import Table
from cutfiles.pieces.ordered import OrderedCap

_MOST_PIECES: Final = 1500
"""More are laid in equal parts, one after the other, so that no order takes long."""

_SKETCHES_WORK: Final = 160_000.0
"""What all sketches of one estimate may cost, in the unit of `work_of`: some 0.06 s."""

_SKETCHED: Final = 1.2
"""Sketches have so much more cloth than whole boxes take."""


def plain_layout(problem: StripProblem) -> StripLayout:
    """An allowed layout that is there at once.

    Raises
    ------
    NoPlaceError
        If a shape has no place.
    """
    layout = skyline_layout(problem)
    if not problem.is_clear:
        return layout
    return min(layout, nest_in_rows(problem), key=lambda one: one.length)


def plain_mm(problem: StripProblem) -> float:
    """How long a lay is that can be cut and is there at once.

    Raises
    ------
    NoPlaceError
        If a shape has no place.
    """
    return _as_nested(problem, lambda laid: plain_layout(laid).length)


def _as_nested(problem: StripProblem, length_of: Callable[[StripProblem], float]) -> float:
    """A length of what `nest_strip` nests: of rectangles that may lie edge to edge the blocks, or
    each alone where a block has no place."""
    if problem.edge_to_edge:
        try:
            return length_of(in_blocks(problem).stacked)
        except NoPlaceError:
            pass
    return length_of(problem)


def reach_of(problem: StripProblem, fill: Fill) -> Reach:
    """What is known at once of a strip's lay.

    Raises
    ------
    NoPlaceError
        If a shape has no place.
    """
    longest = max(_least_along(shape) for shape in problem.shapes) + 2.0 * problem.margin
    full = sum(_cloth_mm2(shape) * shape.count for shape in problem.shapes) / problem.width
    pieces = sum(shape.count for shape in problem.shapes)
    parts = 1 if problem.obstacles else -(-pieces // _MOST_PIECES)
    shapes = tuple(replace(shape, count=-(-shape.count // parts)) for shape in problem.shapes)
    part = replace(problem, shapes=shapes)
    kept = tuple(shape for shape in shapes if _keeps_to_print(shape))
    register = 0.0
    if kept:
        register = skyline_layout(replace(part, shapes=kept, edge_to_edge=False), fill).length
    filled = _as_nested(part, lambda laid: skyline_layout(laid, fill).length)
    return Reach(
        pieces=pieces,
        full_mm=full,
        least_mm=max(full, longest),
        filled_mm=_of_parts(filled, parts, kept),
        boxes_mm=_of_parts(plain_mm(part), parts, kept),
        in_register_mm=_of_parts(register, parts, kept),
        is_one_way=all(len(shape.turns_deg) == 1 for shape in problem.shapes),
    )


class Reaches:
    """What is known of lays one after the other, once of equal ones: with sketches as long as there
    is work left for them, of which each takes half at most, since the first lays are those of whole
    orders."""

    def __init__(self, fill: Fill) -> None:
        self._fill, self._work = fill, _SKETCHES_WORK
        self._known: dict[StripProblem, Reach] = {}

    def of(self, problem: StripProblem) -> Reach:
        """What is known of a strip's lay.

        Raises
        ------
        NoPlaceError
            If a shape has no place.
        """
        if problem not in self._known:
            self._known[problem] = self._sketched(problem, reach_of(problem, self._fill))
        return self._known[problem]

    def _sketched(self, problem: StripProblem, reach: Reach) -> Reach:
        most = _SKETCHED * reach.boxes_mm
        tries = tries_within(problem, most, self._work / 2.0)
        if not tries:
            return reach
        self._work -= work_of(problem, most, tries)
        return replace(reach, sketched_mm=sketched_mm(problem, most, tries))

    def surely_mm(self, problem: StripProblem) -> float:
        """`plain_mm` of it.

        Raises
        ------
        NoPlaceError
            If a shape has no place.
        """
        known = self._known.get(problem)
        return plain_mm(problem) if known is None else known.boxes_mm


def _of_parts(length_mm: float, parts: int, kept: Sequence[Shape]) -> float:
    """The length of equal parts one after the other, each of which begins whole repeats on where
    any shapes keep to a print."""
    steps = [shape.register.step_along for shape in kept if shape.register is not None]
    step = max((step for step in steps if step), default=0.0)
    each = math.ceil(length_mm / step) * step if step else length_mm
    return each * (parts - 1) + length_mm


def _keeps_to_print(shape: Shape) -> bool:
    """Whether a shape has its places along the strip."""
    return shape.register is not None and shape.register.step_along is not None


def _least_along(shape: Shape) -> float:
    """How long a shape is in the turn that is shortest along."""
    bounds = (turned_bounds(shape.outline, turn) for turn in shape.turns_deg)
    return min(x1 - x0 for x0, _, x1, _ in bounds)


def _cloth_mm2(shape: Shape) -> float:
    """How much cloth a shape is: of a half on the fold, what does not lie beyond it."""
    turn = shape.turns_deg[0]
    fold = shape.kept_point(turn) if shape.is_on_fold else None
    if fold is None:
        return shape.outline.area
    turned = moved_polygon(shape.outline, Motion(turn, Vector(0.0, 0.0)))
    x0, _, x1, y1 = turned.bounds
    return float(turned.intersection(box(x0, fold.y, x1, y1)).area)


class Portions:
    """The problems of any of the caps of a cut list, from shapes worked out once."""

    def __init__(self, table: Table, caps: Sequence[OrderedCap]) -> None:
        self.table, self.caps = table, caps
        self._whole = table.problem(caps)
        numbers = {kind: number for number, kind in enumerate(table.shapes(caps))}
        self._areas = [_cloth_mm2(shape) for shape in self._whole.shapes]
        self._members = [[numbers[kind] for kind in table.kinds(cap)] for cap in caps]

    def problem(self, first: int, end: int, starts_at_mm: float = 0.0) -> StripProblem:
        """Of the caps from one number up to another, in a lay that begins so far along."""
        part = self._of((members, 1) for members in self._members[first:end])
        obstacles = self._whole.obstacles
        if self.table.cloth.flaws:
            margin = self._whole.margin
            flaws = flaws_on_lay(self.table.cloth, starts_at_mm)
            obstacles = tuple(Obstacle(flaw, margin) for flaw in flaws)
        return replace(part, obstacles=obstacles)

    def mixed(self, counts: Sequence[int]) -> StripProblem:
        """Of so many of each cap."""
        return self._of(zip(self._members, counts, strict=True))

    def _of(self, times: Iterable[tuple[Sequence[int], int]]) -> StripProblem:
        """Of the shapes of some caps, each so many times."""
        counts = [0] * len(self._whole.shapes)
        for members, count in times:
            for number in members:
                counts[number] += count
        shapes = tuple(
            replace(shape, count=count)
            for shape, count in zip(self._whole.shapes, counts, strict=True)
            if count
        )
        return replace(self._whole, shapes=shapes)

    def most_by_area(self, first: int, length_mm: float) -> int:
        """Up to which cap those from a first one on have no more area than a length of cloth, or
        than remnants if that is what it is."""
        room = min(length_mm * self.table.width_mm, self.table.surface_mm2)
        end = first
        while end < len(self.caps):
            room -= sum(self._areas[number] for number in self._members[end])
            if room < 0.0:
                break
            end += 1
        return end
