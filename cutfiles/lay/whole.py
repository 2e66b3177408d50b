"""Nesting everything at once: several ways of searching side by side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from cutfiles.lay.bundles import Bundling, StackedProblem, bundled
from cutfiles.lay.compaction import Places, compacted
from cutfiles.lay.free_parts import Room
from cutfiles.lay.grid_engine import GridTables, leftmost_layout, nest_on_grid
from cutfiles.lay.problem import StripLayout, StripProblem, Watch
from cutfiles.lay.race import Race, run_all, searches_at_once
from cutfiles.lay.shelf import Shelf
from cutfiles.lay.skyline import ENGINE as PLAIN
from cutfiles.lay.strip_engine import nest_on_strip

_MOST_KINDS_WARMED: Final = 8
"""Up to this many shapes, what compaction needs is worked out while the searches run."""

_COMPACTING_SHARE: Final = 0.08
_COMPACTING_SECONDS: Final = 1.2
"""Of the time, for compacting what the strip engine found; and the most that it takes."""

_ROUND_SECONDS: Final = 0.05
"""Of a short time, for the round that the grid engine has begun when its time is up."""

_POLISHING_SHARE: Final = 0.4
_SECONDS_TO_POLISH: Final = 4.0
"""Of the time, for going on from the best lay; with less time than that there is none for it."""


@dataclass(frozen=True, slots=True)
class _Way:
    """An engine, and the bundles that it places."""

    engine: Literal["grid", "strip"]
    bundling: Bundling
    threads: int = 1


_CLEAR: Final = (
    _Way("grid", Bundling(height=4)),
    _Way("strip", Bundling()),
    _Way("grid", Bundling(height=2)),
    _Way("strip", Bundling(height=4)),
)
"""How each search in turn goes about a clear strip. The two engines find different lays, and one
core for each gives shorter ones than both for either (docs/reference/benchmarks.md)."""

_IN_HASTE: Final = (
    _Way("grid", Bundling(height=4)),
    _Way("grid", Bundling(height=2)),
    _Way("grid", Bundling()),
    _Way("grid", Bundling(height=4)),
)
"""The same in less time than going on from the best lay takes: the strip engine, which is a program
of its own, begins late."""

_TOO_MANY_KINDS: Final = (_Way("strip", Bundling()), _Way("strip", Bundling(height=4)))
"""The same where the grid's tables would take most of the time."""

_TABLE_SECONDS: Final = 0.002
"""For every two kinds of piece, so that the search on the grid has the greater part."""

_LONG_SECONDS: Final = 30.0
"""With so much time, one search of the strip engine with a thread for every core gets further than
several, and going on from it on the grid further still (docs/explanation/nesting.md)."""

_HINDERED: Final = (
    _Way("grid", Bundling()),
    _Way("grid", Bundling(height=4)),
    _Way("grid", Bundling(height=2)),
    _Way("grid", Bundling()),
)
"""The same where there are obstacles or registers: the strip engine cannot express them."""


def nest_whole(race: Race, seed: int) -> None:
    """Nest everything at once, in every search, and enter what each finds; then go on from the
    best of them."""
    seconds = race.watch.seconds_left
    polishing = _POLISHING_SHARE * seconds if seconds >= _SECONDS_TO_POLISH else 0.0
    clear = race.problem.is_clear
    is_long = clear and seconds >= _LONG_SECONDS
    ways = _ways(race.problem, seconds)
    hasty = seconds < _SECONDS_TO_POLISH
    most = _ROUND_SECONDS if hasty else _COMPACTING_SECONDS
    end = min(seconds * _COMPACTING_SHARE, most) if clear or hasty else 0.0
    end += polishing
    found: dict[int, StripLayout] = {}
    room = Room(race.problem)
    shelf = Shelf(room)

    def search(number: int) -> None:
        way = ways[number % len(ways)]
        stacks = bundled(race.problem, way.bundling)

        def improved(layout: StripLayout, _left: float) -> None:
            found[number] = stacks.unstacked(layout)
            race.enter(found[number])

        watch = Watch(
            race.watch.seconds_left - end,
            stop=race.is_stopped,
            improved=improved,
            enough_length=race.watch.enough_length,
        )
        if way.engine == "strip":
            nest_on_strip(stacks.stacked, seed=seed + number, workers=way.threads, watch=watch)
        else:
            _search_grid(race, stacks, shelf.of(stacks.stacked), seed + number, watch)

    warms = clear and not hasty and len(room.problem.shapes) <= _MOST_KINDS_WARMED

    def meanwhile() -> None:
        if warms:
            room.warm(race.is_over)

    run_all(search, meanwhile, searches=1 if is_long else None)
    for layout in sorted(found.values(), key=lambda layout: layout.length):
        if race.is_over():
            return
        closed = compacted(room, Places.of(layout), stop=race.is_over)
        if closed is not None:
            race.enter(closed.layout(layout.engine))
    if polishing and not race.is_over():
        polish(race, shelf.of(race.problem), seed)


def _ways(problem: StripProblem, seconds: float) -> tuple[_Way, ...]:
    """How each search in turn goes about a problem."""
    if not problem.is_clear:
        return _HINDERED
    if seconds >= _LONG_SECONDS:
        return (_Way("strip", Bundling(), searches_at_once()),)
    kinds = sum(len(shape.turns_deg) for shape in problem.shapes)
    if seconds < _TABLE_SECONDS * kinds * (kinds + 1) / 2:
        return _TOO_MANY_KINDS
    return _CLEAR if seconds >= _SECONDS_TO_POLISH else _IN_HASTE


def polish(race: Race, tables: GridTables, seed: int) -> None:
    """Make the best lay shorter on the grid, whatever engine it came from."""
    race.start_phase()
    start = race.best

    def search(number: int) -> None:
        watch = Watch(race.watch.seconds_left, stop=race.is_stopped, improved=improved)
        nest_on_grid(tables, seed=seed + number, watch=watch, start=start)

    def improved(layout: StripLayout, _left: float) -> None:
        race.enter(layout)

    run_all(search)


def _search_grid(
    race: Race, stacks: StackedProblem, tables: GridTables, seed: int, watch: Watch
) -> None:
    if race.best is None or race.best.engine == PLAIN:
        plain = leftmost_layout(tables)
        if plain is not None:
            race.enter(stacks.unstacked(plain))
    nest_on_grid(tables, seed=seed, watch=watch)
