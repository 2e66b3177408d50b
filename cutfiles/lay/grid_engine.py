"""The grid engine: our own search, for any strip whatever is in its way.

From a first lay, pieces put one by one as far to the left as they go, the strip is shortened
step by step; each time the overlaps that come of it are pulled apart on a grid and what is left
of them, less than a step, is closed exactly by compaction. Where that fails, two large pieces
change places and it is tried again (after the exploration phase of J. Gardeyn, G. Vanden Berghe
and T. Wauters, "An open-source heuristic to reboot 2D nesting research", 2025).

The search repeats by its seed and number of rounds; a watch that ends it early ends it between
two rounds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import Final

import numpy as np
import numpy.typing as npt
from shapely.geometry import Polygon

from cutfiles.lay.compaction import Places, compacted
from cutfiles.lay.depths import DEPTH_STEPS
from cutfiles.lay.free_parts import Room
from cutfiles.lay.grid import Cells, DepthTables, Grid
from cutfiles.lay.problem import Shape, StripLayout, StripProblem, Watch
from cutfiles.lay.untangle import leftmost, untangle

ENGINE = "grid"

_SLACK_SHARE: Final = 0.375
"""An overlap of so much of a step is left to compaction."""

_CLOSABLE: Final = 2.0
"""Overlaps that come to no more than so many steps together may be closed by compaction."""

_FIRST_SHORTENING: Final = 0.04
_USUAL_SHORTENING: Final = 0.004
_LAST_SHORTENING: Final = 0.001
_HALVING: Final = 0.5
"""How much shorter the strip is to be: at first; what each failure halves it down to; what it is
halved down to when the usual fails again and again."""

_STUBBORN: Final = 12
"""So many failures make a length one that fails again and again."""

_PATIENCE: Final = 40
_MOVES: Final = 2500
"""Of one try: rounds without progress, and moves."""

_KEPT: Final = 10
_SPREAD: Final = 0.25
"""Of the failures, so many are kept to go on from, the better ones more often."""

_LARGE: Final = 0.3
"""A piece of at least this part of the largest one's area is a large one."""

_CLOSING_STEPS: Final = 12

_HEATS: Final = ((0.5, 1.0), (0.7, 1.0 / 3.0))
"""Until which share of the time which share of the starts go on; the best of them has the rest."""

_MOST_STARTS: Final = 6
_START_SECONDS: Final = 1.3
_START_PIECES: Final = 30
_START_GROWTH: Final = 1.5
_START_ROUNDS: Final = 40
"""What a start needs: so many seconds for so many pieces, more for more by a power; or rounds."""


@dataclass(frozen=True, slots=True)
class _Arrangement:
    """Pieces on the grid: the kind of each by number, and its cell."""

    kind: Cells
    x: Cells
    y: Cells

    def copy(self) -> _Arrangement:
        return _Arrangement(self.kind.copy(), self.x.copy(), self.y.copy())


class GridTables:
    """What searches of one problem share: the grid, its tables, and the room for compaction."""

    def __init__(self, problem: StripProblem, room: Room) -> None:
        self.problem, self.room = problem, room
        self.grid = Grid(problem)
        self.exact = self.grid.tables()
        self.slack = int(_SLACK_SHARE * DEPTH_STEPS)
        self.slackened = self.exact.less(self.slack)
        self.shapes = [k for k, s in enumerate(problem.shapes) for _ in range(s.count)]
        options = [
            [self.grid.number[k, turn] for turn in problem.shapes[k].turns_deg] for k in self.shapes
        ]
        self.first: Cells = np.cumsum([0, *map(len, options)], dtype=np.int64)
        self.turns: Cells = np.array([kind for kinds in options for kind in kinds], dtype=np.int64)

    @cached_property
    def areas(self) -> npt.NDArray[np.float64]:
        """The area of every piece."""
        return np.array([self.problem.shapes[k].outline.area for k in self.shapes])

    @cached_property
    def leftmost(self) -> tuple[_Arrangement, float] | None:
        """The first lay and its length: large pieces first, each as far to the left as it goes.
        None if a piece fits nowhere, however long the strip."""
        problem = self.problem
        far = max((o.outline.bounds[2] for o in problem.obstacles), default=0.0)
        sizes = self.grid.boxes[:, 2:] - self.grid.boxes[:, :2]
        registers = [s.register.step_along or 0.0 for s in problem.shapes if s.register]
        piece = float(sizes.max()) + max(registers, default=0.0) + problem.gap
        length = far + 2.0 * piece + 2.0 * problem.area / problem.width
        most = far + (len(self.shapes) + 1) * piece
        while True:
            found = self._leftmost(min(length, most))
            if found is not None or length >= most:
                return found
            length *= 2.0

    def _leftmost(self, length: float) -> tuple[_Arrangement, float] | None:
        extents = self.grid.extents(length, let_pass=0.0)
        barred, starts = self.grid.barred(extents, 0)
        order = np.argsort(-self.areas, kind="stable")
        counts = np.diff(self.first)[order]
        first = np.concatenate([[0], np.cumsum(counts)])
        turns = np.concatenate(
            [self.turns[self.first[i] : self.first[i + 1]] for i in order.tolist()]
        )
        kind, x, y = (np.zeros(len(order), dtype=np.int64) for _ in range(3))
        ends = self.grid.origins[:, 0] + self.grid.boxes[:, 2]
        placed = leftmost(
            self.exact.depths, self.exact.blocks, extents, starts, barred, ends,
            float(self.grid.steps[0]), first, turns, kind, x, y,
            np.zeros(len(extents), dtype=np.int64),
        )  # fmt: skip
        if placed < len(order):
            return None
        back = np.argsort(order, kind="stable")
        end = float((ends[kind] + self.grid.steps[0] * x).max()) + self.problem.margin
        return _Arrangement(kind[back], x[back], y[back]), end

    def places(self, pieces: _Arrangement, length: float) -> Places:
        """The pieces where their cells put them."""
        cells = np.stack([pieces.x, pieces.y], axis=1)
        at = self.grid.origins[pieces.kind] + self.grid.steps * cells
        return Places(tuple(self.grid.kinds[k] for k in pieces.kind.tolist()), at, length)

    def nearest(self, places: Places) -> _Arrangement:
        """The cells nearest to the pieces' places."""
        kind = np.array([self.grid.number[k] for k in places.kinds], dtype=np.int64)
        cells = np.rint((places.at - self.grid.origins[kind]) / self.grid.steps).astype(np.int64)
        return _Arrangement(kind, cells[:, 0].copy(), cells[:, 1].copy())


def leftmost_layout(tables: GridTables) -> StripLayout | None:
    """The plain lay that a search starts from; None if a piece fits nowhere."""
    found = tables.leftmost
    return None if found is None else tables.places(*found).layout("leftmost")


class _Strip:
    """The grid of a strip of one length."""

    def __init__(self, tables: GridTables, length: float) -> None:
        self.length = length
        self._tables = tables
        self._extents = tables.grid.extents(length)
        self._barred, self._starts = tables.grid.barred(self._extents, tables.slack)
        self._work = np.empty(max(1, int(self._extents.prod(axis=1).max())), dtype=np.float32)
        self._lows = np.empty(max(1, int(self._extents[:, 0].max())), dtype=np.float32)

    def untangled(
        self, pieces: _Arrangement, state: npt.NDArray[np.uint64]
    ) -> tuple[_Arrangement, float]:
        """The pieces pulled apart as far as they go, and the overlap left, in steps."""
        tables = self._tables
        slackened: DepthTables = tables.slackened
        pieces = self._fitted(pieces)
        count = len(pieces.kind)
        left, _ = untangle(
            slackened.depths, slackened.blocks, self._extents, self._starts, self._barred,
            tables.first, tables.turns, pieces.kind, pieces.x, pieces.y, state, _PATIENCE, _MOVES,
            self._barred.copy(), self._work, self._lows, np.ones((count, count), dtype=np.float32),
            np.zeros((count, count), dtype=np.int64), np.zeros((5, count), dtype=np.int64),
        )  # fmt: skip
        return pieces, left / DEPTH_STEPS

    def _fitted(self, pieces: _Arrangement) -> _Arrangement:
        """A copy with every piece inside the strip, turned so that it fits."""
        kind = pieces.kind.copy()
        for i in np.flatnonzero(self._extents[kind, 0] == 0).tolist():
            options = self._tables.turns[self._tables.first[i] : self._tables.first[i + 1]]
            kind[i] = next((k for k in options if self._extents[k, 0]), kind[i])
        most = np.maximum(self._extents[kind] - 1, 0)
        return _Arrangement(
            kind, np.clip(pieces.x, 0, most[:, 0]), np.clip(pieces.y, 0, most[:, 1])
        )

    def fits_all(self) -> bool:
        """Whether every piece has a turn in which it fits this length."""
        fits = self._extents[self._tables.turns, 0] > 0
        return bool(np.logical_or.reduceat(fits, self._tables.first[:-1]).all())


def nest_on_grid(
    tables: GridTables,
    *,
    seed: int,
    watch: Watch,
    rounds: float = math.inf,
    start: StripLayout | None = None,
) -> StripLayout | None:
    """The shortest lay found in so many rounds or until the watch ends the search; None if there
    was none that compaction could close.

    ``start`` is a lay to make shorter; without it the search starts from the leftmost lay, several
    times. ``watch.improved`` hears of every better lay. The layout is for the caller to judge.
    """
    budget, record = _Budget(watch, rounds), _Record(watch)
    if start is not None:
        budget.run(_Search(tables, seed, record, start), 1.0)
        return record.best
    seeds = np.random.SeedSequence(seed).generate_state(budget.starts(len(tables.shapes)))
    searches = [_Search(tables, int(one), record) for one in seeds]
    used = 0.0
    for until, kept in _HEATS:
        running = searches[: max(1, round(kept * len(searches)))]
        if len(running) > 1:
            for number, search in enumerate(running, 1):
                budget.run(search, used + (until - used) * number / len(running))
            searches.sort(key=lambda search: search.length)
            used = until
    budget.run(searches[0], 1.0)
    return record.best


@cache
def compile_engine() -> None:
    """Compile what a search runs, or load it compiled, so that this takes none of its time: the
    first time on a machine it takes longer than many a search."""
    triangle = Shape("triangle", Polygon([(0.0, 0.0), (3.0, 0.0), (0.0, 3.0)]), (0.0, 180.0), 6)
    problem = StripProblem(10.0, 0.0, 0.0, (triangle,))
    nest_on_grid(GridTables(problem, Room(problem)), seed=1, watch=Watch(60.0), rounds=3)


class _Record:
    """The best lay of all starts."""

    def __init__(self, watch: Watch) -> None:
        self.watch = watch
        self.best: StripLayout | None = None

    def offer(self, layout: StripLayout) -> None:
        """Take a lay if it is the shortest, and say so."""
        if self.best is None or layout.length < self.best.length:
            self.best = layout
            self.watch.improved(layout, self.watch.seconds_left)

    def is_over(self) -> bool:
        """Whether the watch ends the search, or what is there is short enough."""
        return self.watch.is_over() or self.is_enough()

    def is_enough(self) -> bool:
        return self.best is not None and self.watch.is_enough(self.best)


class _Budget:
    """What a search may use up, in time or in rounds, whichever ends first."""

    def __init__(self, watch: Watch, rounds: float) -> None:
        self._watch, self._rounds, self._done = watch, rounds, 0
        self._seconds = watch.seconds_left

    def starts(self, pieces: int) -> int:
        """From how many starts to search: a start needs its time to come to something."""
        seconds = _START_SECONDS * (pieces / _START_PIECES) ** _START_GROWTH
        by_time, by_rounds = self._seconds / seconds, self._rounds / _START_ROUNDS
        return int(max(1.0, min(by_time, by_rounds, _MOST_STARTS)))

    def run(self, search: _Search, share: float) -> None:
        """Let a search go on until that share of the budget is used up."""
        while not search.is_over() and self._used() < share:
            search.try_once()
            self._done += 1

    def _used(self) -> float:
        by_time = 1.0 - self._watch.seconds_left / self._seconds if self._seconds else 1.0
        return max(by_time, self._done / self._rounds)


class _Search:
    def __init__(
        self, tables: GridTables, seed: int, record: _Record, given: StripLayout | None = None
    ) -> None:
        self._tables, self._record, self._watch = tables, record, record.watch
        self.best: StripLayout | None = None
        self._chance = np.random.default_rng(seed)
        self._state = self._chance.integers(1, 2**63, size=1, dtype=np.uint64)
        self._shortening = _FIRST_SHORTENING
        self._failures: list[tuple[float, _Arrangement]] = []
        self._failed = 0
        if given is None:
            start = tables.leftmost
        else:
            spots = tuple(sorted(given.spots, key=lambda spot: spot.shape))
            start = tables.nearest(Places.of(replace(given, spots=spots))), given.length
            self._shortening = _USUAL_SHORTENING
        self._is_hopeless = start is None
        if start is not None:
            self._pieces, self._length = start
            self._aim(self._length)

    @property
    def length(self) -> float:
        """Of the best lay so far; infinite before there is one."""
        return math.inf if self.best is None else self.best.length

    def is_over(self) -> bool:
        """Whether there is nothing to go on from, or the watch ends the search."""
        return self._is_hopeless or self._record.is_over()

    def _aim(self, length: float) -> None:
        """Aim at a length, or at the one that is enough if that is longer."""
        enough = self._watch.enough_length
        target = length * (1.0 - self._shortening)
        if enough is not None and (self.best is None or target > enough):
            target = enough
        self._strip = _Strip(self._tables, target)
        if not self._strip.fits_all():
            self._is_hopeless = self._shortening <= _LAST_SHORTENING
            self._shorten_less()
            if not self._is_hopeless:
                self._aim(length)

    def _shorten_less(self) -> None:
        self._shortening = max(_LAST_SHORTENING, _HALVING * self._shortening)

    def _ask_for_less(self) -> None:
        """After a failure: shorten by less, if it is time for that."""
        self._failed += 1
        if self._shortening > _USUAL_SHORTENING or self._failed % _STUBBORN == 0:
            least = _USUAL_SHORTENING if self._shortening > _USUAL_SHORTENING else _LAST_SHORTENING
            if self._shortening > least:
                self._shortening = max(least, _HALVING * self._shortening)
                self._aim(self._length)

    def try_once(self) -> None:
        """One round: pull apart, close, and go on from there."""
        pieces, left = self._strip.untangled(self._pieces, self._state)
        closed = self._closed(pieces) if left <= _CLOSABLE else None
        if closed is not None and (self.best is None or closed.length < self.best.length):
            self.best = closed.layout(ENGINE)
            self._record.offer(self.best)
            self._pieces, self._length = self._tables.nearest(closed), closed.length
            self._failures.clear()
            self._failed = 0
            if not self._record.is_enough():
                self._aim(self._length)
            return
        self._failures.append((left, pieces))
        self._failures.sort(key=lambda failure: failure[0])
        del self._failures[_KEPT:]
        if self._watch.enough_length is None:
            self._ask_for_less()
        rank = abs(self._chance.normal(0.0, _SPREAD * len(self._failures)))
        chosen = self._failures[min(int(rank), len(self._failures) - 1)][1]
        self._pieces = self._with_two_swapped(chosen)

    def _closed(self, pieces: _Arrangement) -> Places | None:
        places = self._tables.places(pieces, self._strip.length)
        # The watch is not asked within a round: half a round would not repeat.
        return compacted(self._tables.room, places, steps=_CLOSING_STEPS, stop=self._watch.stop)

    def _with_two_swapped(self, pieces: _Arrangement) -> _Arrangement:
        """Two large pieces of different shapes in each other's cells; if all large pieces are of
        one shape, one of them turned to some other piece's cell."""
        large = np.flatnonzero(self._tables.areas >= _LARGE * self._tables.areas.max())
        swapped = pieces.copy()
        shapes = np.array(self._tables.shapes)
        one = int(self._chance.choice(large))
        others = large[shapes[large] != shapes[one]]
        if len(others) == 0:
            others = np.flatnonzero(np.arange(len(shapes)) != one)
        if len(others) == 0:
            return swapped
        other = int(self._chance.choice(others))
        for cells in (swapped.x, swapped.y):
            cells[[one, other]] = cells[[other, one]]
        return swapped
