"""The lays of a job: cut lists that the tool can cut, arranged cloth by cloth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cutfiles.cuts.plan_cuts import tool_findings
from cutfiles.effort import Effort
from cutfiles.errors import Finding, JobError, errors_of
from cutfiles.job.job import Job
from cutfiles.lay.arrange import arrange
from cutfiles.lay.kept import KEPT
from cutfiles.lay.lay import Lay
from cutfiles.lay.pins import misplaced_pins
from cutfiles.lay.table import spacing_for
from cutfiles.pieces.ordered import CutList, Panel
from cutfiles.pipeline.cloth_report import cloth_findings
from cutfiles.pipeline.lists import cut_lists, ordered_of


def arranged(
    job: Job, panels: Sequence[Panel], effort: Effort, findings: list[Finding]
) -> tuple[Lay, ...]:
    """The lays of every cloth, one cloth after the other; time is shared by what is ordered, or
    evenly where as many as fit are.

    Raises
    ------
    JobError
        If a list cannot be drafted, cut or arranged.
    """
    lays: list[Lay] = []
    wrong: list[Finding] = []
    lists = _cuttable(job, panels, findings, wrong)
    ordered = sum(ordered_of(job, panels, cloth) for cloth in job.cloths)
    open_ended = any(line.as_many for line in job.caps)
    for cuts in lists:
        cloth = cuts.cloth
        share = 1.0 / len(job.cloths)
        if not open_ended:
            share = ordered_of(job, panels, cloth) / ordered
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


def _cuttable(
    job: Job, panels: Sequence[Panel], findings: list[Finding], wrong: list[Finding]
) -> list[CutList]:
    """The cut lists whose pieces the machine's tool can cut; ``wrong`` says what is the matter with
    the others.

    Raises
    ------
    JobError
        With all that is wrong so far, if a piece is pinned where it cannot stay, or there is none.
    """
    lists: list[CutList] = []
    for cuts in cut_lists(job, panels, findings, wrong):
        of_tool = tool_findings(cuts, job.machine, source=job.source)
        findings.extend(f for f in of_tool if f.severity != "error")
        if unsuited := errors_of(of_tool):
            wrong.extend(unsuited)
        else:
            lists.append(cuts)
    # the pieces of a list that failed are not known
    misplaced = misplaced_pins(job, lists, is_whole=not wrong)
    if misplaced:
        raise JobError([*wrong, *misplaced])
    return lists


def _kept_finding(lay: Lay) -> Finding:
    text = f"{lay.name}: this lay was found before and kept; --anew searches again"
    return Finding("kept-lay", "note", text)
