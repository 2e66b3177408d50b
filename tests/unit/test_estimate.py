"""The arithmetic of cloth: plies, efficiency, bounds, and what shops sell."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import box

from cutfiles.estimate.figures import Takes
from cutfiles.estimate.likely import likely_mm
from cutfiles.estimate.plies import drawn_mm
from cutfiles.geometry.vector import Point as GeoPoint
from cutfiles.lay.bounds import reach_of
from cutfiles.lay.problem import Register, Shape, StripProblem
from cutfiles.lay.reach import WHOLE_BOXES, Reach
from cutfiles.units import bought_mm, format_bought


def test_the_ends_of_plies() -> None:
    # derived on I. Vilumsone-Nemes, p. 37 (40 mm a ply): marker 3.000 m in 20 plies
    drawn = drawn_mm(3000.0, 20)
    assert drawn == pytest.approx(60_800.0)
    assert 100.0 * (drawn - 60_000.0) / drawn == pytest.approx(1.316, abs=5e-4)


@pytest.mark.parametrize(
    ("length_mm", "unit", "text"),
    [
        (1583.4, "mm", "1.6 m"),
        (1600.0, "cm", "1.6 m"),
        (1600.1, "cm", "1.7 m"),
        (3 * 25.4, "in", "1/8 yd"),
        (36 * 25.4, "in", "1 yd"),  # the yard is 36 in
        (36.1 * 25.4, "in", "1 1/8 yd"),
        (67 * 25.4, "in", "1 7/8 yd"),
        (45 * 25.4, "in", "1 1/4 yd"),
        (0.0, "in", "0 yd"),
    ],
)
def test_what_shops_sell(length_mm: float, unit: str, text: str) -> None:
    # common practice, no source: tenths of a metre, eighths of a yard
    assert format_bought(length_mm, unit) == text


@given(st.floats(0.0, 1e6), st.sampled_from(["mm", "cm", "in"]))
def test_what_is_bought_is_enough_and_little_more(length_mm: float, unit: str) -> None:
    step = 114.3 if unit == "in" else 100.0
    bought = bought_mm(length_mm, unit)
    assert length_mm - 1e-6 * step <= bought < length_mm + step * (1.0 + 1e-6)
    assert bought / step == pytest.approx(round(bought / step))


@given(
    st.integers(1, 5000),
    st.floats(10.0, 1e5),
    st.floats(1.0, 3.0),
    st.floats(0.1, 3.0),
    st.floats(0.1, 1.0),
    st.booleans(),
    st.none() | st.floats(0.5, 4.0),
)
def test_the_likely_length_is_within_its_bounds(
    pieces: int,
    least: float,
    more: float,
    filled: float,
    full: float,
    one_way: bool,
    sketched: float | None,
) -> None:
    reach = Reach(pieces, full * least, least, filled * least, more * least, is_one_way=one_way)
    if sketched is not None:
        reach = replace(reach, sketched_mm=sketched * least)
    assert least <= likely_mm(reach) <= more * least
    kept = replace(reach, in_register_mm=0.5 * (1.0 + more) * least)
    assert kept.in_register_mm <= likely_mm(kept) <= more * least


@pytest.mark.parametrize(("step", "length"), [(None, 300.0), (150.0, 400.0), (90.0, 460.0)])
def test_pieces_in_register_go_one_repeat_on(step: float | None, length: float) -> None:
    # derived: five squares of 100 mm, two side by side on 250 mm: three rows, each at the next
    # place that the print gives: at 0, 100, 200; at 0, 150, 300; at 0, 180, 360 mm
    square = Shape("a", box(0, 0, 100, 100), (0.0,), 5)
    if step is not None:
        register = Register(GeoPoint(0.0, 0.0), GeoPoint(0.0, 0.0), step_along=step)
        square = replace(square, register=register)
    free = Shape("b", box(0, 0, 50, 20), (0.0,), 2)
    reach = reach_of(StripProblem(250.0, 0.0, 0.0, (square, free)), WHOLE_BOXES)
    assert reach.in_register_mm == pytest.approx(0.0 if step is None else length)
    if step is not None:
        assert likely_mm(reach) >= length - 1e-6


def test_a_large_order_in_register_is_laid_in_parts() -> None:
    # derived: 1500 rows of two squares of 100 mm, one every 150 mm, however many parts they make
    register = Register(GeoPoint(0.0, 0.0), GeoPoint(0.0, 0.0), step_along=150.0)
    square = Shape("a", box(0, 0, 100, 100), (0.0,), 3000, register=register)
    reach = reach_of(StripProblem(250.0, 0.0, 0.0, (square,)), WHOLE_BOXES)
    assert reach.boxes_mm == pytest.approx(1499 * 150.0 + 100.0)
    assert reach.in_register_mm == pytest.approx(reach.boxes_mm)


def test_what_to_have() -> None:
    takes = Takes(1, 800.0, 1000.0, 1500.0)
    assert takes.enough_mm == pytest.approx(1080.0)  # what nineteen of twenty orders stay within
    assert Takes(1, 800.0, 1000.0, 1010.0).enough_mm == 1010.0  # which is always enough
    assert Takes(1, 800.0, 1000.0, 1500.0, 990.0).enough_mm == 990.0
