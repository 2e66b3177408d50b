"""From a lay to its cut plan: kerf, notches and marks, then the order."""

from __future__ import annotations

from cutfiles.cuts.marks import lettering, piece_strokes
from cutfiles.cuts.motion_time import PACES, cutting_time_s
from cutfiles.cuts.order import ordered_strokes, stroke_length_mm, travel_mm
from cutfiles.cuts.plan import CUT_ROLES, CutPlan, Stroke
from cutfiles.errors import Finding, JobError
from cutfiles.job.job import Machine
from cutfiles.lay.lay import Lay


def cut_plan(lay: Lay, machine: Machine, *, seed: int) -> CutPlan:
    """Plan the cuts of a lay; the same lay, machine and seed give the same plan.

    Raises
    ------
    JobError
        If the kerf does not suit a piece; one finding a piece name and reason.
    """
    strokes: list[Stroke] = []
    wrong: dict[str, Finding] = {}
    for placed in lay.placed:
        try:
            strokes.extend(piece_strokes(placed, machine.kerf_mm))
        except ValueError as error:
            text = f"[machine]: kerf: {placed.ordered.cap}, {placed.ordered.name}: {error}"
            wrong.setdefault(text, Finding("kerf", "error", text))
    if wrong:
        raise JobError(wrong.values())
    areas = {placed.ordered.id: placed.outline.area for placed in lay.placed}
    ordered = ordered_strokes(strokes, areas, seed=seed)
    cut = [stroke for stroke in ordered if stroke.role in CUT_ROLES]
    return CutPlan(
        lay_name=lay.name,
        width_mm=lay.width_mm,
        length_mm=lay.length_mm,
        strokes=ordered,
        letterings=tuple(lettering(placed) for placed in lay.placed),
        cut_length_mm=sum(stroke_length_mm(stroke) for stroke in cut),
        travel_mm=travel_mm(cut),
        time_s=cutting_time_s(cut, PACES[machine.kind]),
    )
