"""The hunt for sections: an order nested in parts, each part searched for in many short turns."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from shapely.geometry import Polygon, box

from cutfiles.lay.bundles import Bundling, StackedProblem, bundled
from cutfiles.lay.compaction import Places, compacted
from cutfiles.lay.free_parts import Room
from cutfiles.lay.grid_engine import GridTables, nest_on_grid
from cutfiles.lay.problem import StripLayout, StripProblem, Watch
from cutfiles.lay.race import Race, run_all, searches_at_once
from cutfiles.lay.sections import joined, sections, side_by_side
from cutfiles.lay.shelf import Shelf
from cutfiles.lay.strip_engine import nest_on_strip

ENGINE = "sections"

_WALLED: Final = Bundling(height=2, walls=2, pairs=True)
_PAIRED: Final = Bundling(height=2, pairs=True)
_STACKED: Final = Bundling(height=2)

_ALONE: Final = (_STACKED, Bundling(), _WALLED, _PAIRED, _STACKED, Bundling(height=4))
"""The bundles of each turn of the strip engine where an order is one section."""

_WITH_WALLS: Final = (_WALLED, _WALLED, _WALLED, _PAIRED, _WALLED, _WALLED)
_WITHOUT_WALLS: Final = (_PAIRED, _STACKED, Bundling(), _PAIRED, _STACKED, Bundling(height=3))
"""The bundles of each turn of the strip engine for a section."""

_ON_GRID: Final = (Bundling(height=4), Bundling(height=2), Bundling(height=4), Bundling())
"""The bundles of each turn of the grid engine."""

_JOINING_SHARE: Final = 0.17
"""Of the time, for putting sections together."""

_JOINING_SECONDS: Final = 0.35
"""The least time for that, and of less than a second the least part."""

_COMPACTING_SHARE: Final = 0.08
"""Of the time, for compacting a single section."""

_TURN_SECONDS: Final = 2.6
"""What a search of a small section needs to get most of the way."""

_TURN_PIECES: Final = 26
"""How many pieces that is true of; more need longer."""

_TURN_GROWTH: Final = 2.5
"""The power of the number of pieces with which the time goes up."""

_COARSE: Final = 1e-3
"""How far off the outlines are that the strip engine places, of the strip's width. Few points
make it quick, and compaction takes the slack out again."""

_BEST_OF_A_SECTION: Final = 4

_STEP_FORWARD: Final = 0.003
"""A layout on the way is worth looking at if it is shorter by this part."""


class Hunt:
    """Searches for the layouts of a problem's sections, and what they have found."""

    def __init__(self, race: Race, seed: int) -> None:
        self._race, self._seed = race, seed
        self.room = Room(race.problem)
        self.parts = sections(race.problem)
        self._kinds = list(dict.fromkeys(self.parts))
        self.is_alone = len(self.parts) == 1
        self._bundles = [_section_bundles(kind.problem, self.is_alone) for kind in self._kinds]
        self._found: list[dict[int, Places]] = [{} for _ in self._kinds]
        self._shelf = Shelf(self.room)

    def search(self, number: int, seconds: float) -> None:
        """The turns of one search: sections of each kind and in each way of bundling. None where
        getting ready has used the time up, and ``seconds`` are less than 0."""
        if seconds <= 0.0:
            return
        end = self._race.watch.seconds_left - seconds
        turns = self._turns(seconds)
        for turn in range(turns):
            left = self._race.watch.seconds_left - end
            if left <= 0.0 or self._race.is_stopped():
                return
            self._search_once(turn * searches_at_once() + number, left / (turns - turn))

    def _turns(self, seconds: float) -> int:
        """Longer searches for more time, but more of them too."""
        pieces = max(sum(shape.count for shape in kind.problem.shapes) for kind in self._kinds)
        each = _TURN_SECONDS * math.pow(max(1.0, pieces / _TURN_PIECES), _TURN_GROWTH)
        each *= max(1.0, math.sqrt(seconds / (3.0 * each)))
        return max(1, round(seconds / each), -(-len(self._kinds) // searches_at_once()))

    def _search_once(self, index: int, seconds: float) -> None:
        turn, which = divmod(index, len(self._kinds))
        section, found, seed = self._kinds[which], self._found[which], self._seed + index
        on_strip = False
        if section.problem.is_clear:
            on_strip, turn = turn % 2 == 1, turn // 2
        ways = self._bundles[which]
        tables: GridTables | None = None
        if on_strip:
            bundles = ways[turn % len(ways)]
        else:
            bundles = bundled(section.problem, _ON_GRID[turn % len(_ON_GRID)])
            tables = self._shelf.of(bundles.stacked)

        def improved(layout: StripLayout, _left: float) -> None:
            found[index] = section.places(bundles.unstacked(layout))
            self._enter_plain()

        watch = Watch(seconds, stop=self._race.is_stopped, improved=improved)
        if tables is None:
            nest_on_strip(bundles.stacked, seed=seed, workers=1, watch=watch, explore_only=True)
        else:
            nest_on_grid(tables, seed=seed, watch=watch)

    def _enter_plain(self) -> None:
        """Enter the best sections side by side, where that is a step forward."""
        least = [min(list(found.values()), key=_length, default=None) for found in self._found]
        parts = [least[self._kinds.index(part)] for part in self.parts]
        there = [places for places in parts if places is not None]
        if len(there) == len(parts):
            places = side_by_side(self.room, there)
            best = self._race.best
            shorter = math.inf if best is None else best.length * (1.0 - _STEP_FORWARD)
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
        return [chosen[self._kinds.index(part)] for part in self.parts]


def nest_sections(race: Race, seed: int) -> None:
    """Nest an order in sections and enter what they make together."""
    hunt = Hunt(race, seed)
    seconds = race.watch.seconds_left
    share = _COMPACTING_SHARE if hunt.is_alone else _JOINING_SHARE
    joining = max(share * seconds, min(_JOINING_SECONDS, _JOINING_SECONDS * seconds))
    run_all(
        lambda number: hunt.search(number, race.watch.seconds_left - joining),
        lambda: hunt.room.warm(race.is_over),
    )
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
