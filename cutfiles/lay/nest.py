"""Nesting a strip: several searches at once, the best allowed layout of them all."""

from __future__ import annotations

import math
import os
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Final

from shapely.geometry import Polygon, box

from cutfiles.lay.bundles import Bundling, StackedProblem, bundled
from cutfiles.lay.compaction import Places, compacted
from cutfiles.lay.feasible import layout_faults
from cutfiles.lay.free_parts import Room
from cutfiles.lay.problem import StripLayout, StripProblem, Watch
from cutfiles.lay.rows import nest_in_rows
from cutfiles.lay.sections import joined, sections, side_by_side
from cutfiles.lay.strip_engine import nest_on_strip
from cutfiles.tolerances import LAY_MM

ENGINE = "sections"

_MOST_SEARCHES: Final = 4

_REPEATS: Final = 20.0
"""Of an order, not a collection of odd shapes, there are this many pieces to a shape."""

_LARGE_ORDER: Final = 80
"""From this many pieces on, an order is nested in sections; below, the whole is nested better."""

_MOST_KINDS_WARMED: Final = 8
"""Up to this many shapes, what compaction needs is worked out while the searches run."""

_WHOLE: Final = (Bundling(), Bundling(height=4), Bundling(), Bundling(height=2))
"""The bundles of each search in turn where a problem is nested as a whole. Two searches of one
thread each, on two cores, find shorter lays than one search of two threads
(docs/reference/benchmarks.md)."""

_WALLED: Final = Bundling(height=2, walls=2, pairs=True)
_PAIRED: Final = Bundling(height=2, pairs=True)
_STACKED: Final = Bundling(height=2)

_ALONE: Final = (_STACKED, Bundling(), _WALLED, _PAIRED, _STACKED, Bundling(height=4))
"""The bundles of each search in turn where an order is one section."""

_WITH_WALLS: Final = (_WALLED, _WALLED, _WALLED, _PAIRED, _WALLED, _WALLED)
_WITHOUT_WALLS: Final = (_PAIRED, _STACKED, Bundling(), _PAIRED, _STACKED, Bundling(height=3))
"""The bundles of each search of a section in turn."""

_JOINING_SHARE: Final = 0.17
"""Of the time, for putting sections together."""

_JOINING_SECONDS: Final = 0.35
"""The least time for that, and of less than a second the least part."""

_COMPACTING_SHARE: Final = 0.08
_COMPACTING_SECONDS: Final = 1.2
"""Of the time, for compacting what was nested as a whole; and the most that it takes."""

_TURN_SECONDS: Final = 2.6
"""What a search of a small section needs to get most of the way."""

_TURN_PIECES: Final = 26
"""How many pieces that is true of; more need longer."""

_TURN_GROWTH: Final = 2.5
"""The power of the number of pieces with which the time goes up."""

_COARSE: Final = 1e-3
"""How far off the outlines are that a section's search places, of the strip's width. Few points
make it quick, and compaction takes the slack out again."""

_BEST_OF_A_SECTION: Final = 4

_STEP_FORWARD: Final = 0.003
"""A layout on the way is worth looking at if it is shorter by this part."""


def nest_strip(
    problem: StripProblem, *, seed: int, watch: Watch, tolerance: float = LAY_MM
) -> StripLayout:
    """The shortest allowed layout found within the watch's time.

    The rows are there at once and are the floor; the strip engine, once for every core, takes
    the time that is left: an order is nested in sections, anything else as a whole. What it
    finds is compacted. A layout that fails the judge is dropped, however short.

    Parameters
    ----------
    seed
        Of the first search; the others count on from it.
    tolerance
        How far a layout may fall short of its gap and margin, in the problem's unit.

    Raises
    ------
    ValueError
        If a shape is wider than the strip in every allowed turn.
    """
    race = _Race(problem, tolerance, watch, nest_in_rows(problem))
    if race.is_over() or race.best.efficiency(problem) > 1.0 - 1e-9:
        return race.best
    pieces = sum(shape.count for shape in problem.shapes)
    if pieces >= max(_LARGE_ORDER, _REPEATS * len(problem.shapes)):
        _nest_sections(race, seed)
    else:
        _nest_whole(race, seed)
    return race.best


@dataclass(slots=True)
class _Race:
    """The best layout of searches that run side by side."""

    problem: StripProblem
    tolerance: float
    watch: Watch
    best: StripLayout
    lock: threading.Lock = field(default_factory=threading.Lock)

    def enter(self, layout: StripLayout) -> None:
        """Take a layout if it is shorter than the best and nothing is wrong with it."""
        with self.lock:
            if layout.length >= self.best.length or layout_faults(
                self.problem, layout, tolerance=self.tolerance
            ):
                return
            self.best = layout
            self.watch.improved(layout, self.watch.seconds_left)

    def is_over(self) -> bool:
        return self.watch.is_over() or self.watch.is_enough(self.best)

    def is_stopped(self) -> bool:
        """Whether a search must end before its own time is up."""
        return self.watch.stop() or self.watch.is_enough(self.best)


def _run_all(search: Callable[[int], None], meanwhile: Callable[[], None] | None = None) -> None:
    """Run a search for every core, by its number, and wait for all of them."""
    searches = _searches()
    with ThreadPoolExecutor(searches) as pool:
        runs = [pool.submit(search, number) for number in range(searches)]
        if meanwhile is not None:
            meanwhile()
    for run in runs:
        run.result()


def _searches() -> int:
    return min(os.cpu_count() or 1, _MOST_SEARCHES)


def _nest_whole(race: _Race, seed: int) -> None:
    """Nest everything at once, in every search, and compact the best of each."""
    end = min(race.watch.seconds_left * _COMPACTING_SHARE, _COMPACTING_SECONDS)
    found: dict[int, StripLayout] = {}

    def search(number: int) -> None:
        stacks = bundled(race.problem, _WHOLE[number % len(_WHOLE)])

        def improved(layout: StripLayout, _left: float) -> None:
            found[number] = stacks.unstacked(layout)
            race.enter(found[number])

        watch = Watch(race.watch.seconds_left - end, stop=race.is_stopped, improved=improved)
        nest_on_strip(stacks.stacked, seed=seed + number, workers=1, watch=watch)

    room = Room(race.problem)
    _run_all(search, room.warm if len(race.problem.shapes) <= _MOST_KINDS_WARMED else None)
    for layout in sorted(found.values(), key=lambda layout: layout.length):
        if race.is_over():
            return
        closed = compacted(room, Places.of(layout), stop=race.is_over)
        if closed is not None:
            race.enter(closed.layout(layout.engine))


class _SectionHunt:
    """Searches for the layouts of a problem's sections, and what they have found."""

    def __init__(self, race: _Race, seed: int) -> None:
        self._race, self._seed = race, seed
        self.room = Room(race.problem)
        self._parts = sections(race.problem)
        self._kinds = list(dict.fromkeys(self._parts))
        self.is_alone = len(self._parts) == 1
        self._bundles = [_section_bundles(kind.problem, self.is_alone) for kind in self._kinds]
        self._found: list[dict[int, Places]] = [{} for _ in self._kinds]

    def search(self, number: int, seconds: float) -> None:
        """The turns of one search: sections of each kind and in each way of bundling."""
        end = self._race.watch.seconds_left - seconds
        turns = self._turns(seconds)
        for turn in range(turns):
            left = self._race.watch.seconds_left - end
            if left <= 0.0 or self._race.is_stopped():
                return
            self._search_once(turn * _searches() + number, left / (turns - turn))

    def _turns(self, seconds: float) -> int:
        """Longer searches for more time, but more of them too."""
        pieces = max(sum(shape.count for shape in kind.problem.shapes) for kind in self._kinds)
        each = _TURN_SECONDS * math.pow(max(1.0, pieces / _TURN_PIECES), _TURN_GROWTH)
        each *= max(1.0, math.sqrt(seconds / (3.0 * each)))
        return max(1, round(seconds / each), -(-len(self._kinds) // _searches()))

    def _search_once(self, index: int, seconds: float) -> None:
        which = index % len(self._kinds)
        section = self._kinds[which]
        ways = self._bundles[which]
        bundles = ways[index // len(self._kinds) % len(ways)]
        found = self._found[which]

        def improved(layout: StripLayout, _left: float) -> None:
            found[index] = section.places(bundles.unstacked(layout))
            self._enter_plain()

        watch = Watch(seconds, stop=self._race.is_stopped, improved=improved)
        nest_on_strip(
            bundles.stacked, seed=self._seed + index, workers=1, watch=watch, explore_only=True
        )

    def _enter_plain(self) -> None:
        """Enter the best sections side by side, where that is a step forward."""
        best = [min(list(found.values()), key=_length, default=None) for found in self._found]
        parts = [best[self._kinds.index(part)] for part in self._parts]
        there = [places for places in parts if places is not None]
        if len(there) == len(parts):
            places = side_by_side(self.room, there)
            shorter = self._race.best.length * (1.0 - _STEP_FORWARD)
            if places.length < shorter or self._race.watch.is_enough(places.layout(ENGINE)):
                self._race.enter(places.layout(ENGINE))

    def pools(self) -> list[list[Places]]:
        """For every section of the whole, the best layouts found, compacted."""
        chosen = []
        for found in self._found:
            pool: list[Places] = []
            for places in sorted(found.values(), key=_length):
                if self._race.is_over():
                    break
                closed = compacted(self.room, places, stop=self._race.is_over)
                pool.append(closed or places)
            chosen.append(sorted(pool, key=_length)[:_BEST_OF_A_SECTION])
        return [chosen[self._kinds.index(part)] for part in self._parts]


def _nest_sections(race: _Race, seed: int) -> None:
    hunt = _SectionHunt(race, seed)
    seconds = race.watch.seconds_left
    share = _COMPACTING_SHARE if hunt.is_alone else _JOINING_SHARE
    joining = max(share * seconds, min(_JOINING_SECONDS, _JOINING_SECONDS * seconds))
    _run_all(lambda number: hunt.search(number, race.watch.seconds_left - joining), hunt.room.warm)
    if race.is_over():
        return
    for places in joined(hunt.room, hunt.pools(), stop=race.is_over):
        race.enter(places.layout(ENGINE))
        if race.is_over():
            return


def _length(places: Places) -> float:
    return places.length


def _section_bundles(problem: StripProblem, alone: bool) -> tuple[StackedProblem, ...]:
    """A section in every way of bundling that makes a difference, each as often as planned."""
    walled = bundled(problem, _WALLED).stacked.shapes != bundled(problem, _PAIRED).stacked.shapes
    ways = _ALONE if alone else _WITH_WALLS if walled else _WITHOUT_WALLS
    return tuple(_coarse(bundled(problem, way)) for way in ways)


def _coarse(bundles: StackedProblem) -> StackedProblem:
    problem = bundles.stacked
    shapes = tuple(
        replace(shape, guard=_coarse_guard(shape.outline, _COARSE * problem.width))
        for shape in problem.shapes
    )
    return replace(bundles, stacked=replace(problem, shapes=shapes))


def _coarse_guard(outline: Polygon, slack: float) -> Polygon:
    """A guard that is no longer and no wider than the outline: what fits the strip still does."""
    around = outline.simplify(slack).buffer(slack, join_style="mitre")
    if not isinstance(around, Polygon):
        return outline
    guard = Polygon(around.exterior).intersection(box(*outline.bounds))
    return guard if isinstance(guard, Polygon) and guard.covers(outline) else outline
