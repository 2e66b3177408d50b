"""The three kinds of path segment: straight line, circular arc, cubic Bézier curve.

All share one protocol, `Segment`: parameter t in [0, 1], millimetres, degrees. Curves stay
true curves here; `flattened` is for whoever writes or measures polygons.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
import numpy.typing as npt

from cutfiles.geometry.vector import Motion, Point, Vector

Array = npt.NDArray[np.float64]

_PANELS: Final = 4
_GAUSS: Final = np.polynomial.legendre.leggauss(16)
_NODES: Final = ((np.arange(_PANELS)[:, None] + (_GAUSS[0] + 1.0) / 2.0) / _PANELS).ravel()
_WEIGHTS: Final = np.tile(_GAUSS[1] / (2.0 * _PANELS), _PANELS)
"""16-point Gauss-Legendre on each of 4 panels, from 0 to 1: below 1e-9 mm on any curve of a cap."""


class Segment(Protocol):
    """A directed piece of a path."""

    @property
    def start(self) -> Point:
        """Where it begins."""

    @property
    def end(self) -> Point:
        """Where it ends."""

    def point(self, t: float) -> Point:
        """The point at parameter ``t``."""

    def tangent(self, t: float, /) -> Vector:
        """The unit direction of travel at ``t``."""

    def curvature(self, t: float, /) -> float:
        """1/mm, positive where the path bends to the left."""

    def length(self, t: float = 1.0) -> float:
        """Arc length from the start to ``t``, in mm."""

    def part(self, t0: float, t1: float) -> Segment:
        """The stretch between two parameters, same direction."""

    def reversed(self) -> Segment:
        """The same curve travelled the other way."""

    def moved(self, motion: Motion) -> Segment:
        """Under a rigid motion."""

    def stretched(self, along: float, across: float) -> tuple[Segment, ...]:
        """With x multiplied by ``along`` and y by ``across``."""

    def flattened(self, tolerance_mm: float, /) -> Array:
        """Points ``(n, 2)``, both ends included, no chord further off than the tolerance."""


@dataclass(frozen=True, slots=True)
class Line:
    """A straight segment."""

    start: Point
    end: Point

    def point(self, t: float) -> Point:
        """See `Segment`."""
        return self.start.toward(self.end, t)

    def tangent(self, _t: float, /) -> Vector:
        """See `Segment`."""
        return (self.end - self.start).unit

    def curvature(self, _t: float, /) -> float:
        """See `Segment`."""
        return 0.0

    def length(self, t: float = 1.0) -> float:
        """See `Segment`."""
        return self.start.distance(self.end) * t

    def part(self, t0: float, t1: float) -> Line:
        """See `Segment`."""
        return Line(self.point(t0), self.point(t1))

    def reversed(self) -> Line:
        """See `Segment`."""
        return Line(self.end, self.start)

    def moved(self, motion: Motion) -> Line:
        """See `Segment`."""
        return Line(motion.point(self.start), motion.point(self.end))

    def stretched(self, along: float, across: float) -> tuple[Segment, ...]:
        """See `Segment`."""
        return (Line(_stretch(self.start, along, across), _stretch(self.end, along, across)),)

    def flattened(self, _tolerance_mm: float, /) -> Array:
        """See `Segment`."""
        return np.array([[self.start.x, self.start.y], [self.end.x, self.end.y]])


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular arc from ``start_deg`` through ``sweep_deg`` (positive counter-clockwise)."""

    centre: Point
    radius_mm: float
    start_deg: float
    sweep_deg: float

    def __post_init__(self) -> None:
        if not self.radius_mm > 0 or not 0 < abs(self.sweep_deg) <= 360:
            raise ValueError(
                f"an arc needs a radius above 0 and a sweep up to 360 degrees, "
                f"not {self.radius_mm} mm and {self.sweep_deg} degrees"
            )

    @property
    def start(self) -> Point:
        """See `Segment`."""
        return self.point(0.0)

    @property
    def end(self) -> Point:
        """See `Segment`."""
        return self.point(1.0)

    def point(self, t: float) -> Point:
        """See `Segment`."""
        return self.centre + Vector.at_angle(self.start_deg + self.sweep_deg * t) * self.radius_mm

    def tangent(self, t: float) -> Vector:
        """See `Segment`."""
        outward = Vector.at_angle(self.start_deg + self.sweep_deg * t)
        return outward.left if self.sweep_deg > 0 else outward.right

    def curvature(self, _t: float, /) -> float:
        """See `Segment`."""
        return math.copysign(1.0 / self.radius_mm, self.sweep_deg)

    def length(self, t: float = 1.0) -> float:
        """See `Segment`."""
        return math.radians(abs(self.sweep_deg)) * self.radius_mm * t

    def part(self, t0: float, t1: float) -> Arc:
        """See `Segment`."""
        return Arc(
            self.centre,
            self.radius_mm,
            self.start_deg + self.sweep_deg * t0,
            self.sweep_deg * (t1 - t0),
        )

    def reversed(self) -> Arc:
        """See `Segment`."""
        return Arc(self.centre, self.radius_mm, self.start_deg + self.sweep_deg, -self.sweep_deg)

    def moved(self, motion: Motion) -> Arc:
        """See `Segment`."""
        return Arc(
            motion.point(self.centre),
            self.radius_mm,
            self.start_deg + motion.turn_deg,
            self.sweep_deg,
        )

    def stretched(self, along: float, across: float) -> tuple[Segment, ...]:
        """See `Segment`. A stretched arc is elliptic: it comes as cubics of 30 degrees or less,
        each within 4e-7 of the radius (a cubic's error falls with the sixth power of its angle,
        from 2.7e-4 at 90 degrees)."""
        count = math.ceil(abs(self.sweep_deg) / 30.0)
        pieces = (self.part(i / count, (i + 1) / count).as_cubic() for i in range(count))
        return tuple(s for piece in pieces for s in piece.stretched(along, across))

    def as_cubic(self) -> Cubic:
        """The cubic with the same ends, end tangents and midpoint (sweep up to 90 degrees)."""
        handle = 4.0 / 3.0 * math.tan(math.radians(abs(self.sweep_deg)) / 4.0) * self.radius_mm
        start, end = self.start, self.end
        return Cubic(
            start, start + self.tangent(0.0) * handle, end + self.tangent(1.0) * -handle, end
        )

    def flattened(self, tolerance_mm: float) -> Array:
        """See `Segment`."""
        sagitta = min(tolerance_mm / self.radius_mm, 1.0)
        step = 2.0 * math.acos(1.0 - sagitta)
        count = max(1, math.ceil(math.radians(abs(self.sweep_deg)) / step))
        angles = np.radians(self.start_deg + self.sweep_deg * np.linspace(0.0, 1.0, count + 1))
        points = np.column_stack((np.cos(angles), np.sin(angles))) * self.radius_mm
        points = points + np.array([self.centre.x, self.centre.y])
        points[0], points[-1] = (self.start.x, self.start.y), (self.end.x, self.end.y)
        return np.asarray(points, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Cubic:
    """A cubic Bézier curve with its two handles."""

    start: Point
    handle: Point
    end_handle: Point
    end: Point

    def point(self, t: float) -> Point:
        """See `Segment`."""
        a, b, c, d = self.start, self.handle, self.end_handle, self.end
        s = 1.0 - t
        k0, k1, k2, k3 = s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t
        return Point(
            k0 * a.x + k1 * b.x + k2 * c.x + k3 * d.x, k0 * a.y + k1 * b.y + k2 * c.y + k3 * d.y
        )

    def derivative(self, t: float) -> Vector:
        """dP/dt in mm."""
        a, b, c, d = self.start, self.handle, self.end_handle, self.end
        s = 1.0 - t
        k0, k1, k2 = 3 * s * s, 6 * s * t, 3 * t * t
        return Vector(
            k0 * (b.x - a.x) + k1 * (c.x - b.x) + k2 * (d.x - c.x),
            k0 * (b.y - a.y) + k1 * (c.y - b.y) + k2 * (d.y - c.y),
        )

    def tangent(self, t: float) -> Vector:
        """See `Segment`."""
        direction = self.derivative(t)
        if direction.length < 1e-12:  # a handle on its end point: look a little further in
            direction = self.derivative(min(max(t, 1e-6), 1 - 1e-6))
        return direction.unit

    def curvature(self, t: float) -> float:
        """See `Segment`."""
        a, b, c, d = self.start, self.handle, self.end_handle, self.end
        first = self.derivative(t)
        k0, k1 = 6 * (1 - t), 6 * t
        bend_x = k0 * (c.x - 2 * b.x + a.x) + k1 * (d.x - 2 * c.x + b.x)
        bend_y = k0 * (c.y - 2 * b.y + a.y) + k1 * (d.y - 2 * c.y + b.y)
        return (first.x * bend_y - first.y * bend_x) / first.length**3

    def length(self, t: float = 1.0) -> float:
        """See `Segment`."""
        a, b, c, d = self.start, self.handle, self.end_handle, self.end
        at = _NODES * t
        rates = []
        for p, q, r, s in ((a.x, b.x, c.x, d.x), (a.y, b.y, c.y, d.y)):
            # the derivative as a polynomial of the second degree
            low, middle, high = 3 * (q - p), 6 * (r - 2 * q + p), 3 * (s - 3 * r + 3 * q - p)
            rates.append((high * at + middle) * at + low)
        return t * float(_WEIGHTS @ np.sqrt(rates[0] ** 2 + rates[1] ** 2))

    def part(self, t0: float, t1: float) -> Cubic:
        """See `Segment`. By the chain rule: the end derivatives scale with the parameter span."""
        span = (t1 - t0) / 3.0
        start, end = self.point(t0), self.point(t1)
        return Cubic(
            start, start + self.derivative(t0) * span, end + self.derivative(t1) * -span, end
        )

    def reversed(self) -> Cubic:
        """See `Segment`."""
        return Cubic(self.end, self.end_handle, self.handle, self.start)

    def moved(self, motion: Motion) -> Cubic:
        """See `Segment`."""
        return Cubic(*(motion.point(p) for p in self._control()))

    def stretched(self, along: float, across: float) -> tuple[Segment, ...]:
        """See `Segment`."""
        return (Cubic(*(_stretch(p, along, across) for p in self._control())),)

    def flattened(self, tolerance_mm: float) -> Array:
        """See `Segment`. The count follows from the largest second derivative M: a chord over a
        parameter step h is off by at most M h^2 / 8."""
        a, b, c, d = self._control()
        first = math.hypot(c.x - 2 * b.x + a.x, c.y - 2 * b.y + a.y)
        second = math.hypot(d.x - 2 * c.x + b.x, d.y - 2 * c.y + b.y)
        bend = 6.0 * max(first, second)
        count = max(1, math.ceil(math.sqrt(bend / (8.0 * tolerance_mm))))
        t = np.arange(count + 1) / count
        s = 1.0 - t
        shares = np.column_stack((s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t))
        points = shares @ np.array([(p.x, p.y) for p in (a, b, c, d)])
        return np.asarray(points, dtype=np.float64)

    def _control(self) -> tuple[Point, Point, Point, Point]:
        return (self.start, self.handle, self.end_handle, self.end)


def _stretch(point: Point, along: float, across: float) -> Point:
    return Point(point.x * along, point.y * across)
