"""The folder of one run: what it is asked to do, how far it is, and what it leaves.

Server and run share nothing else. What is read there was written whole.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from cutfiles.pipeline.job_text import SOURCE

_TASK: Final = "task.json"
_PROGRESS: Final = "progress.json"
_ALIVE: Final = "alive"
_LOG: Final = "log.txt"


@dataclass(frozen=True, slots=True)
class RunFolder:
    """The paths of a run. ``out`` is what is written for the user, ``alive`` is held by the run's
    process, ``log`` takes what it says beyond its progress."""

    path: Path

    @property
    def job(self) -> Path:
        """The job file of the run."""
        return self.path / SOURCE

    @property
    def out(self) -> Path:
        """The folder of cut files."""
        return self.path / "out"

    @property
    def alive(self) -> Path:
        """The file that the run's process holds."""
        return self.path / _ALIVE

    @property
    def log(self) -> Path:
        """What the run's process had to say, for whoever looks for a mistake in the program."""
        return self.path / _LOG

    def prepare(self, toml: str, drawings: Iterable[Path], task: Mapping[str, Any]) -> None:
        """Write down what is to be done."""
        self.path.mkdir(parents=True)
        self.job.write_text(toml, encoding="utf-8", newline="")
        for drawing in drawings:
            (self.path / drawing.name).write_bytes(drawing.read_bytes())
        _write(self.path / _TASK, task)

    def task(self) -> dict[str, Any]:
        """What is to be done."""
        table: dict[str, Any] = json.loads((self.path / _TASK).read_bytes())
        return table

    def ask(self, what: str) -> None:
        """Leave a mark for the run's process: ``stop`` or ``cancel``."""
        (self.path / f"{what}.mark").touch()

    def is_asked(self, what: str) -> bool:
        """Whether such a mark is there."""
        return (self.path / f"{what}.mark").exists()

    def say(self, progress: Mapping[str, Any]) -> None:
        """Write down how far the run is."""
        _write(self.path / _PROGRESS, progress)

    def progress(self) -> dict[str, Any]:
        """How far the run is; nothing before it says so."""
        try:
            table: dict[str, Any] = json.loads((self.path / _PROGRESS).read_bytes())
        except (OSError, ValueError):
            return {}
        return table


def _write(path: Path, table: Mapping[str, Any]) -> None:
    """Write a table whole, in one step; what cannot be written leaves nothing."""
    number, name = tempfile.mkstemp(prefix=f"{path.name}-", dir=path.parent)
    try:
        with os.fdopen(number, "w", encoding="utf-8") as stream:
            stream.write(json.dumps(table))
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
