"""The order of the strokes: which comes next, and where each is begun.

Marks come before all cutting, in an order of their own, as another tool makes them. The cutting
tool then takes notches, cut-outs and outlines of all pieces in one short way, in which nothing
that is still to be cut has come loose (`cutfiles.cuts.precedence`). Order and entries are chosen
together (`cutfiles.cuts.tour`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from cutfiles.cuts.entries import begun_at, doors_of
from cutfiles.cuts.plan import CUT_ROLES, Stroke
from cutfiles.cuts.precedence import must_precede
from cutfiles.cuts.tour import short_tour
from cutfiles.job.machine import FarEnd

_BAND_MM = 300.0
"""Length of a band of the lay, all of which is cut before the next: a few pieces."""

_KICKS = 20
"""Kicks for each stroke where there are many ..."""

_FEW_KICKS = 100
_ENOUGH = 12_000
"""... and where there are few: so many for each, up to enough for all."""

_MOST_MOVED = 200_000_000
"""Kicks times strokes, at most: a kick moves the more the more there are (from 3,100 strokes on it
is this that bounds them)."""


def ordered_strokes(
    strokes: Sequence[Stroke],
    *,
    seed: int,
    allowed: Mapping[int, Sequence[int]] | None = None,
    notches_apart: bool = False,
    far_end: FarEnd | None = None,
    start: tuple[float, float] = (0.0, 0.0),
) -> tuple[Stroke, ...]:
    """All strokes in order, closed ones starting at their entry, open ones turned as travelled.

    Parameters
    ----------
    allowed
        By the number of a stroke, the numbers of the points at which it may be begun; without, any
        of a closed one, and the ends of an open one.
    notches_apart
        Another tool cuts the notches, after the marks and before all other cutting.
    far_end
        "first": pieces are cut in bands across the lay from its far end to its near one; "last":
        from the near end to the far one; None: whatever is shortest. A piece belongs to the
        band of its far edge, and one that lies in another's cut-out to that other's.
    start
        Where each tool sets out from.

    Raises
    ------
    ValueError
        If a stroke may be begun at no point, or at one where it cannot be.
    """
    numbers = range(len(strokes))
    cut = [n for n in numbers if strokes[n].role in CUT_ROLES]
    notches = [n for n in cut if notches_apart and strokes[n].role == "notch"]
    pairs = must_precede(strokes)
    stages = [[n for n in numbers if strokes[n].role not in CUT_ROLES], notches]
    apart = set(notches)
    stages.append([n for n in cut if n not in apart])
    doors = doors_of(strokes, allowed)
    ordered: list[Stroke] = []
    for stage in stages:
        place = start
        for band in _bands(strokes, stage, pairs, far_end):
            at = {number: k for k, number in enumerate(band)}
            within = [(at[one], at[two]) for one, two in pairs if one in at and two in at]
            kicks = max(_KICKS * len(band), min(_FEW_KICKS * len(band), _ENOUGH))
            kicks = min(kicks, _MOST_MOVED // len(band))
            tour = short_tour([doors[n] for n in band], within, place, seed=seed, kicks=kicks)
            for k, pick in zip(tour.order, tour.picks, strict=True):
                ordered.append(begun_at(strokes[band[k]], doors[band[k]].numbers[pick]))
            place = ordered[-1].end
    return tuple(ordered)


def travel_mm(strokes: Sequence[Stroke], start: tuple[float, float] = (0.0, 0.0)) -> float:
    """How far the lifted tool goes, from ``start`` through all strokes."""
    if not strokes:
        return 0.0
    hops = (math.dist(one.end, two.points[0]) for one, two in pairwise(strokes))
    return math.dist(start, strokes[0].points[0]) + sum(hops)


def _bands(
    strokes: Sequence[Stroke],
    stage: Sequence[int],
    pairs: Sequence[tuple[int, int]],
    far_end: FarEnd | None,
) -> Iterator[list[int]]:
    """The strokes of a stage in the bands that are done one after the other, none empty."""
    if far_end is None:
        if stage:
            yield list(stage)
        return
    edges: dict[str, float] = {}
    for stroke in strokes:
        far = max(x for x, _ in stroke.points)
        edges[stroke.piece_id] = max(far, edges.get(stroke.piece_id, far))
    holders = {
        strokes[one].piece_id: strokes[two].piece_id
        for one, two in pairs
        if strokes[one].piece_id != strokes[two].piece_id
    }
    farthest = max(edges.values(), default=0.0)
    bands: dict[int, list[int]] = {}
    for number in stage:
        piece = strokes[number].piece_id
        while piece in holders:
            piece = holders[piece]
        bands.setdefault(int((farthest - edges[piece]) // _BAND_MM), []).append(number)
    for band in sorted(bands, reverse=far_end == "last"):
        yield bands[band]
