"""Sketched lays: shapes as cells of a coarse grid, each as far back as it goes, in many orders.

A search begins with the best of a few orders: two shapes change places in it, or one moves, and the
new order is gone on from where its lay is no longer, or not much longer, the less the more was
tried (threshold accepting: G. Dueck, T. Scheuer, Journal of Computational Physics 90(1), 1990). Few
shapes also wish for a turn, or not to begin before a column, since there are few orders of them.

A sketch knows what goes side by side, between flaws, on a fold and one repeat on, which no sum over
the pieces tells. It has no slack for what a nest finds beyond it and is off by parts of cells: only
its length means anything, as a figure among others (`cutfiles.estimate.likely`).
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from cutfiles.lay.problem import StripProblem
from cutfiles.lay.stencils import Stencil, grown, sizes_for, stencils_of, taken

_MOST_TRIES: Final = 300
"""More find little more, but of few pieces twice as many."""

_FEW: Final = 12
"""So many pieces have wishes."""

_FEWEST_TRIES: Final = 50
"""What fewer find is too far from what a nest finds to tell anything."""

_OF_THE_LAST: Final = 0.3
"""So often the shape that is moved is one of those that the lay ends with."""

_WISHED: Final = 0.3
"""So often one of few shapes gets another wish in place of a move."""

_LONGER: Final = 2.0
"""By so many columns a lay may be longer at first."""

_TAKEN_LONGER: Final = 0.3
"""So often a longer one is gone on from."""


class _Wish(NamedTuple):
    """A shape to be laid: in any turn, or as one stencil alone, and not before a column."""

    shape: int
    stencil: int | None = None
    column: int = 0


class _Laid(NamedTuple):
    """A stencil at a place; ``end`` is the column it ends before."""

    stencil: int
    place: int
    end: int


class _Step(NamedTuple):
    """A shape laid, and what the next one finds: the places blocked for each stencil by as many of
    the laid ones as it has ``seen``."""

    laid: tuple[_Laid, ...]
    blocked: tuple[int, ...]
    seen: tuple[int, ...]
    worth: tuple[int, int]


@dataclass(frozen=True, slots=True)
class _Sketch:
    """Shapes in an order, and how they came to lie, step by step from the empty strip. Its worth is
    the column that it ends before, and how far along all cells lie."""

    order: tuple[_Wish, ...]
    steps: tuple[_Step, ...]

    @property
    def laid(self) -> tuple[_Laid, ...]:
        """Where the shapes lie, in their order."""
        return self.steps[-1].laid

    @property
    def worth(self) -> tuple[int, int]:
        """Less is better."""
        return self.steps[-1].worth


def work_of(problem: StripProblem, most_mm: float, tries: int) -> float:
    """What so many tries on ``most_mm`` of cloth cost, of some 0.4 microseconds on a small machine
    of 2026, roughly. It depends on the problem alone, so that what is sketched is the same on every
    machine."""
    stencils = sum(len(shape.turns_deg) for shape in problem.shapes)
    pieces = sum(shape.count for shape in problem.shapes)
    # most sketches end well before the cloth does
    cells = 0.6 * most_mm * problem.width / sizes_for(pieces).middle_mm2
    fixed = 100.0 * stencils**2 + cells * stencils / 10.0
    return fixed + tries * pieces * stencils * (1.0 + cells / 15_000.0)


def tries_within(problem: StripProblem, most_mm: float, work: float) -> int:
    """How many tries cost no more than that; none where they would be too few."""
    fixed = work_of(problem, most_mm, 0)
    tries = int((work - fixed) / (work_of(problem, most_mm, 1) - fixed))
    is_few = sum(shape.count for shape in problem.shapes) <= _FEW
    return min(tries, _MOST_TRIES * (1 + is_few)) if tries >= _FEWEST_TRIES else 0


def sketched_mm(problem: StripProblem, most_mm: float, tries: int) -> float | None:
    """The length of the shortest sketch of so many tries; None where no first order gives every
    shape a place on ``most_mm`` of cloth. The same problem, the same length.

    Raises
    ------
    NoPlaceError
        If a shape is wider than the strip in every allowed turn.
    """
    grid, stencils = stencils_of(problem, most_mm)
    desk = _Desk(stencils, grid.stride)
    orders = _first_orders(problem, stencils)
    sketches = [sketch for order in orders if (sketch := desk.sketch(order)) is not None]
    if not sketches:
        return None
    best = now = min(sketches, key=lambda sketch: sketch.worth)
    dice = random.Random(0)
    tries = tries - len(orders) if len(now.order) > 1 else 0
    for number in range(tries):
        order = desk.changed(now, dice)
        slack = _LONGER * (1.0 - (number + 1) / tries)
        sketch = desk.sketch(order, now, int(slack)) if order != now.order else None
        if sketch is None:
            continue
        end = sketch.worth[0]
        if end <= now.worth[0] or (end <= best.worth[0] + slack and dice.random() < _TAKEN_LONGER):
            now = sketch
        best = min(best, sketch, key=lambda one: one.worth)
    return best.worth[0] * grid.along_mm + 2.0 * grid.origin_mm


def _first_orders(
    problem: StripProblem, stencils: Sequence[Stencil]
) -> tuple[tuple[_Wish, ...], ...]:
    """Long, large and wide shapes first; orders that are alike once."""
    by_shape = {stencil.shape: stencil for stencil in reversed(stencils)}
    ways: tuple[Callable[[Stencil], tuple[int, ...]], ...] = (
        lambda one: (-one.along, -one.across),
        lambda one: (-one.cells,),
        lambda one: (-one.across, -one.along),
    )
    orders = (sorted(by_shape.values(), key=lambda one: (*way(one), one.shape)) for way in ways)
    counts = [shape.count for shape in problem.shapes]
    found = (
        tuple(_Wish(s.shape) for s in order for _ in range(counts[s.shape])) for order in orders
    )
    return tuple(dict.fromkeys(found))


class _Desk:
    """What sketches of one problem share: the stencils, and what each takes from each other."""

    def __init__(self, stencils: Sequence[Stencil], stride: int) -> None:
        self._stencils, self._stride = stencils, stride
        self._of_shape: dict[int, list[int]] = {}
        for number, stencil in enumerate(stencils):
            self._of_shape.setdefault(stencil.shape, []).append(number)
        tallest = max(stencil.across for stencil in stencils)
        cells = [grown(stencil.runs, stride, tallest) for stencil in stencils]
        self._taken = [[taken(one, other.runs, stride) for one in cells] for other in stencils]
        none = (0,) * len(stencils)
        self._empty = _Step((), none, none, (0, 0))

    def changed(self, sketch: _Sketch, dice: random.Random) -> tuple[_Wish, ...]:
        """An order with two shapes in each other's place, or one in another place, or, of few,
        with another wish."""
        order, (end, _) = list(sketch.order), sketch.worth
        one, other = dice.randrange(len(order)), dice.randrange(len(order))
        if dice.random() < _OF_THE_LAST:
            one = dice.choice([n for n, laid in enumerate(sketch.laid) if laid.end == end])
        if len(order) <= _FEW and dice.random() < _WISHED:
            shape = order[one].shape
            ways = (
                _Wish(shape),
                _Wish(shape, dice.choice(self._of_shape[shape])),
                _Wish(shape, column=dice.randrange(end)),
            )
            order[one] = dice.choice(ways)
        elif dice.random() < 0.5:
            order[one], order[other] = order[other], order[one]
        else:
            order.insert(other, order.pop(one))
        return tuple(order)

    def sketch(
        self, order: tuple[_Wish, ...], like: _Sketch | None = None, longer: int = 0
    ) -> _Sketch | None:
        """Shapes laid one after the other, each in the turn and place that ends first; None where
        one has no place, or ends so much beyond the end of a sketch ``like`` it. What begins like
        that one is taken over from it."""
        steps, done = [self._empty], 0
        if like is not None:
            while done < len(order) and order[done] == like.order[done]:
                done += 1
            steps = list(like.steps[: done + 1])
        for wish in order[done:]:
            step = self._laid_on(steps[-1], wish)
            if step is None or (like is not None and step.worth[0] > like.worth[0] + longer):
                return None
            steps.append(step)
        return _Sketch(order, tuple(steps))

    def _laid_on(self, step: _Step, wish: _Wish) -> _Step | None:
        laid = step.laid
        blocked, seen = list(step.blocked), list(step.seen)
        best: _Laid | None = None
        before = wish.column * self._stride
        for number in self._of_shape[wish.shape] if wish.stencil is None else (wish.stencil,):
            places, by = blocked[number], self._taken[number]
            for other, at, _ in laid[seen[number] :]:
                bits, first = by[other]
                shift = first + at
                places |= bits << shift if shift >= 0 else bits >> -shift
            blocked[number], seen[number] = places, len(laid)
            free = (self._stencils[number].allowed & ~places) >> before
            if not free:
                continue
            place = (free & -free).bit_length() - 1 + before
            ends = place // self._stride + self._stencils[number].along
            if best is None or (ends, place) < (best.end, best.place):
                best = _Laid(number, place, ends)
        if best is None:
            return None
        end, worth = step.worth
        worth += best.end * self._stencils[best.stencil].cells
        return _Step((*laid, best), tuple(blocked), tuple(seen), (max(end, best.end), worth))
