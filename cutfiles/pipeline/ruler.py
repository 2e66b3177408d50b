"""Cutting by ruler: from a job to a plan of straight cuts, proved on its drawing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from cutfiles.effort import Effort
from cutfiles.errors import Finding, JobError, errors_of
from cutfiles.files.folder import Staging, check_folder, staging
from cutfiles.files.ruler_svg import RULER_GROUPS, ruler_svg_bytes
from cutfiles.files.ruler_table import RulerSheet, ruler_table
from cutfiles.files.whole_file import table_bytes
from cutfiles.job.cautions import cautions_for
from cutfiles.job.job import Cloth, Job
from cutfiles.job.machine import Machine
from cutfiles.lay.arrange import arrange
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.ordered import OrderedCap, Panel
from cutfiles.pipeline.drawings import load_panels
from cutfiles.pipeline.lists import ordered_of, unused_cloth
from cutfiles.pipeline.manifests import RULER_PLAN
from cutfiles.pipeline.prove import refuse
from cutfiles.ruler.blocks import (
    PieceBox,
    block_kinds,
    block_rows,
    piece_boxes,
    too_large,
    unsuited,
    widest_strip,
)
from cutfiles.ruler.fill import most_that_fit, positions
from cutfiles.ruler.lay_out import laid_out
from cutfiles.ruler.patterns import Patterns
from cutfiles.ruler.plan import BlockRow, ClothRules, RulerPlan, Stages
from cutfiles.ruler.sheet import plan_lines
from cutfiles.ruler.solve import Solver
from cutfiles.ruler.steps import Edges, numbered_cuts, steps_of
from cutfiles.units import RULER_STEP_MM, format_order, format_steps, ruler_steps
from cutfiles.verdict.judge_ruler import ExpectedPieceBlock, ExpectedRuler, judge_ruler
from cutfiles.verdict.read_svg import read_svg

SHEET: Final = "ruler-plan.txt"

_FOLD_MM: Final = 3.2
"""Trimmed off a fold, whose bend no piece may have: 1/8 in or 3 mm (common practice, no
source)."""

_HAND: Final = Machine("rotary blade", 0.0, None, None)


@dataclass(frozen=True, slots=True)
class Ruled:
    """What `ruler_job` left in the output folder: the sheet's lines, and what was found."""

    lines: tuple[str, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Planned:
    """One cloth's plan, the boxes of its pieces, and how many caps were asked for by "as many as
    fit"."""

    cloth: Cloth
    plan: RulerPlan
    boxes: tuple[PieceBox, ...]
    rows: tuple[BlockRow, ...]
    panels: int
    filled: int | None


def ruler_job(
    job: Job,
    folder: Path,
    out: Path,
    *,
    stages: Stages = 3,
    folded: bool = False,
    effort: Effort | None = None,
) -> Ruled:
    """From a job, whose drawings lie from ``folder`` on, to ``ruler-plan.txt``, ``.svg`` and
    ``.json``; a drawing for each cloth.

    With ``folded`` every cloth is folded selvedge to selvedge, whatever the job says. With
    an ``effort`` the outlines of every cloth are nested, too, to tell what that saves.

    Raises
    ------
    JobError, OutputError
        If the job or the folder is wrong, or the cloth on hand does not do.
    VerdictError
        If a drawing fails its check.
    """
    job = _for_hand(job, folded=folded)
    check_folder(out, RULER_PLAN, (RULER_PLAN, SHEET, _drawing_name(1)))
    panels, said = load_panels(job, folder)
    findings = list(said)
    planned = _planned(job, panels, stages, findings)
    with staging(out, RULER_PLAN) as place:
        sheets: list[RulerSheet] = []
        wrong: list[Finding] = []
        for number, one in enumerate(planned, 1):
            sheet = _proved_sheet(job, one, _drawing_name(number), place, wrong)
            if effort is not None:
                sheet = replace(sheet, nested_mm=_nested_mm(job, one, panels, effort))
            sheets.append(sheet)
        refuse(wrong, place)
        names = [SHEET, RULER_PLAN, *(sheet.drawing for sheet in sheets)]
        counts = {"caps": _caps(job, planned), "panels": sum(one.panels for one in planned)}
        order = format_order(counts["caps"], counts["panels"])
        lines = _sheet_lines(f"{job.title}: {order} by ruler and rotary cutter", sheets)
        place.write(SHEET, ("\n".join(lines) + "\n").encode("utf-8"))
        place.write(
            RULER_PLAN, table_bytes(ruler_table(job.title, sheets, findings, counts, names))
        )
        place.publish()
    return Ruled(lines, tuple(findings))


def _drawing_name(number: int) -> str:
    return "ruler-plan.svg" if number == 1 else f"ruler-plan-{number}.svg"


def _for_hand(job: Job, *, folded: bool) -> Job:
    """The job without its machine and pins, panels on the fold opened."""
    cloths = job.cloths
    if folded:
        cloths = tuple(replace(cloth, spread="folded") for cloth in job.cloths)
    panels = tuple(replace(line, stays_folded=False) for line in job.panels)
    return replace(job, machine=_HAND, cloths=cloths, panels=panels, pinned=())


def _planned(
    job: Job, panels: Sequence[Panel], stages: Stages, findings: list[Finding]
) -> list[_Planned]:
    """A plan for every cloth of which anything is cut.

    Raises
    ------
    JobError
        With all that is wrong with any of them.
    """
    planned: list[_Planned] = []
    wrong = [finding for cloth in job.cloths for finding in unsuited(job, cloth)]
    if wrong:
        raise JobError(wrong)
    for cloth in job.cloths:
        if not ordered_of(job, panels, cloth):
            findings.append(unused_cloth(job, cloth))
            continue
        try:
            planned.append(_plan(job, cloth, panels, stages, findings))
        except JobError as error:
            wrong.extend(error.findings)
    if wrong:
        raise JobError(wrong)
    return planned


def _plan(
    job: Job, cloth: Cloth, panels: Sequence[Panel], stages: Stages, findings: list[Finding]
) -> _Planned:
    unit = job.length_unit
    ply_mm = math.inf if cloth.length_mm is None else cloth.length_mm / cloth.plies
    on_hand = None if cloth.length_mm is None else ruler_steps(ply_mm, unit, up=False)
    fold = ruler_steps(_FOLD_MM, unit, up=False) if cloth.is_folded else 0
    width = ruler_steps(cloth.lay_width_mm, unit, up=False) - fold
    cuts = cut_list(job, _single(cloth, on_hand, unit), panels)
    findings.extend(cuts.findings)
    fixed = cuts.fixed
    each = cuts.caps[len(fixed) : len(fixed) + 1]  # one of those that are to be as many as fit
    one_way = cloth.one_way
    boxes = tuple(piece_boxes(fixed, one_way=one_way))
    extra = tuple(piece_boxes(each, one_way=one_way))
    rows = block_rows((*boxes, *extra), unit)
    wrong = list(too_large(rows, cloth, width, on_hand, job))
    if wrong:
        raise JobError(wrong)
    kinds = block_kinds(rows)
    rules = ClothRules(width, widest_strip(rows, unit, on_hand), stages)
    solver = Solver(Patterns([kind.sizes for kind in kinds], rules))

    def counted(some: Sequence[PieceBox]) -> list[int]:
        had = {kind.sizes: kind.wanted for kind in block_kinds(block_rows(some, unit))}
        return [had.get(kind.sizes, 0) for kind in kinds]

    filled: int | None = None
    if each:
        best = most_that_fit(
            solver, counted(boxes), counted(extra), layers=cloth.layers, length=on_hand or 0
        )
        if best is None:
            raise JobError.of("cloth-short", _none_fits(job, cloth, each[0]))
        filled, cutting = best.caps, best.cutting
        findings.append(_filled_finding(job, cloth, filled, best.most))
        boxes = (*boxes, *extra * filled)
        rows = block_rows(boxes, unit)
        kinds = block_kinds(rows)
    else:
        cutting = solver.shortest(positions(counted(boxes), counted(()), 0, cloth.layers))
        if on_hand is not None and cutting.length > on_hand:
            raise JobError.of("cloth-short", _short(job, cloth, cutting.length, on_hand, stages))
    plan = laid_out(
        cutting,
        kinds,
        rules,
        cloth=cloth.name,
        unit=unit,
        layers=cloth.layers,
        start_across=fold,
        on_hand=on_hand,
    )
    return _Planned(cloth, plan, boxes, rows, sum(cap.is_panel for cap in fixed), filled)


def _caps(job: Job, planned: Sequence[_Planned]) -> int:
    """All caps that are cut; one that has pieces from several cloths is one."""
    ordered = sum(line.quantity for line in job.caps if not line.as_many)
    return ordered + sum(one.filled or 0 for one in planned)


def _single(cloth: Cloth, on_hand: int | None, unit: str) -> Cloth:
    """One flat ply of a cloth, a step shorter, so that a strip as long as it can be rounded up."""
    length = None if on_hand is None else max(on_hand - 1, 1) * RULER_STEP_MM[unit]
    return replace(cloth, spread="single", plies=1, length_mm=length, print_repeat=None)


def _none_fits(job: Job, cloth: Cloth, cap: OrderedCap) -> str:
    return (
        f"{job.source}: {cap.kind}: the blocks of what is ordered and of not one more fit what "
        f"there is of cloth {cloth.name!r}: have more cloth, order less, or a smaller size"
    )


def _short(job: Job, cloth: Cloth, taken: int, on_hand: int, stages: Stages) -> str:
    need, have = (format_steps(steps, job.length_unit) for steps in (taken, on_hand))
    plies = "" if cloth.plies == 1 else f" in each of {cloth.plies} plies"
    three = ", use --stages 3" if stages == 2 else ""
    return (
        f"{job.source}: cloth {cloth.name!r}: the blocks take {need} and there are {have}{plies}: "
        f'have more cloth, order less{three}, or give quantity = "as many as fit"'
    )


def _filled_finding(job: Job, cloth: Cloth, caps: int, most: int) -> Finding:
    line = next(line for line in job.lines_for(cloth) if line.as_many)
    proved = "proved to be the most" if caps == most else f"at most {most} could be"
    text = (
        f"{job.source}: [[caps]] {line.number}: as many as fit cloth {cloth.name!r} as blocks: "
        f"{format_order(caps, 0)}, {proved}"
    )
    return Finding("as-many-as-fit", "note", text)


def _proved_sheet(
    job: Job, one: _Planned, drawing: str, place: Staging, wrong: list[Finding]
) -> RulerSheet:
    """Write one cloth's drawing aside, read it again and judge it."""
    plan, cloth, unit = one.plan, one.cloth, job.length_unit
    selvedge = cloth.selvedge_mm
    trimmed = format_steps(ruler_steps(selvedge, unit, up=True), unit) if selvedge else None
    steps = steps_of(plan, Edges(trimmed, cloth.is_folded, cloth.one_way))
    cuts = tuple(numbered_cuts(plan, steps))
    content = ruler_svg_bytes(plan, cuts, job.title)
    read = read_svg(place.write(drawing, content))
    wrong.extend(errors_of(judge_ruler(read, expected_ruler(plan, one.boxes, len(steps)))))
    texts = tuple(step.text for step in steps)
    return RulerSheet(plan, one.rows, texts, cuts, drawing, content)


def expected_ruler(plan: RulerPlan, boxes: Sequence[PieceBox], steps: int) -> ExpectedRuler:
    """What the drawing of a plan must show for the boxes of some pieces."""
    counts: dict[str, int] = {}
    for box in boxes:
        counts[box.name] = counts.get(box.name, 0) + 1
    step_mm = RULER_STEP_MM[plan.unit]
    return ExpectedRuler(
        width_mm=plan.width * step_mm,
        length_mm=plan.length * step_mm,
        step_mm=step_mm,
        layers=plan.layers,
        stages=plan.rules.stages,
        steps=steps,
        pieces={
            box.name: ExpectedPieceBlock(counts[box.name], box.ways_mm)
            for box in dict.fromkeys(boxes)
        },
        groups=RULER_GROUPS,
    )


def _nested_mm(job: Job, one: _Planned, panels: Sequence[Panel], effort: Effort) -> float:
    """The length in a ply that the same caps and panels take where their outlines are nested."""
    lines = tuple(
        replace(line, quantity=one.filled, as_many=False)
        if line.as_many and one.filled is not None
        else line
        for line in job.caps
    )
    cloth = replace(one.cloth, length_mm=None)
    cuts = cut_list(replace(job, caps=lines), cloth, panels)
    lays = arrange(cuts, _HAND, effort, unit=job.length_unit, source=job.source)
    return sum(lay.length_mm for lay in lays)


def _sheet_lines(heading: str, sheets: Sequence[RulerSheet]) -> tuple[str, ...]:
    """The whole sheet, all cloths one after the other."""
    lines = [heading]
    for sheet in sheets:
        told = plan_lines(sheet.plan, sheet.rows, sheet.steps, sheet.nested_mm)
        lines += ["", *told, f"Drawn, each cut with the number of its step: {sheet.drawing}"]
    return (*lines, "", *cautions_for("rotary blade"))
