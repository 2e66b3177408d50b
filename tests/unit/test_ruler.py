"""The ruler plan's search: against charts of squares, every way tried, and bounds."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutfiles.ruler.fill import most_that_fit
from cutfiles.ruler.patterns import Patterns
from cutfiles.ruler.plan import ClothRules, Size, Stages
from cutfiles.ruler.solve import Solver
from tests.unit.ruler_by_trial import shortest_by_trial

YARD = {
    # quilterscache.com: squares of so many inches from one yard, 44 x 36 in usable, in a grid
    1: 1584, 1.5: 696, 2: 396, 2.5: 238, 3: 168, 3.5: 120, 4: 99, 4.5: 72, 5: 56, 6: 42, 6.5: 30,
    8: 20, 9: 16, 10: 12, 12: 9,
}  # fmt: skip
FAT_QUARTER = {2: 99, 2.5: 56, 3: 42, 3.5: 30, 4: 20, 4.5: 16, 5: 12, 5.5: 12, 6: 9}
"""The same page, from 18 x 22 in."""

CAP: tuple[tuple[tuple[Size, ...], ...], tuple[int, ...]] = (
    (((76, 60),), ((51, 169),), ((96, 12),)),
    (1, 1, 2),
)
"""Crown, band and tie of the tie-back cap of size M, in eighths of an inch, and how many."""


@pytest.mark.parametrize("stages", [2, 3])
@pytest.mark.parametrize(
    ("width", "length", "side", "count"),
    [
        *((44, 36, side, count) for side, count in YARD.items()),
        *((22, 18, side, count) for side, count in FAT_QUARTER.items()),
    ],
)
def test_squares_from_a_yard(
    width: int, length: int, side: float, count: int, stages: Stages
) -> None:
    eighths = int(8 * side)
    rules = ClothRules(8 * width, 8 * length, stages)
    solver = Solver(Patterns([((eighths, eighths),)], rules))
    filled = most_that_fit(solver, [0], [1], layers=1, length=8 * length)
    assert filled is not None
    assert (filled.caps, filled.most) == (count, count)
    assert filled.cutting.length <= 8 * length


SIZES = st.tuples(st.integers(2, 9), st.integers(2, 9))
WAYS = st.one_of(
    SIZES.map(lambda size: (size,)),
    SIZES.map(lambda size: (size, (size[1], size[0]))),
)
ORDERS = st.lists(st.tuples(WAYS, st.integers(1, 3)), min_size=1, max_size=3)


@given(ORDERS, st.integers(9, 22), st.integers(9, 20), st.sampled_from([2, 3]))
@settings(max_examples=100)
def test_no_way_tried_is_shorter(
    order: list[tuple[tuple[Size, ...], int]], width: int, widest: int, stages: Stages
) -> None:
    kinds, wanted = [ways for ways, _ in order], [count for _, count in order]
    tried = shortest_by_trial(kinds, wanted, width, widest, stages)
    cutting = Solver(Patterns(kinds, ClothRules(width, widest, stages))).shortest(wanted)
    assert cutting.length == tried
    assert cutting.bound == tried
    for kind, count in enumerate(wanted):
        cut = sum(p.counts(len(kinds))[kind] * times for p, times in cutting.strips)
        assert cut >= count
    for pattern, _ in cutting.strips:
        assert sum(stack[0].across for stack in pattern.columns) <= width
        assert pattern.along <= widest
        for stack in pattern.columns:
            assert len({choice.across for choice in stack}) == 1
            assert sum(choice.along for choice in stack) <= pattern.along


@given(ORDERS, st.integers(9, 22), st.integers(1, 2), st.integers(12, 40), st.sampled_from([2, 3]))
@settings(max_examples=40)
def test_no_more_caps_fit(
    order: list[tuple[tuple[Size, ...], int]], width: int, layers: int, length: int, stages: Stages
) -> None:
    kinds, each = [ways for ways, _ in order], [count for _, count in order]
    solver = Solver(Patterns(kinds, ClothRules(width, length, stages)))
    filled = most_that_fit(solver, [0] * len(kinds), each, layers=layers, length=length)
    caps = 0 if filled is None else filled.caps
    assert filled is None or filled.most == caps
    if sum(each) * (caps + 1) <= 7:  # more are too many to try
        wanted = [-(-count * (caps + 1) // layers) for count in each]
        tried = shortest_by_trial(kinds, wanted, width, length, stages)
        assert tried is None or tried > length


def test_five_caps_from_a_yard() -> None:
    # common practice, no source: five caps with ties from one yard of 44 to 45 in cloth; two of the
    # bands, 21 1/8 in, lie side by side from 42 1/4 in on
    kinds, each = CAP
    for inches, two_stages in ((44, 4), (43, 4), (42, 2)):
        for stages, caps in ((3, 5), (2, two_stages)):
            rules = ClothRules(8 * inches, 288, 2 if stages == 2 else 3)
            filled = most_that_fit(
                Solver(Patterns(kinds, rules)), [0, 0, 0], each, layers=1, length=288
            )
            assert filled is not None
            assert (filled.caps, filled.most) == (caps, caps)


def test_a_big_order_states_its_gap() -> None:
    # seven kinds of block, four of each: what is found is near what nothing can go below
    kinds = [((40 + 7 * k, 30 + (11 * k) % 60),) for k in range(7)]
    cutting = Solver(Patterns(kinds, ClothRules(300, 288, 3))).shortest([4] * 7)
    area = sum(4 * along * across for ((along, across),) in kinds)
    assert area / 300 <= cutting.bound <= cutting.length <= 1.1 * cutting.bound
