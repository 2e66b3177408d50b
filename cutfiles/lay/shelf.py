"""Tables for the grid engine, worked out once for every problem that a race comes to."""

from __future__ import annotations

import threading

from cutfiles.lay.free_parts import Room
from cutfiles.lay.grid_engine import GridTables
from cutfiles.lay.problem import StripProblem


class Shelf:
    """The tables of problems: of a race's own, whose room they share, and of its parts and
    bundles. Searches side by side may share one."""

    def __init__(self, room: Room) -> None:
        self._room = room
        self._known: dict[StripProblem, GridTables] = {}
        self._lock = threading.Lock()

    def of(self, problem: StripProblem) -> GridTables:
        """The tables of a problem; whoever asks meanwhile waits for them."""
        with self._lock:
            if problem not in self._known:
                own = problem == self._room.problem
                self._known[problem] = GridTables(problem, self._room if own else Room(problem))
            return self._known[problem]
