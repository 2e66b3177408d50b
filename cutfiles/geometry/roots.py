"""Where a function of one number is zero. Loading a library for it takes half a second."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

_MOST_STEPS: Final = 200
"""Halving alone takes about 60 down to the last digit."""


def root_between(
    function: Callable[[float], float], low: float, high: float, *, within: float
) -> float:
    """A zero of a continuous function between two places where its signs differ.

    By quadratic interpolation where three points allow it, else by halving (T. R. Chandrupatla, "A
    new hybrid quadratic/bisection algorithm for finding the zero of a nonlinear function without
    using derivatives", Advances in Engineering Software 28(3), 1997).

    Parameters
    ----------
    within
        How far from a zero the result may be; never less than rounding allows.

    Raises
    ------
    ValueError
        If the signs do not differ.
    """
    a, b = high, low
    at_a, at_b = function(a), function(b)
    if at_a * at_b > 0.0:
        raise ValueError(f"no change of sign between {low} and {high}")
    share = 0.5
    for _ in range(_MOST_STEPS):
        new = a + share * (b - a)
        at_new = function(new)
        if (at_new > 0.0) == (at_a > 0.0):
            c, at_c = a, at_a
        else:
            c, at_c, b, at_b = b, at_b, a, at_a
        a, at_a = new, at_new
        best, at_best = (a, at_a) if abs(at_a) < abs(at_b) else (b, at_b)
        least = 2.0 * math.ulp(best) + within / 2.0
        if at_best == 0.0 or least >= 0.5 * abs(b - a):
            return best
        share = _share((a, at_a), (b, at_b), (c, at_c))
        edge = least / abs(b - a)
        share = min(1.0 - edge, max(edge, share))
    return best


def _share(
    one: tuple[float, float], other: tuple[float, float], last: tuple[float, float]
) -> float:
    """How far from one place to the other to look next, each with its value: by the inverse
    parabola through three where it runs one way between the two, else in the middle."""
    (a, at_a), (b, at_b), (c, at_c) = one, other, last
    xi, phi = (a - b) / (c - b), (at_a - at_b) / (at_c - at_b)
    if not 1.0 - math.sqrt(1.0 - xi) < phi < math.sqrt(xi):
        return 0.5
    first = at_a / (at_b - at_a) * at_c / (at_b - at_c)
    second = (c - a) / (b - a) * at_a / (at_c - at_a) * at_b / (at_c - at_b)
    return first + second
