"""``python -m tests``: the one gate. Style, types and tests; the first that fails ends it."""

from __future__ import annotations

import subprocess
import sys

from tests.conftest import ROOT

GATE = (
    ("ruff", "check", "."),
    ("ruff", "format", "--check", "."),
    ("mypy",),
    ("pytest", "-n", "auto"),
)


def main() -> int:
    """Run every part of the gate from the project's root."""
    for module, *words in GATE:
        done = subprocess.run([sys.executable, "-m", module, *words], cwd=ROOT, check=False)
        if done.returncode:
            return done.returncode
    return 0


if __name__ == "__main__":
    sys.exit(main())
