"""Polylines as few lines and arcs: near enough, few enough, corners kept."""

from __future__ import annotations

import math
from typing import get_args

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon

from cutfiles.cuts.marks import piece_strokes
from cutfiles.geometry.bulges import flattened
from cutfiles.geometry.fit_arcs import fitted
from cutfiles.geometry.polygons import moved_points
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.job.job import CapLine, Cloth, EdgeFinish, Job, Style
from cutfiles.job.machine import Machine
from cutfiles.job.sizes import SIZES
from cutfiles.lay.lay import PlacedPiece, outline_of
from cutfiles.pieces.cut_list import cut_list
from cutfiles.tolerances import FLATTEN_MM
from tests.apart import farthest_mm

Places = list[tuple[float, float]]
FINE_MM = 5e-4
NEAR_MM = 0.02 + 2 * FINE_MM
"""The tolerance, and what is lost by comparing polylines instead of arcs."""


def apart_mm(points: Places, *, closed: bool) -> float:
    """How far the fitted line and the polyline are apart, in both directions (reference:
    shapely), every stretch of 0.2 mm of either looked at."""
    places, bulges = fitted(points, closed=closed)
    assert all(abs(bulge) <= 1.0 for bulge in bulges)
    assert places[0] == points[0]
    assert closed or places[-1] == points[-1]
    there = LineString(points + points[:1] if closed else points)
    here = LineString(flattened(places, bulges, closed=closed, tolerance_mm=FINE_MM))
    return lines_apart_mm(there, here)


def lines_apart_mm(there: LineString, here: LineString) -> float:
    """How far two lines are apart, in both directions."""
    one, other = shapely.segmentize(there, 0.2), shapely.segmentize(here, 0.2)
    return max(farthest_mm(shapely.get_coordinates(a), b) for a, b in ((one, here), (other, there)))


def turned(points: Places, by_deg: float) -> Places:
    spun = np.array(points) @ [1, 1j] * np.exp(1j * math.radians(by_deg))
    return [(float(z.real), float(z.imag)) for z in spun]


def circle(radius_mm: float) -> Places:
    count = math.ceil(math.pi / math.acos(1.0 - 0.01 / radius_mm))
    angles = 2.0 * np.pi * np.arange(count) / count
    return [(radius_mm * math.cos(a), radius_mm * math.sin(a)) for a in angles.tolist()]


@pytest.mark.parametrize("radius_mm", [0.5, 1.0, 2.5, 7.0, 20.0, 60.0, 133.0, 800.0])
def test_a_circle_is_two_arcs(radius_mm: float) -> None:
    # derived: an arc is no more than half a circle
    points = circle(radius_mm)
    places, bulges = fitted(points, closed=True)
    assert len(places) == len(bulges) == 2
    assert bulges == pytest.approx((1.0, 1.0), abs=0.06 if radius_mm < 1.0 else 0.02)
    assert apart_mm(points, closed=True) <= NEAR_MM


@pytest.mark.parametrize("by_deg", [0.0, 17.0, 90.0, 211.5])
def test_a_stadium_is_four_spans_and_a_rectangle_four_lines(by_deg: float) -> None:
    # derived: two straights and two half circles
    ring = LineString([(0, 0), (100, 0)]).buffer(20, quad_segs=26).exterior
    points = [(float(x), float(y)) for x, y in ring.coords[:-1]]
    start = points.index(max(points, key=lambda p: (round(p[1], 6), p[0])))
    stadium = turned(points[start:] + points[:start], by_deg)
    places, bulges = fitted(stadium, closed=True)
    assert len(places) == 4
    assert sorted(map(abs, bulges)) == pytest.approx([0.0, 0.0, 1.0, 1.0], abs=0.05)
    assert apart_mm(stadium, closed=True) <= NEAR_MM
    rectangle = turned([(0.0, 0.0), (300.0, 0.0), (300.0, 40.0), (0.0, 40.0)], by_deg)
    assert fitted(rectangle, closed=True) == (tuple(rectangle), ())


def test_points_along_a_straight_are_left_out() -> None:
    points = [(float(x), 0.0) for x in range(50)] + [(49.0, 9.0), (0.0, 9.0), (0.0, 4.0)]
    assert fitted(points, closed=True)[0] == ((0.0, 0.0), (49.0, 0.0), (49.0, 9.0), (0.0, 9.0))
    assert fitted(points[:50], closed=False) == (((0.0, 0.0), (49.0, 0.0)), ())


def test_lines_too_short_to_fit_stay() -> None:
    assert fitted([(1.0, 2.0), (3.0, 4.0)], closed=False) == (((1.0, 2.0), (3.0, 4.0)), ())


corner = st.tuples(st.floats(-300, 300), st.floats(-300, 300))


@settings(max_examples=30)
@given(points=st.lists(corner, min_size=3, max_size=12, unique=True), closed=st.booleans())
def test_polygons_keep_their_corners(points: Places, closed: bool) -> None:
    steps = np.diff(np.array([*points, points[0]]), axis=0)
    if np.hypot(*steps.T).min() < 1.0:
        return
    places, _ = fitted(points, closed=closed)
    assert apart_mm(points, closed=closed) <= NEAR_MM
    sides = np.array([points[-1], *points, points[0]])
    for k, point in enumerate(points):
        one, other = sides[k + 1] - sides[k], sides[k + 2] - sides[k + 1]
        turn = abs(math.atan2(one[0] * other[1] - one[1] * other[0], float(one @ other)))
        # a curve of chords as long would be off by more than twice the flattening
        if turn * min(math.hypot(*one), math.hypot(*other)) / 8.0 > 0.021:
            assert point in places or (not closed and k in (0, len(points) - 1))


@settings(max_examples=30)
@given(
    waves=st.lists(
        st.tuples(st.integers(2, 6), st.floats(0, 0.08), st.floats(0, 2 * math.pi)), max_size=4
    ),
    radius_mm=st.floats(5, 300),
)
def test_smooth_closed_curves(waves: list[tuple[int, float, float]], radius_mm: float) -> None:
    def curve(t: np.ndarray) -> np.ndarray:
        swing = 1.0 + sum(a * np.cos(n * t + p) for n, a, p in waves)
        return radius_mm * swing * np.exp(1j * t)

    count = math.ceil(12.0 * math.sqrt(radius_mm) + 40)
    around = curve(2.0 * np.pi * np.arange(count) / count)
    points = [(float(z.real), float(z.imag)) for z in around]
    assert apart_mm(points, closed=True) <= NEAR_MM
    places, bulges = fitted(points, closed=True)
    assert len(places) <= count
    # a shift of the edge by the tolerance all the way round
    shape = Polygon(points)
    area = Polygon(flattened(places, bulges, closed=True, tolerance_mm=FINE_MM)).area
    assert abs(area - shape.area) <= 0.02 * shape.length


def _placed(style: Style, edge: EdgeFinish, size_number: int) -> list[PlacedPiece]:
    cloth = Cloth("kelp", 1500.0, 0.0, None, False, 1, 3.0, 2.0, "cotton")
    line = CapLine(style, SIZES[size_number], 1, edge, "kelp")
    machine = Machine("laser", 0.2, None, None)
    cuts = cut_list(Job("job.toml", "t", "mm", (cloth,), (line,), machine), cloth)
    turn = Motion(90.0 * (size_number % 4), Vector(300.0, 200.0))
    pieces = {p.name: p for p in cuts.caps[0].pieces}.values()
    return [PlacedPiece(piece, outline_of(piece), turn) for piece in pieces]


@pytest.mark.parametrize("style", get_args(Style))
@pytest.mark.parametrize("edge", get_args(EdgeFinish))
def test_every_piece_of_every_style(style: Style, edge: EdgeFinish) -> None:
    for number in (0, 3, len(SIZES) - 1):
        for placed in _placed(style, edge, number):
            for stroke in piece_strokes(placed, 0.2):
                if stroke.role != "outline":
                    continue
                points = list(stroke.points)
                assert apart_mm(points, closed=True) <= NEAR_MM
                places, bulges = fitted(points, closed=True)
                assert len(places) <= 24, placed.ordered.name
                read = Polygon(flattened(places, bulges, closed=True, tolerance_mm=FINE_MM))
                # much less than the whole edge shifted: the fit runs on both sides
                assert abs(read.area - Polygon(points).area) <= 0.01 * read.length


@pytest.mark.parametrize("style", get_args(Style))
def test_stitch_lines_are_lines_and_arcs(style: Style) -> None:
    for placed in _placed(style, "binding", 3):
        drafted = [path.flattened(FINE_MM) for path in placed.ordered.piece.stitch_lines]
        strokes = [stroke for stroke in piece_strokes(placed, 0.2) if stroke.role == "stitch"]
        for line, stroke in zip(drafted, strokes, strict=True):
            here = LineString(moved_points(line, placed.motion))
            there = flattened(stroke.points, stroke.bulges, closed=False, tolerance_mm=FINE_MM)
            assert lines_apart_mm(here, LineString(there)) <= NEAR_MM + FLATTEN_MM
            assert len(stroke.points) <= 24, placed.ordered.name
