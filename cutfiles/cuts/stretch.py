"""Parts of a line of spans by their place along it. Millimetres."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shapely.geometry import Polygon

from cutfiles.cuts.plan import Pass, Stroke
from cutfiles.geometry.bulges import Place, Span, flattened
from cutfiles.tolerances import COINCIDENT_MM, FLATTEN_MM


def stretch(spans: Sequence[Span], start_mm: float, end_mm: float) -> list[Span]:
    """What of a line lies between two places along it; a place beyond the end of a closed line
    goes on from its start."""
    lengths = [span.length_mm for span in spans]
    whole = sum(lengths)
    found: list[Span] = []
    at, turn = 0.0, 0
    while at < end_mm - COINCIDENT_MM and turn * whole < end_mm:
        for span, length in zip(spans, lengths, strict=True):
            low, high = max(start_mm - at, 0.0), min(end_mm - at, length)
            if high - low > COINCIDENT_MM:
                is_whole = low == 0.0 and high == length
                found.append(span if is_whole else span.part(low / length, high / length))
            at += length
        turn += 1
    return found


def parted(stroke: Stroke, corners: Sequence[int]) -> list[list[Span]]:
    """The sides of a closed stroke from each of some of its points, in order by number, to the
    next; none for no points."""
    if not corners:
        return []
    spans = list(stroke.spans)
    ends = [*corners[1:], corners[0] + len(spans)]
    twice = spans + spans
    return [twice[low:high] for low, high in zip(corners, ends, strict=True)]


def turn_rad(before: Span, after: Span) -> float:
    """How far a line turns where one span follows another, in (-pi, pi]."""
    turn = after.directions_rad[0] - before.directions_rad[1]
    return math.pi - (math.pi - turn) % (2.0 * math.pi)


def as_pass(number: int, stroke: Stroke, spans: Sequence[Span]) -> Pass:
    """A pass along some spans, that makes a stroke or a part of it."""
    points: tuple[Place, ...] = (spans[0].start, *(span.end for span in spans))
    bulges = tuple(span.bulge for span in spans) if any(s.is_arc for s in spans) else ()
    return Pass(number, stroke.role, stroke.piece_id, points, bulges)


def region_of(stroke: Stroke) -> Polygon:
    """What a closed stroke goes round."""
    return Polygon(flattened(stroke.points, stroke.bulges, closed=True, tolerance_mm=FLATTEN_MM))
