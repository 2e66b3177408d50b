"""Lines and arcs as points with bulges."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
import svgpathtools
from hypothesis import given
from hypothesis import strategies as st

from cutfiles.geometry.bulges import Span, flattened, length_mm, spans_of

places = st.tuples(st.floats(-500, 500), st.floats(-500, 500))
spans = st.builds(Span, places, places, st.floats(-3, 3)).filter(lambda s: s.chord_mm > 1.0)


def test_a_bulge_of_one_is_half_a_circle() -> None:
    # the DXF format owner's reference: the tangent of a quarter of the angle
    half = Span((0.0, 0.0), (20.0, 0.0), 1.0)
    assert half.radius_mm == pytest.approx(10.0)
    assert half.length_mm == pytest.approx(10.0 * math.pi)
    assert half.point(0.5) == pytest.approx((10.0, -10.0))  # counter-clockwise: below


def test_a_quarter_circle() -> None:
    # derived: tan(90 / 4); a worked clockwise quarter from (0, 0) to (10, 10) round (10, 0)
    quarter = Span((0.0, 0.0), (10.0, 10.0), -math.tan(math.radians(22.5)))
    assert quarter.centre == pytest.approx((10.0, 0.0))
    assert quarter.length_mm == pytest.approx(15.708, abs=1e-3)
    assert np.degrees(quarter.directions_rad) == pytest.approx((90.0, 0.0))


@given(span=spans)
def test_arcs_against_another_library(span: Span) -> None:
    # reference: svgpathtools' elliptical arc through the same ends
    near_half = abs(abs(span.bulge) - 1.0)
    # near half a circle a radius tells next to nothing of where the centre is (derived: the centre
    # is sqrt(r2 - c2 / 4) off the chord)
    if abs(span.bulge) < 1e-3 or 0.0 < near_half < 1e-3:
        return
    other = svgpathtools.Arc(
        complex(*span.start),
        complex(span.radius_mm, span.radius_mm),
        0.0,
        abs(span.bulge) > 1.0,
        span.bulge > 0.0,
        complex(*span.end),
    )
    for share in (0.0, 0.25, 0.5, 0.9, 1.0):
        at = other.point(share)
        assert span.point(share) == pytest.approx((at.real, at.imag), abs=1e-3)
    assert span.length_mm == pytest.approx(other.length(), rel=1e-5)


@given(span=spans, low=st.floats(0, 0.4), high=st.floats(0.6, 1.0))
def test_a_part_lies_on_its_span(span: Span, low: float, high: float) -> None:
    part = span.part(low, high)
    assert part.length_mm == pytest.approx(span.length_mm * (high - low), rel=1e-6, abs=1e-6)
    assert part.point(0.5) == pytest.approx(span.point((low + high) / 2.0), abs=1e-6)
    assert span.reversed().point(0.25) == pytest.approx(span.point(0.75), abs=1e-6)


@given(span=spans, tolerance=st.sampled_from([0.001, 0.01, 0.1]))
def test_chords_keep_to_their_arc(span: Span, tolerance: float) -> None:
    line = span.flattened(tolerance)
    if not span.is_arc:
        assert len(line) == 2
        return
    away = np.hypot(*((line[:-1] + line[1:]) / 2.0 - np.array(span.centre)).T)
    assert np.abs(away - span.radius_mm).max() <= tolerance * 1.001 + 1e-9


def test_a_closed_line_of_arcs() -> None:
    # two half circles make a circle: area and length derived
    points, bulges = ((0.0, 0.0), (20.0, 0.0)), (1.0, 1.0)
    ring = flattened(points, bulges, closed=True, tolerance_mm=1e-4)
    assert shapely.Polygon(ring).area == pytest.approx(100.0 * math.pi, rel=1e-4)
    assert length_mm(points, bulges, closed=True) == pytest.approx(20.0 * math.pi)
    with pytest.raises(ValueError, match="as many bulges"):
        list(spans_of(points, (1.0,), closed=True))
