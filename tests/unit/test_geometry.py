"""Curves, paths and parallels, against closed forms, scipy and shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from scipy.integrate import quad

from cutfiles.geometry.offset import offset_to_right
from cutfiles.geometry.path import Path
from cutfiles.geometry.polygons import moved_polygon, polygon_of
from cutfiles.geometry.segments import Arc, Cubic, Line
from cutfiles.geometry.vector import Motion, Point, Vector, intersection, reflected

CURVE = Cubic(Point(0, 0), Point(30, 0), Point(100, 40), Point(100, 100))


def test_a_cubic_is_as_long_as_scipy_integrates_it() -> None:
    # reference: scipy.integrate.quad, an adaptive integrator of its own
    reference, _ = quad(lambda t: CURVE.derivative(t).length, 0.0, 1.0, epsabs=1e-12)
    assert CURVE.length() == pytest.approx(reference, abs=1e-9)
    part, _ = quad(lambda t: CURVE.derivative(t).length, 0.2, 0.7, epsabs=1e-12)
    assert CURVE.part(0.2, 0.7).length() == pytest.approx(part, abs=1e-9)


def test_curvature_is_the_turn_of_the_tangent_per_length() -> None:
    step = 1e-6
    before, after = CURVE.tangent(0.4 - step), CURVE.tangent(0.4 + step)
    turned = math.atan2(before.cross(after), before.dot(after))
    walked = CURVE.length(0.4 + step) - CURVE.length(0.4 - step)
    assert CURVE.curvature(0.4) == pytest.approx(turned / walked, rel=1e-4)


def test_a_full_circle_measures_two_pi_r() -> None:
    circle = Arc(Point(3, 4), 90.0, 10.0, 360.0)
    assert circle.length() == pytest.approx(2 * math.pi * 90, abs=1e-9)
    assert Path((circle,)).is_closed
    assert polygon_of(Path((circle,))).area == pytest.approx(math.pi * 90**2, rel=2e-4)


@pytest.mark.parametrize(
    "segment", [CURVE, Arc(Point(0, 0), 50, 0, 200), Line(Point(0, 0), Point(9, 9))]
)
def test_chords_stay_within_the_tolerance(segment: Cubic | Arc | Line) -> None:
    chords = shapely.LineString(segment.flattened(0.01))
    off = [
        chords.distance(shapely.Point(p.x, p.y))
        for p in (segment.point(t) for t in np.linspace(0, 1, 997))
    ]
    assert max(off) <= 0.01


def test_a_stretched_arc_is_the_ellipse() -> None:
    # derived: x = a cos t, y = b sin t must satisfy (x/a)^2 + (y/b)^2 = 1
    for segment in Arc(Point(0, 0), 100.0, 0.0, 360.0).stretched(1.03, 1.02):
        for t in (0.0, 0.3, 0.5, 0.9):
            p = segment.point(t)
            assert math.hypot(p.x / 103.0, p.y / 102.0) == pytest.approx(1.0, abs=1e-6)


def test_an_inner_parallel_of_a_half_circle_is_shorter_by_pi_s() -> None:
    # derived (Steiner): half circle R = 90, s = 6.35: 282.743, 262.794, 19.949 = pi s
    cut = Path((Arc(Point(0, 0), 90.0, 0.0, 180.0),))
    seam = Path(offset_to_right(cut, -6.35))
    assert cut.length() == pytest.approx(282.743, abs=1e-3)
    assert seam.length() == pytest.approx(262.794, abs=1e-3)
    assert cut.length() - seam.length() == pytest.approx(19.949, abs=1e-3)


def test_the_parallel_of_a_cubic_keeps_its_distance() -> None:
    # derived (Steiner): a quarter turn, moved out by s, gains s pi / 2
    parallel = Path(offset_to_right(Path((CURVE,)), 6.35))
    assert parallel.length() - CURVE.length() == pytest.approx(6.35 * math.pi / 2, abs=1e-3)
    base = shapely.LineString(CURVE.flattened(1e-4))
    off = [
        abs(base.distance(shapely.Point(x, y)) - 6.35) for x, y in parallel.flattened(0.01).tolist()
    ]
    assert max(off) < 0.005


def test_a_parallel_that_would_fold_over_is_refused() -> None:
    with pytest.raises(ValueError, match="has no parallel"):
        offset_to_right(Path((Arc(Point(0, 0), 5.0, 0.0, 90.0),)), -6.0)
    tight = Cubic(Point(0, 0), Point(5, 0), Point(5, 0), Point(5, 5))
    with pytest.raises(ValueError, match="has no parallel"):
        offset_to_right(Path((tight,)), -4.0)


def test_a_path_must_join_up() -> None:
    with pytest.raises(ValueError, match="join up"):
        Path((Line(Point(0, 0), Point(1, 0)), Line(Point(2, 0), Point(3, 0))))
    with pytest.raises(ValueError, match="at least one"):
        Path(())


def test_parts_of_a_path_add_up() -> None:
    path = Path((Line(Point(-20, 0), Point(0, 0)), CURVE))
    middle = path.length() / 3
    one, two = path.part(0, middle), path.part(middle, path.length())
    assert one.length() + two.length() == pytest.approx(path.length(), abs=1e-6)
    assert one.end.distance(path.point_at(middle)) < 1e-6
    assert path.reversed().point_at(0) == path.end


def test_an_open_or_crossing_path_is_no_outline() -> None:
    with pytest.raises(ValueError, match="open"):
        polygon_of(Path((CURVE,)))
    bow = Path.through([Point(0, 0), Point(2, 2), Point(2, 0), Point(0, 2), Point(0, 0)])
    with pytest.raises(ValueError, match="no simple outline"):
        polygon_of(bow)


def test_quarter_turns_are_exact() -> None:
    motion = Motion(90.0, Vector(1.0, 0.0))
    assert motion.point(Point(2.0, 3.0)) == Point(-2.0, 2.0)
    square = moved_polygon(shapely.box(0, 0, 2, 1), Motion(180.0, Vector(0, 0)))
    assert square.bounds == (-2.0, -1.0, 0.0, 0.0)


def test_point_and_vector_never_compare_equal() -> None:
    things: list[object] = [Point(1, 2), Vector(1, 2)]
    assert things[0] != things[1]


def test_lines_cross_and_directions_mirror() -> None:
    assert intersection(Point(0, 0), Vector(1, 0), Point(5, 5), Vector(0, 1)) == Point(5, 0)
    assert intersection(Point(0, 0), Vector(1, 0), Point(5, 5), Vector(2, 0)) is None
    assert reflected(Vector(1, 1), Vector(5, 0)) == Vector(1, -1)
