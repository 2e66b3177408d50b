"""Running the program as a person does, and what its tests say in common."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path
from typing import Any
from unittest.mock import patch

import typer.main
from typer.main import get_command

from cutfiles.cli import app, run
from cutfiles.pipeline.many_nests import Stop
from cutfiles.pipeline.nest_task import NestResult, NestTask, nest_task

WriteJob = Callable[[str], Path]
Table = dict[str, Any]
Run = subprocess.CompletedProcess[str]

COMMANDS = get_command(app)
"""The commands with their options, put together once and not at every call."""


def cutfiles(*words: str | Path) -> Run:
    """One call of the program within this process, which spares a second of loading.

    All of it runs, from the words of the call to the exit status; an error that the program does
    not catch comes through as it is. A process of its own is what `cutfiles_alone` is for.
    """
    command = ["cutfiles", *map(str, words)]
    read_once = patch.object(typer.main, "get_command", lambda _: COMMANDS)
    handlers = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    out, err = StringIO(), StringIO()
    status: object = None
    try:
        with (
            patch.object(sys, "argv", command),
            read_once,
            redirect_stdout(out),
            redirect_stderr(err),
        ):
            run()
    except SystemExit as end:
        status = end.code
    finally:
        for number, handler in handlers.items():
            signal.signal(number, handler)
    assert status is None or isinstance(status, int), status
    return subprocess.CompletedProcess(command, status or 0, out.getvalue(), err.getvalue())


def made_from_shelf(folder: Path, shelf: str, job: str) -> Path:
    """A shelf and a job in a folder, and the folder of its lays, of a very short search."""
    (folder / "shelf.toml").write_text(shelf)
    (folder / "job.toml").write_text(job)
    run = cutfiles("make", folder / "job.toml", "--out", folder / "out", "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    return folder / "out"


def cutfiles_alone(*words: str | Path, folder: Path | None = None) -> Run:
    """One call of the program as a process of its own, in a folder where one is given."""
    command = [sys.executable, "-m", "cutfiles", *map(str, words)]
    return subprocess.run(
        command, cwd=folder, capture_output=True, text=True, check=False, timeout=100
    )


class NestsHere:
    """Nests one after the other within this process, which spares a plan the loading of others."""

    def __init__(self, workers: int = 1, _cluster: str | None = None) -> None:
        self.workers = workers

    def results(
        self, tasks: Sequence[NestTask], stop: Stop
    ) -> Iterator[tuple[int, NestResult | None]]:
        """The number of every task and its result; none once stopped."""
        for number, task in enumerate(tasks):
            if stop():
                return
            yield number, nest_task(task, stop)

    def __enter__(self) -> NestsHere:
        return self

    def __exit__(self, *_error: object) -> None:
        """Nothing is left to end."""


def names(folder: Path) -> list[str]:
    """What lies in a folder; nothing where there is none."""
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []
