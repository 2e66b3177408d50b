"""Nest orders of tie-back caps of size M with ties, on 44 in cotton; print one JSON line a lay.

``python tests/bench/caps.py [KIND ...] [--seconds S] [--seed N] [--caps N ...]``. Kinds:
``clear``, ``flaws`` (two), ``repeat`` (320 mm along, crowns and bands in register), ``folded``, and
``remnants``: how many complete caps four of them give (``--caps`` is not asked then).
Beside the program's own lay stands, in the same run and for the same seconds, the strip library
alone on all cores where it can express the problem, and as the floor the plain lay of every piece
as far to the left as it goes. Figures are efficiencies, 0 to 1; ``megabytes`` is the most memory
held so far by this process.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import time
from dataclasses import replace

from shapely.geometry import box

from cutfiles.effort import Effort
from cutfiles.geometry.vector import Point
from cutfiles.job.job import CapLine, Cloth, Job
from cutfiles.job.machine import Machine
from cutfiles.job.read import read_job
from cutfiles.job.sizes import size_named
from cutfiles.lay.arrange import arrange, strip_problem
from cutfiles.lay.feasible import layout_faults
from cutfiles.lay.free_parts import Room
from cutfiles.lay.grid_engine import GridTables, leftmost_layout
from cutfiles.lay.nest import nest_strip
from cutfiles.lay.problem import Obstacle, Register, StripLayout, StripProblem, Watch
from cutfiles.lay.remnants import RemnantStrip
from cutfiles.lay.strip_engine import nest_on_strip
from cutfiles.pieces.cut_list import cut_list
from cutfiles.tolerances import LAY_MM

INCH_MM = 25.4


def order(count: int, width_mm: float = 44 * INCH_MM) -> StripProblem:
    """So many caps on a clear strip."""
    cloth = Cloth("cotton", width_mm, 0.5 * INCH_MM, None, False, 1, 0.0, 0.0, "cotton")
    caps = (CapLine("tie-back", size_named("M"), count, "hem", "cotton"),)
    job = Job("bench", "bench", "mm", (cloth,), caps, Machine("laser", 0.2, None, None))
    return strip_problem(cut_list(job, cloth).caps, cloth, job.machine)


def with_flaws(problem: StripProblem) -> StripProblem:
    """Two flaws, near the start."""
    flaws = (box(300, 400, 320, 450), box(900, 700, 960, 730))
    return replace(problem, obstacles=tuple(Obstacle(f, problem.margin) for f in flaws))


def with_repeat(problem: StripProblem) -> StripProblem:
    """The middle of crowns and bands at one place of a print of 320 mm."""
    shapes = []
    for shape in problem.shapes:
        x0, y0, x1, y1 = shape.outline.bounds
        middle = Point((x0 + x1) / 2.0, (y0 + y1) / 2.0)
        register = None if shape.name == "tie" else Register(middle, Point(0.0, 0.0), 320.0)
        shapes.append(replace(shape, register=register))
    return replace(problem, shapes=tuple(shapes))


def problem_of(kind: str, count: int) -> StripProblem:
    """An order of a kind. Of folded cloth, each place gives two layers on half the width."""
    if kind == "folded":
        return order(-(-count // 2), 22 * INCH_MM + 0.5 * INCH_MM)
    problem = order(count)
    if kind == "flaws":
        return with_flaws(problem)
    return with_repeat(problem) if kind == "repeat" else problem


REMNANTS = """
length_unit = "mm"
[[cloth]]
name = "cotton"
outline = [[0, 0], [900, 0], [850, 600], [500, 1000], [0, 900]]
[[cloth]]
name = "cotton"
outline = [[0, 0], [700, 0], [700, 450], [350, 450], [350, 900], [0, 900]]
[[cloth]]
name = "cotton"
outline = [[0, 0], [560, 0], [560, 460], [0, 460]]
[[cloth]]
name = "cotton"
outline = [[100, 0], [600, 60], [760, 500], [420, 820], [0, 420]]
[[caps]]
style = "tie-back"
size = "M"
quantity = "as many as fit"
[machine]
kind = "laser"
kerf = 0.2
"""
"""Four invented remnants."""


def remnant_row(seconds: float, seed: int) -> dict[str, object]:
    """Complete caps of four remnants: ours, and those that fit as far to the left as they go."""
    job = read_job(REMNANTS.encode(), source="remnants")
    (cloth,) = job.cloths
    cuts = cut_list(job, cloth)
    start = time.monotonic()
    lays = arrange(cuts, job.machine, Effort(seconds, seed), unit="mm", source="remnants")
    taken = time.monotonic() - start
    caps = len({placed.ordered.cap_number for lay in lays for placed in lay.placed})
    strip = RemnantStrip.of(cloth.remnants)
    plain = 0
    while plain < len(cuts.caps):
        problem = strip_problem(cuts.caps[: plain + 1], cloth, job.machine)
        floor = leftmost_layout(GridTables(problem, Room(problem)))
        if floor is None or floor.length > strip.length:
            break
        plain += 1
    return {"kind": "remnants", "caps": caps, "seconds": round(taken, 1), "leftmost": plain}


def efficiency(problem: StripProblem, layout: StripLayout | None) -> float | None:
    """Of an allowed lay; None if there is none."""
    if layout is None or layout_faults(problem, layout, tolerance=2 * LAY_MM):
        return None
    return round(layout.efficiency(problem), 4)


def main() -> None:
    """Measure everything that was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kinds", nargs="*", metavar="KIND", default=["clear"])
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--caps", type=int, nargs="+", default=[5, 12, 60, 200, 1000])
    options = parser.parse_args()
    for kind in options.kinds:
        if kind == "remnants":
            print(json.dumps(remnant_row(options.seconds, options.seed)), flush=True)
            continue
        for count in options.caps:
            problem = problem_of(kind, count)
            start = time.monotonic()
            ours = nest_strip(problem, seed=options.seed, watch=Watch(options.seconds))
            seconds = time.monotonic() - start
            megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
            raw = None
            if problem.is_clear:
                watch = Watch(options.seconds)
                cores = os.cpu_count() or 1
                raw = nest_on_strip(problem, seed=options.seed, workers=cores, watch=watch)
            floor = leftmost_layout(GridTables(problem, Room(problem)))
            row = {
                "kind": kind,
                "caps": count,
                "ours": efficiency(problem, ours),
                "engine": ours.engine,
                "seconds": round(seconds, 1),
                "megabytes": round(megabytes),
                "library": efficiency(problem, raw),
                "leftmost": efficiency(problem, floor),
            }
            print(json.dumps(row), flush=True)


if __name__ == "__main__":
    main()
