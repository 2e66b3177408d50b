"""A plan of an order in three prints, and how much faster two processes nest than one; print one
JSON line for each.

``python tests/bench/plies.py [--seconds S] [--lays N] [--nest S]``. The order is 137 caps in five
sizes and three prints, at most six plies: ``saved`` is what the plan draws less than one-size lays
cut in order, as a part of theirs; ``length_mm`` of every lay is that of its nest. The second line
nests as many different lays, for as many seconds each, in one process and in two: the clock starts
when the processes are up.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from dataclasses import replace
from pathlib import Path

from cutfiles.effort import Effort
from cutfiles.job.job import Job
from cutfiles.job.read import read_job
from cutfiles.pipeline.load import load_job
from cutfiles.pipeline.many_nests import ProcessNests
from cutfiles.pipeline.nest_task import NestTask, OneLay
from cutfiles.pipeline.plan import plan_job

SIZES = ("XS", "S", "M", "L", "XL")
ORDER = {
    "kelp print": (5, 9, 15, 13, 6),
    "gull print": (4, 10, 14, 12, 7),
    "tern print": (3, 8, 13, 12, 6),
}


def order_text() -> str:
    """The order as a job file."""
    cloth = 'width = "44 in"\nselvedge = "1/2 in"\nfibre = "cotton"\n'
    text = "".join(f'[[cloth]]\nname = "{name}"\n{cloth}' for name in ORDER)
    for name, quantities in ORDER.items():
        for size, quantity in zip(SIZES, quantities, strict=True):
            text += f'[[caps]]\nstyle = "tie-back"\nsize = "{size}"\nquantity = {quantity}\n'
            text += f'cloth = "{name}"\n'
    return text + '[machine]\nkind = "drag knife"\nmost_plies = 6\n'


def plan_row(seconds: float) -> dict[str, object]:
    """The plan, and how long it took in all."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "order.toml"
        path.write_text(order_text(), encoding="utf-8")
        begin = time.monotonic()
        effort = Effort(seconds, 1)
        planned = plan_job(
            load_job(path),
            path,
            Path(folder) / "out",
            effort,
            workers=2,
            cluster=None,
            hear=lambda _: None,
        )
        took = time.monotonic() - begin
    cloths = planned.table["cloths"]
    cloth = sum(one["cloth_mm"] for one in cloths)
    before = sum(one["one_size_lays"]["cloth_mm"] for one in cloths)
    return {
        "caps": sum(row["cut"] for one in cloths for row in one["caps"]),
        "lays": len(planned.table["lays"]),
        "one_size_lays": sum(one["one_size_lays"]["lays"] for one in cloths),
        "cloth_mm": round(cloth),
        "one_size_mm": round(before),
        "saved": round(1.0 - cloth / before, 4),
        "gap": [one["gap"] for one in cloths],
        "most_plies": max(lay["plies"] for lay in planned.table["lays"]),
        "seconds": round(took, 1),
    }


def different_lays(count: int) -> list[Job]:
    """So many jobs of one lay of four to seven caps."""
    job = read_job(order_text().encode(), source="order.toml")
    cloth = job.cloths[0]
    jobs = []
    for number in range(count):
        lines = [line for line in job.caps if line.cloth == cloth.name]
        caps = [replace(line, quantity=1 + (number >> k & 1)) for k, line in enumerate(lines[:4])]
        jobs.append(replace(job, cloths=(cloth,), caps=tuple(caps)))
    return jobs


def clock(jobs: list[Job], workers: int, seconds: float) -> float:
    """How long so many processes take for all the nests."""
    nests = ProcessNests(workers)
    try:
        warm = [NestTask(OneLay(job), 1.0, 1) for job in jobs[: 2 * workers]]
        list(nests.results(warm, lambda: False))
        begin = time.monotonic()
        found = list(
            nests.results([NestTask(OneLay(job), seconds, 1) for job in jobs], lambda: False)
        )
        assert len(found) == len(jobs)
        return time.monotonic() - begin
    finally:
        nests.close()


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seconds", type=float, default=80.0)
    parser.add_argument("--lays", type=int, default=16)
    parser.add_argument("--nest", type=float, default=3.0)
    given = parser.parse_args()
    print(json.dumps(plan_row(given.seconds)), flush=True)
    jobs = different_lays(given.lays)
    one, two = (clock(jobs, workers, given.nest) for workers in (1, 2))
    row = {"lays": len(jobs), "nest_s": given.nest, "one_s": one, "two_s": two, "ratio": one / two}
    print(json.dumps({key: round(value, 2) for key, value in row.items()}))


if __name__ == "__main__":
    main()
