"""``python -m tests``: the one gate. Style, types and tests; the first stage that fails ends it."""

from __future__ import annotations

import os
import subprocess
import sys

from tests.conftest import ROOT

WORKERS = str((os.cpu_count() or 1) + 1)
"""Of pytest: one more than there are cores, since some wait for a browser or a search."""

GATE = (
    (("ruff", "check", "."), ("ruff", "format", "--check", ".")),
    # compiled once, and not by every worker that tests; a core is free while types are checked
    (("mypy",), ("tests.compiled",)),
    # in the order of the files: the longest, of browsers and the command line, come first
    (("pytest", "-n", WORKERS, "--no-loadscope-reorder"),),
)
"""Stages, one after the other; the parts of one run side by side."""


def main() -> int:
    """Run every part of the gate from the project's root."""
    # bytecode is kept, whatever is usual here: else every worker and process compiles everything
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    for stage in GATE:
        parts = [
            subprocess.Popen([sys.executable, "-m", module, *words], cwd=ROOT)
            for module, *words in stage
        ]
        failed = [part.returncode for part in parts if part.wait()]
        if failed:
            return failed[0]
    return 0


if __name__ == "__main__":
    sys.exit(main())
