"""The order of the strokes: which comes next, and where each closed one is entered.

Marks come first, then notches, cut-outs, and outlines, small pieces before large ones, so that
nothing that is still to be cut has come loose. Within each of these a short way is sought
through the strokes; then, the order held, the best entry of every stroke is found by dynamic
programming; and both again from the entries found.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from cutfiles.cuts.plan import CUT_ROLES, Stroke
from cutfiles.cuts.tour import short_way

_ENTRIES = 24
"""Places considered for entering a closed stroke, spread over its corners."""
_ROUNDS = 3
_SMALL = 0.25
"""A piece is small below this share of the lay's largest."""
_MOST_KICKS = 120
"""Kicks in each search for the way of the cutting tool; marks are not worth any."""

Array = npt.NDArray[np.float64]


def ordered_strokes(
    strokes: Sequence[Stroke],
    areas_mm2: Mapping[str, float],
    *,
    seed: int,
    allowed: Mapping[int, Sequence[int]] | None = None,
) -> tuple[Stroke, ...]:
    """All strokes in order, closed ones starting at their entry, open ones turned as travelled.

    ``areas_mm2`` gives every piece's area by id. The grain line keeps its direction. ``allowed``
    gives the points at which a closed stroke may be entered, by the stroke's number.
    """
    entries = {id(strokes[n]): picks for n, picks in (allowed or {}).items()}
    largest = max(areas_mm2.values(), default=0.0)

    def stage(stroke: Stroke) -> int:
        if stroke.role not in CUT_ROLES:
            return 0
        small = areas_mm2[stroke.piece_id] < _SMALL * largest
        return {"notch": 1, "inner": 2, "outline": 3 if small else 4}[stroke.role]

    ordered: list[Stroke] = []
    place = (0.0, 0.0)
    for number in range(5):
        staged = [stroke for stroke in strokes if stage(stroke) == number]
        if staged:
            kicks = _MOST_KICKS if number else 0
            ordered.extend(_ordered(staged, place, seed, kicks, entries))
            place = _end_of(ordered[-1])
        if number == 0:
            place = (0.0, 0.0)  # the cutting tool sets out from the origin, not the marking tool
    return tuple(ordered)


def travel_mm(strokes: Sequence[Stroke], start: tuple[float, float] = (0.0, 0.0)) -> float:
    """How far the lifted tool goes, from ``start`` through all strokes."""
    total, place = 0.0, start
    for stroke in strokes:
        first = stroke.points[0]
        total += float(np.hypot(first[0] - place[0], first[1] - place[1]))
        place = _end_of(stroke)
    return total


def _end_of(stroke: Stroke) -> tuple[float, float]:
    return stroke.points[0] if stroke.closed else stroke.points[-1]


def _ordered(
    strokes: list[Stroke],
    place: tuple[float, float],
    seed: int,
    most_kicks: int,
    entries: Mapping[int, Sequence[int]],
) -> list[Stroke]:
    choices = [_choices(stroke, _picks(stroke, entries)) for stroke in strokes]
    middles = np.array([np.mean(np.vstack((c[0], c[1])), axis=0) for c in choices])
    best: list[Stroke] = strokes
    best_travel = np.inf
    for _ in range(_ROUNDS):
        points = np.vstack((np.array([place]), middles))
        kicks = min(most_kicks, 20 * len(strokes))
        way = [node - 1 for node in short_way(points, seed=seed, kicks=kicks)[1:]]
        picks = _best_entries([choices[i] for i in way], place)
        sequence = [
            _entered(strokes[i], pick, _picks(strokes[i], entries))
            for i, pick in zip(way, picks, strict=True)
        ]
        travelled = travel_mm(sequence, place)
        if travelled >= best_travel - 1e-6:
            break
        best, best_travel = sequence, travelled
        for i, pick in zip(way, picks, strict=True):
            middles[i] = (choices[i][0][pick] + choices[i][1][pick]) / 2.0
    return best


def _picks(stroke: Stroke, entries: Mapping[int, Sequence[int]]) -> Sequence[int]:
    return entries.get(id(stroke)) or _entry_indices(len(stroke.points))


def _choices(stroke: Stroke, picks: Sequence[int]) -> tuple[Array, Array]:
    """Where a stroke can be entered, and where the tool is after it, row by row."""
    points = np.array(stroke.points)
    if stroke.closed:
        entries = points[list(picks)]
        return entries, entries
    if stroke.role in ("grain", "notch"):  # an arrow has one direction; a slit starts outside
        return points[:1], points[-1:]
    return points[[0, -1]], points[[-1, 0]]


def _entry_indices(count: int) -> list[int]:
    spread = np.linspace(0, count, min(_ENTRIES, count), endpoint=False).astype(int)
    return [int(k) for k in np.unique(spread)]


def _entered(stroke: Stroke, pick: int, picks: Sequence[int]) -> Stroke:
    if stroke.closed:
        return stroke.entered_at(picks[pick])
    return stroke if pick == 0 else stroke.turned_round()


def _best_entries(choices: Sequence[tuple[Array, Array]], place: tuple[float, float]) -> list[int]:
    """The entries of a fixed sequence that make its travel shortest."""
    cost = np.zeros(1)
    exits = np.array([place])
    back: list[npt.NDArray[np.int_]] = []
    for entries, after in choices:
        steps = np.hypot(*(exits[:, None, :] - entries[None, :, :]).transpose(2, 0, 1))
        total = cost[:, None] + steps
        back.append(np.argmin(total, axis=0))
        cost = np.min(total, axis=0)
        exits = after
    pick = int(np.argmin(cost))
    picks = []
    for previous in reversed(back):
        picks.append(pick)
        pick = int(previous[pick])
    return picks[::-1]
