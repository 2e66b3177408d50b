"""The lays that give an order with the least cloth and worth of lays: an integer programme.

For every mix m of length L there are two whole numbers: the plies x that are spread of it, and the
lays n that they make, x <= P n. Caps of each kind add up to what is wanted, and the sum of
x (L + ends) + n W is the least. Since plies of one mix cost the same in whatever lay they lie, this
is as good as a number for every mix in every count of plies (derived), and much smaller. Of several
rolls each has its own x and n, and a row for what it holds.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from cutfiles.estimate.plies import drawn_mm
from cutfiles.plies.order import LayPlan, Mix, SpreadLay, Terms, Wanted
from cutfiles.plies.spreads import spreads

MANY_NODES: Final = 4000
FEW_NODES: Final = 30
"""Of the search tree; an end by count and not by time, so that a plan repeats. With few of them a
plan of hundreds of mixes takes seconds, and was within 4 % of its bound where it was tried."""

EXACT: Final = 1e-6
"""How far off the least a plan may be that is called the least, as a part of it."""


def least_plan(
    wanted: Sequence[Wanted],
    terms: Terms,
    lengths_mm: Mapping[Mix, float],
    *,
    within: float = EXACT,
    nodes: int = MANY_NODES,
) -> LayPlan | None:
    """The plan of the least cost, or ``within`` so great a part of it, of mixes whose lengths are
    known; None where none of them together serve the order. The best so far, with its bound, where
    the tree grows beyond so many nodes.
    """
    columns = [
        (roll, mix)
        for roll in range(len(terms.rolls_mm))
        for mix, length in lengths_mm.items()
        if terms.plies_for(length, roll) > 0
    ]
    if not columns:
        return None
    count, step = len(columns), terms.step
    lengths = np.array([lengths_mm[mix] for _, mix in columns])
    most = np.array(
        [terms.plies_for(lengths_mm[mix], roll) // step for roll, mix in columns], dtype=float
    )
    plies = np.array([drawn_mm(lengths_mm[mix], step) for _, mix in columns])
    caps = terms.at_once * np.array([mix for _, mix in columns], dtype=float).T
    above = np.array([one.most for one in wanted], dtype=float)
    with np.errstate(divide="ignore"):
        bound = np.floor(np.where(caps > 0, above[:, None] / caps, np.inf).min(axis=0))
    numbers = np.arange(count)
    rows = [
        LinearConstraint(
            coo_array(np.hstack([caps, np.zeros_like(caps)])),
            np.array([one.least for one in wanted], dtype=float),
            above,
        ),
        LinearConstraint(
            coo_array(
                (
                    np.concatenate([np.ones(count), -most]),
                    (np.tile(numbers, 2), np.concatenate([numbers, count + numbers])),
                ),
                shape=(count, 2 * count),
            ),
            -np.inf,
            0.0,
        ),
    ]
    for roll, have in enumerate(terms.rolls_mm):
        if math.isfinite(have):
            here = np.array([of == roll for of, _ in columns])
            used = np.concatenate([here * step * lengths, here * terms.lost_mm])
            rows.append(LinearConstraint(used[None, :], -np.inf, have + 1e-6))
    found = milp(
        np.concatenate([plies, np.full(count, terms.lay_worth_mm)]),
        integrality=np.ones(2 * count, dtype=np.int64),
        bounds=Bounds(0.0, np.concatenate([bound, np.ceil(bound / most)])),
        constraints=rows,
        options={"mip_rel_gap": within, "node_limit": nodes},
    )
    if found.x is None:
        return None
    lays = []
    for (roll, mix), steps, most_steps in zip(columns, found.x[:count], most, strict=True):
        for spread in spreads(round(steps), round(most_steps)):
            lays.append(SpreadLay(mix, spread * step, lengths_mm[mix], roll))
    return LayPlan(tuple(lays), terms.lay_worth_mm, float(found.mip_dual_bound))


def least_cloth_mm(
    wanted: Sequence[Wanted], terms: Terms, lengths_mm: Mapping[Mix, float]
) -> float:
    """What all lays together take at least, ends of plies left out, if plies could be parted: what
    must be on hand. Infinite where no mix may be spread."""
    mixes = [mix for mix, length in lengths_mm.items() if length <= terms.longest_mm]
    if not mixes:
        return math.inf
    caps = terms.layers * np.array(mixes, dtype=float).T
    least = np.array([one.least for one in wanted], dtype=float)
    found = milp(
        np.array([lengths_mm[mix] for mix in mixes]),
        constraints=LinearConstraint(caps, least, np.inf),
    )
    return math.inf if found.x is None else float(found.fun)
