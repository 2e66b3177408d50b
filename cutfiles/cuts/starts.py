"""Where a closed stroke may be begun: on a straight or gently curved run with room for a way in,
never at a corner or within reach of a notch (common practice, no source); that of a round blade at
a corner, where it is lifted in any case.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from cutfiles.cuts.lead_ins import LeadIns
from cutfiles.cuts.plan import Stroke
from cutfiles.geometry.bulges import Place

_APART_MM: Final = 60.0
"""Between the points that are added to a long straight side."""
_OFF_MM: Final = 6.0
"""How far from corners and notches a stroke is begun, where it is long enough."""
_CORNER_DEG: Final = 8.0
"""A line turns by less where it is a flattened curve."""
_MOST: Final = 12
"""Places tried for a way in to each stroke."""
_NEARLY: Final = 0.75
"""A way in of this share of the stroke's longest is as good."""


def with_entries(stroke: Stroke) -> Stroke:
    """A closed stroke with points added on its long straight sides, at which it may be begun."""
    places = np.array(stroke.points)
    chords = np.hypot(*(np.roll(places, -1, axis=0) - places).T)
    points: list[Place] = []
    bulges: list[float] = []
    done = 0
    for number in np.flatnonzero(chords > _OFF_MM).tolist():
        span = stroke.span(number)
        count = 0 if span.is_arc else math.ceil((span.length_mm - 2.0 * _OFF_MM) / _APART_MM)
        if count > 0:
            points.extend(stroke.points[done : number + 1])
            bulges.extend(stroke.bulges[done : number + 1])
            points.extend(span.point(k / (count + 1)) for k in range(1, count + 1))
            bulges.extend([0.0] * count)
            done = number + 1
    points.extend(stroke.points[done:])
    bulges.extend(stroke.bulges[done:])
    return replace(stroke, points=tuple(points), bulges=tuple(bulges) if stroke.bulges else ())


def corners_of(stroke: Stroke, *, least_deg: float = _CORNER_DEG) -> list[int]:
    """The points of a closed stroke at which it turns by more than an angle, by number."""
    points = np.array(stroke.points)
    steps = np.roll(points, -1, axis=0) - points
    half = 2.0 * np.arctan(np.array(stroke.bulges)) if stroke.bulges else np.zeros(len(points))
    chord = np.arctan2(steps[:, 1], steps[:, 0])
    turns = chord - half - np.roll(chord + half, 1)
    off = np.abs((turns + math.pi) % (2.0 * math.pi) - math.pi)
    return [int(k) for k in np.flatnonzero(off > math.radians(least_deg))]


def notch_ends(strokes: Sequence[Stroke]) -> Mapping[str, list[Place]]:
    """Where the notches of each piece begin and end, by its id."""
    found: dict[str, list[Place]] = {}
    for stroke in strokes:
        if stroke.role == "notch":
            found.setdefault(stroke.piece_id, []).extend((stroke.points[0], stroke.points[-1]))
    return found


def quiet_points(stroke: Stroke, notches: Sequence[Place]) -> list[int]:
    """The points of a closed stroke that are no corners, and as far from its corners and from some
    notches as there are any: 6 mm, else half of that, and so on."""
    corners = set(corners_of(stroke))
    places = np.array(stroke.points)
    off = np.array([stroke.points[k] for k in sorted(corners)] + list(notches)).reshape(-1, 2)
    apart = places[:, None] - off
    away = np.hypot(apart[:, :, 0], apart[:, :, 1]).min(axis=1, initial=np.inf)
    plain = [k for k in range(len(places)) if k not in corners] or list(range(len(places)))
    enough = _OFF_MM
    while enough > 0.1:
        if found := [k for k in plain if away[k] >= enough]:
            return found
        enough /= 2.0
    return plain


def allowed_entries(strokes: Sequence[Stroke], leads: LeadIns | None) -> Mapping[int, list[int]]:
    """The points at which each closed stroke that is cut may be begun, by the stroke's number.

    With ways in, those of nearly the longest way; without, for a blade that is lifted at corners,
    the corners if there are any.
    """
    notches = notch_ends(strokes)
    closed = [n for n, s in enumerate(strokes) if s.role in ("outline", "inner")]

    def quiet(number: int) -> list[int]:
        stroke = strokes[number]
        return quiet_points(stroke, notches.get(stroke.piece_id, ()))

    if leads is None:
        return {n: corners_of(strokes[n]) or quiet(n) for n in closed}
    picks = {n: _spread(quiet(n)) for n in closed}
    flat = [(n, k) for n in closed for k in picks[n]]
    if not flat:
        return {}
    places = np.array([strokes[n].points[k] for n, k in flat])
    directions = np.array([strokes[n].span(k).directions_rad[0] for n, k in flat])
    lengths, _ = leads.longest([n for n, _ in flat], places, directions)
    best: dict[int, float] = {}
    for (n, _), length in zip(flat, lengths.tolist(), strict=True):
        best[n] = max(best.get(n, 0.0), length)
    allowed: dict[int, list[int]] = {n: [] for n in closed}
    for (n, k), length in zip(flat, lengths.tolist(), strict=True):
        if length >= _NEARLY * best[n]:
            allowed[n].append(k)
    return allowed


def _spread(numbers: list[int]) -> list[int]:
    """No more than are tried, evenly from first to last."""
    if len(numbers) <= _MOST:
        return numbers
    return [numbers[round(k * (len(numbers) - 1) / (_MOST - 1))] for k in range(_MOST)]
