"""The passes of a laser: in from the waste, round, on over the start; with bridges left uncut."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from cutfiles.cuts.lead_ins import LeadIns
from cutfiles.cuts.plan import Pass, Stroke
from cutfiles.cuts.stretch import as_pass, stretch, turn_rad
from cutfiles.geometry.bulges import Place, Span
from cutfiles.job.machine import Laser

_STRAIGHT_DEG: Final = 3.0
"""A run that turns by less over a bridge is straight."""
_BESIDE_MM: Final = 2.0
"""Of straight run on both sides of a bridge."""
_STEP_MM: Final = 2.0
"""Between places tried for a bridge."""


def laser_passes(
    number: int,
    stroke: Stroke,
    tool: Laser,
    leads: LeadIns,
    *,
    kerf_mm: float,
    notches: Sequence[Place],
) -> tuple[list[Pass], list[str]]:
    """The passes that make one stroke, and what is short of what the tool asks for, in words.

    An open stroke, a notch or what is left of an outline, begins and ends on a cut.
    """
    spans = list(stroke.spans)
    short: list[str] = []
    whole = stroke.length_mm()
    begin: list[Span] = []
    if tool.lead_in_mm and stroke.closed:
        place = leads.way_in(number)
        if place is None:
            short.append("no room for a way in")
        else:
            begin = [Span(place, spans[0].start)]
    over = min(tool.overlap_mm, whole / 2.0) if stroke.closed else 0.0
    runs = [(0.0, whole + over)]
    if tool.tabs and stroke.role == "outline":
        width = tool.tabs.width_mm + kerf_mm  # the kerf eats half of itself at both ends
        places = _tab_places(spans, whole, tool.tabs.count, width, notches, over_mm=over)
        if len(places) < tool.tabs.count:
            short.append(f"room for {len(places)} of {tool.tabs.count} tabs on straight runs")
        cuts = [0.0, *(p for at in places for p in (at - width / 2.0, at + width / 2.0))]
        runs = list(zip(cuts[::2], [*cuts[1::2], runs[0][1]], strict=True))
    passes = []
    for k, (start, end) in enumerate(runs):
        passes.append(
            as_pass(number, stroke, [*(begin if k == 0 else []), *stretch(spans, start, end)])
        )
    return passes, short


def _tab_places(
    spans: Sequence[Span],
    whole_mm: float,
    count: int,
    width_mm: float,
    notches: Sequence[Place],
    *,
    over_mm: float,
) -> list[float]:
    """Where along a line its bridges have their middles: near to evenly spread, on straight runs,
    off notches and off the start, over which the beam goes on so far."""
    reach = width_mm / 2.0 + _BESIDE_MM
    tries = np.arange(max(reach, over_mm + width_mm / 2.0), whole_mm - reach, _STEP_MM)
    good = [float(at) for at in tries if _is_straight(spans, at - reach, at + reach, notches)]
    found: list[float] = []
    for k in range(count):
        wanted = whole_mm * (k + 0.5) / count
        free = [at for at in good if all(abs(at - other) > 2.0 * reach for other in found)]
        # each in its own share of the line, so that they hold from all sides
        near = [at for at in free if abs(at - wanted) <= whole_mm / (2.0 * count)]
        if near:
            found.append(min(near, key=lambda at: abs(at - wanted)))
    return sorted(found)


def _is_straight(
    spans: Sequence[Span], start_mm: float, end_mm: float, notches: Sequence[Place]
) -> bool:
    run = stretch(spans, start_mm, end_mm)
    turned = sum(abs(span.sweep_rad) for span in run)
    turned += sum(abs(turn_rad(run[k - 1], run[k])) for k in range(1, len(run)))
    if turned > math.radians(_STRAIGHT_DEG):
        return False
    middle, reach = run[len(run) // 2].start, end_mm - start_mm
    return all(math.dist(middle, notch) > reach for notch in notches)
