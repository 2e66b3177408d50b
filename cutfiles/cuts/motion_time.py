"""How long a machine takes: acceleration-limited moves, and lifts or pierces between them."""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutfiles.cuts.order import stroke_length_mm
from cutfiles.cuts.plan import CUT_ROLES, Stroke
from cutfiles.job.machine import Pace


def move_time_s(distance_mm: float, speed_mm_s: float, acceleration_mm_s2: float) -> float:
    """From rest to rest: D/v + v/a, or 2 sqrt(D/a) where the speed is never reached."""
    if distance_mm >= speed_mm_s**2 / acceleration_mm_s2:
        return distance_mm / speed_mm_s + speed_mm_s / acceleration_mm_s2
    return 2.0 * math.sqrt(distance_mm / acceleration_mm_s2)


def cutting_time_s(strokes: Sequence[Stroke], pace: Pace) -> float:
    """Travel and cutting of all strokes that are cut, in order, from the origin.

    Every stroke counts as one move from rest to rest; slowing at corners is left out.
    """
    total, place = 0.0, (0.0, 0.0)
    for stroke in strokes:
        if stroke.role not in CUT_ROLES:
            continue
        first = stroke.points[0]
        hop = math.hypot(first[0] - place[0], first[1] - place[1])
        total += move_time_s(hop, pace.travel_mm_s, pace.acceleration_mm_s2)
        total += pace.start_stroke_s
        total += move_time_s(stroke_length_mm(stroke), pace.cut_mm_s, pace.acceleration_mm_s2)
        place = first if stroke.closed else stroke.points[-1]
    return total
