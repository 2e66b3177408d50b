"""The passes of a drag knife: the line of its pivot, which the edge of the blade trails.

The edge trails the pivot by the offset d. Along a straight run the pivot is d ahead; round an arc
of radius rho it runs on one of sqrt(rho2 + d2) about the same centre; at a corner it goes on by d
and swings about the edge on an arc of radius d (all derived from the edge pointing along its line).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from cutfiles.cuts.lead_ins import LeadIns
from cutfiles.cuts.plan import Pass, Stroke
from cutfiles.cuts.stretch import as_pass, stretch, turn_rad
from cutfiles.geometry.bulges import Place, Span
from cutfiles.job.machine import DragKnife
from cutfiles.tolerances import COINCIDENT_MM

_TURNED_IN = 4.0
"""After this many offsets a blade that stood across has turned to within about 2 degrees:
tan(a / 2) = tan(a0 / 2) exp(-q / d), the tractrix."""


def pivot_line(edge: Sequence[Span], tool: DragKnife) -> list[Span]:
    """Where the pivot goes while the edge of the blade follows some spans.

    Below the angle from which corners are swung, the pivot goes straight across: no more than
    d (1 - cos(angle / 2)) off the arc.
    """
    line: list[Span] = []
    for k, span in enumerate(edge):
        first, last = span.directions_rad
        start, end = _ahead(span.start, first, tool), _ahead(span.end, last, tool)
        if line and math.dist(line[-1].end, start) > COINCIDENT_MM:
            turn = turn_rad(edge[k - 1], span)
            swings = abs(turn) > math.radians(tool.swing_from_deg)
            line.append(Span(line[-1].end, start, math.tan(turn / 4.0) if swings else 0.0))
        elif line:
            start = line[-1].end
        line.append(Span(start, end, span.bulge))
    return line


def drag_knife_passes(
    number: int, stroke: Stroke, tool: DragKnife, leads: LeadIns
) -> tuple[list[Pass], list[str]]:
    """The passes that make one stroke, and what is short of what the tool asks for, in words.

    A notch is come into along its own line, out of the waste, if the tool asks for
    a way in.
    """
    spans = list(stroke.spans)
    short: list[str] = []
    if stroke.role == "outline" and not stroke.closed:
        return [as_pass(number, stroke, pivot_line(_along_cuts(spans, tool), tool))], short
    if not stroke.closed:
        if tool.lead_in_mm:
            begin = leads.straight_in(stroke.piece_id, spans[0].start, spans[0].directions_rad[0])
            if begin is None:
                short.append("no room for a way in to turn the blade for a notch")
            else:
                spans.insert(0, Span(begin, spans[0].start))
        return [as_pass(number, stroke, pivot_line(spans, tool))], short
    whole = stroke.length_mm()
    edge = stretch(spans, 0.0, whole + min(tool.overrun_mm, whole / 2.0))
    place = None
    if tool.lead_in_mm:
        place = leads.way_in(number)
        if place is None:
            short.append("no room for a way in to turn the blade")
        elif (length := math.dist(place, spans[0].start)) < _TURNED_IN * tool.offset_mm:
            short.append(f"room for a way in of {length:.1f} mm only to turn the blade")
    if place is not None:
        edge = [Span(place, spans[0].start), *edge]
    return [as_pass(number, stroke, pivot_line(edge, tool))], short


def _along_cuts(part: Sequence[Span], tool: DragKnife) -> list[Span]:
    """What is left of an outline beside its twin, with a way in and an overrun: both on the twin's
    own cuts, which go on in line, as far as its sides are long."""
    first, last = part[0], part[-1]
    way_in, over = min(tool.lead_in_mm, first.length_mm), min(tool.overrun_mm, last.length_mm)
    begin = _beyond(first.start, first.directions_rad[0], -way_in)
    end = _beyond(last.end, last.directions_rad[1], over)
    there = [Span(begin, first.start)] if way_in else []
    return [*there, *part, *([Span(last.end, end)] if over else [])]


def _beyond(place: Place, direction_rad: float, by_mm: float) -> Place:
    return place[0] + by_mm * math.cos(direction_rad), place[1] + by_mm * math.sin(direction_rad)


def _ahead(place: Place, direction_rad: float, tool: DragKnife) -> Place:
    return _beyond(place, direction_rad, tool.offset_mm)
