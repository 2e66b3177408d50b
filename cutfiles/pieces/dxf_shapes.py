"""The entities of a DXF drawing as segments in drawing units, as ezdxf gives them.

Lines, arcs and bulges come as they are; ellipses, and circles in unevenly scaled blocks, as
cubics within 4e-7 of the half-axis; splines as cubics that share points and derivatives with
them, halved until they are within `CURVE_FIT_MM` (exact up to degree 3 without weights).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import Any, Final

from cutfiles.geometry.affine import Affine
from cutfiles.geometry.segments import Arc, Cubic, Line, Segment
from cutfiles.geometry.vector import Point, Vector
from cutfiles.tolerances import CURVE_FIT_MM

_MOST_HALVINGS: Final = 10
_LEVEL_MM: Final = 0.001
_SPLINE_FRAME: Final = 16
"""The flag of a polyline's vertex that shapes its curve and does not lie on it."""


def entity_shape(entity: Any, to_mm: Affine) -> list[Segment] | None:
    """An entity in drawing units; None where its kind is no line. ``to_mm`` tells how fine curves
    must be."""
    kind = entity.dxftype()
    if kind == "LINE":
        return [Line(_point(entity.dxf.start), _point(entity.dxf.end))]
    if kind in ("ARC", "CIRCLE"):
        start = entity.dxf.start_angle if kind == "ARC" else 0.0
        end = entity.dxf.end_angle if kind == "ARC" else 360.0
        sweep = (end - start) % 360.0 or 360.0
        arc = Arc(_point(entity.dxf.center), entity.dxf.radius, start, sweep)
        return list(_upright(entity).segment(arc))
    if kind == "ELLIPSE":
        return _ellipse(entity)
    if kind == "SPLINE":
        return list(_spline(entity.construction_tool(), to_mm))
    return _corners(entity)


def _corners(entity: Any) -> list[Segment] | None:
    """A polyline of either kind; None where it is a mesh, or no polyline."""
    if entity.dxftype() == "LWPOLYLINE":
        corners = [(x, y, b) for x, y, b in entity.get_points("xyb")]
        return _polyline(corners, entity.closed, _upright(entity))
    if entity.dxftype() != "POLYLINE" or not (entity.is_2d_polyline or entity.is_3d_polyline):
        return None
    corners = [
        (v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0))
        for v in entity.vertices
        if not v.dxf.flags & _SPLINE_FRAME
    ]
    upright = Affine() if entity.is_3d_polyline else _upright(entity)
    return _polyline(corners, entity.is_closed, upright)


def _polyline(
    corners: list[tuple[float, float, float]], closed: bool, upright: Affine
) -> list[Segment]:
    if not corners:
        return []
    stops = [*corners, corners[0]] if closed else corners
    segments: list[Segment] = []
    for (x0, y0, bulge), (x1, y1, _) in pairwise(stops):
        start, end = Point(float(x0), float(y0)), Point(float(x1), float(y1))
        if start != end:
            segments.extend(upright.segment(_bulged(start, end, float(bulge))))
    return segments


def _bulged(start: Point, end: Point, bulge: float) -> Segment:
    """A bulge is the tangent of a quarter of the arc's sweep, left turns positive."""
    if abs(bulge) < 1e-9:
        return Line(start, end)
    chord = end - start
    centre = start.toward(end, 0.5) + chord.left * ((1.0 - bulge * bulge) / (4.0 * bulge))
    radius = chord.length * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    return Arc(centre, radius, (start - centre).angle_deg, math.degrees(4.0 * math.atan(bulge)))


def _ellipse(entity: Any) -> list[Segment]:
    major = Vector(entity.dxf.major_axis.x, entity.dxf.major_axis.y)
    minor = Vector(entity.minor_axis.x, entity.minor_axis.y)
    centre = _point(entity.dxf.center)
    frame = Affine(major.x, major.y, minor.x, minor.y, centre.x, centre.y)
    start, end = (math.degrees(entity.dxf.get(f"{key}_param")) for key in ("start", "end"))
    sweep = end - start
    if not 0.0 < sweep <= 360.0 + 1e-9:
        sweep = sweep % 360.0 or 360.0
    return list(frame.segment(Arc(Point(0.0, 0.0), 1.0, start, min(sweep, 360.0))))


def _spline(curve: Any, to_mm: Affine) -> Iterator[Segment]:
    """Cubics between neighbouring knots, halved until each is near enough."""
    low, high = float(curve.knots()[curve.order - 1]), float(curve.knots()[curve.count])
    knots = sorted({min(max(float(knot), low), high) for knot in curve.knots()})
    size = math.sqrt(abs(to_mm.determinant)) or 1.0
    for t0, t1 in pairwise(knots):
        yield from _fitted(curve, t0, t1, CURVE_FIT_MM / size, _MOST_HALVINGS)


def _fitted(curve: Any, t0: float, t1: float, tolerance: float, halvings: int) -> Iterator[Cubic]:
    # a derivative at a knot belongs to the span on its right: look from inside this span
    _, first = curve.derivative(t0, 1)
    _, last = curve.derivative(t1 - (t1 - t0) * 1e-9, 1)
    third = (t1 - t0) / 3.0
    a, d = _point(curve.point(t0)), _point(curve.point(t1))
    fit = Cubic(a, a + _vector(first) * third, d + _vector(last) * -third, d)
    error = max(
        fit.point(s).distance(_point(curve.point(t0 + s * (t1 - t0)))) for s in (0.25, 0.5, 0.75)
    )
    if error <= tolerance or halvings == 0:
        yield fit
        return
    middle = (t0 + t1) / 2.0
    yield from _fitted(curve, t0, middle, tolerance, halvings - 1)
    yield from _fitted(curve, middle, t1, tolerance, halvings - 1)


def _upright(entity: Any) -> Affine:
    """From the entity's own plane, which may look from below, to the drawing's."""
    system = entity.ocs()
    if not system.transform:
        return Affine()
    height = entity.dxf.get("elevation", 0.0)
    level = height if isinstance(height, int | float) else 0.0
    origin, x, y = (system.to_wcs((i, j, level)) for i, j in ((0, 0), (1, 0), (0, 1)))
    return Affine(
        x.x - origin.x, x.y - origin.y, y.x - origin.x, y.y - origin.y, origin.x, origin.y
    )


def lies_flat(entity: Any) -> bool:
    """Whether an entity lies in a plane that is seen from above or below."""
    extrusion = entity.dxf.get("extrusion")
    if extrusion is not None and abs(extrusion.z) < 0.9999 * extrusion.magnitude:
        return False
    if entity.dxftype() == "LINE":
        return bool(abs(entity.dxf.start.z - entity.dxf.end.z) <= _LEVEL_MM)
    return True


def _point(place: Any) -> Point:
    return Point(float(place.x), float(place.y))


def _vector(step: Any) -> Vector:
    return Vector(float(step.x), float(step.y))
