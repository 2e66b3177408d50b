"""The plan in plies: what the integer programme finds, against every way tried one by one."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Mapping, Sequence
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutfiles.estimate.plies import END_LOSS_MM
from cutfiles.plies.mixes import MOST_CAPS, candidate_mixes, one_kind_lays
from cutfiles.plies.order import ClothOrder, Mix, Terms, Wanted, together
from cutfiles.plies.programme import FEW_NODES, least_cloth_mm, least_plan, least_plans
from cutfiles.plies.spreads import spreads


def least_by_trial(
    wanted: Sequence[Wanted], terms: Terms, lengths: Mapping[Mix, float]
) -> float | None:
    """The least cost over every multiset of lays, one lay after the other; knows no programme."""
    choices = [
        (
            mix,
            plies,
            plies * (length + END_LOSS_MM) + terms.lay_worth_mm,
            plies * length + terms.lost_mm,
            roll,
        )
        for mix, length in lengths.items()
        if length <= terms.longest_mm
        for plies in range(terms.step, terms.most_plies + 1, terms.step)
        for roll, have in enumerate(terms.rolls_mm)
        if plies * length + terms.lost_mm <= have
    ]

    @cache
    def rest(cut: tuple[int, ...], first: int, left: tuple[float, ...]) -> float:
        best = math.inf
        if all(one.least <= n for one, n in zip(wanted, cut, strict=True)):
            best = 0.0
        for number in range(first, len(choices)):
            mix, plies, cost, cloth, roll = choices[number]
            more = tuple(c + n * plies * terms.layers for c, n in zip(cut, mix, strict=True))
            if cloth > left[roll] + 1e-6:
                continue
            rolls = tuple(one - cloth * (k == roll) for k, one in enumerate(left))
            if all(n <= one.most for one, n in zip(wanted, more, strict=True)):
                best = min(best, cost + rest(more, number, rolls))
        return best

    found = rest((0,) * len(wanted), 0, terms.rolls_mm)
    return found if math.isfinite(found) else None


def small_mixes(kinds: int, caps: int) -> list[Mix]:
    counts = itertools.product(range(caps + 1), repeat=kinds)
    return [mix for mix in counts if 0 < sum(mix) <= caps]


@pytest.mark.parametrize("seed", range(40))
def test_the_programme_finds_the_least_of_every_way(seed: int) -> None:
    # derived: the independent trial above tries every multiset of lays
    dice = random.Random(seed)
    kinds = dice.choice((1, 2, 2, 3))
    wanted = [
        Wanted(n, n + dice.choice((0, 0, 1, 2)))
        for n in (dice.randint(1, 9 if kinds < 3 else 6) for _ in range(kinds))
    ]
    lengths = {mix: 300.0 * sum(mix) ** 0.9 + dice.uniform(0, 200) for mix in small_mixes(kinds, 3)}
    terms = Terms(
        most_plies=dice.choice((1, 2, 3, 4)),
        longest_mm=dice.choice((math.inf, 800.0)),
        rolls_mm=dice.choice(((math.inf,), (4000.0,), (1500.0,), (2600.0, 1100.0), (900.0,) * 3)),
        lost_mm=dice.choice((0.0, 60.0)),
        lay_worth_mm=dice.choice((0.0, 150.0, 1000.0)),
    )
    if dice.random() < 0.3:
        terms = Terms(4, step=2, lay_worth_mm=200.0)
    elif dice.random() < 0.2:
        terms = Terms(3, layers=2, lay_worth_mm=200.0)
    plan = least_plan(wanted, terms, lengths)
    least = least_by_trial(wanted, terms, lengths)
    if least is None:
        assert plan is None
        return
    assert plan is not None
    assert plan.cost_mm == pytest.approx(least, rel=1e-5)
    assert plan.bound_mm <= plan.cost_mm * (1 + 1e-9)
    cut = plan.caps(terms.layers)
    assert all(one.least <= n <= one.most for one, n in zip(wanted, cut, strict=True))
    for roll, have in enumerate(terms.rolls_mm):
        taken = [lay.plies * lay.length_mm + terms.lost_mm for lay in plan.lays if lay.roll == roll]
        assert sum(taken) <= have + 1e-3


@pytest.mark.parametrize("seed", range(20))
def test_caps_of_several_cloths_are_cut_whole(seed: int) -> None:
    # derived: the least over every number of caps that may be cut, each cloth alone by the trial
    dice = random.Random(seed)
    caps = dice.randint(1, 6)
    over = dice.choice((1, 2, 3))
    panels = dice.randint(1, 3)
    cap, panel = Wanted(caps, caps + over), Wanted(panels, panels)
    worth = dice.choice((0.0, 300.0, 1500.0))
    terms = [
        Terms(dice.choice((2, 4)), step=2, lay_worth_mm=worth),
        Terms(
            dice.choice((1, 2, 3)),
            lay_worth_mm=worth,
            rolls_mm=dice.choice(((math.inf,), (900.0, 700.0), (1500.0,))),
        ),
        Terms(2, layers=dice.choice((1, 2)), lay_worth_mm=worth),
    ]
    wanted = [[cap], [panel, cap], [cap]]
    lengths = [
        {mix: 250.0 * sum(mix) ** 0.9 + dice.uniform(0, 200) for mix in small_mixes(len(kinds), 3)}
        for kinds in wanted
    ]
    orders = [
        ClothOrder(tuple(kinds), some, known)
        for kinds, some, known in zip(wanted, terms, lengths, strict=True)
    ]
    plans = least_plans(orders, [((0, 0), (1, 1), (2, 0))])
    least = math.inf
    for count in range(caps, caps + over + 1):
        exact = [[Wanted(count, count) if one is cap else one for one in kinds] for kinds in wanted]
        costs = [least_by_trial(*one) for one in zip(exact, terms, lengths, strict=True)]
        found = [cost for cost in costs if cost is not None]
        least = min(least, sum(found)) if len(found) == len(costs) else least
    if math.isinf(least):
        assert plans is None
        return
    assert plans is not None
    assert sum(plan.cost_mm for plan in plans) == pytest.approx(least, rel=1e-5)
    assert sum(plan.bound_mm for plan in plans) <= least * (1 + 1e-9)
    cut = [plan.caps(one.layers) for plan, one in zip(plans, terms, strict=True)]
    assert cut[0][0] == cut[1][1] == cut[2][0]
    assert cut[1][0] == panels


def test_cloths_that_share_caps_are_planned_together() -> None:
    # derived: 0 and 3 share one kind, 3 and 1 another, and 2 stands alone
    equal = (((0, 0), (3, 1)), ((1, 2), (3, 0)))
    assert together(4, equal) == (
        ((0, 1, 3), (((0, 0), (2, 1)), ((1, 2), (2, 0)))),
        ((2,), ()),
    )
    assert together(2, ()) == (((0,), ()), ((1,), ()))


@pytest.mark.parametrize(("garments", "plies"), [(25, (25,)), (114, (30, 30, 30, 24))])
def test_the_worked_table_of_spreads(garments: int, plies: tuple[int, ...]) -> None:
    # I. Vilumsone-Nemes, Industrial Cutting of Textile Materials, Table 4.1, p. 33: of 30 at most
    assert spreads(garments, 30) == plies
    plan = least_plan([Wanted(garments, garments)], Terms(30, lay_worth_mm=500.0), {(1,): 700.0})
    assert plan is not None
    assert tuple(lay.plies for lay in plan.lays) == plies
    assert plan.gap == pytest.approx(0.0, abs=1e-6)


@settings(max_examples=40)
@given(
    quantities=st.lists(st.integers(1, 60), min_size=1, max_size=4),
    most=st.integers(1, 40),
    worth=st.floats(0, 2000),
)
def test_what_is_cut_is_the_order_exactly(quantities: list[int], most: int, worth: float) -> None:
    wanted = [Wanted(n, n) for n in quantities]
    terms = Terms(most, lay_worth_mm=worth)
    mixes = [mix for mix in candidate_mixes(wanted, terms) if sum(mix) <= 3]
    lengths = {mix: 100.0 + 250.0 * sum(mix) for mix in mixes}
    plan = least_plan(wanted, terms, lengths, nodes=FEW_NODES)
    assert plan is not None
    assert plan.caps(1) == tuple(quantities)
    assert all(1 <= lay.plies <= most for lay in plan.lays)


@given(
    quantity=st.integers(1, 500),
    most=st.integers(2, 40),
    step=st.sampled_from((1, 2)),
    layers=st.sampled_from((1, 2)),
    caps=st.integers(1, MOST_CAPS),
)
def test_one_kind_lays_cut_one_kind(
    quantity: int, most: int, step: int, layers: int, caps: int
) -> None:
    terms = Terms(most, step=step, layers=layers)
    lays = one_kind_lays(1, 3, Wanted(quantity, quantity), terms, caps)
    cut = sum(mix[1] * plies * layers for mix, plies in lays)
    assert 0 <= cut - quantity < terms.at_once
    for mix, plies in lays:
        assert mix[0] == mix[2] == 0
        assert 1 <= mix[1] <= caps
        assert plies <= most
        assert plies % step == 0


def test_candidates_hold_all_small_mixes_and_the_whole_order() -> None:
    wanted = [Wanted(12, 12), Wanted(6, 6)]
    mixes = candidate_mixes(wanted, Terms(6))
    # derived: 12 and 6 in 6 plies are 2 and 1 a lay, in 3 plies 4 and 2
    assert {(2, 1), (4, 2), (12, 6), (1, 0), (0, 1)} <= set(mixes)
    assert len(mixes) == len(set(mixes))
    assert all(m[0] <= 12 and m[1] <= 6 and 0 < sum(m) <= MOST_CAPS for m in mixes)


def test_the_least_cloth_says_what_is_short() -> None:
    # derived: 10 caps of 500 mm each, alone in their lays
    wanted = [Wanted(10, 10)]
    assert least_cloth_mm(wanted, Terms(5), {(1,): 500.0}) == pytest.approx(5000.0)
    assert least_plan(wanted, Terms(5, rolls_mm=(4999.0,)), {(1,): 500.0}) is None
    assert least_cloth_mm(wanted, Terms(5, longest_mm=400.0), {(1,): 500.0}) == math.inf
