"""Affine maps of the plane, for drawings that scale, turn, shear and mirror their parts."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Arc, Cubic, Line, Segment
from cutfiles.geometry.vector import Point, Vector

_UNEVEN = 1e-12
"""Relative unevenness of the two directions below which a circle stays a circle."""

_PART_DEG = 30.0
"""The most of a circle that one cubic stands for: within 4e-7 of the radius."""


@dataclass(frozen=True, slots=True)
class Affine:
    """``x' = a x + c y + e`` and ``y' = b x + d y + f``, in the order in which SVG writes it."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    @classmethod
    def shift(cls, x: float, y: float) -> Affine:
        """A shift."""
        return cls(e=x, f=y)

    @classmethod
    def scale(cls, x: float, y: float) -> Affine:
        """A scaling of both directions about the origin."""
        return cls(a=x, d=y)

    @classmethod
    def turn(cls, angle_deg: float) -> Affine:
        """A turn about the origin, from x towards y."""
        way = Vector.at_angle(angle_deg)
        return cls(way.x, way.y, -way.y, way.x)

    @classmethod
    def mirror(cls, at: Point, along: Vector) -> Affine:
        """The mirror image in the line through a point along a direction."""
        unit = along.unit
        a, b = 2.0 * unit.x * unit.x - 1.0, 2.0 * unit.x * unit.y
        return cls(a, b, b, -a, at.x - a * at.x - b * at.y, at.y - b * at.x + a * at.y)

    @property
    def determinant(self) -> float:
        """What areas are multiplied by; negative where it mirrors."""
        return self.a * self.d - self.b * self.c

    def after(self, first: Affine) -> Affine:
        """The map that applies ``first``, then this one."""
        return Affine(
            self.a * first.a + self.c * first.b,
            self.b * first.a + self.d * first.b,
            self.a * first.c + self.c * first.d,
            self.b * first.c + self.d * first.d,
            self.a * first.e + self.c * first.f + self.e,
            self.b * first.e + self.d * first.f + self.f,
        )

    def point(self, point: Point) -> Point:
        """Where a point goes."""
        return Point(
            self.a * point.x + self.c * point.y + self.e,
            self.b * point.x + self.d * point.y + self.f,
        )

    def vector(self, vector: Vector) -> Vector:
        """Where a step goes."""
        return Vector(self.a * vector.x + self.c * vector.y, self.b * vector.x + self.d * vector.y)

    def segment(self, segment: Segment) -> tuple[Segment, ...]:
        """Where a segment goes. An arc stays an arc where both directions keep their proportion;
        else it is elliptic, and comes as cubics of 30 degrees or less, each within 4e-7 of the
        larger half-axis.

        Raises
        ------
        ValueError
            If the map leaves nothing of the plane (a scale of 0).
        """
        if isinstance(segment, Line):
            return (Line(self.point(segment.start), self.point(segment.end)),)
        if isinstance(segment, Cubic):
            control = (segment.start, segment.handle, segment.end_handle, segment.end)
            return (Cubic(*(self.point(point) for point in control)),)
        if isinstance(segment, Arc):
            return self._arc(segment)
        raise TypeError(f"no image is known for {type(segment).__name__}")

    def path(self, path: Path) -> Path:
        """Where a path goes."""
        return Path(tuple(s for segment in path.segments for s in self.segment(segment)))

    def _arc(self, arc: Arc) -> tuple[Segment, ...]:
        size = math.hypot(self.a, self.b)
        sign = math.copysign(1.0, self.determinant)
        uneven = math.hypot(self.a - sign * self.d, self.b + sign * self.c)
        if size > 0.0 and uneven <= _UNEVEN * size:
            start = self.vector(Vector.at_angle(arc.start_deg)).angle_deg
            centre = self.point(arc.centre)
            return (Arc(centre, arc.radius_mm * size, start, sign * arc.sweep_deg),)
        count = math.ceil(abs(arc.sweep_deg) / _PART_DEG)
        parts = (arc.part(i / count, (i + 1) / count).as_cubic() for i in range(count))
        return tuple(image for part in parts for image in self.segment(part))
