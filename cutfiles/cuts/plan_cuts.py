"""From a lay to its cut plan: kerf, notches and marks, then the order."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import shapely
from shapely.geometry import Polygon

from cutfiles.cuts.frames import windows_of
from cutfiles.cuts.lettering import LabelPlaces, letters_of, writable
from cutfiles.cuts.marks import lay_strokes, piece_strokes, written_label
from cutfiles.cuts.motion_time import cutting_legs, marking_legs, piece_times
from cutfiles.cuts.order import ordered_strokes, travel_mm
from cutfiles.cuts.passes import off_strokes_mm
from cutfiles.cuts.plan import CUT_ROLES, CutPlan, Frame, Lettering, Stroke, lines_drawn
from cutfiles.cuts.shared_edges import left_to_cut, with_parts
from cutfiles.cuts.starts import allowed_entries, with_entries
from cutfiles.cuts.tool_findings import blade_findings, machine_notes
from cutfiles.cuts.tool_passes import lead_ins, tool_passes
from cutfiles.errors import Finding
from cutfiles.geometry.bulges import flattened
from cutfiles.geometry.fit_arcs import fitted
from cutfiles.geometry.kerf import waste_side_path
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.job.machine import SLIT, Machine, RotaryBlade
from cutfiles.lay.lay import Lay, PlacedPiece, outline_of
from cutfiles.pieces.ordered import CutList
from cutfiles.tolerances import FLATTEN_MM, KERF_MM, LAY_MM, REFIT_MM


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
    ordered, frames = _ordered(lay, machine, seed)
    stack_mm = lay.cloth.stack_mm
    left = left_to_cut(ordered, frames) if machine.shares_edges else {}
    passes, short = tool_passes(
        ordered, machine, _sheet(lay), stack_mm, lay_name=lay.name, left=left
    )
    pace = machine.pace
    made = {cut.stroke for cut in passes}
    legs = cutting_legs(passes, pace, frames)
    cut = [(number, line) for number, line in with_parts(ordered, left) if number in made]
    letterings = _letterings(lay, machine)
    drawn = letterings if machine.labels == "drawn" else ()
    letters = tuple(map(letters_of, drawn))
    is_marked = machine.fittings.marks != "none"
    lines = lines_drawn(ordered, passes, letters)
    drawn_legs = marking_legs(lines, pace) if is_marked else ()
    marking_s = sum(leg.total_s for leg in drawn_legs)
    return CutPlan(
        lay_name=lay.name,
        width_mm=lay.width_mm,
        length_mm=lay.length_mm,
        strokes=ordered,
        letterings=letterings,
        cut_length_mm=sum(line.length_mm() for _, line in cut),
        travel_mm=_travel_mm(cut, frames, len(ordered)),
        shared_mm=sum(
            ordered[number].length_mm() - sum(part.length_mm() for part in parts)
            for number, parts in left.items()
        ),
        time_s=sum(leg.total_s for leg in legs) + marking_s,
        on_cloth=_on_cloth(lay),
        remnant=() if lay.remnant is None else _corners(lay.remnant),
        passes=passes,
        tool_off_mm=off_strokes_mm(ordered, passes, left),
        findings=short,
        letters=letters,
        marking_s=marking_s,
        piece_s=piece_times(passes, legs),
        frames=frames if len(frames) > 1 else (),
        legs=legs,
        marking_legs=drawn_legs,
    )


def _ordered(lay: Lay, machine: Machine, seed: int) -> tuple[tuple[Stroke, ...], tuple[Frame, ...]]:
    """All strokes in order, as lines and arcs, and the frames in which they are done."""
    strokes = [
        with_entries(stroke) if stroke.closed else stroke
        for stroke in lay_strokes(lay.placed, machine.kerf_mm, machine.notch or SLIT)
    ]
    allowed = allowed_entries(strokes, lead_ins(strokes, machine, _sheet(lay)))
    in_order, frames = _in_frames(strokes, allowed, _windows(lay, strokes, machine), machine, seed)
    return tuple(map(_as_arcs, in_order)), frames


def _windows(
    lay: Lay, strokes: Sequence[Stroke], machine: Machine
) -> list[tuple[float, frozenset[str]]]:
    """The windows of the bed along a lay, and the pieces cut in each; one where the lay fits."""
    bed = machine.bed_along_mm
    if not machine.advances or bed is None or lay.length_mm <= bed:
        return [(0.0, frozenset(placed.ordered.id for placed in lay.placed))]
    extents: dict[str, tuple[float, float]] = {}
    for stroke in strokes:
        if stroke.role in CUT_ROLES:
            line = flattened(
                stroke.points, stroke.bulges, closed=stroke.closed, tolerance_mm=FLATTEN_MM
            )
            along = line[:, 0].tolist()
            low, high = extents.get(stroke.piece_id, (math.inf, -math.inf))
            extents[stroke.piece_id] = min(low, *along), max(high, *along)
    tool = machine.tool
    way_in = 0.0 if isinstance(tool, RotaryBlade) else tool.lead_in_mm
    for name, (low, high) in extents.items():
        # room for ways in and for the fit of curves, as far as the bed is long enough for it
        room = min(REFIT_MM + way_in, (bed - high + low) / 2.0)
        extents[name] = max(low - room, 0.0), high + room
    return windows_of(extents, bed)


def _in_frames(
    strokes: Sequence[Stroke],
    allowed: Mapping[int, Sequence[int]],
    windows: Sequence[tuple[float, frozenset[str]]],
    machine: Machine,
    seed: int,
) -> tuple[tuple[Stroke, ...], tuple[Frame, ...]]:
    """All strokes in order, window by window, and where each begins. The tool waits where it is
    while the cloth is moved on under it. Notches are another tool's beside a round blade."""
    ordered: list[Stroke] = []
    frames: list[Frame] = []
    place = (0.0, 0.0)
    for start_mm, pieces in windows:
        if frames:
            place = (place[0] + start_mm - frames[-1].start_mm, place[1])
        frames.append(Frame(start_mm, len(ordered)))
        here = [n for n, stroke in enumerate(strokes) if stroke.piece_id in pieces]
        done = ordered_strokes(
            [strokes[n] for n in here],
            seed=seed,
            allowed={k: allowed[n] for k, n in enumerate(here) if n in allowed},
            notches_apart=isinstance(machine.tool, RotaryBlade),
            far_end=machine.far_end,
            start=place,
        )
        place = done[-1].end
        ordered.extend(done)
    return tuple(ordered), tuple(frames)


def _travel_mm(cut: Sequence[tuple[int, Stroke]], frames: Sequence[Frame], count: int) -> float:
    """How far the lifted tool goes from the origin through what it cuts, given with the numbers of
    the strokes of which there are so many, frame by frame."""
    travel, place, start_mm = 0.0, (0.0, 0.0), 0.0
    ends = [*(frame.first_stroke for frame in frames[1:]), count]
    for frame, end in zip(frames, ends, strict=True):
        place = (place[0] + frame.start_mm - start_mm, place[1])
        here = [line for number, line in cut if frame.first_stroke <= number < end]
        travel += travel_mm(here, place)
        place, start_mm = here[-1].end if here else place, frame.start_mm
    return travel


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
    """A flattened outline as lines and arcs again; marks are such, and notches straight."""
    if stroke.role not in ("outline", "inner"):
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
