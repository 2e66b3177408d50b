"""Allowances, notches and small shapes that all styles share. Millimetres."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from scipy.optimize import brentq

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Cubic, Line, Segment
from cutfiles.geometry.vector import Point
from cutfiles.job.job import EdgeFinish, StripGrain
from cutfiles.pieces.piece import CutPart
from cutfiles.pieces.strips import joined_strips, strip

SEAM_MM: Final = 6.35
"""Seam allowance, 1/4 in (G-W "Apparel: Design, Textiles & Construction", 2012, p. 451)."""
HEM_MM: Final = 12.7
"""A 1/4 in double-rolled hem takes 1/2 in (common practice, no source)."""
CASING_MM: Final = 22.225
"""Casing for 1/2 in elastic: 1/2 + 1/8 + 1/4 in to turn under (common practice, no source)."""

QUARTERS: Final = (0.25, 0.5, 0.75)
"""A seam's middle and quarter points are notched first (common practice, no source)."""

_DOUBLE_APART_MM: Final = 6.0


def edge_allowance_mm(edge: EdgeFinish) -> float:
    """Of an edge that is hemmed or bound: a bound edge is encased as it is."""
    return HEM_MM if edge == "hem" else 0.0


def front_and_back_notches(length_mm: float, *, back_first: bool) -> tuple[float, ...]:
    """Fractions for a seam that runs from front to back, or from back to front.

    Single notches at the middle and the front quarter, a double one, 6 mm apart, at the back
    quarter, so that an edge cannot be sewn end for end (common practice, no source).
    """
    half = _DOUBLE_APART_MM / 2.0 / length_mm
    fractions = (0.25, 0.5, 0.75 - half, 0.75 + half)
    return tuple(sorted(1.0 - f for f in fractions)) if back_first else fractions


def binding_part(length_mm: float, longest_mm: float, grain: StripGrain) -> CutPart:
    """A binding of that length, joined from strips where one would be too long."""
    count, each = joined_strips(length_mm, longest_mm)
    return CutPart(strip("binding", each, grain=grain), count)


def mirrored_path(path: Path) -> Path:
    """A path of cubics and lines mirrored in the x axis and travelled back."""
    segments: list[Segment] = []
    for segment in reversed(path.segments):
        if isinstance(segment, Cubic):
            segments.append(mirrored_back(segment))
        elif isinstance(segment, Line):
            segments.append(Line(_mirror(segment.end), _mirror(segment.start)))
        else:
            raise TypeError(f"no mirror image is known for {type(segment).__name__}")
    return Path(tuple(segments))


def mirrored_back(curve: Cubic) -> Cubic:
    """A cubic mirrored in the x axis and travelled back."""
    points = (curve.end, curve.end_handle, curve.handle, curve.start)
    return Cubic(*(_mirror(point) for point in points))


def _mirror(point: Point) -> Point:
    return Point(point.x, -point.y)


def solve_length(
    excess: Callable[[float], float], low: float, high: float, otherwise: str
) -> float:
    """Where a growing function of one measure is zero.

    Raises
    ------
    ValueError
        With the text ``otherwise``, if it is not zero between the bounds.
    """
    if excess(low) > 0.0 or excess(high) < 0.0:
        raise ValueError(otherwise)
    return float(brentq(excess, low, high, xtol=1e-9))
