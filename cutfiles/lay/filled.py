"""Lays filled one after the other by a rule for how long each is, without nesting any."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from cutfiles.lay.bounds import Portions
from cutfiles.lay.problem import NoPlaceError, StripProblem
from cutfiles.lay.table import Table
from cutfiles.pieces.ordered import OrderedCap

MOST_LAYS: Final = 1000
"""An order of more is no order for one job."""


@dataclass(frozen=True, slots=True)
class Filled:
    """How many caps each of some lays takes, and how long it is, to whole repeats of a print.

    ``rest`` are the caps that go into none, by their numbers from 0. ``beyond_mm`` is what the last
    of the lays take that lie on no roll, where there are several.
    """

    counts: tuple[int, ...]
    lengths_mm: tuple[float, ...]
    rest: tuple[int, ...] = ()
    beyond_mm: float = 0.0

    @property
    def caps(self) -> int:
        """Caps and panels in all of them, one layer."""
        return sum(self.counts)

    @property
    def length_mm(self) -> float:
        """Of all of them, one ply."""
        return sum(self.lengths_mm)


def filled_lays(
    portions: Portions, length_of: Callable[[StripProblem], float], *, on_hand: bool
) -> Filled:
    """Lays with as many of the first caps as go into each, up to `MOST_LAYS`; all the caps, or, of
    the cloth ``on_hand``, those that it gives. Of caps that go into no lay there are none.

    ``length_of`` gives the length of one lay; it may raise `NoPlaceError`.
    """
    table, lengths_of = portions.table, _Lengths(portions, length_of)
    counts: list[int] = []
    lengths: list[float] = []
    done, start = 0, 0.0
    while done < len(portions.caps) and len(counts) < MOST_LAYS:
        limit = table.longest_mm
        if on_hand:
            limit = min(limit, table.whole_repeats_mm(table.cloth_mm - start))
        count = lengths_of.most_within(limit, done, start)
        if not count:
            behind = None if table.strip else table.behind_a_flaw(start)
            if behind is None:
                break
            start = behind
            continue
        counts.append(count)
        lengths.append(lengths_of.length(done, done + count, start))
        done += count
        start += lengths[-1]
        if table.strip:
            break
    return Filled(tuple(counts), tuple(lengths), tuple(range(done, len(portions.caps))))


def filled_rolls(
    whole: Table,
    rolls: Sequence[Table],
    caps: Sequence[OrderedCap],
    length_of: Callable[[StripProblem], float],
    *,
    on_hand: bool,
) -> Filled:
    """`filled_lays` of roll after roll, each with as many of the waiting caps as it gives; unless
    only what is ``on_hand`` counts, the rest lies on more of the ``whole`` cloth."""
    waiting, filled = list(range(len(caps))), Filled((), ())
    for table in (*rolls, *([] if on_hand else [whole])):
        room = {id(cap) for cap in table.with_room([caps[k] for k in waiting])}
        numbers = [k for k in waiting if id(caps[k]) in room]
        if not numbers:
            continue
        portions = Portions(table, [caps[k] for k in numbers])
        one = filled_lays(portions, length_of, on_hand=table is not whole)
        placed = set(numbers[: one.caps])
        waiting = [k for k in waiting if k not in placed]
        filled = Filled(
            filled.counts + one.counts,
            filled.lengths_mm + one.lengths_mm,
            tuple(waiting),
            one.length_mm if table is whole else 0.0,
        )
    return filled


class _Lengths:
    """How long lays are by a rule, asked once for those of the same shapes."""

    def __init__(self, portions: Portions, length_of: Callable[[StripProblem], float]) -> None:
        self._portions, self._length_of = portions, length_of
        self._known: dict[StripProblem, float] = {}

    def length(self, first: int, end: int, start_mm: float) -> float:
        """To whole repeats; infinite for what has no place."""
        problem = self._portions.problem(first, end, start_mm)
        if problem not in self._known:
            try:
                length = self._length_of(problem)
            except NoPlaceError:
                length = math.inf
            table = self._portions.table
            self._known[problem] = table.whole_repeats_mm(length, up=True)
        return self._known[problem]

    def most_within(self, limit_mm: float, first: int, start_mm: float) -> int:
        """How many caps from a first one on lie within a length: by halving, so that a larger
        number than one that does not is not found."""
        low, high = 0, self._portions.most_by_area(first, limit_mm) - first
        if high and self.length(first, first + high, start_mm) <= limit_mm:
            return high
        while high - low > 1:
            middle = (low + high) // 2
            if self.length(first, first + middle, start_mm) <= limit_mm:
                low = middle
            else:
                high = middle
        return low
