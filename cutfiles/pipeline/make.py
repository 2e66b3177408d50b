"""The whole way: job, pieces, lay, cuts, files, verdict, preview."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cutfiles.cuts.plan import CutPlan
from cutfiles.cuts.plan_cuts import cut_plan, tool_findings
from cutfiles.effort import Effort
from cutfiles.errors import Finding, JobError, errors_of
from cutfiles.files.folder import check_folder, staging
from cutfiles.files.roles import inks_of
from cutfiles.files.summary import summary_bytes, summary_table
from cutfiles.job.cautions import cautions_for, check_safety
from cutfiles.job.job import Cloth, Job
from cutfiles.job.written import ON_PAPER
from cutfiles.lay.arrange import arrange
from cutfiles.lay.kept import KEPT
from cutfiles.lay.lay import Lay, caps_of
from cutfiles.lay.pins import pin_faults, unknown_pins
from cutfiles.lay.table import spacing_for
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.ordered import CutList, Panel
from cutfiles.pipeline.cloth_report import cloth_findings, with_counts
from cutfiles.pipeline.load import load_job, load_panels, load_remnants
from cutfiles.pipeline.prove import PREVIEW, SUMMARY, papers_proved, written_and_proved
from cutfiles.preview.page import PreviewLay, PreviewSheet, preview_html
from cutfiles.units import format_length, format_order


@dataclass(frozen=True, slots=True)
class Made:
    """What `make_job` left in the output folder."""

    job: Job
    folder: Path
    lays: tuple[Lay, ...]
    plans: tuple[CutPlan, ...]
    findings: tuple[Finding, ...]

    def report(self) -> tuple[str, ...]:
        """What was made, a line a lay and one for all."""
        unit = self.job.length_unit
        lines = []
        for lay, plan in zip(self.lays, self.plans, strict=True):
            plies = f"{lay.cloth.layers} {'ply' if lay.cloth.layers == 1 else 'plies'}"
            lines.append(
                f"{lay.name}: {len(lay.placed)} pieces on {format_length(lay.length_mm, unit)} of "
                f"{lay.cloth.name}, {plies}, {lay.efficiency:.1%} of the cloth used, about "
                f"{math.ceil(plan.time_s / 60)} min to cut"
            )
        caps = caps_of(self.lays)
        order = format_order(caps, sum(lay.panel_count for lay in self.lays))
        lines.append(f"{order}; every cut file was read back and found right.")
        lines.append(f"Look before you cut: {self.folder / 'preview.html'}")
        return tuple(lines)


def make_job(path: Path, out: Path, effort: Effort) -> Made:
    """From a job file to verified cut files, summary and preview in ``out``.

    Raises
    ------
    JobError, OutputError
        If the job or the folder is wrong; the folder keeps what it had.
    VerdictError
        If a written file fails its check; no cut file is left under its final name.
    """
    job = load_job(path)
    written = job.machine.written
    endings = (*written.endings.values(), *([ON_PAPER] if written.paper else []))
    first = ("lay-01" + ending for ending in endings)
    check_folder(out, SUMMARY, (SUMMARY, PREVIEW, *first))
    job, said_of_cloth = load_remnants(job, path.parent)
    panels, said = load_panels(job, path.parent)
    findings = [*check_safety(job), *said_of_cloth, *said]
    lays = _arranged(job, panels, effort, findings)
    job = with_counts(job, lays, findings)
    plans = tuple(cut_plan(lay, job.machine, seed=effort.seed) for lay in lays)
    findings.extend(finding for plan in plans for finding in plan.findings)
    with staging(out, SUMMARY) as place:
        proved = written_and_proved(job, lays, plans, place)
        papers = papers_proved(job, lays, place, findings)
        names = (*proved.contents, *papers, PREVIEW, SUMMARY)
        summary = summary_table(
            job,
            lays,
            plans,
            findings,
            seed=effort.seed,
            contents=proved.contents,
            written=names,
            panels_ordered=sum(panel.quantity for panel in panels),
        )
        if papers:
            prints = {name: hashlib.sha256(content).hexdigest() for name, content in papers.items()}
            summary["others"] = prints
        sheet = PreviewSheet(
            summary=summary,
            lays=tuple(
                PreviewLay(drawing, row)
                for drawing, row in zip(proved.drawings, summary["lays"], strict=True)
            ),
            colours={role: ink.hex for role, ink in inks_of(job.machine.written).items()},
            cautions=cautions_for(job.machine.kind),
            findings=tuple(findings),
            length_unit=job.length_unit,
        )
        place.write(PREVIEW, preview_html(sheet))
        place.write(SUMMARY, summary_bytes(summary))
        place.publish()
    return Made(job, out, lays, plans, tuple(findings))


def _arranged(
    job: Job, panels: Sequence[Panel], effort: Effort, findings: list[Finding]
) -> tuple[Lay, ...]:
    """The lays of every cloth, one cloth after the other; time is shared by what is ordered, or
    evenly where as many as fit are."""
    lays: list[Lay] = []
    wrong: list[Finding] = []
    lists = _cut_lists(job, panels, findings, wrong)
    ordered = sum(_ordered_of(job, panels, cloth) for cloth in job.cloths)
    open_ended = any(line.as_many for line in job.caps)
    for cuts in lists:
        cloth = cuts.cloth
        share = 1.0 / len(job.cloths)
        if not open_ended:
            share = _ordered_of(job, panels, cloth) / ordered
        part = replace(effort, seconds=effort.seconds * share)
        try:
            found = arrange(
                cuts,
                job.machine,
                part,
                unit=job.length_unit,
                source=job.source,
                first_number=len(lays) + 1,
                spacing=spacing_for(cloth, job.machine),
            )
        except JobError as error:
            wrong.extend(error.findings)
            continue
        lays.extend(found)
        findings.extend(cloth_findings(job, cloth, found))
        findings.extend(_kept_finding(lay) for lay in found if lay.engine == KEPT)
    if wrong:
        raise JobError(wrong)
    return tuple(lays)


def _ordered_of(job: Job, panels: Sequence[Panel], cloth: Cloth) -> int:
    """Caps and panels ordered of a cloth."""
    here = sum(line.quantity for line in job.lines_for(cloth))
    return here + sum(panel.quantity for panel in panels if panel.line.cloth == cloth.name)


def _cut_lists(
    job: Job, panels: Sequence[Panel], findings: list[Finding], wrong: list[Finding]
) -> list[CutList]:
    """What is to be cut of every cloth of which anything is. Lists that cannot be cut are left
    out, and ``wrong`` says why.

    Raises
    ------
    JobError
        With all that is wrong so far, if a piece is pinned where it cannot stay, or there is none.
    """
    lists: list[CutList] = []
    first_cap = 1
    for cloth in job.cloths:
        if not _ordered_of(job, panels, cloth):
            text = (
                f"{job.source}: cloth {cloth.name!r} is used by no [[caps]] and no [[panels]]: "
                "nothing is cut of it"
            )
            findings.append(Finding("unused-cloth", "note", text))
            continue
        try:
            cuts = cut_list(job, cloth, panels, first_number=first_cap)
        except JobError as error:
            wrong.extend(error.findings)
            continue
        first_cap += sum(not cap.is_panel for cap in cuts.caps)
        findings.extend(cuts.findings)
        of_tool = tool_findings(cuts, job.machine, source=job.source)
        findings.extend(f for f in of_tool if f.severity != "error")
        if unsuited := errors_of(of_tool):
            wrong.extend(unsuited)
            continue
        lists.append(cuts)
    misplaced = []
    for cuts in lists:
        spacing = spacing_for(cuts.cloth, job.machine)
        misplaced += pin_faults(cuts, job.machine, source=job.source, spacing=spacing)
    if not wrong:  # the pieces of a list that failed are not known
        misplaced += unknown_pins(job, lists)
    if misplaced:
        raise JobError([*wrong, *misplaced])
    return lists


def _kept_finding(lay: Lay) -> Finding:
    text = f"{lay.name}: this lay was found before and kept; --anew searches again"
    return Finding("kept-lay", "note", text)
