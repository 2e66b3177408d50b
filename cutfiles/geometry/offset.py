"""The parallel of a path, as true curves.

The parallel of a line is a line and of an arc an arc. The parallel of a cubic is no cubic: it
is fitted by cubics that share its end points and end derivatives, halved until the fit is
within `CURVE_FIT_MM` (the scheme of W. Tiller and E. G. Hanson, "Offsets of Two-Dimensional
Profiles", IEEE Computer Graphics and Applications 4(9), 1984, with derivatives instead of
control legs).
"""

from __future__ import annotations

import math

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Arc, Cubic, Line, Segment
from cutfiles.geometry.vector import Point, Vector
from cutfiles.tolerances import COINCIDENT_MM, CURVE_FIT_MM

_MOST_HALVINGS = 12


def offset_to_right(path: Path, distance_mm: float) -> tuple[Segment, ...]:
    """Each segment's parallel, ``distance_mm`` to the right of travel (negative: to the left).

    Right is outwards on a counter-clockwise outline. Neighbours that met at a corner do not
    meet any more: joining them is for the caller, who knows the corner.

    Raises
    ------
    ValueError
        If the parallel would fold over itself: the path bends, towards that side, more tightly
        than the distance.
    """
    if abs(distance_mm) <= COINCIDENT_MM:
        return path.segments
    return tuple(s for segment in path.segments for s in _parallel(segment, distance_mm))


def _parallel(segment: Segment, distance_mm: float) -> tuple[Segment, ...]:
    if isinstance(segment, Line):
        step = segment.tangent(0.0).right * distance_mm
        return (Line(segment.start + step, segment.end + step),)
    if isinstance(segment, Arc):
        radius = segment.radius_mm + distance_mm * math.copysign(1.0, segment.sweep_deg)
        if radius <= 0:
            raise _too_tight(segment.radius_mm, distance_mm)
        return (Arc(segment.centre, radius, segment.start_deg, segment.sweep_deg),)
    if isinstance(segment, Cubic):
        return _parallel_cubic(segment, distance_mm, _MOST_HALVINGS)
    raise TypeError(f"no parallel is known for {type(segment).__name__}")


def _parallel_cubic(curve: Cubic, distance_mm: float, halvings: int) -> tuple[Segment, ...]:
    def exact(t: float) -> Point:
        return curve.point(t) + curve.tangent(t).right * distance_mm

    def rate(t: float) -> Vector:
        widening = 1.0 + curve.curvature(t) * distance_mm
        if widening <= 0.0:
            raise _too_tight(abs(1.0 / curve.curvature(t)), distance_mm)
        return curve.derivative(t) * widening

    start, end = exact(0.0), exact(1.0)
    fit = Cubic(start, start + rate(0.0) * (1 / 3), end + rate(1.0) * (-1 / 3), end)
    error = 0.0
    for t in (0.25, 0.5, 0.75):
        rate(t)
        away = exact(t) - fit.point(t)
        error = max(error, abs(away.dot(curve.tangent(t).right)))
    if error <= CURVE_FIT_MM or halvings == 0:
        return (fit,)
    return _parallel_cubic(curve.part(0.0, 0.5), distance_mm, halvings - 1) + _parallel_cubic(
        curve.part(0.5, 1.0), distance_mm, halvings - 1
    )


def _too_tight(radius_mm: float, distance_mm: float) -> ValueError:
    return ValueError(
        f"a curve of radius {radius_mm:.2f} mm has no parallel {abs(distance_mm):.2f} mm inside: "
        "ease the curve or narrow the allowance"
    )
