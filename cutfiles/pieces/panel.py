"""From a drawing of one's own to panels: roles, loops, checks, the fold opened, the grain laid
along x.

Every finding of a drawing comes at once, with its place in the drawing. Nothing is guessed in
silence: what is closed, left out or assumed is a note or a warning, what cannot be cut an error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import shapely
from shapely.geometry import Polygon

from cutfiles.errors import Finding
from cutfiles.geometry.affine import Affine
from cutfiles.geometry.path import Path
from cutfiles.geometry.polygons import polygon_of
from cutfiles.geometry.segments import Arc, Cubic, Line, Segment
from cutfiles.geometry.vector import Point
from cutfiles.job.job import PanelLine, PanelRole
from cutfiles.pieces.drawn import Drawing, DrawnLine, DrawnPoint, Notes, place_text
from cutfiles.pieces.drawn_roles import Sorted, by_role, check_names, own_names
from cutfiles.pieces.exchange import PieceOrder, layers_of_roles, pattern_orders
from cutfiles.pieces.half import Half, half_on_fold
from cutfiles.pieces.ordered import Panel
from cutfiles.pieces.outlines import Shape, shapes_of
from cutfiles.pieces.panel_dxf import read_dxf_drawing
from cutfiles.pieces.panel_svg import read_svg_drawing
from cutfiles.pieces.piece import Edge, Piece
from cutfiles.pieces.slits import notch_of
from cutfiles.pieces.spots import grain_line, label_spot
from cutfiles.pieces.unfold import Fold, fold_along, fold_of, unfolded
from cutfiles.tolerances import FLATTEN_MM, SPECK_MM
from cutfiles.units import counted

FARTHEST_MM: Final = 1e6
"""How far from its origin a drawing may reach."""

_READERS: Final = {".svg": read_svg_drawing, ".dxf": read_dxf_drawing}
PANEL_FORMATS: Final = tuple(_READERS)


def read_panels(
    content: bytes, line: PanelLine, *, source: str
) -> tuple[tuple[Panel, ...], tuple[Finding, ...]]:
    """The panels of one drawing, every outermost outline one, and all that was found.

    Parameters
    ----------
    content
        The bytes of an SVG or DXF file, by the ending of ``line.file``.
    line
        The job's table.
    source
        The job file's name, for messages.

    Returns
    -------
    No panels where a finding is an error. A panel lies in the frame of a `Piece`, its lower left
    corner at the origin. A pattern for exchange gives those of its pieces that the job wants,
    and beside a piece its mirror image where it orders some for the right.
    """
    notes = Notes(f"{source}: [[panels]] {line.number}: {line.file}")
    ending = line.file[line.file.rfind(".") :].lower()
    drawing = _READERS[ending](content, unit=line.unit, where=notes.where)
    notes.findings.extend(drawing.findings)
    if notes.has_errors:
        return (), tuple(notes.findings)
    orders = _orders(drawing, line, notes)
    panels = []
    for order in orders:
        where = notes.where if drawing.pattern is None else f"{notes.where}: {order.name}"
        said = Notes(where)
        panels.extend(_ordered(order, line, said, drawing))
        notes.findings.extend(said.findings)
    if notes.has_errors:
        return (), tuple(notes.findings)
    return tuple(panels), tuple(notes.findings)


def _orders(drawing: Drawing, line: PanelLine, notes: Notes) -> list[PieceOrder]:
    """What is wanted of a drawing: all of it, or the pieces that a pattern orders."""
    if drawing.pattern is not None:
        pieces = drawing.pattern.pieces
        parts: list[DrawnLine | DrawnPoint] = []
        for piece in pieces:
            parts += [*piece.lines, *piece.points]
        check_names(parts, line, notes)
        return pattern_orders(drawing.pattern, line, notes)
    check_names((*drawing.lines, *drawing.points), line, notes)
    for key in ("sets", "size"):
        if getattr(line, key) is not None:
            text = f"{key}: goes with a pattern for exchange only, and this is none: leave it out"
            notes.say("bad-value", "error", text)
    if line.quantity is None:
        text = "quantity: is missing: give how many to cut (the drawing has no text that says it)"
        notes.say("missing-key", "error", text)
    return [
        PieceOrder(
            line.name, line.quantity or 1, 0, line.grain_deg, drawing.lines, drawing.points
        )
    ]  # fmt: skip


def _ordered(order: PieceOrder, line: PanelLine, notes: Notes, drawing: Drawing) -> list[Panel]:
    """The panels of one order: as drawn (left) and in the mirror (right), each as often as wanted;
    none where a finding is an error."""
    as_pattern = drawing.pattern is not None
    drawn = _panels(order, line, notes, as_pattern=as_pattern)
    if notes.has_errors or not order.mirrored:
        return drawn
    # what is wrong with the mirror image has been said of the piece
    turned = _panels(order.mirror_image(), line, Notes(notes.where), as_pattern=as_pattern)
    left = [_renamed(panel, "left", order.as_drawn) for panel in drawn if order.as_drawn]
    return left + [_renamed(panel, "right", order.mirrored) for panel in turned]


def _renamed(panel: Panel, hand: str, quantity: int) -> Panel:
    name = f"{panel.name} {hand}"
    return replace(panel, name=name, quantity=quantity, piece=replace(panel.piece, name=name))


def _panels(order: PieceOrder, line: PanelLine, notes: Notes, *, as_pattern: bool) -> list[Panel]:
    """Every outermost outline of an order as a panel."""
    far = sum(not all(map(_is_near, one.path.segments)) for one in order.lines)
    if far:
        text = f"{far} lines reach beyond {FARTHEST_MM:g} mm: see that the unit is right"
        notes.say("absurd-size", "error", text)
        return []
    drawn = by_role(
        order.lines, order.points, layers_of_roles(line) if as_pattern else own_names(line), notes,
        any_outline=not as_pattern and not line.names_of("outline"),
    )  # fmt: skip
    shapes = shapes_of(drawn, line, notes)
    marking: tuple[PanelRole, ...] = ("stitch", "notch", "fold", "drill")
    for role in marking:
        stray = [p for p in drawn[role] if not any(_lies_at(p, shape, line) for shape in shapes)]
        if shapes and stray:
            lines = counted(len(stray), "line")
            text = f"{lines} of role {role} left out, in no outline: move it there"
            notes.say("stray-mark", "warning", text, stray[0].start)
    panels = []
    for number, shape in enumerate(shapes, 1):
        name = f"{order.name} {number}" if len(shapes) > 1 else order.name
        panels.append(_panel(shape, drawn, order, line, name=name, notes=notes))
    return [panel for panel in panels if panel is not None]


def _is_near(segment: Segment) -> bool:
    """Whether all numbers of a segment are such that it can be measured."""
    points = [segment.start, segment.end]
    if isinstance(segment, Cubic):
        points += [segment.handle, segment.end_handle]
    elif isinstance(segment, Arc):
        points += [segment.centre, Point(segment.radius_mm, 0.0)]
    return all(abs(p.x) <= FARTHEST_MM and abs(p.y) <= FARTHEST_MM for p in points)


def _panel(
    shape: Shape,
    drawn: Sorted,
    order: PieceOrder,
    line: PanelLine,
    *,
    name: str,
    notes: Notes,
) -> Panel | None:
    """One panel laid with its grain along x; None where it cannot be unfolded."""
    marks = [p for p in (*drawn["stitch"], *drawn["drill"]) if _lies_at(p, shape, line)]
    slits = [path for path in drawn["notch"] if _lies_at(path, shape, line)]
    grain_deg = order.grain_deg
    if grain_deg is None:
        grain_deg = _drawn_grain_deg(shape, drawn["grain"], name, notes)
    cut, inner = shape.outline.path, [hole.path for hole in shape.inner]
    fold = _fold(shape, drawn["fold"], line, notes)
    if fold is not None and line.stays_folded:
        half = _folded(shape, fold, grain_deg, line, notes)
        if half is None:
            return None
        kept = _Drawn(half.cut, half.region, tuple(inner), tuple(marks), tuple(slits))
        piece = _piece(name, kept, half.place, line, notes)
        return Panel(name, line, piece, order.as_drawn, half.turn_deg)
    if fold is not None:
        loops = _opened(shape, fold, notes)
        if loops is None:
            return None
        cut = loops[0]
        inner = [*inner, *(fold.mirror.path(p) for p in inner), *loops[1:]]
        marks = _doubled(marks, fold, line)
        slits = _doubled(slits, fold, line)
    turn = Affine.turn(-grain_deg)
    x0, y0, _, _ = polygon_of(turn.path(cut)).bounds
    place = Affine.shift(-x0, -y0).after(turn)
    cut = place.path(cut)
    if not polygon_of(cut).exterior.is_ccw:
        cut = cut.reversed()
    whole = _Drawn(cut, cut, tuple(inner), tuple(marks), tuple(slits))
    return Panel(name, line, _piece(name, whole, place, line, notes), order.as_drawn)


@dataclass(frozen=True, slots=True)
class _Drawn:
    """What becomes a piece: its cut line and what of it is cloth, in the piece's frame, and its
    cut-outs, marks and notches in the drawing's."""

    cut: Path
    region: Path
    inner: tuple[Path, ...]
    marks: tuple[Path, ...]
    slits: tuple[Path, ...]


def _piece(name: str, drawn: _Drawn, place: Affine, line: PanelLine, notes: Notes) -> Piece:
    """A piece of what was drawn; ``place`` maps the drawing to its frame."""
    edge = Edge("outline", drawn.cut, 0.0, "raw")
    placed = [(path.start, place.path(path)) for path in drawn.slits]
    within = line.gap_tolerance_mm
    notches = [notch_of(edge, at, slit, within, notes) for at, slit in placed]
    holes = tuple(place.path(path) for path in drawn.inner)
    cloth = polygon_of(drawn.region)
    inside = Polygon(cloth.exterior, [polygon_of(hole).exterior.coords for hole in holes])
    lines = _within([(path.start, place.path(path)) for path in drawn.marks], cloth, notes)
    return Piece(
        name, (edge,), drawn.cut, tuple(notch for notch in notches if notch),
        grain_line(inside), label_spot(inside), holes, lines,
    )  # fmt: skip


def _doubled(paths: Sequence[Path], fold: Fold, line: PanelLine) -> list[Path]:
    """Lines and their mirror images; what lies on the fold is its own."""
    images = []
    for path in paths:
        ends = (abs(fold.off(path.start)), abs(fold.off(path.end)))
        if max(ends) > line.gap_tolerance_mm:
            images.append(fold.mirror.path(path))
    return [*paths, *images]


def _within(marks: Sequence[tuple[Point, Path]], whole: Polygon, notes: Notes) -> tuple[Path, ...]:
    """Marks kept to the panel; each comes with its place in the drawing. One that leaves the
    outline is cut off there, as straight lines."""
    kept: list[Path] = []
    leaving: list[Point] = []
    room = whole.buffer(FLATTEN_MM)
    for drawn_at, path in marks:
        line = shapely.LineString(path.flattened(FLATTEN_MM))
        if room.covers(line):
            kept.append(path)
            continue
        leaving.append(drawn_at)
        common = shapely.line_merge(line.intersection(whole))
        for part in getattr(common, "geoms", [common]):
            if part.length > SPECK_MM:
                points = shapely.get_coordinates(part)
                kept.append(Path.through([Point(float(x), float(y)) for x, y in points]))
    if leaving:
        text = f"{counted(len(leaving), 'mark')} cut off at the outline"
        notes.say("stray-mark", "warning", text, leaving[0])
    return tuple(kept)


def _fold(shape: Shape, drawn: Sequence[Path], line: PanelLine, notes: Notes) -> Fold | None:
    """Where a half is to be folded: along the drawn line of the role fold, or on its longest
    straight edge where the job says so; None where the panel is whole, or with a finding."""
    corner = shape.outline.corner
    for path in drawn:
        if not _lies_at(path, shape, line):
            continue
        fold = fold_along(shape.outline.path, path.start, path.end, line.gap_tolerance_mm)
        if fold is None:
            text = f"the fold line there, to {place_text(path.end)}, lies on no straight edge"
            if _lies_across(path, shape, line):
                text += ": the panel is taken to be drawn whole"
                notes.say("fold-unclear", "warning", text, path.start)
            else:
                text += ": draw half the panel up to it"
                notes.say("no-fold", "error", text, path.start)
        return fold
    if not line.on_fold:
        return None
    fold = fold_of(shape.outline.path)
    if fold is None:
        text = "on_fold: the outline has no straight edge to fold on: draw half the panel"
        notes.say("no-fold", "error", text, corner)
    elif fold.rival is not None:
        text = (
            f"on_fold: {_edge_text(fold)} is taken for the fold, and another edge, from "
            f"{place_text(fold.rival)}, is as long: make the fold the longest edge"
        )
        notes.say("fold-unclear", "warning", text, corner)
    return fold


def _lies_across(path: Path, shape: Shape, line: PanelLine) -> bool:
    """Whether cloth lies on both sides of a fold line."""
    if path.start == path.end:
        return False
    off = Fold(path.start, path.end, None).off
    sides = [off(Point(float(x), float(y))) for x, y in shape.outline.path.flattened(FLATTEN_MM)]
    return min(sides) < -line.gap_tolerance_mm and max(sides) > line.gap_tolerance_mm


def _opened(shape: Shape, fold: Fold, notes: Notes) -> tuple[Path, ...] | None:
    """The whole loops of a half, or a finding."""
    try:
        loops = unfolded(shape.outline.path, fold)
        whole = [polygon_of(loop) for loop in loops]
        if any(not whole[0].contains(bay) for bay in whole[1:]):
            raise ValueError("a bay in the fold leaves the outline")
    except ValueError as error:
        text = f"on_fold: {_edge_text(fold)} is taken for the fold, and {error}: "
        notes.say("no-fold", "error", f"{text}make the fold the longest edge", shape.outline.corner)
        return None
    return loops


def _folded(
    shape: Shape, fold: Fold, grain_deg: float, line: PanelLine, notes: Notes
) -> Half | None:
    """A half as it lies on the fold of the cloth, or a finding."""
    try:
        return half_on_fold(shape.outline.path, fold, grain_deg, line.grain)
    except ValueError as error:
        text = (
            f"on_fold: {_edge_text(fold)} is taken for the fold, and {error}: make the fold the "
            'longest edge and see to grain and grain_deg, or give the cloth spread = "single"'
        )
        notes.say("no-fold", "error", text, shape.outline.corner)
        return None


def _edge_text(fold: Fold) -> str:
    return f"the edge from {place_text(fold.start)} to {place_text(fold.end)}"


def _drawn_grain_deg(shape: Shape, drawn: Sequence[Path], name: str, notes: Notes) -> float:
    """The grain as drawn in the panel, from the first end of its line to the last; the only
    grain line of a drawing is for all its panels; without any it is the x axis."""
    straight = [s for path in drawn for s in path.segments if isinstance(s, Line)]
    inside = [s for s in straight if shape.outline.polygon.covers(_spot(s))]
    candidates = inside or (straight if len(drawn) == 1 else [])
    if candidates:
        longest: Segment = max(candidates, key=lambda s: s.length())
        return longest.tangent(0.0).angle_deg
    text = f"{name!r} has no grain line: the drawing's x axis is taken for it; give grain_deg"
    notes.say("grain-assumed", "note", text)
    return 0.0


def _lies_at(path: Path, shape: Shape, line: PanelLine) -> bool:
    """Whether a line lies in an outline, or at least begins or ends there."""
    spots = (path.start, path.point_at(path.length() / 2.0), path.end)
    region = shape.outline.polygon
    return any(region.distance(shapely.Point(p.x, p.y)) <= line.gap_tolerance_mm for p in spots)


def _spot(segment: Segment) -> shapely.Point:
    middle = segment.point(0.5)
    return shapely.Point(middle.x, middle.y)
