"""From a lay to its cut plan: kerf, notches and marks, then the order."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.geometry import Polygon

from cutfiles.cuts.frames import windows_of
from cutfiles.cuts.marks import lettering, piece_strokes
from cutfiles.cuts.motion_time import cutting_time
from cutfiles.cuts.order import end_of, ordered_strokes, travel_mm
from cutfiles.cuts.passes import passes_of
from cutfiles.cuts.plan import CUT_ROLES, CutPlan, Frame, Stroke
from cutfiles.errors import Finding
from cutfiles.geometry.bulges import flattened
from cutfiles.geometry.kerf import waste_side_path
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.job.machine import Machine
from cutfiles.lay.lay import Lay, PlacedPiece, outline_of
from cutfiles.pieces.ordered import OrderedCap
from cutfiles.tolerances import FLATTEN_MM, KERF_MM


def tool_findings(
    caps: Sequence[OrderedCap], machine: Machine, *, source: str
) -> tuple[Finding, ...]:
    """Whether the machine's tool can cut the pieces of some caps: a finding for each piece that
    its kerf does not suit."""
    here = Motion(0.0, Vector(0.0, 0.0))
    pieces = {id(p.piece): p for cap in caps for p in cap.pieces}
    findings = []
    for ordered in pieces.values():
        outline = outline_of(ordered)
        try:
            piece_strokes(PlacedPiece(ordered, outline, here), machine.kerf_mm)
            _judge_bays(outline, machine.kerf_mm)
        except ValueError as error:
            text = f"{source}: [machine]: kerf: {ordered.cap}, {ordered.name}: {error}"
            findings.append(Finding("kerf", "error", text))
    return tuple(findings)


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
    strokes: list[Stroke] = []
    for placed in lay.placed:
        strokes.extend(piece_strokes(placed, machine.kerf_mm))
    ordered, frames, travel = _in_frames(strokes, _windows(lay, strokes, machine), seed)
    passes = passes_of(ordered)
    time = cutting_time(passes, machine.pace, frames)
    cut = [stroke for stroke in ordered if stroke.role in CUT_ROLES]
    return CutPlan(
        lay_name=lay.name,
        width_mm=lay.width_mm,
        length_mm=lay.length_mm,
        strokes=ordered,
        letterings=tuple(lettering(placed) for placed in lay.placed),
        cut_length_mm=sum(stroke.length_mm() for stroke in cut),
        travel_mm=travel,
        time_s=time.total_s,
        on_cloth=_on_cloth(lay),
        remnant=() if lay.remnant is None else _corners(lay.remnant),
        passes=passes,
        piece_s=time.piece_s,
        frames=frames if len(frames) > 1 else (),
    )


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
    return windows_of(extents, bed)


def _in_frames(
    strokes: Sequence[Stroke], windows: Sequence[tuple[float, frozenset[str]]], seed: int
) -> tuple[tuple[Stroke, ...], tuple[Frame, ...], float]:
    """All strokes in order, window by window, where each begins, and how far the tool travels.

    The tool waits where it is while the cloth is moved on under it.
    """
    ordered: list[Stroke] = []
    frames: list[Frame] = []
    travel, place = 0.0, (0.0, 0.0)
    for start_mm, pieces in windows:
        if frames:
            place = (place[0] + start_mm - frames[-1].start_mm, place[1])
        frames.append(Frame(start_mm, len(ordered)))
        here = [stroke for stroke in strokes if stroke.piece_id in pieces]
        done = ordered_strokes(here, seed=seed, start=place)
        cut = [stroke for stroke in done if stroke.role in CUT_ROLES]
        travel += travel_mm(cut, place)
        place = end_of(cut[-1])
        ordered.extend(done)
    return tuple(ordered), tuple(frames), travel


def _on_cloth(lay: Lay) -> tuple[Stroke, ...]:
    """The flaws and the fold of the cloth, to be seen."""
    strokes = [Stroke("cloth", "", _corners(flaw), closed=True) for flaw in lay.flaws]
    if lay.cloth.is_folded:
        strokes.append(Stroke("cloth", "", ((0.0, 0.0), (lay.length_mm, 0.0)), closed=False))
    return tuple(strokes)


def _corners(region: Polygon) -> tuple[tuple[float, float], ...]:
    points = shapely.get_coordinates(shapely.geometry.polygon.orient(region).exterior)[:-1]
    return tuple((float(x), float(y)) for x, y in points)
