"""Quick figures of cloth against the real nest, on random orders; print one JSON line an order.

``python tests/bench/plan.py [--orders N] [--seconds S] [--seed N] [--fit]``. Every order is drawn
from the seed: styles, sizes, quantities, edges, cloth width, and a kind of cloth. ``nested_mm`` is
the cloth length that the lays of `arrange`, the nest that ``make`` uses, take; ``error`` is how far
the quick estimate is from it, as a part of it. The last line gives the worst and the mean of them.
``--fit`` prints the coefficients of `cutfiles.estimate.efficiency` that these orders would give.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

from cutfiles.job.job import Job
from cutfiles.job.read import read_job

STYLES = ("tie-back", "three-panel", "bouffant", "long-hair")
SIZES = ("C1", "C2", "XS", "S", "M", "L", "XL")
WIDTHS_IN = (36, 44, 54, 60)
KINDS = ("clear", "clear", "clear", "clear", "folded", "flaws", "print", "match")
MATCHED = {"tie-back": '["crown"]', "three-panel": '["strip"]', "long-hair": '["crown"]'}


def order_text(dice: random.Random) -> tuple[str, str]:
    """One order as a job file, and its kind."""
    kind = dice.choice(KINDS)
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


def orders(count: int, seed: int) -> Iterator[tuple[str, Job]]:
    """So many orders, each with its kind."""
    dice = random.Random(seed)
    for number in range(count):
        text, kind = order_text(dice)
        yield kind, read_job(text.encode(), source=f"order-{number}")
