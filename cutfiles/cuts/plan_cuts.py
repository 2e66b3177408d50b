"""From a lay to its cut plan: kerf, notches and marks, then the order."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry import Polygon

from cutfiles.cuts.marks import lettering, piece_strokes
from cutfiles.cuts.motion_time import cutting_time
from cutfiles.cuts.order import ordered_strokes, travel_mm
from cutfiles.cuts.passes import passes_of
from cutfiles.cuts.plan import CUT_ROLES, CutPlan, Stroke
from cutfiles.errors import Finding
from cutfiles.geometry.kerf import waste_side_path
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.job.machine import Machine
from cutfiles.lay.lay import Lay, PlacedPiece, outline_of
from cutfiles.pieces.ordered import OrderedCap
from cutfiles.tolerances import KERF_MM


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
    ordered = ordered_strokes(strokes, seed=seed)
    passes = passes_of(ordered)
    time = cutting_time(passes, machine.pace)
    cut = [stroke for stroke in ordered if stroke.role in CUT_ROLES]
    return CutPlan(
        lay_name=lay.name,
        width_mm=lay.width_mm,
        length_mm=lay.length_mm,
        strokes=ordered,
        letterings=tuple(lettering(placed) for placed in lay.placed),
        cut_length_mm=sum(stroke.length_mm() for stroke in cut),
        travel_mm=travel_mm(cut),
        time_s=time.total_s,
        on_cloth=_on_cloth(lay),
        remnant=() if lay.remnant is None else _corners(lay.remnant),
        passes=passes,
        piece_s=time.piece_s,
    )


def _on_cloth(lay: Lay) -> tuple[Stroke, ...]:
    """The flaws and the fold of the cloth, to be seen."""
    strokes = [Stroke("cloth", "", _corners(flaw), closed=True) for flaw in lay.flaws]
    if lay.cloth.is_folded:
        strokes.append(Stroke("cloth", "", ((0.0, 0.0), (lay.length_mm, 0.0)), closed=False))
    return tuple(strokes)


def _corners(region: Polygon) -> tuple[tuple[float, float], ...]:
    points = shapely.get_coordinates(shapely.geometry.polygon.orient(region).exterior)[:-1]
    return tuple((float(x), float(y)) for x, y in points)
