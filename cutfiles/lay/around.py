"""A large order round obstacles: sections in a row, those that meet an obstacle nested anew.

Most of a long strip is clear, and there a section lies as it was found. Where it would meet an
obstacle, its pieces are nested once more, round the obstacle and into the fringe of what lies
before it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import shapely
from shapely.affinity import translate

from cutfiles.geometry.polygons import moved_polygon
from cutfiles.lay.compaction import Places, compacted
from cutfiles.lay.free_parts import Room
from cutfiles.lay.grid_engine import GridTables, leftmost_layout
from cutfiles.lay.hunt import ENGINE, Hunt
from cutfiles.lay.problem import Obstacle, StripLayout, StripProblem, Watch, placed_outlines
from cutfiles.lay.race import Race, run_all
from cutfiles.lay.sections import Section
from cutfiles.lay.whole import nest_whole, polish

_HUNTING_SHARE: Final = 0.4
"""Of the time, for finding sections that meet nothing."""

_POOLING_SHARE: Final = 0.08
"""Of the time, for compacting those sections."""

_CLOSING_SHARE: Final = 0.1
"""Of the time, for compacting everything in the end."""

_MOST_PIECES: Final = 500
"""Of so many the whole is worth a search in what is left of the time."""

_LEAST_SECONDS: Final = 0.3

_HAIR: Final = 1e-6


def nest_around(race: Race, seed: int) -> None:
    """Nest a large order round what is in its way and enter what comes of it."""
    problem, watch = race.problem, race.watch
    tables = GridTables(problem, Room(problem))
    plain = leftmost_layout(tables)
    if plain is not None:
        race.enter(plain)
    seconds = watch.seconds_left
    open_strip = replace(problem, obstacles=())
    quiet = Watch((_HUNTING_SHARE + _POOLING_SHARE) * seconds, stop=race.is_stopped)
    hunt = Hunt(Race(open_strip, race.tolerance, quiet), seed)
    pooling = _POOLING_SHARE * seconds
    run_all(
        lambda number: hunt.search(number, quiet.seconds_left - pooling),
        lambda: hunt.room.warm(quiet.is_over),
    )
    row = _Row(race, seed, _CLOSING_SHARE * seconds, len(hunt.parts))
    for section, pool in zip(hunt.parts, hunt.pools(), strict=True):
        if race.is_over():
            return
        row.append(section, pool)
    whole = row.places()
    race.enter(whole.layout(ENGINE))
    closed = compacted(tables.room, whole, stop=race.is_over)
    if closed is not None:
        race.enter(closed.layout(ENGINE))
    if len(whole.kinds) <= _MOST_PIECES and race.best is not None and not race.is_over():
        polish(race, tables, seed)


class _Row:
    """Sections put in a row so far; ``reserve`` is the time that is kept for the end."""

    def __init__(self, race: Race, seed: int, reserve: float, sections: int) -> None:
        self._race, self._seed = race, seed
        self._problem = race.problem
        self._reserve, self._waiting = reserve, sections
        self._done: list[Places] = []
        self._step = max(
            (s.register.step_along or 0.0 for s in self._problem.shapes if s.register), default=0.0
        )

    def append(self, section: Section, pool: Sequence[Places]) -> None:
        """Put a section after the others: as it was found, if it meets nothing."""
        for places in pool:
            moved = self._after(places)
            if not self._meets(moved):
                self._done.append(moved)
                break
        else:
            self._done.append(self._nested_anew(section))
        self._waiting -= 1

    def places(self) -> Places:
        """The whole row."""
        kinds = tuple(kind for part in self._done for kind in part.kinds)
        length = max(part.length for part in self._done)
        return Places(kinds, np.concatenate([part.at for part in self._done]), length)

    def _after(self, places: Places) -> Places:
        """A section shifted along until it lies just beyond the last one."""
        problem = self._problem
        start = max((part.length for part in self._done), default=0.0)
        shift = start - problem.margin + problem.gap - problem.margin if self._done else 0.0
        if self._step:
            shift = math.ceil(shift / self._step - _HAIR) * self._step
        return replace(places, at=places.at + np.array([shift, 0.0]), length=places.length + shift)

    def _outlines(self, places: Places) -> list[shapely.Polygon]:
        return placed_outlines(self._problem, places.layout(""))

    def _guards(self, places: Places) -> list[shapely.Polygon]:
        """The same with few points; what they are too large the closing at the end takes out."""
        shapes = [self._problem.shapes[spot.shape] for spot in places.layout("").spots]
        return [
            moved_polygon(shape.search_outline, spot.motion)
            for shape, spot in zip(shapes, places.layout("").spots, strict=True)
        ]

    def _meets(self, places: Places) -> bool:
        outlines = shapely.STRtree(self._outlines(places))
        return any(
            len(outlines.query(o.outline, predicate="dwithin", distance=o.clearance)) > 0
            for o in self._problem.obstacles
        )

    def _nested_anew(self, section: Section) -> Places:
        """The section's pieces round the obstacles, beside and beyond the last section."""
        base = self._base()
        obstacles = [
            Obstacle(translate(o.outline, -base), o.clearance)
            for o in self._problem.obstacles
            if o.outline.bounds[2] >= base
        ]
        if self._done:
            obstacles += [
                Obstacle(translate(outline, -base), self._problem.gap)
                for part in self._done
                for outline in self._guards(part)
                if outline.bounds[2] >= base
            ]
        local = replace(section.problem, obstacles=tuple(obstacles))
        found = section.places(self._best(local))
        return replace(found, at=found.at + np.array([base, 0.0]), length=found.length + base)

    def _base(self) -> float:
        """Where the last section begins, on a whole step of the registers."""
        if not self._done:
            return 0.0
        last = self._done[-1]
        low = min(outline.bounds[0] for outline in self._outlines(last)) - self._problem.margin
        return math.floor(low / self._step) * self._step if self._step else low

    def _best(self, problem: StripProblem) -> StripLayout:
        """The shortest lay that a search on every core finds in this section's share of time."""
        left = max(0.0, self._race.watch.seconds_left - self._reserve)
        seconds = max(_LEAST_SECONDS, left / max(1, min(self._waiting, self._hindered_left())))
        race = Race(problem, self._race.tolerance, Watch(seconds, stop=self._race.is_stopped))
        nest_whole(race, self._seed)
        return race.found()

    def _hindered_left(self) -> int:
        """About how many sections will still have to be nested anew."""
        start = max((part.length for part in self._done), default=0.0)
        ahead = sum(o.outline.bounds[2] > start for o in self._problem.obstacles)
        return max(1, ahead)
