"""Where a stroke can be begun: the doors through which a way goes.

A closed stroke is done where it was begun, so its direction is left as it is. An open one is begun
at either end; a grain arrow shows a direction, and a notch's slit starts outside, so that they are
begun at their first point.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from cutfiles.cuts.plan import Stroke

Array = npt.NDArray[np.float64]

_ONE_WAY = ("grain", "notch")


@dataclass(frozen=True, slots=True)
class Doors:
    """Of one stroke: the points at which it can be begun, by number, where they are ``(n, 2)``,
    and where the tool is when the stroke is done ``(n, 2)``."""

    numbers: tuple[int, ...]
    entries: Array
    exits: Array

    @property
    def turns(self) -> bool:
        """Whether they are the two ends of a line."""
        return len(self.numbers) == 2 and bool(np.any(self.entries != self.exits))


def doors_of(
    strokes: Sequence[Stroke], allowed: Mapping[int, Sequence[int]] | None = None
) -> list[Doors]:
    """The doors of every stroke.

    ``allowed`` gives, by the number of a stroke, the numbers of the points at which it may be
    begun: of an open stroke its first or last or both. Without, a closed one may be begun at any.

    Raises
    ------
    ValueError
        If a stroke is allowed no point, or one at which it cannot be begun.
    """
    found = []
    for number, stroke in enumerate(strokes):
        named = None if allowed is None else allowed.get(number)
        picks = _usual(stroke) if named is None else _checked(stroke, named)
        entries = np.array([stroke.points[pick] for pick in picks])
        exits = entries
        if not stroke.closed:
            exits = np.array([stroke.points[-1 if pick == 0 else 0] for pick in picks])
        found.append(Doors(picks, entries, exits))
    return found


def begun_at(stroke: Stroke, number: int) -> Stroke:
    """A stroke as it is travelled from one of its points on."""
    if stroke.closed:
        return stroke.entered_at(number)
    return stroke if number == 0 else stroke.turned_round()


def _usual(stroke: Stroke) -> tuple[int, ...]:
    count = len(stroke.points)
    if not stroke.closed:
        return (0,) if stroke.role in _ONE_WAY or count == 1 else (0, count - 1)
    return tuple(range(count))


def _checked(stroke: Stroke, picks: Sequence[int]) -> tuple[int, ...]:
    count = len(stroke.points)
    possible = range(count) if stroke.closed else (0, count - 1)
    wrong = [pick for pick in picks if pick not in possible]
    if wrong or not picks:
        raise ValueError(
            f"a {stroke.role} of {stroke.piece_id!r} with {count} points may not be begun at "
            f"{wrong or 'no point'}"
        )
    return tuple(dict.fromkeys(int(pick) for pick in picks))
