"""Quick figures of cloth against the real nest, on random orders; print one JSON line an order.

``python tests/bench/plan.py [--orders N] [--seconds S] [--seed N] [--kinds KIND,...] [--fit]``.
Every order is drawn from the seed: styles, sizes, quantities, edges, cloth width, and a kind of
cloth: clear, folded, with flaws, printed, printed with pieces in register. ``nested_mm`` is the
length of the lay of `arrange`, which ``make`` uses; ``error`` is how far the likely length is from
it, as a part of it.
The last line sums them up. ``--kinds`` names the kinds to draw from, some twice for more of them.
``--fit`` adds the parts of `cutfiles.estimate.likely` that those without a print give by least
squares of the relative error, without those whose length a bound says; of lays with a sketch and
without.
"""

from __future__ import annotations

import argparse
import json
import random
import statistics
from collections.abc import Iterator, Sequence

import numpy as np

from cutfiles.effort import Effort
from cutfiles.errors import JobError
from cutfiles.estimate.likely import FILL, WITHIN, likely_mm, parts_of, terms
from cutfiles.job.job import Job
from cutfiles.job.read import read_job
from cutfiles.lay.arrange import arrange
from cutfiles.lay.bounds import Reaches
from cutfiles.lay.reach import Reach
from cutfiles.lay.table import CLOSE, Table
from cutfiles.pieces.cut_list import cut_list

STYLES = ("tie-back", "three-panel", "bouffant", "long-hair")
SIZES = ("C1", "C2", "XS", "S", "M", "L", "XL")
WIDTHS_IN = (36, 44, 54, 60)
KINDS = ("clear", "clear", "clear", "clear", "folded", "flaws", "print", "match")
MATCHED = {"tie-back": '["crown"]', "three-panel": '["strip"]', "long-hair": '["crown"]'}


def order_text(dice: random.Random, kinds: Sequence[str] = KINDS) -> tuple[str, str]:
    """One order as a job file, and its kind."""
    kind = dice.choice(kinds)
    lines = [
        'length_unit = "in"',
        "[[cloth]]",
        'name = "cotton"',
        f"width = {dice.choice(WIDTHS_IN)}",
        "selvedge = 0.5",
        'fibre = "cotton"',
        f"one_way = {str(dice.random() < 0.25).lower()}",
    ]
    if kind == "folded":
        lines.append('spread = "folded"')
    elif kind == "flaws":
        places = ", ".join(
            f"{{ at = [{dice.uniform(2, 60):.1f}, {dice.uniform(2, 30):.1f}], size = [2, 2] }}"
            for _ in range(dice.randint(1, 3))
        )
        lines.append(f"flaws = [{places}]")
    elif kind in ("print", "match"):
        lines.append(f'print_repeat = {{ along = "{dice.choice((120, 240, 320))} mm" }}')
    for _ in range(dice.randint(1, 3)):
        style = dice.choice(STYLES if kind != "match" else tuple(MATCHED))
        lines += [
            "[[caps]]",
            f'style = "{style}"',
            f'size = "{dice.choice(SIZES)}"',
            f"quantity = {round(2 ** dice.uniform(0, 4.5))}",
            f'edge = "{dice.choice(("hem", "hem", "binding"))}"',
        ]
        if kind == "match":
            lines.append(f"match = {MATCHED[style]}")
    return "\n".join([*lines, "[machine]", 'kind = "laser"', ""]), kind


def orders(count: int, seed: int, kinds: Sequence[str] = KINDS) -> Iterator[tuple[str, Job]]:
    """So many orders, each with its kind."""
    dice = random.Random(seed)
    for number in range(count):
        text, kind = order_text(dice, kinds)
        yield kind, read_job(text.encode(), source=f"order-{number}")


def compared(job: Job, seconds: float) -> tuple[Reach, float, float]:
    """What is known at once of an order's lay, its likely length and its nested one."""
    (cloth,) = job.cloths
    cuts = cut_list(job, cloth)
    (lay,) = arrange(cuts, job.machine, Effort(seconds, 1), unit="mm", source=job.source)
    reach = Reaches(FILL).of(Table(cloth, job.machine, CLOSE).problem(cuts.caps))
    return reach, cloth.whole_repeats_mm(likely_mm(reach), up=True), lay.length_mm


def fitted_parts(known: list[tuple[Reach, float]]) -> list[float]:
    """The parts of the terms that fit nested lays best, of orders whose length no bound says by
    these parts; all with a sketch, or all without."""
    parts, kept = np.array(parts_of(known[0][0])), known
    for _ in range(20):
        table = np.array([[mm / nested for mm in terms(reach)] for reach, nested in kept])
        parts, *_ = np.linalg.lstsq(table, np.ones(len(table)), rcond=None)
        kept = [
            (reach, nested)
            for reach, nested in known
            if reach.least_mm < parts @ terms(reach) < reach.boxes_mm
        ]
    return [round(float(part), 3) for part in parts]


def main() -> None:
    """Compare every order."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--orders", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kinds", default=",".join(KINDS))
    parser.add_argument("--fit", action="store_true")
    options = parser.parse_args()
    errors: list[float] = []
    known: list[tuple[Reach, float]] = []
    for kind, job in orders(options.orders, options.seed, options.kinds.split(",")):
        try:
            reach, likely, nested = compared(job, options.seconds)
        except JobError as error:
            print(json.dumps({"kind": kind, "refused": error.findings[0].code}), flush=True)
            continue
        errors.append(likely / nested - 1.0)
        if kind in {"clear", "folded", "flaws"}:
            known.append((reach, nested))
        row = {
            "kind": kind,
            "pieces": reach.pieces,
            "least_mm": round(reach.least_mm),
            "likely_mm": round(likely),
            "boxes_mm": round(reach.boxes_mm),
            "nested_mm": round(nested),
            "error": round(errors[-1], 4),
        }
        print(json.dumps(row), flush=True)
    sums = {
        "orders": len(errors),
        "within": sum(abs(error) <= WITHIN for error in errors),
        "mean_error": round(statistics.mean(map(abs, errors)), 4),
        "worst_error": round(max(map(abs, errors)), 4),
    }
    print(json.dumps(sums))
    if options.fit:
        for name, is_sketched in (("sketched", True), ("unsketched", False)):
            some = [one for one in known if (one[0].sketched_mm is not None) is is_sketched]
            if len(some) > len(parts_of(some[0][0])):
                print(json.dumps({name: fitted_parts(some)}))


if __name__ == "__main__":
    main()
