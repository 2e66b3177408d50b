"""The lays that give an order with the least cloth and worth of lays: an integer programme.

For every mix m of length L there are two whole numbers: the plies x that are spread of it, and the
lays n that they make, x <= P n. Caps of each kind add up to what is wanted, and the sum of
x (L + ends) + n W is the least. Since plies of one mix cost the same in whatever lay they lie, this
is as good as a number for every mix in every count of plies (derived), and much smaller. Of several
rolls each has its own x and n, and a row for what it holds.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import block_diag, csr_array, diags_array, eye_array, hstack, vstack

from cutfiles.estimate.plies import drawn_mm
from cutfiles.plies.order import ClothOrder, Equal, LayPlan, Mix, SpreadLay, Terms, Wanted
from cutfiles.plies.spreads import spreads

Array = npt.NDArray[np.float64]

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
    """`least_plans` of one cloth."""
    order = ClothOrder(tuple(wanted), terms, lengths_mm)
    plans = least_plans([order], (), within=within, nodes=nodes)
    return None if plans is None else plans[0]


def least_plans(
    orders: Sequence[ClothOrder],
    equal: Sequence[Equal],
    *,
    within: float = EXACT,
    nodes: int = MANY_NODES,
) -> tuple[LayPlan, ...] | None:
    """The plans of some cloths of the least cost together, or ``within`` so great a part of it, of
    mixes whose lengths are known; of kinds that are ``equal`` as many are cut of every cloth. None
    where no lays serve the orders so. The best so far, with its bound, where the tree grows beyond
    so many nodes; every plan then has the same part of what the costs may be above the bound.
    """
    blocks = [_block_of(order) for order in orders]
    if not all(block.columns for block in blocks):
        return None
    links = [_link(blocks, one, other) for kinds in equal for one, other in pairwise(kinds)]
    none = np.zeros(len(links))
    found = milp(
        np.concatenate([block.cost_mm for block in blocks]),
        integrality=np.ones(sum(len(block.cost_mm) for block in blocks), dtype=np.int64),
        bounds=Bounds(0.0, np.concatenate([block.most for block in blocks])),
        constraints=LinearConstraint(
            vstack([block_diag([block.rows for block in blocks]), *links], format="csr"),
            np.concatenate([*(block.low for block in blocks), none]),
            np.concatenate([*(block.high for block in blocks), none]),
        ),
        options={"mip_rel_gap": within, "node_limit": nodes},
    )
    if found.x is None:
        return None
    ends = np.cumsum([len(block.cost_mm) for block in blocks])[:-1]
    plans = [
        LayPlan(tuple(_lays(block, part, order)), order.terms.lay_worth_mm, 0.0)
        for block, part, order in zip(blocks, np.split(found.x, ends), orders, strict=True)
    ]
    share = float(found.mip_dual_bound) / sum(plan.cost_mm for plan in plans)
    return tuple(replace(plan, bound_mm=plan.cost_mm * share) for plan in plans)


@dataclass(frozen=True, slots=True, eq=False)
class _Block:
    """One cloth of the programme. Of every column, a mix on a roll, there are two numbers: first
    the steps of plies of all columns, of which a lay has ``steps`` at most, and then their lays.
    The first of the ``rows`` count what is cut of each kind."""

    columns: tuple[tuple[int, Mix], ...]
    steps: tuple[int, ...]
    cost_mm: Array
    most: Array
    rows: csr_array
    low: Array
    high: Array


def _block_of(order: ClothOrder) -> _Block:
    wanted, terms, lengths_mm = order.wanted, order.terms, order.lengths_mm
    columns = tuple(
        (roll, mix)
        for roll in range(len(terms.rolls_mm))
        for mix, length in lengths_mm.items()
        if terms.plies_for(length, roll) > 0
    )
    count, step = len(columns), terms.step
    steps = tuple(terms.plies_for(lengths_mm[mix], roll) // step for roll, mix in columns)
    in_a_lay = np.array(steps, dtype=float)
    caps = terms.at_once * np.array([mix for _, mix in columns], dtype=float)
    caps = caps.reshape(count, len(wanted)).T
    above = np.array([one.most for one in wanted], dtype=float)
    with np.errstate(divide="ignore"):
        fewest = np.where(caps > 0, above[:, None] / caps, np.inf)
    bound = np.floor(fewest.min(axis=0, initial=np.inf))
    rows = [
        csr_array(np.hstack([caps, np.zeros_like(caps)])),
        hstack([eye_array(count), diags_array(-in_a_lay)], format="csr"),
    ]
    low = [*(one.least for one in wanted), *([-math.inf] * count)]
    high = [*above, *([0.0] * count)]
    lengths = np.array([lengths_mm[mix] for _, mix in columns])
    for roll, have in enumerate(terms.rolls_mm):
        if math.isfinite(have):
            here = np.array([of == roll for of, _ in columns], dtype=float)
            used = np.concatenate([here * step * lengths, here * terms.lost_mm])
            rows.append(csr_array(used[None, :]))
            low.append(-math.inf)
            high.append(have + 1e-6)
    drawn = np.array([drawn_mm(lengths_mm[mix], step) for _, mix in columns])
    return _Block(
        columns,
        steps,
        np.concatenate([drawn, np.full(count, terms.lay_worth_mm)]),
        np.concatenate([bound, np.ceil(bound / in_a_lay)]),
        vstack(rows, format="csr"),
        np.array(low),
        np.array(high),
    )


def _link(blocks: Sequence[_Block], one: tuple[int, int], other: tuple[int, int]) -> csr_array:
    """The row of the difference of what is cut of two kinds, each of one cloth."""
    parts = [np.zeros(len(block.cost_mm)) for block in blocks]
    for (cloth, kind), sign in ((one, 1.0), (other, -1.0)):
        parts[cloth] += sign * blocks[cloth].rows[[kind]].toarray()[0]
    return csr_array(np.concatenate(parts)[None, :])


def _lays(block: _Block, found: Array, order: ClothOrder) -> Iterator[SpreadLay]:
    plies = found[: len(block.columns)]
    for (roll, mix), steps, most in zip(block.columns, plies, block.steps, strict=True):
        for spread in spreads(round(steps), most):
            yield SpreadLay(mix, spread * order.terms.step, order.lengths_mm[mix], roll)


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
