"""The arrow that shows the grain of a piece."""

from __future__ import annotations

from cutfiles.geometry.segments import Line
from cutfiles.geometry.vector import Point, Vector

_ARROW_MM = 6.0


def grain_arrow(line: Line) -> tuple[Point, ...]:
    """From tail to head, then the two barbs: the first step shows the direction. In the piece's
    frame, along whose x the grain runs."""
    barb = min(_ARROW_MM, line.length() / 3.0)
    upper = line.end + Vector(-barb, 0.4 * barb)
    lower = line.end + Vector(-barb, -0.4 * barb)
    return line.start, line.end, upper, line.end, lower
