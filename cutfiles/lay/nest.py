"""Nesting a strip: several searches at once, the best allowed layout of them all."""

from __future__ import annotations

import os
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Final

from cutfiles.lay.bundles import stack_strips
from cutfiles.lay.feasible import layout_faults
from cutfiles.lay.problem import StripLayout, StripProblem, Watch
from cutfiles.lay.rows import nest_in_rows
from cutfiles.lay.strip_engine import nest_on_strip
from cutfiles.tolerances import LAY_MM

_STACKS: Final = (1, 4, 1, 2)
"""How high each search in turn stacks its strips. Two searches of one thread each, on two
cores, find shorter lays than one search of two threads (docs/reference/benchmarks.md)."""

_MOST_SEARCHES: Final = 4


def nest_strip(
    problem: StripProblem, *, seed: int, watch: Watch, tolerance: float = LAY_MM
) -> StripLayout:
    """The shortest allowed layout found within the watch's time.

    The rows are there at once and are the floor; the strip engine, once for every core, takes
    the time that is left. A layout that fails the judge is dropped, however short.

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
    searches = min(os.cpu_count() or 1, _MOST_SEARCHES)
    with ThreadPoolExecutor(searches) as pool:
        runs = [pool.submit(_search, race, seed, number) for number in range(searches)]
    for run in runs:
        run.result()
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


def _search(race: _Race, seed: int, number: int) -> None:
    stacks = stack_strips(race.problem, _STACKS[number % len(_STACKS)])
    watch = replace(
        race.watch,
        stop=lambda: race.watch.stop() or race.watch.is_enough(race.best),
        improved=lambda layout, _left: race.enter(stacks.unstacked(layout)),
    )
    nest_on_strip(stacks.stacked, seed=seed + number, workers=1, watch=watch)
