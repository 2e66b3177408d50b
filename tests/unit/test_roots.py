"""Zeros of functions, against scipy's Brent's method."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from cutfiles.geometry.roots import root_between

CURVES: tuple[Callable[[float], float], ...] = (
    math.atan,
    math.sinh,
    lambda x: x**3,
    lambda x: math.exp(x) - 1.0,
    lambda x: x + 0.3 * math.sin(5.0 * x),
)


@given(st.sampled_from(CURVES), st.floats(-2.5, 2.5))
def test_zeros_are_those_of_scipy(curve: Callable[[float], float], zero: float) -> None:
    def function(x: float) -> float:
        return curve(x) - curve(zero)

    found = root_between(function, -3.0, 3.0, within=1e-9)
    other = brentq(function, -3.0, 3.0, xtol=1e-12)
    # flat curves (x cubed at 0) are zero to the last digit over a stretch
    assert abs(found - other) < 1e-8 or abs(function(found)) < 1e-14


def test_steep_ends_take_few_steps() -> None:
    steps = []

    def function(x: float) -> float:
        steps.append(x)
        return x**9 - 1e-9

    # the ninth root of 1e-9 (derived)
    assert root_between(function, 0.0, 10.0, within=1e-12) == pytest.approx(0.1, abs=1e-11)
    assert len(steps) < 60


def test_no_change_of_sign_is_refused() -> None:
    with pytest.raises(ValueError, match="no change of sign between 1"):
        root_between(lambda x: x, 1.0, 2.0, within=1e-9)
