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
from cutfiles.lay.keep_out import Array, Turned, corners, overlap_of, widened
from cutfiles.lay.problem import StripProblem

Indices = npt.NDArray[np.intp]

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

_AHEAD: Final = 1e-6
"""What is no further ahead of a cut than this is cut off by it."""

_DEEP: Final = 0.5
"""An overlap of more than this may end on any side of the bay that the pieces meet in."""

_FEW_KINDS: Final = 12
"""Of so many, every pair's keep-out region takes less than a second."""

_MOST_CUTS: Final = 12

_FEW_PIECES: Final = 300
"""Of so many, comparing every two is quicker than a tree."""


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
        self._numbers: dict[tuple[Kind, Kind], int] = {}
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
        return np.array(
            [self._number(kinds[i], other_kinds[j]) for i, j in zip(first, second, strict=True)],
            dtype=np.intp,
        )

    def _number(self, one: Kind, other: Kind) -> int:
        key = one, other
        if key not in self._numbers:
            ring = self._ring(one, other)
            with self._lock:
                if key not in self._numbers:
                    self._sides.append((ring[:-1], ring[1:]))
                    self._flat = None
                    self._numbers[key] = len(self._sides) - 1
        return self._numbers[key]

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
        if len(numbers) == 0:
            return np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0, dtype=np.intp)
        with self._lock:
            if self._flat is None:
                counts = np.array([len(starts) for starts, _ in self._sides])
                self._flat = (
                    np.concatenate([starts for starts, _ in self._sides]),
                    np.concatenate([ends for _, ends in self._sides]),
                    np.cumsum(counts) - counts,
                    counts,
                )
            starts, ends, offsets, counts = self._flat
        lengths = counts[numbers]
        owner = np.repeat(np.arange(len(numbers)), lengths)
        within = np.arange(len(owner)) - np.repeat(np.cumsum(lengths) - lengths, lengths)
        index = offsets[numbers][owner] + within
        return starts[index], ends[index], owner

    def is_ready(
        self, kinds: Sequence[Kind], at: Array, reach: float, stop: Callable[[], bool]
    ) -> bool:
        """Whether the regions that ``cuts`` needs are there; those that are not are worked out,
        a few milliseconds each, until all are or it is time to stop."""
        first, second = self._pairs(kinds, at, self._widest_gap + 2.0 * reach)
        for i, j in zip(first, second, strict=True):
            if stop():
                return False
            self._number(kinds[i], kinds[j])
        return True

    def cuts(self, kinds: Sequence[Kind], at: Array, reach: float) -> Cuts:
        """The half-planes for every pair that may meet when no piece moves further than
        ``reach`` along or across. ``at`` holds a row of x and y for every piece."""
        first, second = self._pairs(kinds, at, self._widest_gap + 2.0 * reach)
        shift = at[second] - at[first]
        numbers = self._pair_numbers(kinds, first, kinds, second)
        starts, ends, owner = self._sides_of(numbers)
        starts, ends = (starts - shift[owner]) / self.unit, (ends - shift[owner]) / self.unit
        pairs, normal, bound = _cut_out(starts, ends, owner, 2.0 * reach / self.unit)
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


def half_turned(kind: Kind) -> Kind:
    """A kind turned by half."""
    return kind[0], (kind[1] + 180.0) % 360.0


def _cut_out(a: Array, b: Array, owner: Indices, window: float) -> tuple[Indices, Array, Array]:
    """Half-planes around the origin, away from the sides a-b of every owner's region, as far as
    the window reaches along and across."""
    inside = _holds_origin(a, b, owner)
    # A side that is out of reach matters only to a pair that must get out first.
    keep = _in_window(a, b, window) | inside[owner]
    a, b, owner = a[keep], b[keep], owner[keep]
    found: list[tuple[Indices, Array, Array]] = []
    while len(owner) and len(found) < _MOST_CUTS:
        along = b - a
        square = np.maximum(np.einsum("ij,ij->i", along, along), 1e-18)
        part = np.clip(-np.einsum("ij,ij->i", a, along) / square, 0.0, 1.0)
        nearest = a + part[:, None] * along
        distance = np.einsum("ij,ij->i", nearest, nearest)
        group = np.flatnonzero(np.diff(owner, prepend=-1))
        sizes = np.diff(np.append(group, len(owner)))
        least = np.repeat(np.minimum.reduceat(distance, group), sizes)
        rows = np.flatnonzero(distance <= least)
        rows = rows[np.diff(owner[rows], prepend=-1) != 0]
        pairs = owner[rows]
        outward = np.stack([along[rows, 1], -along[rows, 0]], axis=1)
        outward /= np.sqrt(square[rows])[:, None]
        way = np.where(inside[pairs], 1.0, -1.0)[:, None] * nearest[rows]
        length = np.sqrt(distance[rows])
        mid_side = (part[rows] > 1e-7) & (part[rows] < 1.0 - 1e-7)
        on_side = (mid_side if not found else False) | (length < 1e-6)
        normal = np.where(on_side[:, None], outward, way / np.maximum(length, 1e-9)[:, None])
        bound = np.einsum("ij,ij->i", normal, nearest[rows])
        found.append((pairs, normal, bound))
        deep = inside[pairs] & (bound > _DEEP)
        # What still lies ahead of its pair's cut must be cut off too, unless the pair overlaps:
        # then the way out is all that counts.
        each = np.repeat(np.arange(len(rows)), sizes)
        ahead_a = np.einsum("ij,ij->i", a, normal[each]) - bound[each]
        ahead_b = np.einsum("ij,ij->i", b, normal[each]) - bound[each]
        inside[pairs] = False
        left = ((ahead_a > _AHEAD) | (ahead_b > _AHEAD)) & ~deep[each]
        a, b, owner, ahead_a, ahead_b = a[left], b[left], owner[left], ahead_a[left], ahead_b[left]
        step = np.where(ahead_a == ahead_b, 1.0, ahead_a - ahead_b)
        crossing = a + (b - a) * (ahead_a / step)[:, None]
        a = np.where((ahead_a < 0.0)[:, None], crossing, a)
        b = np.where((ahead_b < 0.0)[:, None], crossing, b)
        keep = _in_window(a, b, window)
        a, b, owner = a[keep], b[keep], owner[keep]
    if not found:
        return np.zeros(0, dtype=np.intp), np.zeros((0, 2)), np.zeros(0)
    pairs, normal, bound = (np.concatenate(part) for part in zip(*found, strict=True))
    return pairs, normal, bound


def _in_window(a: Array, b: Array, window: float) -> npt.NDArray[np.bool_]:
    return np.asarray(np.all((np.minimum(a, b) <= window) & (np.maximum(a, b) >= -window), axis=1))


def _holds_origin(a: Array, b: Array, owner: Indices) -> npt.NDArray[np.bool_]:
    """Whether each owner's ring goes round the origin, by the sides that a ray along +x meets."""
    spans = (a[:, 1] > 0.0) != (b[:, 1] > 0.0)
    a, b, owner, count = a[spans], b[spans], owner[spans], int(owner[-1]) + 1 if len(owner) else 0
    x = a[:, 0] - a[:, 1] * (b[:, 0] - a[:, 0]) / (b[:, 1] - a[:, 1])
    return np.asarray(np.bincount(owner[x > 0.0], minlength=count) % 2 == 1)
