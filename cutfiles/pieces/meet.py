"""Two drawn segments made to meet: the end of one is moved onto the end of the other.

A line from end to end would double back where the two overlap, as drawings that were trimmed by
eye do. A line or cubic is moved by its end and the handle beside it; an arc that must give way
becomes cubics.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from cutfiles.geometry.segments import Arc, Cubic, Line, Segment
from cutfiles.geometry.vector import Point
from cutfiles.tolerances import COINCIDENT_MM

_LEAST: Final = 4.0
"""A segment gives way only if it is longer than this many gaps."""

_PART_DEG: Final = 30.0


def joined_up(before: Sequence[Segment], after: Sequence[Segment]) -> list[Segment]:
    """Two runs of segments as one; the gap between them is closed."""
    if not before or before[-1].end.distance(after[0].start) <= COINCIDENT_MM:
        return [*before, *after]
    last, first = _met(before[-1], after[0])
    return [*before[:-1], *last, *first, *after[1:]]


def closed_up(run: Sequence[Segment]) -> list[Segment]:
    """A run whose end is made to meet its own start."""
    if run[-1].end.distance(run[0].start) <= COINCIDENT_MM:
        return list(run)
    if len(run) == 1:
        return [*run, Line(run[0].end, run[0].start)]
    last, first = _met(run[-1], run[0])
    return [*first, *run[1:-1], *last]


def _met(last: Segment, first: Segment) -> tuple[list[Segment], list[Segment]]:
    """Both, the one that is easier to move moved; a line between them where neither is."""
    gap = last.end.distance(first.start)
    for kind in (Line, Cubic, Arc):
        if isinstance(first, kind) and first.length() > _LEAST * gap:
            return [last], _begun_at(first, last.end)
        if isinstance(last, kind) and last.length() > _LEAST * gap:
            turned = _begun_at(last.reversed(), first.start)
            return [segment.reversed() for segment in reversed(turned)], [first]
    return [last, Line(last.end, first.start)], [first]


def _begun_at(segment: Segment, start: Point) -> list[Segment]:
    """A segment with its start moved."""
    if isinstance(segment, Line):
        return [Line(start, segment.end)]
    if isinstance(segment, Cubic):
        handle = segment.handle + (start - segment.start)
        return [Cubic(start, handle, segment.end_handle, segment.end)]
    if isinstance(segment, Arc):
        count = math.ceil(abs(segment.sweep_deg) / _PART_DEG)
        parts = [segment.part(i / count, (i + 1) / count).as_cubic() for i in range(count)]
        return [*_begun_at(parts[0], start), *parts[1:]]
    raise TypeError(f"no way is known to move the start of {type(segment).__name__}")
