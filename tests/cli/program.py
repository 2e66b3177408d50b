"""Running the program as a person does, and what its tests say in common."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

WriteJob = Callable[[str], Path]
Table = dict[str, Any]


def cutfiles(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """One call of the program."""
    command = [sys.executable, "-m", "cutfiles", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=100)


def names(folder: Path) -> list[str]:
    """What lies in a folder; nothing where there is none."""
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []
