"""Running the program as a person does, and what its tests say in common."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from io import StringIO
from pathlib import Path
from typing import Any
from unittest.mock import patch

from cutfiles.cli import run

WriteJob = Callable[[str], Path]
Table = dict[str, Any]
Run = subprocess.CompletedProcess[str]


def cutfiles(*words: str | Path) -> Run:
    """One call of the program within this process, which spares a second of loading.

    All of it runs, from the words of the call to the exit status; an error that the program does
    not catch comes through as it is. A process of its own is what `cutfiles_alone` is for.
    """
    command = ["cutfiles", *map(str, words)]
    handlers = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    out, err = StringIO(), StringIO()
    status: object = None
    try:
        with patch.object(sys, "argv", command), redirect_stdout(out), redirect_stderr(err):
            run()
    except SystemExit as end:
        status = end.code
    finally:
        for number, handler in handlers.items():
            signal.signal(number, handler)
    assert status is None or isinstance(status, int), status
    return subprocess.CompletedProcess(command, status or 0, out.getvalue(), err.getvalue())


def cutfiles_alone(*words: str | Path, folder: Path | None = None) -> Run:
    """One call of the program as a process of its own, in a folder where one is given."""
    command = [sys.executable, "-m", "cutfiles", *map(str, words)]
    return subprocess.run(
        command, cwd=folder, capture_output=True, text=True, check=False, timeout=100
    )


def names(folder: Path) -> list[str]:
    """What lies in a folder; nothing where there is none."""
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []
