"""Time drafting, one style, size and edge at a time, in one process; print one JSON line each.

``python tests/bench/drafting.py``. Milliseconds, the median of nine, imports not counted.
"""

from __future__ import annotations

import json
import statistics
import time
from typing import get_args

from cutfiles.job.job import CapLine, EdgeFinish, Style
from cutfiles.job.sizes import size_named
from cutfiles.pieces.cut_list import draft_line

RUNS = 9


def main() -> None:
    """Draft size M of everything."""
    for style in get_args(Style):
        for edge in get_args(EdgeFinish):
            line = CapLine(style, size_named("M"), 1, edge, "any")
            taken = []
            for run in range(RUNS):
                start = time.perf_counter()
                # strips longer than any need be, and each time others: drafts are kept
                draft_line(line, longest_strip_mm=1e6 + run)
                taken.append(1000.0 * (time.perf_counter() - start))
            print(
                json.dumps({"draft": f"{style}, {edge}", "ms": round(statistics.median(taken), 1)})
            )


if __name__ == "__main__":
    main()
