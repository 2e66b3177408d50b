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
        ends = self.start, self.end
        return flattened(ends, (self.bulge,), closed=False, tolerance_mm=tolerance_mm)


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
    bends = _checked(bulges, len(ends))
    for k, end in enumerate(ends):
        yield Span(points[k], end, bends[k])


def _checked(bulges: Sequence[float], count: int) -> Sequence[float]:
    """A bulge for each of so many spans."""
    if bulges and len(bulges) != count:
        raise ValueError(f"{count} spans need as many bulges, not {len(bulges)}")
    return bulges or [0.0] * count


def flattened(
    points: Sequence[Place], bulges: Sequence[float], *, closed: bool, tolerance_mm: float
) -> Array:
    """Points ``(n, 2)`` along a line; a closed one repeats its first point at the end."""
    line = np.array([*points, points[0]] if closed else points, dtype=np.float64)
    bends = np.array(_checked(bulges, len(line) - 1))
    is_arc = np.abs(bends) > _STRAIGHT
    if not is_arc.any():
        return line
    starts, chords = line[:-1], np.diff(line, axis=0)
    bend = np.where(is_arc, bends, 1.0)
    sweep = 4.0 * np.arctan(bend)
    radius = np.hypot(chords[:, 0], chords[:, 1]) * (1.0 + bend**2) / (4.0 * np.abs(bend))
    step = 2.0 * np.arccos(1.0 - tolerance_mm / np.maximum(radius, tolerance_mm))
    counts = np.where(is_arc, np.maximum(np.ceil(np.abs(sweep) / step), 1.0), 1.0).astype(np.int64)
    # from a start to its centre: half the chord, and to its left by this share of it
    share = ((1.0 - bend**2) / (4.0 * bend))[:, None]
    away = -chords / 2.0 - share * np.column_stack((-chords[:, 1], chords[:, 0]))
    of = np.repeat(np.arange(len(counts)), counts)
    number = np.arange(len(of)) - np.repeat(np.cumsum(counts) - counts, counts)
    angle = sweep[of] * (number / counts[of])
    dx, dy = away[of].T
    cosine, sine = np.cos(angle), np.sin(angle)
    turned = np.column_stack((dx * cosine - dy * sine, dx * sine + dy * cosine))
    flat = starts[of] + turned - away[of]
    begins = number == 0
    flat[begins] = starts
    return np.vstack((flat, line[-1:]))


def length_mm(points: Sequence[Place], bulges: Sequence[float], *, closed: bool) -> float:
    """Along all spans."""
    if not bulges:
        steps = np.diff(flattened(points, (), closed=closed, tolerance_mm=0.0), axis=0)
        return float(np.hypot(steps[:, 0], steps[:, 1]).sum())
    return sum(span.length_mm for span in spans_of(points, bulges, closed=closed))
