"""Nesting everything at once: several ways of searching side by side."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from cutfiles.lay.bundles import Bundling, StackedProblem, bundled
from cutfiles.lay.compaction import Places, compacted
from cutfiles.lay.free_parts import Room
from cutfiles.lay.grid_engine import GridTables, leftmost_layout, nest_on_grid
from cutfiles.lay.problem import StripLayout, Watch
from cutfiles.lay.race import Race, run_all
from cutfiles.lay.strip_engine import nest_on_strip

_MOST_KINDS_WARMED: Final = 8
"""Up to this many shapes, what compaction needs is worked out while the searches run."""

_COMPACTING_SHARE: Final = 0.08
_COMPACTING_SECONDS: Final = 1.2
"""Of the time, for compacting what the strip engine found; and the most that it takes."""


@dataclass(frozen=True, slots=True)
class _Way:
    """An engine, and the bundles that it places."""

    engine: Literal["grid", "strip"]
    bundling: Bundling


_CLEAR: Final = (
    _Way("grid", Bundling(height=4)),
    _Way("strip", Bundling()),
    _Way("grid", Bundling(height=2)),
    _Way("strip", Bundling(height=4)),
)
"""How each search in turn goes about a clear strip. The two engines find different lays, and one
core for each gives shorter ones than both for either (docs/reference/benchmarks.md)."""

_HINDERED: Final = (
    _Way("grid", Bundling()),
    _Way("grid", Bundling(height=4)),
    _Way("grid", Bundling(height=2)),
    _Way("grid", Bundling()),
)
"""The same where there are obstacles or registers: the strip engine cannot express them."""


def nest_whole(race: Race, seed: int) -> None:
    """Nest everything at once, in every search, and enter what each finds."""
    clear = race.problem.is_clear
    ways = _CLEAR if clear else _HINDERED
    end = min(race.watch.seconds_left * _COMPACTING_SHARE, _COMPACTING_SECONDS) if clear else 0.0
    found: dict[int, StripLayout] = {}
    room = Room(race.problem)

    def search(number: int) -> None:
        way = ways[number % len(ways)]
        stacks = bundled(race.problem, way.bundling)

        def improved(layout: StripLayout, _left: float) -> None:
            found[number] = stacks.unstacked(layout)
            race.enter(found[number])

        if way.engine == "strip":
            watch = Watch(race.watch.seconds_left - end, stop=race.is_stopped, improved=improved)
            nest_on_strip(stacks.stacked, seed=seed + number, workers=1, watch=watch)
        else:
            watch = Watch(
                race.watch.seconds_left - end,
                stop=race.is_stopped,
                improved=improved,
                enough_length=race.watch.enough_length,
            )
            _search_grid(race, stacks, seed + number, watch)

    run_all(search, room.warm if clear and len(room.problem.shapes) <= _MOST_KINDS_WARMED else None)
    for layout in sorted(found.values(), key=lambda layout: layout.length):
        if race.is_over():
            return
        closed = compacted(room, Places.of(layout), stop=race.is_over)
        if closed is not None:
            race.enter(closed.layout(layout.engine))


def _search_grid(race: Race, stacks: StackedProblem, seed: int, watch: Watch) -> None:
    tables = GridTables(stacks.stacked)
    if race.best is None:
        plain = leftmost_layout(tables)
        if plain is not None:
            race.enter(stacks.unstacked(plain))
    nest_on_grid(tables, seed=seed, watch=watch)
