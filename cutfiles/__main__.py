"""``python -m cutfiles``, and the command of that name."""

from __future__ import annotations

import sys

from cutfiles.errors import INTERRUPTED


def start() -> None:
    """Load the program and run it; whoever interrupts it while it loads is told nothing."""
    try:
        from cutfiles.cli import run

        run()
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)


if __name__ == "__main__":
    start()
