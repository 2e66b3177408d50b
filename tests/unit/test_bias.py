"""Bias strips: how many a piece of cloth gives, against a published chart and derivations."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString

from cutfiles.geometry.polygons import polygon_of
from cutfiles.geometry.vector import Vector
from cutfiles.job.job import CapLine, Cloth, Job
from cutfiles.job.machine import Machine
from cutfiles.job.sizes import size_named
from cutfiles.pieces.bias import (
    SAFE_SHARE,
    bias_strips,
    continuous_bias,
    join_loss,
    square_for_bias,
)
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.strips import strip


@pytest.mark.parametrize(
    ("side", "width", "length"),
    [(12.0, 2.0, 72.0), (18.0, 2.0, 162.0), (20.0, 2.0, 200.0), (21.75, 3.0, 157.7)],
)
def test_continuous_bias_from_a_square(side: float, width: float, length: float) -> None:
    # four craft pages: 12 x 12 / 2 = 72 in and so on; the last is a 22 in square less its
    # 1/4 in seam
    assert continuous_bias(side * side, width) == pytest.approx(length, abs=0.02)


@pytest.mark.parametrize(
    ("length", "width", "side", "cut"), [(250.0, 2.0, 22.36, 23), (100.0, 3.5, 18.71, 19)]
)
def test_the_square_for_a_length(length: float, width: float, side: float, cut: int) -> None:
    # craft pages
    assert square_for_bias(length, width) == pytest.approx(side, abs=0.01)
    assert math.ceil(square_for_bias(length, width)) == cut


CHART: dict[int, dict[float, float]] = {
    # fiber-images.com: yards of bias from one yard of cloth, by cloth and strip width in in
    35: {1.25: 23, 1.75: 15, 2.25: 12, 2.75: 10, 3.75: 8},
    45: {1.25: 30, 1.75: 21.5, 2.25: 16, 2.75: 14, 3.75: 10},
    54: {1.25: 37, 1.75: 26, 2.25: 20, 2.75: 16.5, 3.75: 12},
    60: {1.25: 40, 1.75: 29, 2.25: 22.5, 2.75: 19, 3.75: 14},
}


def test_the_ideal_is_never_below_the_chart() -> None:
    shares = []
    for cloth, row in CHART.items():
        for width, yards in row.items():
            ideal = continuous_bias(cloth * 36.0, width) / 36.0
            assert ideal >= yards
            shares.append(yards / ideal)
    assert 0.75 - 1e-9 <= min(shares) <= max(shares) <= 0.88
    assert min(shares) < SAFE_SHARE < max(shares)


def test_strips_from_a_rectangle() -> None:
    # derived: W = 1100, H = 600, w = 38: 9 strips of 848.53 mm, joined 7493.07 mm at an
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


def test_a_bias_strip_lies_at_45_degrees_to_its_grain() -> None:
    piece = strip("binding", 900.0, grain="bias")
    side = piece.edge("lower side").stitch
    assert side.start_tangent.angle_deg == pytest.approx(45.0)
    assert side.length() == pytest.approx(900.0)
    cut = polygon_of(piece.cut)
    assert cut.area == pytest.approx(900.0 * 38.1)
    assert piece.grain.start.y == piece.grain.end.y
    assert cut.contains(LineString([(p.x, p.y) for p in (piece.grain.start, piece.grain.end)]))
    half = Vector.at_angle(piece.label.angle_deg) * (piece.label.room_mm / 2)
    ends = [piece.label.centre + half, piece.label.centre + -half]
    label = LineString([(p.x, p.y) for p in ends])
    assert cut.contains(label.buffer(piece.label.height_mm / 2))
    grain = LineString([(p.x, p.y) for p in (piece.grain.start, piece.grain.end)])
    assert label.distance(grain) > piece.label.height_mm


def test_bias_bindings_fit_the_cloth_or_are_joined() -> None:
    cloth = Cloth("c", 1117.6, 12.7, None, False, 1, 3.0, 2.0, "cotton")
    line = CapLine("tie-back", size_named("M"), 1, "binding", "c", "bias")

    def cut(bed: float | None, width: float = 1117.6) -> tuple[int, float]:
        job = Job("j", "t", "mm", (replace(cloth, width_mm=width),), (line,), Machine(
            "laser", 0.2, bed, None
        ))  # fmt: skip
        (cap,) = cut_list(job, job.cloths[0]).caps
        strips = [p for p in cap.pieces if p.name == "binding"]
        x0, y0, x1, y1 = polygon_of(strips[0].piece.cut).bounds
        assert x1 - x0 < (bed or math.inf)
        assert y1 - y0 < width - 25.4
        return len(strips), x1 - x0

    assert cut(None)[0] == 1
    assert cut(700.0)[0] == 2
    assert cut(None, 600.0)[0] == 2


def test_measures_must_be_positive() -> None:
    with pytest.raises(ValueError, match="above 0"):
        bias_strips(0.0, 100.0, 38.0)
