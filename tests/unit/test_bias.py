from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutfiles.pieces.bias import (
    SAFE_SHARE,
    bias_strips,
    continuous_bias,
    join_loss,
    square_for_bias,
)


@pytest.mark.parametrize(
    ("side", "width", "length"),
    [(12.0, 2.0, 72.0), (18.0, 2.0, 162.0), (20.0, 2.0, 200.0), (21.75, 3.0, 157.7)],
)
def test_continuous_bias_from_a_square(side: float, width: float, length: float) -> None:
    # T2.4, four craft pages: 12 x 12 / 2 = 72 in and so on; the last is a 22 in square less its
    # 1/4 in seam
    assert continuous_bias(side * side, width) == pytest.approx(length, abs=0.02)


@pytest.mark.parametrize(
    ("length", "width", "side", "cut"), [(250.0, 2.0, 22.36, 23), (100.0, 3.5, 18.71, 19)]
)
def test_the_square_for_a_length(length: float, width: float, side: float, cut: int) -> None:
    # T2.4, craft pages
    assert square_for_bias(length, width) == pytest.approx(side, abs=0.01)
    assert math.ceil(square_for_bias(length, width)) == cut


CHART: dict[int, dict[float, float]] = {
    # T2.5, fiber-images.com: yards of bias from one yard of cloth, by cloth and strip width in in
    35: {1.25: 23, 1.75: 15, 2.25: 12, 2.75: 10, 3.75: 8},
    45: {1.25: 30, 1.75: 21.5, 2.25: 16, 2.75: 14, 3.75: 10},
    54: {1.25: 37, 1.75: 26, 2.25: 20, 2.75: 16.5, 3.75: 12},
    60: {1.25: 40, 1.75: 29, 2.25: 22.5, 2.75: 19, 3.75: 14},
}


def test_the_ideal_is_never_below_the_chart() -> None:
    shares = []
    for cloth, row in CHART.items():
        for strip, yards in row.items():
            ideal = continuous_bias(cloth * 36.0, strip) / 36.0
            assert ideal >= yards
            shares.append(yards / ideal)
    assert 0.75 - 1e-9 <= min(shares) <= max(shares) <= 0.88
    assert min(shares) < SAFE_SHARE < max(shares)


def test_strips_from_a_rectangle() -> None:
    # T2.6, derived: W = 1100, H = 600, w = 38: 9 strips of 848.53 mm, joined 7493.07 mm at an
    # allowance of 6.35; the area bound is 17368 mm
    strips = bias_strips(1100.0, 600.0, 38.0)
    assert strips.count == 9
    assert strips.each == pytest.approx(848.53, abs=0.01)
    assert join_loss(6.35) == pytest.approx(17.961, abs=0.001)
    assert strips.joined(6.35) == pytest.approx(7493.07, abs=0.01)
    assert continuous_bias(1100.0 * 600.0, 38.0) == pytest.approx(17368.0, abs=0.5)
    assert bias_strips(600.0, 1100.0, 38.0) == strips


@given(width=st.floats(100, 3000), height=st.floats(100, 3000), strip=st.floats(10, 90))
def test_strips_never_hold_more_than_the_cloth(width: float, height: float, strip: float) -> None:
    strips = bias_strips(width, height, strip)
    assert strips.joined(0.0) <= continuous_bias(width * height, strip) + 1e-6


def test_measures_must_be_positive() -> None:
    with pytest.raises(ValueError, match="above 0"):
        bias_strips(0.0, 100.0, 38.0)
