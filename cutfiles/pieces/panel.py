"""From a drawing of one's own to panels: roles, loops, checks, the fold opened, the grain laid
along x.

Every finding of a drawing comes at once, with its place in the drawing. Nothing is guessed in
silence: what is closed, left out or assumed is a note or a warning, what cannot be cut an error.
"""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from scipy.optimize import brentq
from shapely.geometry import Polygon

from cutfiles.errors import Finding
from cutfiles.geometry.affine import Affine
from cutfiles.geometry.path import Path
from cutfiles.geometry.polygons import polygon_of
from cutfiles.geometry.segments import Arc, Cubic, Line, Segment
from cutfiles.geometry.vector import Point, Vector
from cutfiles.job.job import PANEL_ROLES, PanelLine, PanelRole
from cutfiles.pieces.allowance import NOTCH_DEPTH_MM
from cutfiles.pieces.chain import chained
from cutfiles.pieces.drawn import MOST_SAID, DrawnLine, DrawnPoint, Notes, place_text
from cutfiles.pieces.half import Half, half_on_fold
from cutfiles.pieces.loops import Loop, measured_loops, shared_out
from cutfiles.pieces.ordered import Panel
from cutfiles.pieces.panel_dxf import read_dxf_drawing
from cutfiles.pieces.panel_svg import read_svg_drawing
from cutfiles.pieces.piece import Edge, Notch, Piece
from cutfiles.pieces.spots import grain_line, label_spot
from cutfiles.pieces.unfold import Fold, fold_of, unfolded
from cutfiles.tolerances import FLATTEN_MM, SPECK_MM

LARGEST_MM = 5000.0
SMALLEST_MM = 5.0
"""A panel beyond these has the wrong unit."""

FARTHEST_MM = 1e6
"""How far from its origin a drawing may reach."""

MOST_OUTLINES = 100
"""Of one drawing; more is a nested lay, not a pattern."""

_NICK_MM = 1e-3
_FOOT_WITHIN_MM = 0.5
"""How far a flattened outline may mistake a place along it."""

_READERS = {".svg": read_svg_drawing, ".dxf": read_dxf_drawing}
PANEL_FORMATS = tuple(_READERS)

Sorted = dict[PanelRole, list[Path]]


@dataclass(frozen=True, slots=True)
class _Shape:
    """One panel in the drawing's frame."""

    outline: Loop
    inner: tuple[Loop, ...]


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
    corner at the origin.
    """
    notes = Notes(f"{source}: [[panels]] {line.number}: {line.file}")
    ending = line.file[line.file.rfind(".") :].lower()
    drawing = _READERS[ending](content, unit=line.unit, where=notes.where)
    notes.findings.extend(drawing.findings)
    far = sum(not all(map(_is_near, one.path.segments)) for one in drawing.lines)
    if far:
        text = f"{far} lines reach beyond {FARTHEST_MM:g} mm: see that the unit is right"
        notes.say("absurd-size", "error", text)
    if notes.has_errors:
        return (), tuple(notes.findings)
    drawn = _by_role(drawing.lines, line, notes, drawing.points)
    shapes = _shapes(drawn, line, notes)
    marking: tuple[PanelRole, ...] = ("stitch", "notch")
    for role in marking:
        stray = [p for p in drawn[role] if not any(_lies_at(p, shape, line) for shape in shapes)]
        if shapes and stray:
            text = (
                f"{len(stray)} lines of role {role} lie in no outline and are left out: move them"
            )
            notes.say("stray-mark", "warning", text, stray[0].start)
    several = len(shapes) > 1
    panels = [
        _panel(shape, drawn, line, f"{line.name} {number}" if several else line.name, notes)
        for number, shape in enumerate(shapes, 1)
    ]
    if notes.has_errors:
        return (), tuple(notes.findings)
    return tuple(panel for panel in panels if panel), tuple(notes.findings)


def _by_role(
    lines: Sequence[DrawnLine], line: PanelLine, notes: Notes, points: Sequence[DrawnPoint] = ()
) -> Sorted:
    """Lines by what they are for: as the job names their layers or groups, or by the role's own
    name; where none is an outline by name, all that is left may be one."""
    named = {role: line.names_of(role) or (role,) for role in PANEL_ROLES}
    there = sorted(
        {name for one in lines for name in one.names}
        | {name for one in points for name in one.names}
    )
    for role in PANEL_ROLES:
        for name in line.names_of(role):
            if name not in there:
                near = difflib.get_close_matches(name, there, n=1, cutoff=0.5)
                known = f"found: {', '.join(map(repr, there[:12])) or 'none'}"
                hint = f"did you mean {near[0]!r}?" if near else known
                text = f"roles: {role}: no layer or group is called {name!r}: {hint}"
                notes.say("no-such-layer", "error", text)
    drawn: Sorted = {role: [] for role in PANEL_ROLES}
    nicks = [point for point in points if set(point.names) & set(named["notch"])]
    drawn["notch"].extend(_nick(point.place) for point in nicks)
    if len(points) > len(nicks):
        text = (
            f"{len(points) - len(nicks)} single points are not read: name their layer as the notch "
            "role if they are notches"
        )
        notes.say("unread-part", "note", text)
    rest: list[DrawnLine] = []
    for one in lines:
        # the innermost name that has a role decides
        roles = [role for name in one.names for role in PANEL_ROLES if name in named[role]]
        if roles:
            drawn[roles[0]].append(one.path)
        else:
            rest.append(one)
    if not drawn["outline"] and not line.names_of("outline"):
        drawn["outline"] = [one.path for one in rest]
    elif rest:
        layers = sorted({one.names[0] if one.names else "no layer" for one in rest})
        there_are = ", ".join(layers[:MOST_SAID])
        text = f"{len(rest)} lines have no role and are left out (on {there_are})"
        notes.say("no-role", "note", f"{text}: name their layer under roles if they are wanted")
    return drawn


def _shapes(drawn: Sorted, line: PanelLine, notes: Notes) -> list[_Shape]:
    """Outlines with the cut-outs that lie in them."""
    outlines = _loops(drawn["outline"], line, notes)
    inner = _loops(drawn["inner"], line, notes) if drawn["inner"] else []
    shapes = [
        _Shape(outline, tuple(holes)) for outline, holes in shared_out(outlines, inner, notes)
    ]
    if not shapes and not notes.has_errors:
        text = "there is no closed outline: draw the panel's edge as one closed line"
        if notes.findings:
            text += ", and see that the unit is right"
        notes.say("no-outline", "error", text)
    if len(shapes) > MOST_OUTLINES:
        text = f"there are {len(shapes)} outlines, and may be {MOST_OUTLINES}: use more drawings"
        notes.say("too-many-outlines", "error", text)
        return []
    if len(shapes) > 1:
        places = ", ".join(place_text(shape.outline.corner) for shape in shapes[:MOST_SAID])
        text = f"there are {len(shapes)} outlines, at {places}: each is cut as a panel of its own"
        notes.say("several-outlines", "note", text)
    for shape in shapes:
        _judge_size(shape.outline, notes)
    return shapes


def _loops(paths: Sequence[Path], line: PanelLine, notes: Notes) -> list[Loop]:
    """Chain lines into loops, and say what does not close."""
    found = chained(paths, gap_mm=line.gap_tolerance_mm)
    for place in found.duplicates[:MOST_SAID]:
        text = "a line lies twice in the same place and is cut once: delete one of the two"
        notes.say("duplicate-line", "warning", text, place)
    if found.gaps:
        widest = max(found.gaps, key=lambda gap: gap.width_mm)
        notes.say(
            "gap-closed", "note",
            f"{len(found.gaps)} gaps were closed, the widest {widest.width_mm:.3f} mm (up to "
            f"gap_tolerance, {line.gap_tolerance_mm:g} mm)", widest.at,
        )  # fmt: skip
    specks = [one.path for one in found.loose if _is_speck(one.path)]
    loose = [one for one in found.loose if not _is_speck(one.path)]
    if len(loose) > MOST_SAID:
        text = f"{len(loose)} lines are not closed, of which the first {MOST_SAID} follow"
        notes.say("open-outline", "error", text)
    for one in loose[:MOST_SAID]:
        start, end = one.path.start, one.path.end
        if one.at_junction:
            text = "three or more lines meet at one of its ends: keep one way round"
        elif one.nearest_mm == float("inf"):
            text = "no other end is near: close it or delete it"
        else:
            text = (
                f"the nearest end is {one.nearest_mm:.3f} mm away and gap_tolerance is "
                f"{line.gap_tolerance_mm:g} mm: close it, or widen gap_tolerance"
            )
        notes.say(
            "open-outline", "error",
            f"a line of {one.path.length():.1f} mm, on to {place_text(end)}, is not closed: {text}",
            start,
        )  # fmt: skip
    loops = measured_loops([p for p in found.loops if not _is_speck(p)], notes)
    specks.extend(p for p in found.loops if _is_speck(p))
    if specks:
        notes.say(
            "stray-speck", "warning",
            f"{len(specks)} specks of {SPECK_MM:g} mm or less are left out: delete them, or see "
            "that the unit is right", specks[0].start,
        )  # fmt: skip
    return loops


def _is_near(segment: Segment) -> bool:
    """Whether all numbers of a segment are such that it can be measured."""
    points = [segment.start, segment.end]
    if isinstance(segment, Cubic):
        points += [segment.handle, segment.end_handle]
    elif isinstance(segment, Arc):
        points += [segment.centre, Point(segment.radius_mm, 0.0)]
    return all(abs(p.x) <= FARTHEST_MM and abs(p.y) <= FARTHEST_MM for p in points)


def _is_speck(path: Path) -> bool:
    points = path.flattened(FLATTEN_MM)
    return bool((points.max(axis=0) - points.min(axis=0)).max() <= SPECK_MM)


def _judge_size(loop: Loop, notes: Notes) -> None:
    x0, y0, x1, y1 = loop.polygon.bounds
    size = f"the outline is {x1 - x0:.4g} by {y1 - y0:.4g} mm, and must be"
    mend = "see that the unit is right"
    if max(x1 - x0, y1 - y0) > LARGEST_MM:
        text = f"{size} at most {LARGEST_MM:g} mm: {mend}"
        notes.say("absurd-size", "error", text, loop.corner)
    elif max(x1 - x0, y1 - y0) < SMALLEST_MM:
        text = f"{size} at least {SMALLEST_MM:g} mm one way: {mend}"
        notes.say("absurd-size", "error", text, loop.corner)


def _panel(shape: _Shape, drawn: Sorted, line: PanelLine, name: str, notes: Notes) -> Panel | None:
    """One panel laid with its grain along x; None where it cannot be unfolded."""
    marks = [path for path in drawn["stitch"] if _lies_at(path, shape, line)]
    slits = [path for path in drawn["notch"] if _lies_at(path, shape, line)]
    grain_deg = line.grain_deg
    if grain_deg is None:
        grain_deg = _drawn_grain_deg(shape, drawn["grain"], name, notes)
    cut, inner = shape.outline.path, [hole.path for hole in shape.inner]
    if line.stays_folded:
        half = _folded(shape, grain_deg, line, notes)
        if half is None:
            return None
        drawn_on = _Drawn(half.cut, half.region, tuple(inner), tuple(marks), tuple(slits))
        return Panel(name, line, _piece(name, drawn_on, half.place, line, notes), half.turn_deg)
    if line.on_fold:
        opened = _opened(shape, notes)
        if opened is None:
            return None
        fold, loops = opened
        cut = loops[0]
        inner = [*inner, *(fold.mirror.path(p) for p in inner), *loops[1:]]
        marks = [*marks, *(fold.mirror.path(path) for path in marks)]
        slits = [*slits, *(fold.mirror.path(path) for path in slits)]
    turn = Affine.turn(-grain_deg)
    x0, y0, _, _ = polygon_of(turn.path(cut)).bounds
    place = Affine.shift(-x0, -y0).after(turn)
    cut = place.path(cut)
    if not polygon_of(cut).exterior.is_ccw:
        cut = cut.reversed()
    whole = _Drawn(cut, cut, tuple(inner), tuple(marks), tuple(slits))
    return Panel(name, line, _piece(name, whole, place, line, notes))


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
    edge = Edge("outline", drawn.cut, 0.0, "raw")
    placed = [(path.start, place.path(path)) for path in drawn.slits]
    notches = [_notch(edge, at, slit, line, notes) for at, slit in placed]
    holes = tuple(place.path(path) for path in drawn.inner)
    cloth = polygon_of(drawn.region)
    inside = Polygon(cloth.exterior, [polygon_of(hole).exterior.coords for hole in holes])
    lines = _within([(path.start, place.path(path)) for path in drawn.marks], cloth, notes)
    return Piece(
        name, (edge,), drawn.cut, tuple(notch for notch in notches if notch),
        grain_line(inside), label_spot(inside), holes, lines,
    )  # fmt: skip


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
        text = f"{len(leaving)} lines of role stitch leave the outline and are cut off there"
        notes.say("stray-mark", "warning", text, leaving[0])
    return tuple(kept)


def _opened(shape: _Shape, notes: Notes) -> tuple[Fold, tuple[Path, ...]] | None:
    """The fold and the whole loops of a half, or a finding."""
    corner = shape.outline.corner
    fold = fold_of(shape.outline.path)
    if fold is None:
        text = "on_fold: the outline has no straight edge to fold on: draw half the panel"
        notes.say("no-fold", "error", text, corner)
        return None
    edge = f"the edge from {place_text(fold.start)} to {place_text(fold.end)}"
    try:
        loops = unfolded(shape.outline.path, fold)
        whole = [polygon_of(loop) for loop in loops]
        if any(not whole[0].contains(bay) for bay in whole[1:]):
            raise ValueError("a bay in the fold leaves the outline")
    except ValueError as error:
        text = f"on_fold: {edge} is taken for the fold, and {error}: make the fold the longest edge"
        notes.say("no-fold", "error", text, corner)
        return None
    if fold.rival is not None:
        notes.say("fold-unclear", "warning", _rival_text(edge, fold.rival), corner)
    return fold, loops


def _folded(shape: _Shape, grain_deg: float, line: PanelLine, notes: Notes) -> Half | None:
    """A half as it lies on the fold of the cloth, or a finding."""
    outline, corner = shape.outline.path, shape.outline.corner
    if not polygon_of(outline).exterior.is_ccw:
        outline = outline.reversed()
    fold = fold_of(outline)
    if fold is None:
        text = "on_fold: the outline has no straight edge to fold on: draw half the panel"
        notes.say("no-fold", "error", text, corner)
        return None
    edge = f"the edge from {place_text(fold.start)} to {place_text(fold.end)}"
    try:
        half = half_on_fold(outline, fold, grain_deg, line.grain)
    except ValueError as error:
        text = (
            f"on_fold: {edge} is taken for the fold, and {error}: make the fold the longest edge "
            'and see to grain and grain_deg, or give the cloth spread = "single"'
        )
        notes.say("no-fold", "error", text, corner)
        return None
    if fold.rival is not None:
        notes.say("fold-unclear", "warning", _rival_text(edge, fold.rival), corner)
    return half


def _rival_text(edge: str, rival: Point) -> str:
    return (
        f"on_fold: {edge} is taken for the fold, and another edge, from {place_text(rival)}, is as "
        "long: make the fold the longest edge"
    )


def _drawn_grain_deg(shape: _Shape, drawn: Sequence[Path], name: str, notes: Notes) -> float:
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


def _nick(place: Point) -> Path:
    """A single point as a line too short to show a depth."""
    return Path((Line(place, place + Vector(_NICK_MM, 0.0)),))


def _notch(edge: Edge, drawn_at: Point, slit: Path, line: PanelLine, notes: Notes) -> Notch | None:
    """A slit square to the outline where a drawn notch touches it, as deep as that reaches in;
    of the usual depth where it is a single point."""
    ring = shapely.LinearRing(edge.stitch.flattened(FLATTEN_MM))
    if slit.length() <= 2.0 * _NICK_MM:
        off = ring.distance(shapely.Point(slit.start.x, slit.start.y))
        if off <= max(line.gap_tolerance_mm, 2.0 * FLATTEN_MM):
            return _slit_at(edge, slit.start, ring, NOTCH_DEPTH_MM)
    inside = Polygon(ring)
    ends = sorted(
        (ring.distance(shapely.Point(p.x, p.y)), p.x, p.y) for p in (slit.start, slit.end)
    )
    reach = ends[1][0]
    if (
        ends[0][0] > max(line.gap_tolerance_mm, 2.0 * FLATTEN_MM)
        or reach <= SPECK_MM
        or (not inside.contains(shapely.Point(*ends[1][1:])))
    ):
        text = (
            "a notch must begin on the outline and end inside it: it begins "
            f"{ends[0][0]:.3f} mm off and ends {reach:.3f} mm off; draw it from edge to inside"
        )
        notes.say("bad-notch", "error", text, drawn_at)
        return None
    return _slit_at(edge, Point(*ends[0][1:]), ring, reach)


def _slit_at(edge: Edge, place: Point, ring: shapely.LinearRing, depth_mm: float) -> Notch:
    """A slit square to the edge at the place of it nearest to a point."""
    length = edge.stitch.length()
    guess = ring.project(shapely.Point(place.x, place.y)) / ring.length * length
    along = _foot_mm(edge.stitch, place, guess)
    at = edge.stitch.point_at(along)
    inward = edge.stitch.tangent_at(along).left
    return Notch(edge.name, along / length, at + inward * depth_mm, at, depth_mm)


def _foot_mm(path: Path, place: Point, guess_mm: float) -> float:
    """Where along a path the nearest point to a place is, near a guess."""

    def beyond(along: float) -> float:
        return path.tangent_at(along).dot(path.point_at(along) - place)

    low = max(guess_mm - _FOOT_WITHIN_MM, 0.0)
    high = min(guess_mm + _FOOT_WITHIN_MM, path.length())
    if beyond(low) * beyond(high) >= 0.0:
        return guess_mm
    return float(brentq(beyond, low, high, xtol=1e-9))


def _lies_at(path: Path, shape: _Shape, line: PanelLine) -> bool:
    """Whether a line lies in an outline, or at least begins or ends there."""
    spots = (path.start, path.point_at(path.length() / 2.0), path.end)
    region = shape.outline.polygon
    return any(region.distance(shapely.Point(p.x, p.y)) <= line.gap_tolerance_mm for p in spots)


def _spot(segment: Segment) -> shapely.Point:
    middle = segment.point(0.5)
    return shapely.Point(middle.x, middle.y)
