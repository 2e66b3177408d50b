"""The four-point system: ASTM D5430 as five trade pages give it, with their figures."""

from __future__ import annotations

import pytest

from cutfiles.job.cloth import Flaw
from cutfiles.job.four_points import (
    flaw_points,
    four_points,
    per_100_square_metres,
    per_100_square_yards,
)

INCH, YARD = 25.4, 914.4


@pytest.mark.parametrize(
    ("inches", "hole", "points"),
    [
        (0.5, False, 1), (3.0, False, 1), (3.1, False, 2), (6.0, False, 2), (6.1, False, 3),
        (9.0, False, 3), (9.1, False, 4), (1.0, True, 2), (1.1, True, 4),
    ],
)  # fmt: skip
def test_a_flaw_counts_by_its_longest_dimension(inches: float, hole: bool, points: int) -> None:
    assert flaw_points(Flaw((0, 0), (inches * INCH, 1.0), is_hole=hole)) == points
    assert flaw_points(Flaw((0, 0), (1.0, inches * INCH), is_hole=hole)) == points


def test_a_roll_of_150_yards() -> None:
    # a trade page's roll: 150 yd of 56 in, 6, 4, 2 and 1 defects of 1, 2, 3 and 4 points and 1 hole
    # over 1 in: 28 points, 12.0 per 100 square yards
    lengths = [2.0] * 6 + [5.0] * 4 + [8.0] * 2 + [12.0]
    flaws = [Flaw((k * YARD, 0.0), (inches * INCH, 5.0)) for k, inches in enumerate(lengths)]
    flaws.append(Flaw((99 * YARD, 0.0), (1.5 * INCH, 5.0), is_hole=True))
    points = four_points(flaws)
    assert points == 28
    assert per_100_square_yards(points, 150 * YARD, 56 * INCH) == pytest.approx(12.0, abs=0.01)


def test_other_rolls() -> None:
    # trade pages: 120 yd x 45 in, 22 points -> 14.667; 100 m x 1500 mm, 28 points -> 18.667
    assert per_100_square_yards(22, 120 * YARD, 45 * INCH) == pytest.approx(14.667, abs=0.01)
    assert per_100_square_metres(28, 100_000.0, 1500.0) == pytest.approx(18.667, abs=0.01)


def test_no_yard_counts_for_more_than_four() -> None:
    # ASTM D5430 as five trade pages give it: at most 4 points a linear yard
    worst = [Flaw((50.0 * k, 0.0), (300.0, 5.0)) for k in range(4)]
    assert four_points(worst) == 4
    assert four_points([*worst, Flaw((YARD + 1.0, 0.0), (10.0, 5.0))]) == 5
