"""Grading cloth by its flaws: the four-point system of ASTM D5430.

A flaw counts by its longest dimension: up to 3 in 1 point, up to 6 in 2, up to 9 in 3, beyond 4;
a hole up to 1 in 2, beyond 4 (as five trade pages give the standard). No linear yard counts for
more than 4.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Final

from cutfiles.job.cloth import Flaw
from cutfiles.units import MM_PER_UNIT

_INCH_MM: Final = MM_PER_UNIT["in"]
_YARD_MM: Final = MM_PER_UNIT["yd"]
_MOST: Final = 4
_STEPS: Final = ((3.0, 1), (6.0, 2), (9.0, 3))
_HOLE_IN: Final = 1.0
_HAIR: Final = 1e-9


def flaw_points(flaw: Flaw) -> int:
    """The points of one flaw, 1 to 4."""
    inches = max(flaw.size) / _INCH_MM
    if flaw.is_hole:
        return 2 if inches <= _HOLE_IN else _MOST
    return next((points for limit, points in _STEPS if inches <= limit), _MOST)


def four_points(flaws: Iterable[Flaw]) -> int:
    """The points of some cloth: of its flaws, each in the yard in which it begins, at most 4 for
    any yard."""
    yards: dict[int, int] = defaultdict(int)
    for flaw in flaws:
        yards[int(flaw.at[0] / _YARD_MM + _HAIR)] += flaw_points(flaw)
    return sum(min(points, _MOST) for points in yards.values())


def per_100_square_yards(points: float, length_mm: float, width_mm: float) -> float:
    """Points on 100 square yards of cloth: points times 3600 over yards times inches of width."""
    return points * 3600.0 / (length_mm / _YARD_MM * width_mm / _INCH_MM)


def per_100_square_metres(points: float, length_mm: float, width_mm: float) -> float:
    """Points on 100 square metres of cloth."""
    return points * 1e8 / (length_mm * width_mm)
