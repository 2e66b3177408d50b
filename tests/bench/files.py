"""Time a lay of many caps from its plan to its verdict, in one process; print one JSON line a row.

``python tests/bench/files.py [--caps N] [--labels KIND]``. First, for each style and edge in size
M, how many spans the outlines of its pieces have flattened, and as lines and arcs. Then a lay of
tie-back caps in rows (1,000 caps are 4,000 pieces): seconds, and those of the processor, to plan
the cuts and to write, read and judge each file; its size in MB, and the most memory that the
process has taken so far, imports included.
"""

from __future__ import annotations

import argparse
import json
import resource
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, TypeVar, get_args

from cutfiles.cuts.marks import piece_strokes
from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.effort import Effort
from cutfiles.errors import Finding
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.svg import svg_bytes
from cutfiles.job.job import CapLine, Cloth, EdgeFinish, Job, Style
from cutfiles.job.machine import Labels, Machine
from cutfiles.job.sizes import size_named
from cutfiles.job.written import LAYER_NAMES
from cutfiles.lay.arrange import arrange
from cutfiles.lay.lay import Lay
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pipeline.prove import READERS
from cutfiles.verdict.expected import expected_of
from cutfiles.verdict.judge import judge_lay
from cutfiles.verdict.raster import raster_findings

CLOTH = Cloth("kelp", 1117.6, 12.7, None, False, 1, 3.0, 2.0, "cotton")
LASER = Machine("laser", 0.2, None, None)
Value = TypeVar("Value")


def main() -> None:
    """Print the rows."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--caps", type=int, default=1000)
    parser.add_argument("--labels", choices=get_args(Labels), default="drawn")
    arguments = parser.parse_args()
    caps, machine = arguments.caps, replace(LASER, labels=arguments.labels)
    for style in get_args(Style):
        for edge in get_args(EdgeFinish):
            _print(**_spans_row(style, edge))
    lay = _timed("nest in rows", lambda: _lay("tie-back", "hem", caps))
    plan = _timed("plan the cuts", lambda: cut_plan(lay, machine, seed=1))
    expected = _timed("know what is expected", lambda: expected_of(lay, machine, LAYER_NAMES))
    writers: dict[str, Callable[[], bytes]] = {
        ".dxf": lambda: dxf_bytes(plan),
        ".svg": lambda: svg_bytes(plan, "bench"),
    }
    started, worked = time.perf_counter(), time.process_time()
    findings: list[Finding] = []
    with tempfile.TemporaryDirectory() as folder:
        for suffix, write in writers.items():
            path = Path(folder) / f"lay-01{suffix}"
            path.write_bytes(_timed(f"write {suffix}", write))
            drawing = _timed(f"read {suffix}", partial(READERS[suffix], path))
            findings += _timed(f"judge {suffix}", partial(judge_lay, drawing, expected))
            if suffix == ".svg":
                findings += _timed("draw .svg", partial(raster_findings, path, expected))
            _print(file=suffix, mb=round(path.stat().st_size / 1e6, 1))
    _print(
        pieces=len(lay.placed),
        seconds=round(time.perf_counter() - started, 1),
        of_processor=round(time.process_time() - worked, 1),
        peak_mb=_peak_mb(),
        findings=len(findings),
    )


def _spans_row(style: Style, edge: EdgeFinish) -> dict[str, Any]:
    lay = _lay(style, edge, 1)
    flattened = [len(s.points) for p in lay.placed for s in piece_strokes(p, LASER.kerf_mm)
                 if s.role == "outline"]  # fmt: skip
    fitted = {s.piece_id: len(s.spans) for s in cut_plan(lay, LASER, seed=1).strokes
              if s.role == "outline"}  # fmt: skip
    return {
        "cap": f"{style}, {edge}",
        "spans": {
            p.ordered.name: [before, fitted[p.ordered.id]]
            for p, before in zip(lay.placed, flattened, strict=True)
        },
    }


def _lay(style: Style, edge: EdgeFinish, count: int) -> Lay:
    caps = (CapLine(style, size_named("M"), count, edge, "kelp"),)
    job = Job("bench", "bench", "mm", (CLOTH,), caps, LASER)
    (lay,) = arrange(cut_list(job, CLOTH), LASER, Effort(0.0, 1), unit="mm", source="bench")
    return lay


def _timed(step: str, work: Callable[[], Value]) -> Value:
    start, worked = time.perf_counter(), time.process_time()
    result = work()
    _print(
        step=step,
        seconds=round(time.perf_counter() - start, 2),
        of_processor=round(time.process_time() - worked, 2),
        peak_mb=_peak_mb(),
    )
    return result


def _peak_mb() -> int:
    return round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0)


def _print(**row: object) -> None:
    print(json.dumps(row), flush=True)


if __name__ == "__main__":
    main()
