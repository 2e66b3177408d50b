"""Time the program as a whole process, and nest twelve caps; print one JSON line a measure.

``python tests/bench/demo.py [--runs N]``. Wall seconds are the median of the runs.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from cutfiles.effort import Effort
from cutfiles.job.job import CapLine, Cloth, Job
from cutfiles.job.machine import Machine
from cutfiles.job.sizes import size_named
from cutfiles.lay.arrange import arrange
from cutfiles.pieces.cut_list import cut_list

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "jobs" / "wildlife-clinic.toml"


def wall_seconds(words: list[str], runs: int) -> float:
    """The median wall time of a command."""
    taken = []
    for _ in range(runs):
        start = time.monotonic()
        subprocess.run([sys.executable, "-m", "cutfiles", *words], check=True, capture_output=True)
        taken.append(time.monotonic() - start)
    return statistics.median(taken)


def twelve_caps(seconds: float, seed: int) -> float:
    """Efficiency of a lay of twelve caps of size M with ties, on 44 in cotton."""
    cloth = Cloth("cotton", 44 * 25.4, 12.7, None, False, 1, 0.0, 0.0, "cotton")
    caps = (CapLine("tie-back", size_named("M"), 12, "hem", "cotton"),)
    job = Job("bench", "bench", "mm", (cloth,), caps, Machine("laser", 0.2, None, None))
    effort = Effort(seconds, seed)
    (lay,) = arrange(cut_list(job, cloth), job.machine, effort, unit="mm", source="bench")
    return lay.efficiency


def main() -> None:
    """Measure everything."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5)
    runs = parser.parse_args().runs
    with tempfile.TemporaryDirectory() as out:
        make = ["make", str(DEMO), "--out", out]
        rows: list[tuple[str, float]] = [
            ("cutfiles --help, s", wall_seconds(["--help"], runs)),
            ("make --quick, s", wall_seconds([*make, "--quick"], runs)),
            ("make, s", wall_seconds(make, max(1, runs // 2))),
        ]
    for seconds in (1.0, 10.0):
        found = [twelve_caps(seconds, seed) for seed in range(1, 2 * runs, 2)]
        rows.append((f"12 caps, {seconds:g} s, efficiency, least", min(found)))
        rows.append((f"12 caps, {seconds:g} s, efficiency, median", statistics.median(found)))
    for name, value in rows:
        print(json.dumps({"measure": name, "value": round(value, 4)}))


if __name__ == "__main__":
    main()
