from __future__ import annotations

import csv
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from cutfiles.job.sizes import SIZES, made_to_measure, us_hat_size


def test_the_chart_has_no_gap_and_covers_510_to_620() -> None:
    # T1.5, derived from the ANSUR II survey: 510-620 mm covers the 1st to 99th percentile of
    # both sexes (women's P1 521, men's P99 614.2)
    assert (SIZES[0].girth_low_mm, SIZES[-1].girth_high_mm) == (510.0, 620.0)
    assert all(a.girth_high_mm == b.girth_low_mm for a, b in pairwise(SIZES))


def test_the_chart_fits_the_people_of_the_survey(outside_data: Path) -> None:
    # ANSUR II public data, NATICK/TR-15/007: 4,082 men and 1,986 women
    rows = list(csv.DictReader((outside_data / "head_girth_ansur2.csv").open()))
    girths = np.array([float(row["head_circumference_mm"]) for row in rows])
    assert len(girths) == 6068
    within = np.mean((girths >= SIZES[0].girth_low_mm) & (girths <= SIZES[-1].girth_high_mm))
    assert within > 0.98


@pytest.mark.parametrize(
    ("cm", "us"),
    [
        # T1.1, public hat-size charts, which agree with girth / pi to the nearest 1/8 in
        (54, "6 3/4"), (55, "6 7/8"), (56, "7"), (57, "7 1/8"), (58, "7 1/4"), (59, "7 3/8"),
        (60, "7 1/2"), (61, "7 5/8"), (62, "7 3/4"),
    ],
)  # fmt: skip
def test_us_hat_sizes(cm: int, us: str) -> None:
    assert us_hat_size(cm * 10.0) == us


@pytest.mark.parametrize(("inches", "us"), [(22.0, "7"), (23.25, "7 3/8")])
def test_us_hat_sizes_from_inches(inches: float, us: str) -> None:
    # T1.2, public hat-size charts: 22 in -> 7.003 -> 7; 23.25 in -> 7.4007 -> 7 3/8
    assert us_hat_size(inches * 25.4) == us


def test_a_size_made_to_measure_reaches_half_a_step_each_way() -> None:
    size = made_to_measure(575.0)
    assert (size.girth_low_mm, size.girth_mm, size.girth_high_mm) == (564.0, 575.0, 586.0)
