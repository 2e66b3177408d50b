"""The pivot of a drag knife: its line, and a blade that trails it step by step."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from cutfiles.cuts.drag_knife import drag_knife_passes, pivot_line
from cutfiles.cuts.lead_ins import LeadIns
from cutfiles.cuts.plan import Stroke
from cutfiles.geometry.bulges import Span, spans_of
from cutfiles.job.machine import DragKnife

KNIFE = DragKnife(offset_mm=0.5, overrun_mm=1.0, swing_from_deg=8.0, lead_in_mm=3.0)
Array = npt.NDArray[np.float64]


def trail(pivot: Array, offset_mm: float, tip: tuple[float, float]) -> Array:
    """Where the edge of a blade goes whose pivot takes small steps: it is drawn after the pivot,
    which it stays ``offset_mm`` behind (an independent model: the tractrix by small steps)."""
    x, y = tip
    trailed = []
    for px, py in pivot:
        dx, dy = x - px, y - py
        away = math.hypot(dx, dy)
        x, y = px + dx * offset_mm / away, py + dy * offset_mm / away
        trailed.append((x, y))
    return np.array(trailed)


def in_steps(spans: list[Span], step_mm: float) -> Array:
    points: list[tuple[float, float]] = []
    for span in spans:
        count = max(2, math.ceil(span.length_mm / step_mm))
        points.extend(span.point(k / count) for k in range(count))
    points.append(spans[-1].end)
    return np.array(points)


def _along(line: shapely.LineString) -> npt.NDArray[np.object_]:
    return np.array([line.interpolate(k / 100, normalized=True) for k in range(101)])


def test_the_swing_at_a_right_angle() -> None:
    # derived: an arc of d th = 0.7854 over a chord of 0.7071 for d = 0.5
    corner = list(spans_of(((0, 0), (10, 0), (10, 10)), (), closed=False))
    first, swing, last = pivot_line(corner, KNIFE)
    assert swing.length_mm == pytest.approx(0.7854, abs=1e-4)
    assert swing.chord_mm == pytest.approx(0.7071, abs=1e-4)
    assert swing.centre == pytest.approx((10.0, 0.0))
    assert (first.start, first.end) == ((0.5, 0.0), (10.5, 0.0))
    assert last.end == pytest.approx((10.0, 10.5))


def test_the_pivot_round_an_arc() -> None:
    # derived: sqrt(20 2 + 0.5 2) = 20.00625, about the same centre
    arc = Span((20.0, 0.0), (0.0, 20.0), math.tan(math.pi / 8.0))
    (pivot,) = pivot_line([arc], KNIFE)
    assert pivot.radius_mm == pytest.approx(20.00625, abs=1e-5)
    assert pivot.centre == pytest.approx((0.0, 0.0), abs=1e-9)
    # and a blade whose pivot keeps to 20 mm cuts on sqrt(20 2 - 0.5 2) = 19.99375
    turns = np.linspace(0.0, 2.0, 20001)
    tip = trail(20.0 * np.column_stack((np.cos(turns), np.sin(turns))), 0.5, (20.0, -0.5))
    assert np.hypot(*tip[-1]) == pytest.approx(19.99375, abs=1e-4)


def test_the_model_of_a_trailing_blade_is_the_tractrix() -> None:
    # derived: tan(a / 2) = tan(a0 / 2) exp(-q / d): 90 degrees become 5.700 after 3 d, and the
    # edge is 0.0497 mm aside
    pivot = np.column_stack((np.linspace(0.0, 1.5, 30001), np.zeros(30001)))
    x, y = trail(pivot, 0.5, (0.0, 0.5))[-1]
    assert math.degrees(math.atan2(y, 1.5 - x)) == pytest.approx(5.700, abs=2e-3)
    assert y == pytest.approx(0.0497, abs=1e-4)


@st.composite
def lines(draw: st.DrawFn) -> tuple[list[Span], float]:
    """An open line of straight and bent spans with corners, and a blade's offset."""
    offset = draw(st.floats(0.2, 3.0))
    x, y, way = 0.0, 0.0, draw(st.floats(-3.0, 3.0))
    points, bulges = [(x, y)], []
    for _ in range(draw(st.integers(1, 5))):
        length = draw(st.floats(1.0, 30.0))
        bulge = draw(st.sampled_from([0.0, 0.0, 0.3, -0.3, 0.9, -1.0, 0.02]))
        x, y = x + length * math.cos(way), y + length * math.sin(way)
        points.append((x, y))
        bulges.append(bulge)
        way += draw(st.floats(-2.6, 2.6))
    return list(spans_of(points, bulges, closed=False)), offset


@settings(max_examples=50)
@given(lines())
def test_the_edge_of_the_blade_stays_on_the_cut_line(drawn: tuple[list[Span], float]) -> None:
    spans, offset = drawn
    tool = DragKnife(offset, 1.0, 8.0, 3.0)
    pivot = pivot_line(spans, tool)
    tip = trail(in_steps(pivot, 0.01), offset, spans[0].start)
    line = shapely.LineString(np.vstack([s.flattened(1e-3) for s in spans]))
    shapely.prepare(line)
    assert shapely.dwithin(line, shapely.points(tip[::5]), 0.02).all()
    # and it gets to the end: all of the line is cut
    assert math.dist(tip[-1], spans[-1].end) <= 0.02
    assert shapely.dwithin(shapely.LineString(tip[::5]), _along(line), 0.05).all()


def test_a_closed_line_is_come_into_from_the_waste_and_cut_past_its_start() -> None:
    corners = ((20.0, 0.0), (40.0, 0.0), (40.0, 30.0), (0.0, 30.0), (0.0, 0.0))
    stroke = Stroke("outline", "p", tuple((x + 50, y + 50) for x, y in corners), closed=True)
    leads = LeadIns([stroke], box(0, 0, 200, 200), kerf_mm=0.0, longest_mm=3.0)
    (made,), short = drag_knife_passes(0, stroke, KNIFE, leads)
    assert short == []
    # a blade that stood across at first cuts on the line from the start of the piece on, but for
    # what is left of it after 6 offsets: d sin(0.28 degrees) (derived)
    first = made.spans[0]
    way = first.directions_rad[0]
    across = first.start[0] + 0.5 * math.sin(way), first.start[1] - 0.5 * math.cos(way)
    tip = trail(in_steps(list(made.spans), 0.002), 0.5, across)
    piece = box(50, 50, 90, 80)
    inside = np.asarray(shapely.distance(piece.exterior, shapely.points(tip)))
    within = shapely.contains(piece, shapely.points(tip))
    assert inside[within].max(initial=0.0) <= 0.02
    assert shapely.LineString(tip).buffer(0.01).covers(piece.exterior)
    assert tuple(tip[-1]) == pytest.approx((71.0, 50.0), abs=0.01)  # 1 mm past (70, 50)


def test_a_notch_is_come_into_along_its_own_line() -> None:
    outline = Stroke("outline", "p", ((0, 10), (50, 10), (50, 40), (0, 40)), closed=True)
    notch = Stroke("notch", "p", ((25.0, 10.0), (25.0, 14.0)), closed=False)
    leads = LeadIns([outline, notch], box(0, 0, 50, 50), kerf_mm=0.0, longest_mm=3.0)
    (made,), short = drag_knife_passes(1, notch, KNIFE, leads)
    assert short == []
    tip = trail(in_steps(list(made.spans), 0.002), 0.5, (25.5, 7.0))
    assert tuple(tip[-1]) == pytest.approx((25.0, 14.0), abs=1e-3)
    crowded = LeadIns(
        [
            outline,
            notch,
            Stroke("outline", "q", ((0, 0), (50, 0), (50, 9.9), (0, 9.9)), closed=True),
        ],
        box(0, 0, 50, 50),
        kerf_mm=0.0,
        longest_mm=3.0,
    )
    (made,), short = drag_knife_passes(1, notch, KNIFE, crowded)
    assert short == ["no room for a way in to turn the blade for a notch"]
    assert made.points == ((25.0, 10.5), (25.0, 14.5))


def test_without_a_way_in_none_is_missed() -> None:
    # derived: lead_in = 0 asks for none, so that there is no room to be short of
    outline = Stroke("outline", "p", ((0, 10), (50, 10), (50, 40), (0, 40)), closed=True)
    notch = Stroke("notch", "p", ((25.0, 10.0), (25.0, 14.0)), closed=False)
    leads = LeadIns([outline, notch], box(0, 0, 50, 50), kerf_mm=0.0, longest_mm=0.0)
    for number, stroke in enumerate((outline, notch)):
        (made,), short = drag_knife_passes(number, stroke, replace(KNIFE, lead_in_mm=0.0), leads)
        assert short == []
        # the pivot sets out the offset ahead of the stroke's first point, along its line
        (x, y), way = stroke.points[0], stroke.spans[0].directions_rad[0]
        ahead = x + 0.5 * math.cos(way), y + 0.5 * math.sin(way)
        assert made.points[0] == pytest.approx(ahead)
