"""What a run has to say of its cloth: whether there is enough, its grade, what its ends take."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from cutfiles.errors import Finding
from cutfiles.estimate.plies import END_LOSS_MM, drawn_mm
from cutfiles.job.four_points import four_points, per_100_square_metres, per_100_square_yards
from cutfiles.job.job import Cloth, Job
from cutfiles.lay.lay import Lay, caps_of
from cutfiles.units import counted, format_length

USUAL_PASS: Final = 40.0
"""Points per 100 square yards up to which cloth usually passes (two trade pages; by contract)."""


def cloth_findings(job: Job, cloth: Cloth, lays: Sequence[Lay]) -> list[Finding]:
    """What is to be said of a cloth and the lays cut of it: whether there is enough of it, what
    its flaws amount to, what is lost at the ends of its plies."""
    findings = [finding for roll in cloth.each_roll for finding in _graded(job, roll)]
    findings += _end_loss(job, cloth, lays)
    for roll in cloth.each_roll:
        findings += _of_length(job, roll, [lay for lay in lays if lay.cloth.number == roll.number])
    unit = job.length_unit
    bed = job.machine.bed_across_mm
    if bed is not None and bed < cloth.lay_width_mm and not cloth.remnants:
        findings.append(
            Finding(
                "bed-narrow",
                "warning",
                f"{job.source}: {cloth.name!r}: the bed takes {format_length(bed, unit)} across, "
                f"and the usable cloth is {format_length(cloth.lay_width_mm, unit)}: pieces "
                "lie on the first part only",
            )
        )
    return findings


def _of_length(job: Job, cloth: Cloth, lays: Sequence[Lay]) -> list[Finding]:
    """What some lays leave out of a length of cloth, and what it lacks for them."""
    findings, unit = [], job.length_unit
    where = f"{job.source}: {cloth.called!r}"
    used = sum(lay.taken_mm for lay in lays)
    skipped = max((lay.starts_at_mm + lay.length_mm for lay in lays), default=0.0) * cloth.plies
    if cloth.flaws and skipped > used + 1.0:
        text = (
            f"{where}: {format_length(skipped - used, unit)} of cloth before its flaws are left "
            "out, where no lay has room: each lay's starts_at_mm says where it begins"
        )
        findings.append(Finding("flaw-skipped", "note", text))
        used = skipped
    noun = "lay" if len(lays) == 1 else "lays"
    if cloth.length_mm is not None and used > cloth.length_mm:
        text = (
            f"{where}: the order takes {format_length(used, unit)} in {len(lays)} {noun} and there "
            f"are {format_length(cloth.length_mm, unit)}: have "
            f"{format_length(used - cloth.length_mm, unit)} more, or order less"
        )
        findings.append(Finding("cloth-short", "warning", text))
    return findings


def with_counts(job: Job, lays: Sequence[Lay], findings: list[Finding]) -> Job:
    """The job with the numbers of caps that came of "as many as fit", and a note of each."""
    lines = []
    for line in job.caps:
        if not line.as_many:
            lines.append(line)
            continue
        layers = next(cloth.layers for cloth in job.cloths if cloth.name == line.cloth)
        others = sum(  # every line is cut in whole positions, of as many caps as there are layers
            math.ceil(one.quantity / layers) * layers
            for one in job.caps
            if one.cloth == line.cloth and one is not line and not one.sources
        )
        cut = caps_of([lay for lay in lays if lay.cloth.name == line.cloth])
        fixed = replace(line, quantity=max(1, cut - others))
        text = (
            f"{job.source}: [[caps]] {line.number}: as many as fit cloth {line.cloth!r} in the "
            f"time that was given: {counted(fixed.quantity, 'cap')}; a longer search may place more"
        )
        findings.append(Finding("as-many-as-fit", "note", text))
        lines.append(fixed)
    return replace(job, caps=tuple(lines))


def _graded(job: Job, cloth: Cloth) -> list[Finding]:
    """The grade of cloth whose flaws are listed, after the four-point system."""
    points = four_points(cloth.flaws)
    if not points:
        return []
    where = f"{job.source}: {cloth.called!r}"
    flaws = "1 flaw makes" if len(cloth.flaws) == 1 else f"{len(cloth.flaws)} flaws make"
    total = f"{where}: {flaws} {points} points (ASTM D5430, four points)"
    if cloth.length_mm is None:
        text = f"{total}; give the cloth's length for its points per 100 square yards"
    else:
        yards = per_100_square_yards(points, cloth.length_mm, cloth.width_mm)
        metres = per_100_square_metres(points, cloth.length_mm, cloth.width_mm)
        word = "passes" if yards <= USUAL_PASS else "fails"
        text = (
            f"{total}: {yards:.1f} per 100 square yards, {metres:.1f} per 100 square metres; it "
            f"{word} the usual limit of {USUAL_PASS:g} per 100 square yards"
        )
    return [Finding("cloth-grade", "note", text)]


def _end_loss(job: Job, cloth: Cloth, lays: Sequence[Lay]) -> list[Finding]:
    """What is to be added to the cloth for the ends of plies, where several are spread."""
    if cloth.plies == 1:
        return []
    used = sum(lay.taken_mm for lay in lays)
    drawn = sum(drawn_mm(lay.length_mm, cloth.plies) for lay in lays)
    unit = job.length_unit
    text = (
        f"{job.source}: {cloth.name!r}: lays take {format_length(used, unit)}, and the ends of "
        f"{cloth.plies * len(lays)} plies about {format_length(END_LOSS_MM, unit)} each: have "
        f"{format_length(drawn, unit)}, {100.0 * (drawn - used) / drawn:.1f} % of it end loss"
    )
    return [Finding("end-loss", "note", text)]
