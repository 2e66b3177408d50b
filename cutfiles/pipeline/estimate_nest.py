"""The figures of an estimate by the nest that `make` uses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cutfiles.cuts.plan_cuts import cut_plan, tool_findings
from cutfiles.effort import Effort
from cutfiles.errors import Finding, JobError, errors_of
from cutfiles.estimate.figures import ClothFigures, LayFigures
from cutfiles.estimate.plies import drawn_mm
from cutfiles.job.job import Job
from cutfiles.lay.arrange import arrange
from cutfiles.lay.lay import Lay, caps_of
from cutfiles.lay.on_hand import on_hand_list
from cutfiles.lay.table import Table, spacing_for
from cutfiles.pieces.ordered import CutList


def nested_figures(
    job: Job,
    lists: Sequence[CutList],
    figures: Sequence[ClothFigures],
    effort: Effort,
    findings: list[Finding],
) -> list[ClothFigures]:
    """Figures with what was nested; the time is shared evenly by everything that is. Of an order
    that its rolls do not give, only what they give is nested, and a warning says so.

    Raises
    ------
    JobError
        If something cannot be cut by the machine's tool, or arranged.
    """
    unsuited = [
        finding
        for cuts in lists
        for finding in errors_of(tool_findings(cuts, job.machine, source=job.source))
    ]
    if unsuited:
        raise JobError(unsuited)
    count = sum((one.takes is not None) + (one.gives is not None) for one in figures)
    share = replace(effort, seconds=effort.seconds / max(1, count))
    return [
        _nested(job, cuts, one, share, findings) for cuts, one in zip(lists, figures, strict=True)
    ]


def _nested(
    job: Job, cuts: CutList, figures: ClothFigures, effort: Effort, findings: list[Finding]
) -> ClothFigures:
    takes, gives, plies = figures.takes, figures.gives, cuts.cloth.plies
    lays = _fixed_lays(job, cuts, effort, findings) if takes is not None else ()
    if takes is not None and lays:
        done = tuple(
            LayFigures(
                drawn_mm(lay.length_mm, plies),
                cut_plan(lay, job.machine, seed=effort.seed).time_s if job.costs else 0.0,
            )
            for lay in lays
        )
        takes = replace(takes, nested_mm=sum(lay.drawn_mm for lay in done), lays=len(done))
        figures = replace(figures, lays=done)
    if gives is not None and gives.most:
        table = Table(cuts.cloth, job.machine, spacing_for(cuts.cloth, job.machine))
        lays = _lays(job, on_hand_list(cuts, table), effort)
        gives = replace(gives, nested=caps_of(lays))
    return replace(figures, takes=takes, gives=gives)


def _fixed_lays(
    job: Job, cuts: CutList, effort: Effort, findings: list[Finding]
) -> tuple[Lay, ...]:
    """The lays of what is ordered; none, and a warning, where rolls do not give it."""
    try:
        return _lays(job, replace(cuts, caps=cuts.fixed, optional=0), effort)
    except JobError as error:
        if not cuts.cloth.rolls or any(one.code != "cloth-short" for one in error.findings):
            raise
        findings.extend(replace(one, severity="warning") for one in error.findings)
        return ()


def _lays(job: Job, cuts: CutList, effort: Effort) -> tuple[Lay, ...]:
    spacing = spacing_for(cuts.cloth, job.machine)
    return arrange(
        cuts, job.machine, effort, unit=job.length_unit, source=job.source, spacing=spacing
    )
