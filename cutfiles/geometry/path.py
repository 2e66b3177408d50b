"""A path: segments joined end to start, measured by arc length."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from cutfiles.geometry.roots import root_between
from cutfiles.geometry.segments import Array, Line, Segment
from cutfiles.geometry.vector import Motion, Point, Vector
from cutfiles.tolerances import COINCIDENT_MM


@dataclass(frozen=True, slots=True)
class Path:
    """One or more segments, each starting where the one before it ends.

    Raises
    ------
    ValueError
        If there is no segment, or two neighbours do not meet within `COINCIDENT_MM`.
    """

    segments: tuple[Segment, ...]

    def __post_init__(self) -> None:
        if not self.segments:
            raise ValueError("a path needs at least one segment")
        for before, after in zip(self.segments, self.segments[1:], strict=False):
            gap = before.end.distance(after.start)
            if gap > COINCIDENT_MM:
                raise ValueError(
                    f"a path must join up; there is a gap of {gap} mm at {after.start}"
                )

    @classmethod
    def through(cls, points: Iterable[Point]) -> Path:
        """The polyline through points."""
        stops = tuple(points)
        return cls(tuple(Line(a, b) for a, b in itertools.pairwise(stops)))

    @property
    def start(self) -> Point:
        """Where it begins."""
        return self.segments[0].start

    @property
    def end(self) -> Point:
        """Where it ends."""
        return self.segments[-1].end

    @property
    def is_closed(self) -> bool:
        """Whether it ends where it begins."""
        return self.start.distance(self.end) <= COINCIDENT_MM

    def length(self) -> float:
        """Arc length in mm."""
        return sum(segment.length() for segment in self.segments)

    def point_at(self, distance_mm: float) -> Point:
        """The point at an arc length from the start (clamped to the ends)."""
        segment, t = self._locate(distance_mm)
        return segment.point(t)

    def tangent_at(self, distance_mm: float) -> Vector:
        """The unit direction of travel at an arc length from the start (clamped)."""
        segment, t = self._locate(distance_mm)
        return segment.tangent(t)

    @property
    def start_tangent(self) -> Vector:
        """Unit direction of travel at the start."""
        return self.segments[0].tangent(0.0)

    @property
    def end_tangent(self) -> Vector:
        """Unit direction of travel at the end."""
        return self.segments[-1].tangent(1.0)

    def part(self, from_mm: float, to_mm: float) -> Path:
        """The stretch between two arc lengths from the start.

        Raises ``ValueError`` unless ``0 <= from_mm < to_mm <= length``, within rounding.
        """
        pieces: list[Segment] = []
        walked = 0.0
        for segment in self.segments:
            length = segment.length()
            low, high = from_mm - walked, to_mm - walked
            walked += length
            if high <= COINCIDENT_MM or low >= length - COINCIDENT_MM:
                continue
            t0 = 0.0 if low <= COINCIDENT_MM else _parameter_at(segment, low)
            t1 = 1.0 if high >= length - COINCIDENT_MM else _parameter_at(segment, high)
            pieces.append(segment if (t0, t1) == (0.0, 1.0) else segment.part(t0, t1))
        if not pieces:
            raise ValueError(f"no stretch of the path lies between {from_mm} and {to_mm} mm")
        return Path(tuple(pieces))

    def reversed(self) -> Path:
        """The same path travelled the other way."""
        return Path(tuple(segment.reversed() for segment in reversed(self.segments)))

    def moved(self, motion: Motion) -> Path:
        """Under a rigid motion."""
        return Path(tuple(segment.moved(motion) for segment in self.segments))

    def stretched(self, along: float, across: float) -> Path:
        """With x multiplied by ``along`` and y by ``across``."""
        return Path(tuple(s for part in self.segments for s in part.stretched(along, across)))

    def flattened(self, tolerance_mm: float) -> Array:
        """Points ``(n, 2)`` with both ends; no chord further from its curve than the tolerance."""
        parts = [segment.flattened(tolerance_mm) for segment in self.segments]
        return np.vstack([parts[0], *(part[1:] for part in parts[1:])])

    def _locate(self, distance_mm: float) -> tuple[Segment, float]:
        walked = 0.0
        for segment in self.segments:
            length = segment.length()
            if distance_mm <= walked + length:
                return segment, _parameter_at(segment, distance_mm - walked)
            walked += length
        return self.segments[-1], 1.0


def _parameter_at(segment: Segment, distance_mm: float) -> float:
    """The parameter at an arc length from the segment's start, clamped to [0, 1]."""
    length = segment.length()
    if distance_mm <= 0.0:
        return 0.0
    if distance_mm >= length:
        return 1.0
    if isinstance(segment, Line):
        return distance_mm / length
    return root_between(lambda t: segment.length(t) - distance_mm, 0.0, 1.0, within=1e-12)
