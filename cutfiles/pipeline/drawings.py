"""The drawings of a job: the outlines of its remnants, and its panels."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from cutfiles.errors import Finding, JobError, errors_of
from cutfiles.job.cloth import Remnant
from cutfiles.job.job import Cloth, Job
from cutfiles.pieces.ordered import Panel
from cutfiles.pieces.panel import read_panels
from cutfiles.pieces.remnant import read_remnant, remnant_faults
from cutfiles.pipeline.load import file_content


def load_remnants(job: Job, folder: Path) -> tuple[Job, tuple[Finding, ...]]:
    """A job with the outlines of its remnants read, and what was found.

    Raises
    ------
    JobError
        With the findings of all remnants, if one of them cannot be read or is none.
    """
    findings: list[Finding] = []
    cloths: list[Cloth] = []
    for cloth in job.cloths:
        remnants: list[Remnant] = []
        for remnant in cloth.remnants:
            read = remnant
            if remnant.file is not None:
                where = f"{job.source}: {remnant.table}: outline: {remnant.file!r}"
                content = file_content(folder / remnant.file, where, findings)
                if content is None:
                    continue
                read, said = read_remnant(content, remnant, source=job.source)
                findings.extend(said)
            if read.corners:
                findings.extend(remnant_faults(read, source=job.source))
                remnants.append(read)
        widest = max((remnant.size_mm[1] for remnant in remnants), default=cloth.width_mm)
        cloths.append(replace(cloth, width_mm=widest, remnants=tuple(remnants)))
    if errors_of(findings):
        raise JobError(findings)
    return replace(job, cloths=tuple(cloths)), tuple(findings)


def load_panels(job: Job, folder: Path) -> tuple[tuple[Panel, ...], tuple[Finding, ...]]:
    """The panels of a job's drawings, whose names are relative to ``folder``, and what was found.

    Raises
    ------
    JobError
        With the findings of all drawings, if one of them cannot be read or cut.
    """
    panels: list[Panel] = []
    findings: list[Finding] = []
    names: set[str] = set()
    for line in job.panels:
        where = f"{job.source}: [[panels]] {line.number}: file: {line.file!r}"
        content = file_content(folder / line.file, where, findings)
        if content is None:
            continue
        read, said = read_panels(content, line, source=job.source)
        findings.extend(said)
        panels.extend(_named_apart(panel, names) for panel in read)
    if errors_of(findings):
        raise JobError(findings)
    return tuple(panels), tuple(findings)


def _named_apart(panel: Panel, names: set[str]) -> Panel:
    """A panel under a name that no other has."""
    name, count = panel.name, 1
    while name in names:
        count += 1
        name = f"{panel.name} ({count})"
    names.add(name)
    return replace(panel, name=name, piece=replace(panel.piece, name=name))
