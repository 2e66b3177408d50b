"""Strips out of an offcut: counts and lengths against derivations, never more than there is."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutfiles.pieces.bias import continuous_bias, join_loss
from cutfiles.pieces.offcut import Offcut, most_mm, strip_plan


def test_full_bias_strips_joined() -> None:
    # derived: of 1100 x 600 nine strips of 38, 600 sqrt(2) = 848.53 each, and eight joins of
    # 2 sqrt(2) 6.35 = 17.961: 7493.07
    plan = strip_plan(Offcut(1100.0, 600.0), 38.0, 7493.0, "bias", 6.35)
    assert plan is not None
    assert plan.each_mm == pytest.approx([848.528] * 9, abs=0.01)
    assert plan.joins == 8
    assert plan.joined_mm == pytest.approx(7493.07, abs=0.01)


def test_a_yard_of_bias_from_a_fat_quarter() -> None:
    # derived, in inches: 18 sqrt(2) from side to side, and beside it, a strip's width further on,
    # sqrt(2) (22 - 2 * 1.5 sqrt(2)) to its shorter side
    plan = strip_plan(Offcut(22.0, 18.0), 1.5, 36.0, "bias", 0.25)
    assert plan is not None
    root = math.sqrt(2.0)
    assert plan.each_mm == pytest.approx((18.0 * root, root * (22.0 - 3.0 * root)))
    assert plan.joined_mm == pytest.approx(sum(plan.each_mm) - join_loss(0.25))


def test_straight_strips_take_a_width_at_a_join() -> None:
    # derived: square ends crossed and sewn on the diagonal take the strip's width
    plan = strip_plan(Offcut(22.0, 18.0), 1.5, 36.0, "straight", 0.25)
    assert plan is not None
    assert (plan.each_mm, plan.join_mm, plan.joined_mm) == ((22.0, 22.0), 1.5, 42.5)
    assert plan.rest == Offcut(22.0, 15.0)
    # the longer strips, along the other side, need no join
    tall = strip_plan(Offcut(18.0, 40.0), 1.5, 36.0, "straight", 0.25)
    assert tall is not None
    assert (tall.each_mm, tall.joins) == ((40.0,), 0)


MEASURES = st.floats(100.0, 2000.0)


@given(MEASURES, MEASURES, st.floats(10.0, 90.0), st.floats(0.0, 10.0))
def test_no_more_than_there_is(width: float, height: float, strip: float, seam: float) -> None:
    offcut = Offcut(width, height)
    for grain in ("straight", "bias"):
        most = most_mm(offcut, strip, "bias" if grain == "bias" else "straight", seam)
        assert most <= continuous_bias(width * height, strip) + 1e-6
        plan = strip_plan(
            offcut, strip, 0.9 * most, "bias" if grain == "bias" else "straight", seam
        )
        if most > 0.0:
            assert plan is not None
            assert plan.joined_mm >= 0.9 * most - 1e-6
            area = strip * sum((*plan.each_mm, *plan.spare_mm))
            assert area <= width * height + 1e-6
            # with the longest strips first, one fewer would not do
            fewer = sum(plan.each_mm[:-1]) - max(0, plan.joins - 1) * plan.join_mm
            assert not plan.each_mm[:-1] or fewer < 0.9 * most
        above = strip_plan(
            offcut, strip, most + 1.0, "bias" if grain == "bias" else "straight", seam
        )
        assert above is None
