"""From the path of a job file to a job that may be cut, and to the panels of its drawings."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Final

from cutfiles.errors import Finding, JobError, errors_of
from cutfiles.job.cautions import check_safety
from cutfiles.job.cloth import Remnant
from cutfiles.job.job import Cloth, Job
from cutfiles.job.read import machine_file_of, read_job
from cutfiles.pieces.ordered import Panel
from cutfiles.pieces.panel import read_panels
from cutfiles.pieces.remnant import read_remnant, remnant_faults

_MOST_BYTES: Final = 10_000_000
"""Of one drawing: more is no pattern piece."""


def load_job(path: Path) -> Job:
    """Read and check a job file for its machine.

    Raises
    ------
    JobError
        If the file cannot be read, or anything in it is wrong or refused.
    """
    job = load_order(path)
    refused = errors_of(check_safety(job))
    if refused:
        raise JobError(refused)
    return job


def load_order(path: Path) -> Job:
    """Read and check a job file, whatever its machine may not cut.

    Raises
    ------
    JobError
        If the file cannot be read, or anything in it is wrong.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        reason = error.strerror or "cannot be read"
        text = f"{path}: cannot be read: {reason}; give the path of a job file (TOML)"
        raise JobError.of("no-file", text) from error
    findings: list[Finding] = []
    machine_file = _machine_file(path, content, findings)
    try:
        return read_job(content, source=path.name, machine_file=machine_file)
    except JobError as error:
        # that the machine's file is not there is said once, with the reason
        others = [f for f in error.findings if not findings or f.code != "no-file"]
        raise JobError([*findings, *others]) from None


def _machine_file(path: Path, content: bytes, findings: list[Finding]) -> tuple[str, bytes] | None:
    """Name and bytes of the machine's file that a job file names, if it does."""
    name = machine_file_of(content, source=path.name)
    if name is None:
        return None
    where = f"{path.name}: [machine]: file: {name!r}"
    said = _content(path.parent / name, where, findings)
    return None if said is None else (name, said)


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
                where = f"{job.source}: [[cloth]] {remnant.number}: outline: {remnant.file!r}"
                content = _content(folder / remnant.file, where, findings)
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


def _content(path: Path, where: str, findings: list[Finding]) -> bytes | None:
    """The bytes of a drawing; None, and a finding, where it cannot be read."""
    try:
        size = path.stat().st_size
        if size <= _MOST_BYTES:
            return path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "no such name can be"
        text = f"{where} cannot be read: {reason}; give its path from the job file's folder"
        findings.append(Finding("no-file", "error", text))
        return None
    text = (
        f"{where} has {size / 1e6:.0f} million bytes, and must have at most "
        f"{_MOST_BYTES / 1e6:.0f}: keep to the outlines of the pieces"
    )
    findings.append(Finding("too-large-file", "error", text))
    return None


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
        content = _content(folder / line.file, where, findings)
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
