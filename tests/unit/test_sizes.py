"""The size chart, against the survey, the growth standard and hat sizes."""

from __future__ import annotations

import csv
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutfiles.job.head_girths import CHILDREN, Sex, share_below, share_of_size, size_mix
from cutfiles.job.size_chart import chart_lines
from cutfiles.job.sizes import ADULT_SIZES, SIZES, made_to_measure, metric_hat_size, us_hat_size


def survey(folder: Path, sex: str) -> np.ndarray:
    """ANSUR II public data, NATICK/TR-15/007."""
    rows = csv.DictReader((folder / "head_girth_ansur2.csv").open())
    return np.array([float(row["head_circumference_mm"]) for row in rows if row["sex"] == sex])


def test_the_chart_has_no_gap_and_covers_510_to_620() -> None:
    # derived from the ANSUR II survey: 510-620 mm covers the 1st to 99th percentile of
    # both sexes (women's P1 521, men's P99 614.2)
    assert (ADULT_SIZES[0].girth_low_mm, ADULT_SIZES[-1].girth_high_mm) == (510.0, 620.0)
    assert all(a.girth_high_mm == b.girth_low_mm for a, b in pairwise(SIZES))


@pytest.mark.parametrize(("ours", "theirs"), [("women", "female"), ("men", "male")])
def test_shares_against_the_survey_itself(outside_data: Path, ours: Sex, theirs: str) -> None:
    girths = survey(outside_data, theirs)
    assert len(girths) == (1986 if theirs == "female" else 4082)
    for size in ADULT_SIZES:
        counted = np.mean((girths > size.girth_low_mm) & (girths <= size.girth_high_mm))
        assert share_of_size(size, ours) == pytest.approx(counted, abs=0.02)


@pytest.mark.parametrize(
    ("sex", "percent", "girth"),
    [("men", 5, 548), ("men", 50, 574), ("men", 95, 601), ("women", 5, 532), ("women", 50, 560),
     ("women", 95, 597)],
)  # fmt: skip
def test_percentiles_of_the_survey(sex: Sex, percent: float, girth: float) -> None:
    # recomputed from the public ANSUR II data
    assert share_below(girth, sex) == pytest.approx(percent / 100, abs=1e-9)


def test_a_normal_curve_would_undersize_the_women() -> None:
    # derived from the survey's mean + 1.645 SD: men 600.7 (data 601), women 593.0 (data
    # 597: skewed to the right)
    assert share_below(574.37 + 1.645 * 16.05, "men") == pytest.approx(0.95, abs=0.005)
    assert share_below(561.12 + 1.645 * 19.36, "women") < 0.935


def test_children_by_the_growth_standard() -> None:
    # WHO Child Growth Standards: boys 5 y at z = +2: 53.726 cm; girls 5 y at -2: 47.077 cm
    girls, boys = (c for c in CHILDREN if c.age_years == 5)
    assert boys.girth_mm(2.0) == pytest.approx(537.26, abs=0.05)
    assert girls.girth_mm(-2.0) == pytest.approx(470.77, abs=0.05)
    assert boys.share_between(507.37 - 14.94, 507.37 + 14.94) == pytest.approx(0.6827, abs=1e-4)


@given(wearers=st.integers(1, 5000), women=st.floats(0, 1))
def test_a_size_mix_serves_everybody(wearers: int, women: float) -> None:
    mix = size_mix(wearers, women)
    assert sum(count for _, count in mix) == wearers
    assert all(count > 0 for _, count in mix)


def test_a_size_mix_follows_the_shares() -> None:
    mix = {size.name: count for size, count in size_mix(1000, 0.7)}
    shares = {
        size.name: 0.7 * share_of_size(size, "women") + 0.3 * share_of_size(size, "men")
        for size in ADULT_SIZES
    }
    for name, count in mix.items():
        assert count == pytest.approx(1000 * shares[name], abs=6)
    # derived: of three women 0.98 S, 1.28 M and 0.46 L are due: whole ones first, then the
    # largest remainder
    assert {size.name: count for size, count in size_mix(3, 1.0)} == {"S": 1, "M": 1, "L": 1}


@pytest.mark.parametrize(
    ("cm", "us"),
    [
        # public hat-size charts, which agree with girth / pi to the nearest 1/8 in
        (54, "6 3/4"), (55, "6 7/8"), (56, "7"), (57, "7 1/8"), (58, "7 1/4"), (59, "7 3/8"),
        (60, "7 1/2"), (61, "7 5/8"), (62, "7 3/4"),
    ],
)  # fmt: skip
def test_us_hat_sizes(cm: int, us: str) -> None:
    assert us_hat_size(cm * 10.0) == us
    assert metric_hat_size(cm * 10.0) == cm
    assert metric_hat_size(cm * 10.0 - 5.0) == cm, "halves go up"


@pytest.mark.parametrize(("inches", "us"), [(22.0, "7"), (23.25, "7 3/8")])
def test_us_hat_sizes_from_inches(inches: float, us: str) -> None:
    # public hat-size charts: 22 in -> 7.003 -> 7; 23.25 in -> 7.4007 -> 7 3/8
    assert us_hat_size(inches * 25.4) == us


def test_a_size_made_to_measure_reaches_half_a_step_each_way() -> None:
    size = made_to_measure(575.0)
    assert (size.girth_low_mm, size.girth_mm, size.girth_high_mm) == (564.0, 575.0, 586.0)


def test_the_chart_names_its_sources() -> None:
    text = "\n".join(chart_lines())
    assert "NATICK/TR-15/007" in text
    assert "WHO" in text
    for size in SIZES:
        assert f"\n{size.name} " in text
