"""Reading somebody's DXF drawing, through ezdxf: model space, seen from above, in millimetres.

Lines, arcs and bulges come as they are; ellipses, and circles in unevenly scaled blocks, as
cubics within 4e-7 of the half-axis; splines as cubics that share points and derivatives with
them, halved until they are within `CURVE_FIT_MM` (exact up to degree 3 without weights).
"""

from __future__ import annotations

import io
import math
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

from ezdxf import recover
from ezdxf.lldxf.const import DXFError

from cutfiles.geometry.affine import Affine
from cutfiles.geometry.segments import Arc, Cubic, Line, Segment
from cutfiles.geometry.vector import Point, Vector
from cutfiles.pieces.drawn import MOST_LINES, Drawing, DrawnLine, DrawnPoint, Notes, path_of
from cutfiles.tolerances import CURVE_FIT_MM
from cutfiles.units import MM_PER_DXF_UNIT, MM_PER_UNIT

_DEEPEST: Final = 32
_MOST_HALVINGS: Final = 10
_LEVEL_MM: Final = 0.001
_SPLINE_FRAME: Final = 16
"""The flag of a polyline's vertex that shapes its curve and does not lie on it."""


def read_dxf_drawing(content: bytes, *, unit: str | None, where: str) -> Drawing:
    """Every line of a DXF file.

    Parameters
    ----------
    content
        The file's bytes.
    unit
        What a drawing unit is where the file does not say (a key of `MM_PER_UNIT`).
    where
        Names the file in findings.
    """
    notes = Notes(where)
    try:
        document = _document(content)
    except (DXFError, OSError, ValueError, LookupError, TypeError, AttributeError) as error:
        # what a torn file makes the library stumble over is not its caller's to foresee
        text = f"is no DXF file that can be read: {str(error)[:80]!r}; save it again"
        notes.say("unreadable", "error", text)
        return Drawing((), tuple(notes.findings))
    per_unit = MM_PER_DXF_UNIT.get(int(document.header.get("$INSUNITS", 0)))
    if per_unit is None and unit is None:
        text = (
            "its header names no unit ($INSUNITS): give unit in the job, such as unit = \"mm\", "
            "or set the unit in the drawing"
        )  # fmt: skip
        notes.say("unknown-unit", "error", text)
        return Drawing((), tuple(notes.findings))
    if per_unit is not None and unit is not None:
        notes.say("unit-unused", "note", f"the file says its unit itself: unit = {unit!r} unused")
    one = MM_PER_UNIT[unit or "mm"] if per_unit is None else per_unit
    reader = _Reader(document, notes)
    reader.entities(document.modelspace(), _Place(Affine.scale(one, one)))
    reader.tell()
    return Drawing(tuple(reader.lines), tuple(notes.findings), tuple(reader.points))


def _document(content: bytes) -> Any:
    if content.startswith(b"AutoCAD Binary DXF"):
        raise ValueError("it is a binary DXF: save it as text (ASCII)")
    if content.split()[-1:] != [b"EOF"]:
        raise ValueError("it breaks off before its end (no EOF)")
    document, auditor = recover.read(io.BytesIO(content))
    if auditor.errors:
        raise ValueError(str(auditor.errors[0].message))
    return document


@dataclass(frozen=True, slots=True)
class _Place:
    """The map to mm, and the layers and blocks around."""

    to_mm: Affine
    names: tuple[str, ...] = ()
    within: tuple[str, ...] = ()


class _Reader:
    """Walks the entities, block inserts included, and collects their lines."""

    def __init__(self, document: Any, notes: Notes) -> None:
        self.lines: list[DrawnLine] = []
        self.points: list[DrawnPoint] = []
        self._document = document
        self._notes = notes
        self._unread: Counter[str] = Counter()
        self._parts = 0
        self._hidden = 0
        self._tilted = 0
        self._unseen = {
            layer.dxf.name.lower()
            for layer in document.layers
            if layer.is_off() or layer.is_frozen()
        }

    def entities(self, entities: Iterable[Any], place: _Place) -> None:
        for entity in entities:
            if self._is_full():
                return
            try:
                self._entity(entity, place)
            except (DXFError, ValueError, LookupError, TypeError, ArithmeticError) as error:
                called = f"{entity.dxftype()} #{entity.dxf.handle}"
                text = f"{called}: cannot be read: {error}; mend it in the drawing"
                self._notes.say("unreadable", "error", text)

    def tell(self) -> None:
        """Say what was not read."""
        if self._unread:
            parts = ", ".join(f"{name} ({count})" for name, count in sorted(self._unread.items()))
            text = f"holds {parts}, which is not read: draw as plain lines what is to be cut"
            self._notes.say("unread-part", "warning", text)
        if self._hidden:
            text = f"{self._hidden} hidden parts are left out: show in the drawing what is wanted"
            self._notes.say("hidden-part", "note", text)
        if self._tilted:
            text = (
                f"{self._tilted} parts do not lie flat and are read as seen from above: check them"
            )
            self._notes.say("not-flat", "warning", text)

    def _is_full(self) -> bool:
        """Count one part more; say so once when there are too many."""
        self._parts += 1
        if self._parts == MOST_LINES:
            text = f"holds more than {MOST_LINES} parts: keep to the outlines of the pieces"
            self._notes.say("too-many-lines", "error", text)
        return self._parts >= MOST_LINES

    def _entity(self, entity: Any, place: _Place) -> None:
        layer = str(entity.dxf.get("layer", "0"))
        if layer.lower() in self._unseen or entity.dxf.get("invisible", 0):
            self._hidden += 1
            return
        # what lies on layer 0 of a block is on the layer that the block is put on
        names = place.names if layer == "0" and place.names else (layer, *place.names)
        if entity.dxftype() == "INSERT":
            self._insert(entity, _Place(place.to_mm, names, place.within))
            return
        if entity.dxftype() == "POINT":
            at = entity.dxf.location
            self.points.append(DrawnPoint(place.to_mm.point(Point(at.x, at.y)), names))
            return
        found = _segments(entity, place.to_mm)
        if found is None:
            self._unread[entity.dxftype()] += 1
            return
        if not _lies_flat(entity):
            self._tilted += 1
        path = path_of([image for segment in found for image in place.to_mm.segment(segment)])
        if path is not None:
            self.lines.append(DrawnLine(path, names))

    def _insert(self, insert: Any, place: _Place) -> None:
        block = self._document.blocks.get(insert.dxf.name)
        if block is None:
            raise ValueError(f"there is no block {insert.dxf.name!r}")
        if block.name in place.within or len(place.within) > _DEEPEST:
            raise ValueError(f"the block {block.name!r} holds itself")
        for single in insert.multi_insert() if insert.mcount > 1 else (insert,):
            if self._is_full():
                return
            matrix = single.matrix44()
            origin, x, y = (matrix.transform(at) for at in ((0, 0, 0), (1, 0, 0), (0, 1, 0)))
            here = Affine(
                x.x - origin.x, x.y - origin.y, y.x - origin.x, y.y - origin.y, origin.x, origin.y
            )
            inside = _Place(
                place.to_mm.after(here), (block.name, *place.names), (*place.within, block.name)
            )
            self.entities(block, inside)


def _segments(entity: Any, to_mm: Affine) -> list[Segment] | None:
    """An entity in drawing units; None where its kind is no line."""
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


def _lies_flat(entity: Any) -> bool:
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
