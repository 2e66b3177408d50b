"""Lines and arcs as points with bulges, the form in which a cutting file holds them.

A span runs from one point to the next. Its bulge is the tangent of a quarter of the angle that its
arc turns through, positive counter-clockwise, 0 for a straight line (the definition of the DXF
format's owner). No bulges at all means straight spans throughout.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Place = tuple[float, float]

_STRAIGHT = 1e-8
"""A bulge below this stands less than 0.00005 mm off a chord of 10 m."""


@dataclass(frozen=True, slots=True)
class Span:
    """One span: where it starts and ends, in mm, and its bulge."""

    start: Place
    end: Place
    bulge: float = 0.0

    @property
    def is_arc(self) -> bool:
        """Whether it bends."""
        return abs(self.bulge) > _STRAIGHT

    @property
    def chord_mm(self) -> float:
        """From start to end as the crow flies."""
        return math.dist(self.start, self.end)

    @property
    def sweep_rad(self) -> float:
        """The angle that its arc turns through, positive counter-clockwise; 0 if straight."""
        return 4.0 * math.atan(self.bulge) if self.is_arc else 0.0

    @property
    def radius_mm(self) -> float:
        """Of its arc; infinite if straight."""
        if not self.is_arc:
            return math.inf
        return self.chord_mm * (1.0 + self.bulge**2) / (4.0 * abs(self.bulge))

    @property
    def centre(self) -> Place:
        """Of its arc. Raises ``ValueError`` if straight."""
        if not self.is_arc:
            raise ValueError("a straight span has no centre")
        (x0, y0), (x1, y1) = self.start, self.end
        # from the middle of the chord, to its left by this share of the chord
        share = (1.0 - self.bulge**2) / (4.0 * self.bulge)
        return (x0 + x1) / 2.0 - (y1 - y0) * share, (y0 + y1) / 2.0 + (x1 - x0) * share

    @property
    def length_mm(self) -> float:
        """Along the span."""
        return self.radius_mm * abs(self.sweep_rad) if self.is_arc else self.chord_mm

    @property
    def directions_rad(self) -> tuple[float, float]:
        """The direction of travel at its start and at its end, counter-clockwise from x."""
        (x0, y0), (x1, y1) = self.start, self.end
        chord, half = math.atan2(y1 - y0, x1 - x0), self.sweep_rad / 2.0
        return chord - half, chord + half

    def point(self, share: float) -> Place:
        """The point at a share of its length, 0 to 1."""
        (x0, y0), (x1, y1) = self.start, self.end
        if not self.is_arc or share in (0.0, 1.0):
            return (x1, y1) if share == 1.0 else (x0 + (x1 - x0) * share, y0 + (y1 - y0) * share)
        cx, cy = self.centre
        cosine, sine = math.cos(self.sweep_rad * share), math.sin(self.sweep_rad * share)
        dx, dy = x0 - cx, y0 - cy
        return cx + dx * cosine - dy * sine, cy + dx * sine + dy * cosine

    def part(self, from_share: float, to_share: float) -> Span:
        """The stretch between two shares of its length."""
        bulge = math.tan(math.atan(self.bulge) * (to_share - from_share)) if self.is_arc else 0.0
        return Span(self.point(from_share), self.point(to_share), bulge)

    @property
    def at_most_half_circles(self) -> tuple[Span, ...]:
        """The span, or the two halves of an arc of more than half a circle."""
        return (self,) if abs(self.bulge) <= 1.0 else (self.part(0.0, 0.5), self.part(0.5, 1.0))

    def reversed(self) -> Span:
        """The same line travelled the other way."""
        return Span(self.end, self.start, -self.bulge)

    def flattened(self, tolerance_mm: float) -> Array:
        """Points ``(n, 2)``, both ends included, no chord further off than the tolerance."""
        if not self.is_arc:
            return np.array([self.start, self.end])
        step = 2.0 * math.acos(1.0 - min(tolerance_mm / self.radius_mm, 1.0))
        count = max(1, math.ceil(abs(self.sweep_rad) / step))
        centre = np.array(self.centre)
        angles = self.sweep_rad * np.linspace(0.0, 1.0, count + 1)
        dx, dy = np.array(self.start) - centre
        turned = (
            dx * np.cos(angles) - dy * np.sin(angles),
            dx * np.sin(angles) + dy * np.cos(angles),
        )
        points = np.column_stack(turned) + centre
        points[0], points[-1] = self.start, self.end
        return np.asarray(points, dtype=np.float64)


def places_of(points: Array) -> tuple[Place, ...]:
    """Points ``(n, 2)`` as places."""
    return tuple((x, y) for x, y in points.tolist())


def spans_of(points: Sequence[Place], bulges: Sequence[float], *, closed: bool) -> Iterator[Span]:
    """The spans of a line, a closed one's last back to its first point.

    Raises
    ------
    ValueError
        If there are bulges, but not one for each span.
    """
    ends = [*points[1:], points[0]] if closed else points[1:]
    if bulges and len(bulges) != len(ends):
        raise ValueError(f"{len(ends)} spans need as many bulges, not {len(bulges)}")
    for k, end in enumerate(ends):
        yield Span(points[k], end, bulges[k] if bulges else 0.0)


def flattened(
    points: Sequence[Place], bulges: Sequence[float], *, closed: bool, tolerance_mm: float
) -> Array:
    """Points ``(n, 2)`` along a line; a closed one repeats its first point at the end."""
    if not bulges:
        line = np.array(points, dtype=np.float64)
        return np.vstack((line, line[:1])) if closed else line
    parts = [span.flattened(tolerance_mm) for span in spans_of(points, bulges, closed=closed)]
    return np.vstack([parts[0], *(part[1:] for part in parts[1:])])


def length_mm(points: Sequence[Place], bulges: Sequence[float], *, closed: bool) -> float:
    """Along all spans."""
    if not bulges:
        steps = np.diff(flattened(points, (), closed=closed, tolerance_mm=0.0), axis=0)
        return float(np.hypot(steps[:, 0], steps[:, 1]).sum())
    return sum(span.length_mm for span in spans_of(points, bulges, closed=closed))
