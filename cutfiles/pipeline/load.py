"""From the path of a job file to a job that may be cut."""

from __future__ import annotations

from pathlib import Path

from cutfiles.errors import JobError, errors_of
from cutfiles.job.cautions import check_safety
from cutfiles.job.job import Job
from cutfiles.job.read import read_job


def load_job(path: Path) -> Job:
    """Read and check a job file.

    Raises
    ------
    JobError
        If the file cannot be read, or anything in it is wrong or refused.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        reason = error.strerror or "cannot be read"
        text = f"{path}: cannot be read: {reason}; give the path of a job file (TOML)"
        raise JobError.of("no-file", text) from error

    def shelf(name: str) -> bytes:
        try:
            return (path.parent / name).read_bytes()
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or "no such name can be"
            text = (
                f"{path.name}: shelf: {name!r} cannot be read: {reason}; give its path from the "
                "job file's folder"
            )
            raise JobError.of("no-file", text) from error

    job = read_job(content, source=path.name, open_shelf=shelf)
    refused = errors_of(check_safety(job))
    if refused:
        raise JobError(refused)
    return job
