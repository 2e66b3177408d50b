"""From the path of a job file to a job that may be cut."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from cutfiles.errors import Finding, JobError, errors_of
from cutfiles.job.cautions import check_safety
from cutfiles.job.job import Job
from cutfiles.job.read import machine_file_of, read_job

_MOST_BYTES: Final = 10_000_000
"""Of one file: more is no pattern piece."""


def load_job(path: Path) -> Job:
    """Read and check a job file for its machine.

    Raises
    ------
    JobError
        If the file cannot be read, or anything in it is wrong or refused.
    """
    return cuttable(load_order(path))


def cuttable(job: Job) -> Job:
    """The job, if its machine may cut its cloth.

    Raises
    ------
    JobError
        If it may not.
    """
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
    return order_of(content, path)


def order_of(content: bytes, path: Path) -> Job:
    """Read and check the bytes of a job file as if they lay at a path: the files that they name lie
    beside it.

    Raises
    ------
    JobError
        If anything in it is wrong.
    """
    findings: list[Finding] = []

    def shelf(name: str) -> bytes:
        missing: list[Finding] = []
        said = file_content(path.parent / name, f"{path.name}: shelf: {name!r}", missing)
        if said is None:
            raise JobError(missing)
        return said

    machine_file = _machine_file(path, content, findings)
    try:
        return read_job(content, source=path.name, machine_file=machine_file, open_shelf=shelf)
    except JobError as error:
        # that the machine's file is not there is said once, with the reason
        where = f"{path.name}: [machine]: file: "
        others = [f for f in error.findings if not findings or not f.text.startswith(where)]
        raise JobError([*findings, *others]) from None


def _machine_file(path: Path, content: bytes, findings: list[Finding]) -> tuple[str, bytes] | None:
    """Name and bytes of the machine's file that a job file names, if it does."""
    name = machine_file_of(content, source=path.name)
    if name is None:
        return None
    where = f"{path.name}: [machine]: file: {name!r}"
    said = file_content(path.parent / name, where, findings)
    return None if said is None else (name, said)


def file_content(path: Path, where: str, findings: list[Finding]) -> bytes | None:
    """The bytes of a file that a job names; None, and a finding, where it cannot be read."""
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
