"""The passes of a laser: ways in, overlap, bridges; where strokes may be begun."""

from __future__ import annotations

import itertools
import math
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon, box

from cutfiles.cuts.laser import laser_passes
from cutfiles.cuts.lead_ins import LeadIns
from cutfiles.cuts.plan import Pass, Stroke
from cutfiles.cuts.starts import allowed_entries, corners_of, quiet_points, with_entries
from cutfiles.cuts.stretch import region_of, stretch, turn_rad
from cutfiles.geometry.bulges import spans_of
from cutfiles.job.machine import Laser, Tabs

SHEET = box(0, 0, 400, 300)


def rectangle(x: float, y: float, w: float, h: float, name: str = "p", **other: Any) -> Stroke:
    role = other.get("role", "outline")
    corners = ((x, y), (x + w, y), (x + w, y + h), (x, y + h))
    return Stroke(role, name, corners, closed=True)


def room(*strokes: Stroke, longest_mm: float = 3.0) -> LeadIns:
    return LeadIns(strokes, SHEET, kerf_mm=0.2, longest_mm=longest_mm)


def begun(stroke: Stroke, leads: LeadIns) -> Stroke:
    """Begun at the first place that is allowed."""
    return stroke.entered_at(allowed_entries([stroke], leads)[0][0])


def line_of(made: Pass) -> LineString:
    return LineString([span.point(k / 8) for span in made.spans for k in range(9)])


def test_a_rectangle_is_begun_within_a_side_and_never_at_a_corner() -> None:
    stroke = with_entries(rectangle(50, 50, 130, 40))
    # sides of 130 and 40 mm: points at most 60 mm apart (derived)
    assert len(stroke.points) == 4 + 2 * 2 + 2 * 1
    leads = room(stroke)
    for pick in allowed_entries([stroke], leads)[0]:
        x, y = stroke.points[pick]
        assert min(math.dist((x, y), c) for c in ((50, 50), (180, 50), (180, 90), (50, 90))) >= 6.0


def test_no_stroke_is_begun_within_reach_of_a_notch() -> None:
    stroke = with_entries(rectangle(50, 50, 130, 40))
    notched = (115.0 - 130.0 / 6.0, 50.0)  # at one of the points of the lower side
    near = [k for k in quiet_points(stroke, [notched]) if math.dist(stroke.points[k], notched) < 6]
    assert near == []
    assert any(math.dist(stroke.points[k], notched) < 6 for k in quiet_points(stroke, []))


def test_a_short_stroke_is_begun_as_far_from_its_corners_as_it_goes() -> None:
    stroke = with_entries(rectangle(0, 0, 13, 5))
    assert {stroke.points[k] for k in quiet_points(stroke, [])} == {(6.5, 0.0), (6.5, 5.0)}


@pytest.mark.parametrize("role", ["outline", "inner"])
@pytest.mark.parametrize("is_turned", [False, True])
def test_the_way_in_is_in_the_waste(role: str, *, is_turned: bool) -> None:
    stroke = with_entries(rectangle(50, 50, 130, 40, role=role))
    stroke = stroke.turned_round() if is_turned else stroke
    leads = room(stroke)
    stroke = begun(stroke, leads)
    (made,), short = laser_passes(0, stroke, Laser(3.0, 0.2), room(stroke), kerf_mm=0.2, notches=())
    way = made.spans[0]
    assert short == []
    assert way.length_mm == pytest.approx(3.0)
    assert way.end == stroke.points[0]
    region = Polygon(stroke.points)
    assert region.contains(shapely.Point(way.point(0.5))) == (role == "inner")
    # it goes on in the direction of the line, at 45 degrees at most
    assert abs(turn_rad(way, made.spans[1])) <= math.radians(45.01)


def test_the_way_in_keeps_off_a_neighbour_and_the_edge_of_the_cloth() -> None:
    first, second = rectangle(0, 0, 100, 50, "a"), rectangle(0, 51.2, 100, 50, "b")
    strokes = [with_entries(first), with_entries(second)]
    allowed = allowed_entries(strokes, room(*strokes))
    for number, stroke in enumerate(strokes):
        entered = stroke.entered_at(allowed[number][0])
        pair = [entered, strokes[1 - number]] if number == 0 else [strokes[0], entered]
        (made,), _ = laser_passes(
            number, entered, Laser(3.0, 0.0), room(*pair), kerf_mm=0.2, notches=()
        )
        way = LineString([made.points[0], made.points[1]])
        other = Polygon(strokes[1 - number].points)
        assert way.distance(other) >= 0.4  # two halves of a kerf, and 0.2 mm between
        assert SHEET.covers(way)


def test_where_there_is_no_room_there_is_no_way_in() -> None:
    # filled to the edges: all four sides have neighbours or no cloth
    first, second = rectangle(0, 0, 100, 300, "a"), rectangle(100.3, 0, 299.7, 300, "b")
    stroke = with_entries(first)
    leads = room(stroke, second)
    entered = stroke.entered_at(allowed_entries([stroke, second], leads)[0][0])
    (made,), short = laser_passes(
        0, entered, Laser(3.0, 0.0), room(entered, second), kerf_mm=0.2, notches=()
    )
    assert short == ["no room for a way in"]
    assert made.points[0] == entered.points[0]


def test_a_closed_cut_goes_on_over_its_start() -> None:
    stroke = begun(with_entries(rectangle(50, 50, 130, 40)), room(rectangle(50, 50, 130, 40)))
    (made,), _ = laser_passes(0, stroke, Laser(0.0, 0.3), room(stroke), kerf_mm=0.2, notches=())
    # derived: twice both sides, and the overlap
    assert made.length_mm() == pytest.approx(340.3)
    assert math.dist(made.points[-1], stroke.points[0]) == pytest.approx(0.3)


def test_bridges_are_as_wide_as_asked_and_on_straight_runs() -> None:
    stroke = begun(with_entries(rectangle(50, 50, 130, 40)), room(rectangle(50, 50, 130, 40)))
    notch = (150.0, 50.0)
    tool = Laser(3.0, 0.2, Tabs(3, 0.5))
    made, short = laser_passes(0, stroke, tool, room(stroke), kerf_mm=0.2, notches=[notch])
    assert short == []
    assert len(made) == 4
    for before, after in itertools.pairwise(made):
        gap = math.dist(before.points[-1], after.points[0])
        # derived: half a kerf is burnt at both ends, and 0.5 mm is left
        assert gap - 0.2 == pytest.approx(0.5, abs=1e-9)
        middle = before.points[-1]
        assert math.dist(middle, notch) > 2.0
        assert min(math.dist(middle, c) for c in ((50, 50), (180, 50), (180, 90), (50, 90))) >= 1.9
    whole = 340.0 - 3 * 0.7 + 0.2 + 3.0
    assert sum(one.length_mm() for one in made) == pytest.approx(whole)


@pytest.mark.parametrize("overlap_mm", [0.2, 5.0])
@pytest.mark.parametrize("count", [4, 12])
def test_no_overlap_cuts_a_bridge(overlap_mm: float, count: int) -> None:
    stroke = begun(with_entries(rectangle(50, 50, 30, 25)), room(rectangle(50, 50, 30, 25)))
    tool = Laser(0.0, overlap_mm, Tabs(count, 0.5))
    made, _ = laser_passes(0, stroke, tool, room(stroke), kerf_mm=0.2, notches=())
    burnt = shapely.union_all([line_of(one) for one in made])
    left = shapely.LinearRing(stroke.points).difference(burnt.buffer(1e-9))
    # derived: one gap between every two passes, the tab and half a kerf at both of its ends
    gaps = shapely.get_parts(shapely.line_merge(left))
    assert sum(gap.length for gap in gaps) == pytest.approx(0.7 * (len(made) - 1), abs=1e-6)
    assert len(made) > 1


def test_a_round_outline_has_no_straight_run_for_a_bridge() -> None:
    circle = Stroke("outline", "p", ((80.0, 100.0), (120.0, 100.0)), closed=True, bulges=(1.0, 1.0))
    tool = Laser(3.0, 0.2, Tabs(2, 0.5))
    _, short = laser_passes(0, circle, tool, room(circle), kerf_mm=0.2, notches=())
    assert short == ["room for 0 of 2 tabs on straight runs"]


@settings(max_examples=80)
@given(
    st.lists(
        st.tuples(st.floats(5.0, 120.0), st.sampled_from([0.0, 0.2, -0.2])), min_size=3, max_size=12
    ),
    st.booleans(),
)
def test_stars_of_every_kind_are_cut_whole(
    rays: list[tuple[float, float]],
    is_turned: bool,
) -> None:
    # any outline about a middle: what is cut covers it, and the way in does not touch the piece
    corners = [
        (
            200 + r * math.cos(2 * math.pi * k / len(rays)),
            150 + r * math.sin(2 * math.pi * k / len(rays)),
        )
        for k, (r, _) in enumerate(rays)
    ]
    stroke = Stroke("outline", "p", tuple(corners), closed=True)
    if not Polygon(corners).is_valid:
        return
    stroke = with_entries(stroke.turned_round() if is_turned else stroke)
    leads = room(stroke)
    assert region_of(stroke).exterior.is_ccw != is_turned
    for pick in allowed_entries([stroke], leads)[0]:
        assert pick not in corners_of(stroke, least_deg=8.0) or len(
            quiet_points(stroke, [])
        ) == len(stroke.points)
        entered = stroke.entered_at(pick)
        (made,), short = laser_passes(
            0, entered, Laser(3.0, 0.2), room(entered), kerf_mm=0.2, notches=()
        )
        region = Polygon(corners)
        line = line_of(made)
        assert line.buffer(1e-6).covers(region.exterior)
        if not short:
            way = LineString([made.points[0], made.points[1]])
            assert way.intersection(region.buffer(-1e-6)).is_empty


def test_parts_of_a_line_by_place() -> None:
    # a half circle of radius 10 and its diameter: 31.416 and 20 mm (derived)
    spans = list(spans_of(((0, 0), (20, 0)), (1.0, 0.0), closed=True))
    part = stretch(spans, 10 * math.pi - 1.0, 10 * math.pi + 1.0)
    assert [round(s.length_mm, 9) for s in part] == [1.0, 1.0]
    assert (part[1].start, part[1].is_arc) == ((20.0, 0.0), False)
    assert part[1].end == pytest.approx((19.0, 0.0))
    wrapped = stretch(spans, 10 * math.pi + 19.0, 10 * math.pi + 21.0)
    assert wrapped[0].end == pytest.approx((0.0, 0.0))
    assert sum(s.length_mm for s in wrapped) == pytest.approx(2.0)
