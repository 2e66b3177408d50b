"""A race: searches that run side by side for the shortest allowed layout."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Final

from cutfiles.lay.feasible import layout_faults
from cutfiles.lay.problem import NoPlaceError, StripLayout, StripProblem, Watch

SEARCHES_VARIABLE: Final = "CUTFILES_SEARCHES"
"""The environment variable that says how many searches run at once: in a process beside others,
one."""

_MOST_SEARCHES: Final = 4

_IDLE_SHARE: Final = 1.0 / 3.0
_IDLE_SECONDS: Final = 20.0


@dataclass(slots=True)
class Race:
    """The best layout of searches that run side by side; None until there is one."""

    problem: StripProblem
    tolerance: float
    watch: Watch
    best: StripLayout | None = None
    improved_at: float = field(default_factory=time.monotonic)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def enter(self, layout: StripLayout) -> bool:
        """Take a layout if it is shorter than the best and nothing is wrong with it; whether it
        was taken."""
        with self.lock:
            if self.best is not None and layout.length >= self.best.length:
                return False
            if layout_faults(self.problem, layout, tolerance=self.tolerance):
                return False
            self.best = layout
            self.start_phase()
            self.watch.improved(layout, self.watch.seconds_left)
            return True

    def found(self) -> StripLayout:
        """The best layout.

        Raises
        ------
        NoPlaceError
            If there is none.
        """
        if self.best is None:
            raise NoPlaceError(
                "a piece may lie nowhere between flaws, edges and places of the print"
            )
        return self.best

    def is_over(self) -> bool:
        """Whether no search need go on."""
        return self.watch.is_over() or self._is_enough()

    def is_stopped(self) -> bool:
        """Whether a search must end before its own time is up: nothing has become better for a
        third of the time allowed, and twenty seconds at least."""
        idle = time.monotonic() - self.improved_at
        return (
            self.watch.stop()
            or self._is_enough()
            or idle > max(_IDLE_SECONDS, _IDLE_SHARE * self.watch.seconds)
        )

    def start_phase(self) -> None:
        """Count idle time from now on."""
        self.improved_at = time.monotonic()

    def _is_enough(self) -> bool:
        return self.best is not None and self.watch.is_enough(self.best)


def run_all(
    search: Callable[[int], None],
    meanwhile: Callable[[], None] | None = None,
    *,
    searches: int | None = None,
) -> None:
    """Run so many searches, by their numbers, and wait for all of them; one for every core where
    it is not said."""
    searches = searches or searches_at_once()
    with ThreadPoolExecutor(searches) as pool:
        runs = [pool.submit(search, number) for number in range(searches)]
        if meanwhile is not None:
            meanwhile()
    for run in runs:
        run.result()


def searches_at_once() -> int:
    """A search for every core, within reason, or as many as the environment says."""
    said = os.environ.get(SEARCHES_VARIABLE, "")
    if said.isdecimal() and int(said):
        return min(int(said), _MOST_SEARCHES)
    return min(os.cpu_count() or 1, _MOST_SEARCHES)
