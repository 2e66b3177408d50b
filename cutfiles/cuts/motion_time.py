"""How long a machine takes: acceleration-limited motion along every pass, and what lies between.

A pass begins and ends at rest. Between, no span is travelled faster than the pace, no arc of radius
R faster than v^2 = a R, and no corner faster than if the tool cut it by ``corner_mm`` on an arc:
v^2 = a d s / (1 - s), where d is that much and s the sine of half the angle between the two spans
(common practice, no source). The speed changes by the acceleration at most (standard motion
profile, derived): a sweep forward and one back over the ends of the spans find how fast each can
be, and every span is a trapezoid or triangle between its ends. Travel goes from rest to rest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

import numpy as np

from cutfiles.cuts.plan import Frame, Leg, Letters, Pass, Stroke
from cutfiles.geometry.bulges import Place, Span, places_of, spans_of
from cutfiles.job.machine import Pace

_STEP_DECIMALS = 6
_BULGE_DECIMALS = 9
"""To which lines of one shape agree wherever they lie: a millionth of a millimetre."""


def move_time_s(distance_mm: float, speed_mm_s: float, acceleration_mm_s2: float) -> float:
    """From rest to rest: D/v + v/a, or 2 sqrt(D/a) where the speed is never reached."""
    if distance_mm >= speed_mm_s**2 / acceleration_mm_s2:
        return distance_mm / speed_mm_s + speed_mm_s / acceleration_mm_s2
    return 2.0 * math.sqrt(distance_mm / acceleration_mm_s2)


def cutting_legs(
    passes: Sequence[Pass], pace: Pace, frames: Sequence[Frame] = ()
) -> tuple[Leg, ...]:
    """Of travel and passes in order, from the origin; the tool waits where it is while the cloth is
    moved on to a next frame."""
    legs: list[Leg] = []
    place = (0.0, 0.0)
    waiting = list(frames[1:])
    start_mm = 0.0
    for cut in passes:
        moved_mm = 0.0
        while waiting and cut.stroke >= waiting[0].first_stroke:
            on = waiting.pop(0).start_mm - start_mm
            start_mm += on
            moved_mm += on
        place = (place[0] + moved_mm, place[1])
        hop_s = _hop_s(place, cut.points[0], pace)
        line_s = _line_time_s(cut.points, cut.bulges, pace)
        legs.append(Leg(moved_mm / pace.advance_mm_s, hop_s, pace.start_stroke_s, line_s))
        place = cut.points[-1]
    return tuple(legs)


def piece_times(passes: Sequence[Pass], legs: Sequence[Leg]) -> dict[str, float]:
    """What the passes of each piece take with the ways to them, in s; moving the cloth on is left
    out."""
    pieces: dict[str, float] = {}
    for cut, leg in zip(passes, legs, strict=True):
        taken = leg.travel_s + leg.start_s + leg.line_s
        pieces[cut.piece_id] = pieces.get(cut.piece_id, 0.0) + taken
    return pieces


def marking_legs(lines: Sequence[Stroke | Letters], pace: Pace) -> tuple[Leg, ...]:
    """Of travel and lines that are drawn, in order, from the origin; a label's strokes, and the
    ways between them, are one."""
    drawing = replace(pace, cut_mm_s=pace.mark_mm_s)
    legs: list[Leg] = []
    place = (0.0, 0.0)
    known: dict[bytes, float] = {}
    for line in lines:
        if isinstance(line, Letters):
            if len(line.points):
                legs.append(_label_leg(line, place, drawing, known))
                place = (float(line.points[-1, 0]), float(line.points[-1, 1]))
            else:
                legs.append(Leg(0.0, 0.0, 0.0, 0.0))
            continue
        hop_s = _hop_s(place, line.points[0], pace)
        points = (*line.points, line.points[0]) if line.closed else line.points
        legs.append(Leg(0.0, hop_s, 0.0, _line_time_s(points, line.bulges, drawing)))
        place = line.end
    return tuple(legs)


def _label_leg(label: Letters, place: Place, pace: Pace, known: dict[bytes, float]) -> Leg:
    """Of the strokes of a label, from a place. Equal strokes take the same time, which is noted in
    ``known``."""
    points, starts = label.points, np.array(label.starts)
    froms = np.vstack((place, points[starts[1:-1] - 1]))
    hops = np.hypot(*(points[starts[:-1]] - froms).T)
    travel_s = sum(
        move_time_s(hop, pace.travel_mm_s, pace.acceleration_mm_s2) for hop in hops.tolist()
    )
    line_s = 0.0
    steps = np.round(np.diff(points, axis=0), _STEP_DECIMALS) + 0.0  # no minus zero
    for start, end in pairwise(label.starts):
        shape = steps[start : end - 1].tobytes()
        if shape not in known:
            known[shape] = _line_time_s(places_of(points[start:end]), (), pace)
        line_s += known[shape]
    return Leg(0.0, travel_s, 0.0, line_s)


def _hop_s(place: Place, other: Place, pace: Pace) -> float:
    return move_time_s(math.dist(place, other), pace.travel_mm_s, pace.acceleration_mm_s2)


def _line_time_s(points: Sequence[Place], bulges: Sequence[float], pace: Pace) -> float:
    """Along an open line. One takes as long wherever it lies, and a lay has thousands of equal
    letters, notches and pieces: each shape is worked out once."""
    steps = tuple(
        (round(x1 - x0, _STEP_DECIMALS), round(y1 - y0, _STEP_DECIMALS))
        for (x0, y0), (x1, y1) in pairwise(points)
    )
    return _shape_time_s(steps, tuple(round(bulge, _BULGE_DECIMALS) for bulge in bulges), pace)


@lru_cache(maxsize=10_000)
def _shape_time_s(steps: tuple[Place, ...], bulges: tuple[float, ...], pace: Pace) -> float:
    points = [(0.0, 0.0)]
    for dx, dy in steps:
        points.append((points[-1][0] + dx, points[-1][1] + dy))
    return pass_time_s(list(spans_of(points, bulges, closed=False)), pace)


def pass_time_s(spans: Sequence[Span], pace: Pace) -> float:
    """Along the spans of one pass, from rest to rest."""
    most_change = pace.acceleration_mm_s2
    there = [span for span in spans if span.length_mm > 0.0]
    if not there:
        return 0.0
    lengths = [span.length_mm for span in there]
    # squares of speeds: the most within each span, and at both its ends
    tops = [min(pace.cut_mm_s**2, most_change * span.radius_mm) for span in there]
    ends = [0.0, *(_corner(one, two, pace) for one, two in pairwise(there)), 0.0]
    for k in range(1, len(ends) - 1):
        ends[k] = min(
            ends[k], tops[k - 1], tops[k], ends[k - 1] + 2.0 * most_change * lengths[k - 1]
        )
    for k in range(len(ends) - 2, 0, -1):
        ends[k] = min(ends[k], ends[k + 1] + 2.0 * most_change * lengths[k])
    total = 0.0
    for k, (length, top) in enumerate(zip(lengths, tops, strict=True)):
        first, last = ends[k], ends[k + 1]
        peak = min(top, (2.0 * most_change * length + first + last) / 2.0)
        ramps = (2.0 * peak - first - last) / (2.0 * most_change)
        fastest = math.sqrt(peak)
        total += (2.0 * fastest - math.sqrt(first) - math.sqrt(last)) / most_change
        total += max(0.0, length - ramps) / fastest
    return total


def _corner(one: Span, other: Span, pace: Pace) -> float:
    """The square of the speed at which the tool may go from one span into another."""
    turn = other.directions_rad[0] - one.directions_rad[1]
    half = abs(math.cos(turn / 2.0))  # the sine of half the angle between them
    if half >= 1.0:
        return math.inf
    return pace.acceleration_mm_s2 * pace.corner_mm * half / (1.0 - half)
