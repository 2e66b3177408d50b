"""Points, vectors and rigid motions of the plane. Millimetres; y up; degrees."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Vector:
    """A displacement in millimetres, or a direction when its length is 1."""

    x: float
    y: float

    def __add__(self, other: Vector) -> Vector:
        return Vector(self.x + other.x, self.y + other.y)

    def __mul__(self, factor: float) -> Vector:
        return Vector(self.x * factor, self.y * factor)

    def __neg__(self) -> Vector:
        return Vector(-self.x, -self.y)

    def dot(self, other: Vector) -> float:
        """Scalar product."""
        return self.x * other.x + self.y * other.y

    def cross(self, other: Vector) -> float:
        """The z of the cross product: positive where ``other`` lies to the left."""
        return self.x * other.y - self.y * other.x

    @property
    def length(self) -> float:
        """Euclidean length."""
        return math.hypot(self.x, self.y)

    @property
    def unit(self) -> Vector:
        """The direction; raises ``ZeroDivisionError`` for a zero vector."""
        return self * (1.0 / self.length)

    @property
    def left(self) -> Vector:
        """Turned a quarter counter-clockwise."""
        return Vector(-self.y, self.x)

    @property
    def right(self) -> Vector:
        """Turned a quarter clockwise: outwards, on a counter-clockwise outline."""
        return Vector(self.y, -self.x)

    @property
    def angle_deg(self) -> float:
        """Counter-clockwise from the x axis, in (-180, 180]."""
        return math.degrees(math.atan2(self.y, self.x))

    @classmethod
    def at_angle(cls, angle_deg: float) -> Vector:
        """The unit vector at an angle, exact at whole quarter turns."""
        return cls(*_cos_sin(angle_deg))


@dataclass(frozen=True, slots=True)
class Point:
    """A place in millimetres. Point minus point is a `Vector`; points do not add."""

    x: float
    y: float

    def __add__(self, step: Vector) -> Point:
        return Point(self.x + step.x, self.y + step.y)

    def __sub__(self, other: Point) -> Vector:
        return Vector(self.x - other.x, self.y - other.y)

    def distance(self, other: Point) -> float:
        """Euclidean distance."""
        return math.hypot(self.x - other.x, self.y - other.y)

    def toward(self, other: Point, fraction: float) -> Point:
        """The point at a fraction of the way to another."""
        return Point(self.x + (other.x - self.x) * fraction, self.y + (other.y - self.y) * fraction)


@dataclass(frozen=True, slots=True)
class Motion:
    """A rigid motion: a turn about the origin, counter-clockwise, then a shift in mm."""

    turn_deg: float
    shift: Vector

    def point(self, point: Point) -> Point:
        """Where a point goes."""
        cos, sin = _cos_sin(self.turn_deg)
        return Point(
            cos * point.x - sin * point.y + self.shift.x,
            sin * point.x + cos * point.y + self.shift.y,
        )

    def vector(self, vector: Vector) -> Vector:
        """Where a direction goes: turned, not shifted."""
        cos, sin = _cos_sin(self.turn_deg)
        return Vector(cos * vector.x - sin * vector.y, sin * vector.x + cos * vector.y)

    @property
    def matrix(self) -> tuple[float, float, float, float, float, float]:
        """``[a, b, d, e, xoff, yoff]`` as shapely's ``affine_transform`` takes it."""
        cos, sin = _cos_sin(self.turn_deg)
        return (cos, -sin, sin, cos, self.shift.x, self.shift.y)


def _cos_sin(angle_deg: float) -> tuple[float, float]:
    """Cosine and sine, without the rounding dust at whole quarter turns."""
    quarter, rest = divmod(angle_deg % 360.0, 90.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    return math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))


def intersection(at: Point, along: Vector, other_at: Point, other_along: Vector) -> Point | None:
    """Where two straight lines, each a point and a direction, cross; None where parallel."""
    denominator = along.cross(other_along)
    if abs(denominator) <= 1e-12 * along.length * other_along.length:
        return None
    return at + along * ((other_at - at).cross(other_along) / denominator)


def reflected(vector: Vector, axis: Vector) -> Vector:
    """A direction mirrored in the line through the origin along ``axis``."""
    unit = axis.unit
    return unit * (2.0 * vector.dot(unit)) + -vector
