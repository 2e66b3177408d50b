"""How long a machine takes: acceleration-limited moves, and lifts or pierces between them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutfiles.cuts.plan import Pass, Stroke
from cutfiles.job.machine import Pace


def move_time_s(distance_mm: float, speed_mm_s: float, acceleration_mm_s2: float) -> float:
    """From rest to rest: D/v + v/a, or 2 sqrt(D/a) where the speed is never reached."""
    if distance_mm >= speed_mm_s**2 / acceleration_mm_s2:
        return distance_mm / speed_mm_s + speed_mm_s / acceleration_mm_s2
    return 2.0 * math.sqrt(distance_mm / acceleration_mm_s2)


def cutting_time_s(passes: Sequence[Pass], pace: Pace) -> float:
    """Travel and passes, in order, from the origin.

    Every pass counts as one move from rest to rest; slowing at corners is left out.
    """
    total, place = 0.0, (0.0, 0.0)
    for cut in passes:
        hop = math.dist(place, cut.points[0])
        total += move_time_s(hop, pace.travel_mm_s, pace.acceleration_mm_s2)
        total += pace.start_stroke_s
        total += move_time_s(cut.length_mm(), pace.cut_mm_s, pace.acceleration_mm_s2)
        place = cut.points[-1]
    return total


def marking_time_s(strokes: Sequence[Stroke], pace: Pace) -> float:
    """Travel and lines that are drawn, in order, from the origin; letters are left out."""
    total, place = 0.0, (0.0, 0.0)
    for stroke in strokes:
        hop = math.dist(place, stroke.points[0])
        total += move_time_s(hop, pace.travel_mm_s, pace.acceleration_mm_s2)
        total += move_time_s(stroke.length_mm(), pace.mark_mm_s, pace.acceleration_mm_s2)
        place = stroke.points[0] if stroke.closed else stroke.points[-1]
    return total
