"""From a lay to its cut plan: kerf, notches and marks, then the order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely.geometry import Polygon

from cutfiles.cuts.lettering import LabelPlaces, letter_strokes, writable
from cutfiles.cuts.marks import piece_strokes, written_label
from cutfiles.cuts.motion_time import cutting_time_s, marking_time_s
from cutfiles.cuts.order import ordered_strokes, travel_mm
from cutfiles.cuts.passes import off_strokes_mm
from cutfiles.cuts.plan import CutPlan, Lettering, Stroke
from cutfiles.cuts.starts import allowed_entries, with_entries
from cutfiles.cuts.tool_findings import blade_findings, machine_notes
from cutfiles.cuts.tool_passes import lead_ins, tool_passes
from cutfiles.errors import Finding
from cutfiles.geometry.fit_arcs import fitted
from cutfiles.geometry.kerf import waste_side_path
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.job.machine import SLIT, Machine, RotaryBlade
from cutfiles.lay.lay import Lay, PlacedPiece, outline_of
from cutfiles.pieces.ordered import CutList
from cutfiles.tolerances import KERF_MM, LAY_MM


def tool_findings(cuts: CutList, machine: Machine, *, source: str) -> tuple[Finding, ...]:
    """Whether the machine's tool can cut the pieces of some caps and panels, before any of them
    has a neighbour: an error for each piece that its kerf or blade does not suit."""
    here = Motion(0.0, Vector(0.0, 0.0))
    pieces = {id(p.piece): p for cap in cuts.caps for p in cap.pieces}
    findings = []
    for ordered in pieces.values():
        outline = outline_of(ordered)
        where = f"{source}: [machine]: {machine.kind}: {ordered.cap}, {ordered.name}"
        try:
            placed = PlacedPiece(ordered, outline, here)
            strokes = piece_strokes(placed, machine.kerf_mm, machine.notch or SLIT)
            _judge_bays(outline, machine.kerf_mm)
        except ValueError as error:
            text = f"{source}: [machine]: kerf: {ordered.cap}, {ordered.name}: {error}"
            findings.append(Finding("kerf", "error", text))
            continue
        if isinstance(machine.tool, RotaryBlade):
            findings.extend(blade_findings(strokes, machine.tool, cuts.cloth.stack_mm, where))
    return (*findings, *machine_notes(cuts, machine, source=source))


def _judge_bays(outline: Polygon, kerf_mm: float) -> None:
    """Whether the tool can leave the whole outline: it cannot reach into a sharp bay."""
    left = waste_side_path(outline, kerf_mm).buffer(-kerf_mm / 2.0, join_style="mitre")
    off = left.hausdorff_distance(outline)
    if off > KERF_MM:
        raise ValueError(
            f"a bay of the outline is too sharp for a kerf of {kerf_mm:g} mm, which would leave "
            f"{off:.2f} mm of it: round its tip, or use a finer tool"
        )


def cut_plan(lay: Lay, machine: Machine, *, seed: int) -> CutPlan:
    """Plan the cuts of a lay; the same lay, machine and seed give the same plan.

    Raises
    ------
    ValueError
        If the kerf does not suit a piece; `tool_findings` says so before anything is nested.
    """
    notch = machine.notch or SLIT
    strokes = [
        with_entries(stroke) if stroke.closed else stroke
        for placed in lay.placed
        for stroke in piece_strokes(placed, machine.kerf_mm, notch)
    ]
    areas = {placed.ordered.id: placed.outline.area for placed in lay.placed}
    allowed = allowed_entries(strokes, lead_ins(strokes, machine, _sheet(lay)))
    in_order = ordered_strokes(strokes, areas, seed=seed, allowed=allowed)
    ordered = tuple(map(_as_arcs, in_order))
    stack_mm = lay.cloth.stack_mm
    passes, short = tool_passes(ordered, machine, _sheet(lay), stack_mm, lay.name)
    pace, made = machine.pace, {cut.stroke for cut in passes}
    cut = [stroke for number, stroke in enumerate(ordered) if number in made]
    letterings = _letterings(lay, machine)
    drawn = letterings if machine.labels == "drawn" else ()
    letters = tuple(stroke for lettering in drawn for stroke in letter_strokes(lettering))
    marks = [s for n, s in enumerate(ordered) if n not in made and s.role != "cloth"]
    is_marked = machine.fittings.marks != "none"
    marking_s = marking_time_s([*marks, *letters], pace) if is_marked else 0.0
    return CutPlan(
        lay_name=lay.name,
        width_mm=lay.width_mm,
        length_mm=lay.length_mm,
        strokes=ordered,
        letterings=letterings,
        cut_length_mm=sum(stroke.length_mm() for stroke in cut),
        travel_mm=travel_mm(cut),
        time_s=cutting_time_s(passes, pace) + marking_s,
        on_cloth=_on_cloth(lay),
        remnant=() if lay.remnant is None else _corners(lay.remnant),
        passes=passes,
        tool_off_mm=off_strokes_mm(ordered, passes),
        findings=short,
        letters=letters,
    )


def _sheet(lay: Lay) -> Polygon:
    """The cloth of a lay, on whose edge a cut may lie."""
    sheet = lay.remnant or shapely.box(0.0, 0.0, lay.length_mm, lay.width_mm)
    return sheet.buffer(LAY_MM, join_style="mitre")


def _letterings(lay: Lay, machine: Machine) -> tuple[Lettering, ...]:
    """Where the label of each piece stands, of the kind that the machine gets."""
    if machine.labels == "none":
        return ()
    if machine.labels == "text":
        return tuple(written_label(placed) for placed in lay.placed)
    places = LabelPlaces()
    return tuple(places.drawn(placed) for placed in lay.placed)


def letter_findings(lays: Sequence[Lay], machine: Machine, *, source: str) -> tuple[Finding, ...]:
    """A note of the letters that labels have and the machine's single-stroke font lacks."""
    if machine.labels != "drawn":
        return ()
    labels = {placed.ordered.label for lay in lays for placed in lay.placed}
    lacking = sorted({letter for label in labels for letter in label if letter != writable(letter)})
    if not lacking:
        return ()
    text = (
        f"{source}: labels hold {' '.join(lacking)}, which the single-stroke letters lack: "
        'they are drawn as _; give plain names, or set labels = "text" under [machine]'
    )
    return (Finding("letters", "note", text),)


def _as_arcs(stroke: Stroke) -> Stroke:
    """A flattened curve as lines and arcs again; notches and grain lines are straight."""
    if stroke.role not in ("outline", "inner", "stitch"):
        return stroke
    points, bulges = fitted(stroke.points, closed=stroke.closed)
    return replace(stroke, points=points, bulges=bulges)


def _on_cloth(lay: Lay) -> tuple[Stroke, ...]:
    """The flaws and the fold of the cloth, to be seen."""
    strokes = [Stroke("cloth", "", _corners(flaw), closed=True) for flaw in lay.flaws]
    if lay.cloth.is_folded:
        strokes.append(Stroke("cloth", "", ((0.0, 0.0), (lay.length_mm, 0.0)), closed=False))
    return tuple(strokes)


def _corners(region: Polygon) -> tuple[tuple[float, float], ...]:
    points = shapely.get_coordinates(shapely.geometry.polygon.orient(region).exterior)[:-1]
    return tuple((float(x), float(y)) for x, y in points)
