"""What is to be cut of each cloth of a job."""

from __future__ import annotations

from collections.abc import Sequence

from cutfiles.errors import Finding, JobError
from cutfiles.job.job import CapLine, Cloth, Job
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.ordered import CutList, Panel


def ordered_of(job: Job, panels: Sequence[Panel], cloth: Cloth) -> int:
    """Caps and panels ordered of a cloth."""
    here = sum(line.quantity for line in job.lines_for(cloth))
    return here + sum(panel.quantity for panel in panels if panel.line.cloth == cloth.name)


def unused_cloth(job: Job, cloth: Cloth) -> Finding:
    """That nothing is ordered of a cloth."""
    text = (
        f"{job.source}: cloth {cloth.name!r} is used by no [[caps]] and no [[panels]]: "
        "nothing is cut of it"
    )
    return Finding("unused-cloth", "note", text)


def cut_lists(
    job: Job, panels: Sequence[Panel], findings: list[Finding], wrong: list[Finding]
) -> list[CutList]:
    """What is to be cut of every cloth of which anything is. Lists that cannot be drafted are left
    out, and ``wrong`` says why."""
    lists: list[CutList] = []
    first_cap = 1
    numbers: dict[CapLine, int] = {}
    for cloth in job.cloths:
        if not ordered_of(job, panels, cloth):
            findings.append(unused_cloth(job, cloth))
            continue
        try:
            cuts = cut_list(job, cloth, panels, first_number=first_cap, numbers=numbers)
        except JobError as error:
            wrong.extend(error.findings)
            continue
        numbers |= dict(cuts.numbers)
        used = [piece.cap_number or 0 for cap in cuts.caps for piece in cap.pieces]
        first_cap = max(first_cap, 1 + max(used, default=0))
        findings.extend(cuts.findings)
        lists.append(cuts)
    return lists
