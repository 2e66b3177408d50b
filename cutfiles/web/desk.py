"""The desk: the folder with everybody's jobs, and its index."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import platformdirs

from cutfiles.web.index import Index
from cutfiles.web.runs import Runs


def usual_folder() -> Path:
    """Where jobs are kept where nobody says."""
    return platformdirs.user_data_path("cutfiles") / "jobs"


@dataclass(frozen=True, slots=True)
class Desk:
    """What the calls work on."""

    folder: Path
    index: Index
    runs: Runs

    def job_folder(self, job: str) -> Path:
        """The folder of a job's drawings and runs, by its id as the index gives it."""
        return self.folder / self.index.job(job).id
