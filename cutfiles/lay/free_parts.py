"""Convex parts of the room that neighbours leave each other, as half-planes.

Where a piece may be shifted to, seen from a neighbour, is what lies outside a keep-out region.
That is no convex place; but round about where the piece is now, a convex part of it is cut out
by straight lines, each touching the region where it comes nearest. A linear program can work
within such parts.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon

from cutfiles.geometry.polygons import moved_polygon
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.lay.convex_part import MOST_CUTS, Indices, cut_out
from cutfiles.lay.keep_out import Array, Turned, corners, half_turned, overlap_of, widened
from cutfiles.lay.problem import StripProblem

Kind = tuple[int, float]
"""A shape by its index in the problem, and its turn in degrees; the problem's obstacles count on
from its shapes."""

# Lengths below are in thousandths of the strip's width.

_COARSE: Final = 0.005
"""How far a keep-out region is rounded up, to have fewer sides."""

_FEW_SIDES: Final = 48
"""A keep-out region of no more sides is kept as it is."""

_ALIKE: Final = 0.005
"""A symmetrical outline differs by no more than this from its mirror image."""

_TOUCHING: Final = 1e-5
"""An overlap of less is none: it is the linear program's rounding."""

_FEW_KINDS: Final = 12
"""Of so many, every pair's keep-out region takes less than a second."""

_UNKNOWN: Final = -1
"""In place of the number of a pair whose region has not been worked out."""

_FEW_PIECES: Final = 300
"""Of so many, comparing every two is quicker than a tree."""


_NONE: Final = np.zeros(0, dtype=np.intp)


@dataclass(frozen=True, slots=True)
class Cuts:
    """Half-planes ``normal . shift >= bound`` for the pairs of pieces that they belong to.

    ``first`` and ``second`` number the pieces; a shift is the second's less the first's, as they
    are moved from where they lie. ``overlap`` is positive where the pair overlaps now: that is
    how far it is from the half-plane. Lengths are in the problem's unit.
    """

    first: Indices
    second: Indices
    normal: Array
    bound: Array
    overlap: Array

    def overlapping(self, pieces: int) -> Indices:
        """Which pairs of so many pieces overlap, by one number for each: the first's times the
        pieces, and the second's."""
        over = self.overlap > 0.0
        return np.unique(self.first[over] * pieces + self.second[over])


class Room:
    """The outlines and keep-out regions of a problem's shapes, worked out when first needed.

    Searches that run side by side may share one.
    """

    def __init__(self, problem: StripProblem) -> None:
        self.problem = problem
        self.unit = problem.width / 1000.0
        self._outlines: dict[Kind, Polygon] = {}
        self._boxes: dict[Kind, tuple[float, float, float, float]] = {}
        self._symmetrical: dict[Kind, bool] = {}
        self._places: dict[Kind, int] = {}
        self._numbers = np.zeros((0, 0), dtype=np.intp)
        self._rings: dict[tuple[Kind, Kind], Array] = {}
        self._sides: list[tuple[Array, Array]] = []
        self._flat: tuple[Array, Array, Indices, Indices] | None = None
        self._lock = threading.Lock()
        count = len(problem.shapes)
        self.obstacles: tuple[Kind, ...] = tuple(
            (count + k, 0.0) for k in range(len(problem.obstacles))
        )
        self._widest_gap = max([problem.gap, *(o.clearance for o in problem.obstacles)])

    def with_obstacles(self, kinds: Sequence[Kind], at: Array) -> tuple[tuple[Kind, ...], Array]:
        """The pieces, and after them the obstacles where they are."""
        return (*kinds, *self.obstacles), np.concatenate([at, np.zeros((len(self.obstacles), 2))])

    def held(self, kinds: Sequence[Kind]) -> npt.NDArray[np.bool_]:
        """Whether each kind must stay where it is along and across: in register, or for good."""
        rows = []
        for index, _ in kinds:
            if index >= len(self.problem.shapes):
                rows.append((True, True))
                continue
            register = self.problem.shapes[index].register
            steps = (register.step_along, register.step_across) if register else (None, None)
            rows.append((steps[0] is not None, steps[1] is not None))
        return np.array(rows, dtype=np.bool_).reshape(-1, 2)

    def warm(self, stop: Callable[[], bool]) -> None:
        """Work out the keep-out regions ahead, if they are few, until it is time to stop."""
        kinds = [(k, turn) for k, s in enumerate(self.problem.shapes) for turn in s.turns_deg]
        if len(kinds) <= _FEW_KINDS:
            for one in kinds:
                for other in kinds:
                    if stop():
                        return
                    self._number(one, other)

    def outline(self, kind: Kind) -> Polygon:
        """A shape's outline in a turn, not shifted."""
        if kind not in self._outlines:
            outline, turn_deg = self._turned(kind)
            self._outlines[kind] = moved_polygon(outline, Motion(turn_deg, Vector(0.0, 0.0)))
        return self._outlines[kind]

    def _turned(self, kind: Kind) -> Turned:
        beyond = kind[0] - len(self.problem.shapes)
        if beyond < 0:
            return self.problem.shapes[kind[0]].outline, kind[1]
        return self.problem.obstacles[beyond].outline, kind[1]

    def _gap(self, one: Kind, other: Kind) -> float:
        """What two kinds keep between each other."""
        beyond = max(one[0], other[0]) - len(self.problem.shapes)
        return self.problem.gap if beyond < 0 else self.problem.obstacles[beyond].clearance

    def boxes(self, kinds: Sequence[Kind]) -> Array:
        """Bounds of every outline, not shifted: a row each of left, bottom, right, top."""
        return np.array([self._box(kind) for kind in kinds])

    def _box(self, kind: Kind) -> tuple[float, float, float, float]:
        if kind not in self._boxes:
            self._boxes[kind] = self.outline(kind).bounds
        return self._boxes[kind]

    def is_symmetrical(self, kind: Kind) -> bool:
        """Whether an outline, mirrored up for down, is the same again."""
        if kind not in self._symmetrical:
            outline = self.outline(kind)
            height = outline.bounds[1] + outline.bounds[3]
            mirrored = shapely.transform(outline, lambda xy: xy * [1.0, -1.0] + [0.0, height])
            distance = shapely.hausdorff_distance(outline.exterior, mirrored.exterior)
            self._symmetrical[kind] = bool(distance <= _ALIKE * self.unit)
        return self._symmetrical[kind]

    def contact(
        self, kinds: Sequence[Kind], at: Array, other_kinds: Sequence[Kind], other_at: Array
    ) -> float:
        """How far along the strip the other pieces must be shifted, all together, to come to
        lie just beyond all of these."""
        first, second = np.indices((len(kinds), len(other_kinds))).reshape(2, -1)
        boxes, other_boxes = self.boxes(kinds), self.boxes(other_kinds)
        end = (at + boxes[:, 2:])[:, 0]
        start = (other_at + other_boxes[:, :2])[:, 0]
        # They are never shifted so far in that a pair could touch which is not looked at.
        least = float(end.max() - start.min())
        least -= max(float((b[:, 2] - b[:, 0]).max()) for b in (boxes, other_boxes))
        near = end[first] - start[second] + self.problem.gap + self.unit >= least
        first, second = first[near], second[near]
        shift = other_at[second] - at[first]
        starts, ends, owner = self._sides_of(self._pair_numbers(kinds, first, other_kinds, second))
        y = shift[owner, 1]
        meets = (starts[:, 1] > y) != (ends[:, 1] > y)
        a, b, y, owner = starts[meets], ends[meets], y[meets], owner[meets]
        x = a[:, 0] + (y - a[:, 1]) * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
        return float((x - shift[owner, 0]).max(initial=least))

    def _pair_numbers(
        self, kinds: Sequence[Kind], first: Indices, other_kinds: Sequence[Kind], second: Indices
    ) -> Indices:
        row, column = self._places_of(kinds)[first], self._places_of(other_kinds)[second]
        for i in np.flatnonzero(self._numbers[row, column] == _UNKNOWN).tolist():
            self._number(kinds[first[i]], other_kinds[second[i]])
        return self._numbers[row, column]

    def _places_of(self, kinds: Sequence[Kind]) -> Indices:
        """The row and column of each kind in the table of the numbers of pairs."""
        with self._lock:
            for kind in kinds:
                self._places.setdefault(kind, len(self._places))
            more = len(self._places) - len(self._numbers)
            if more:
                self._numbers = np.pad(self._numbers, (0, more), constant_values=_UNKNOWN)
            return np.array([self._places[kind] for kind in kinds], dtype=np.intp)

    def _number(self, one: Kind, other: Kind) -> None:
        """Give a pair's region a number, if it has none."""
        row, column = self._places_of((one, other))
        if self._numbers[row, column] == _UNKNOWN:
            ring = self._ring(one, other)
            with self._lock:
                if self._numbers[row, column] == _UNKNOWN:
                    self._sides.append((ring[:-1], ring[1:]))
                    self._flat = None
                    self._numbers[row, column] = len(self._sides) - 1

    def _ring(self, one: Kind, other: Kind) -> Array:
        """The corners of a keep-out region, the first of them again at the end.

        A pair the other way round, and one turned by half, have the same region turned by half. It
        is worked out for the same one of the four, whichever of them is asked for first.
        """
        turned = half_turned(one), half_turned(other)
        same = min((one, other), turned[::-1])
        opposite = min((other, one), turned)
        first = min(same, opposite)
        if first not in self._rings:
            self._rings[first] = self._worked_out(*first)
        ring = self._rings[first]
        return ring if first == same else -ring

    def _worked_out(self, one: Kind, other: Kind) -> Array:
        overlap = overlap_of(self._turned(one), self._turned(other))
        region = widened(overlap, self._gap(one, other))
        if len(region.exterior.coords) > _FEW_SIDES:
            # Rounded up only where that saves sides: blocks may fit a strip to a hair.
            region = widened(overlap, self._gap(one, other) + _COARSE * self.unit)
            coarse = region.simplify(_COARSE * self.unit)
            region = coarse if isinstance(coarse, Polygon) else region
        ring = corners(region)
        return np.concatenate([ring, ring[:1]])

    def _sides_of(self, numbers: Indices) -> tuple[Array, Array, Indices]:
        """The sides of several regions in one array, and which region of them each is of."""
        starts, ends, offsets, counts = self._all_sides()
        lengths = counts[numbers]
        owner = np.repeat(np.arange(len(numbers)), lengths)
        within = np.arange(len(owner)) - np.repeat(np.cumsum(lengths) - lengths, lengths)
        index = offsets[numbers][owner] + within
        return starts[index], ends[index], owner

    def _all_sides(self) -> tuple[Array, Array, Indices, Indices]:
        """The sides of all regions by their numbers: where each starts and ends, where those of
        each region begin, and how many these are."""
        with self._lock:
            if self._flat is None:
                counts = np.array([len(starts) for starts, _ in self._sides], dtype=np.intp)
                none = np.zeros((0, 2))
                self._flat = (
                    np.concatenate([none, *(starts for starts, _ in self._sides)]),
                    np.concatenate([none, *(ends for _, ends in self._sides)]),
                    np.cumsum(counts) - counts,
                    counts,
                )
            return self._flat

    def is_ready(
        self, kinds: Sequence[Kind], at: Array, reach: float, stop: Callable[[], bool]
    ) -> bool:
        """Whether the regions that ``cuts`` needs are there; those that are not are worked out,
        a few milliseconds each, until all are or it is time to stop."""
        first, second = self._pairs(kinds, at, self._widest_gap + 2.0 * reach)
        places = self._places_of(kinds)
        for i in np.flatnonzero(self._numbers[places[first], places[second]] == _UNKNOWN).tolist():
            if stop():
                return False
            self._number(kinds[first[i]], kinds[second[i]])
        return True

    def cuts(self, kinds: Sequence[Kind], at: Array, reach: float, stuck: Indices = _NONE) -> Cuts:
        """The half-planes for every pair that may meet when no piece moves further than
        ``reach`` along or across. ``at`` holds a row of x and y for every piece; ``stuck`` are the
        pairs, as `Cuts.overlapping` numbers them, that get out of each other along the strip."""
        first, second = self._pairs(kinds, at, self._widest_gap + 2.0 * reach)
        shift = at[second] - at[first]
        numbers = self._pair_numbers(kinds, first, kinds, second)
        starts, ends, offsets, counts = self._all_sides()
        room = MOST_CUTS * len(numbers)
        lengthwise = np.isin(first * len(kinds) + second, stuck)
        pairs, normal, bound = np.zeros(room, dtype=np.intp), np.zeros((room, 2)), np.zeros(room)
        sides = np.zeros((counts.max(initial=0), 4))
        found = cut_out(
            starts, ends, offsets, counts, numbers, shift, lengthwise,
            self.unit, 2.0 * reach / self.unit, sides, pairs, normal, bound,
        )  # fmt: skip
        pairs, normal, bound = pairs[:found], normal[:found], bound[:found]
        overlap = np.where(bound > _TOUCHING, bound, 0.0)
        bound = np.where(bound > _TOUCHING, bound, np.minimum(bound, 0.0))
        return Cuts(first[pairs], second[pairs], normal, bound * self.unit, overlap * self.unit)

    def _pairs(self, kinds: Sequence[Kind], at: Array, far: float) -> tuple[Indices, Indices]:
        boxes = self.boxes(kinds)
        low, high = at + boxes[:, :2], at + boxes[:, 2:]
        if len(kinds) <= _FEW_PIECES:
            near = np.all(low[:, None] - far <= high[None], axis=2)
            first, second = np.nonzero(np.triu(near & near.T, 1))
        else:  # every piece has few neighbours
            grown = np.asarray(shapely.box(*(low - far / 2.0).T, *(high + far / 2.0).T))
            first, second = shapely.STRtree(grown).query(grown)
            once = first < second
            first, second = first[once], second[once]
            order = np.lexsort((second, first))
            first, second = first[order], second[order]
        shapes = np.array([kind[0] for kind in kinds])
        moves = (shapes[first] < len(self.problem.shapes)) | (
            shapes[second] < len(self.problem.shapes)
        )
        return first[moves], second[moves]
