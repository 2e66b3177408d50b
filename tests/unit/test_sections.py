"""Large orders in sections: keep-out regions, compaction, joining and bundles."""

from __future__ import annotations

import math
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate
from shapely.geometry import Polygon, box

from cutfiles.geometry.vector import Motion, Vector
from cutfiles.lay.bundles import Bundling, bundled
from cutfiles.lay.compaction import Places, compacted
from cutfiles.lay.feasible import layout_faults
from cutfiles.lay.free_parts import Room
from cutfiles.lay.hunt import Hunt
from cutfiles.lay.keep_out import keep_out
from cutfiles.lay.nest import nest_strip
from cutfiles.lay.problem import Shape, Spot, StripLayout, StripProblem, Watch
from cutfiles.lay.race import Race
from cutfiles.lay.rows import nest_in_rows
from cutfiles.lay.sections import joined, sections, side_by_side
from cutfiles.tolerances import LAY_MM

HALF_TURNS = (0.0, 180.0)
LENS = Polygon(
    [(0, -90), (0, 90), (30, 98), (36, 70), (48, 40), (55, 0), (48, -40), (36, -70), (30, -98)]
)
"""A straight back and a bellied front with waists, as a band has."""

HOOK = Polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 40), (60, 40), (60, 60), (0, 60)])
DISK = Polygon(
    [(40 * math.cos(a / 9 * math.pi), 40 * math.sin(a / 9 * math.pi)) for a in range(18)]
)


def order(count: int, turns: tuple[float, ...] = HALF_TURNS) -> StripProblem:
    return StripProblem(
        400.0,
        1.2,
        0.1,
        (
            Shape("disk", DISK, turns, count),
            Shape("lens", LENS, turns, count),
            Shape("tie", box(0, 0, 110, 14), turns, 2 * count),
        ),
    )


@st.composite
def stars(draw: st.DrawFn) -> Polygon:
    """Outlines with bays, round a centre."""
    count = draw(st.integers(5, 14))
    radii = draw(st.lists(st.floats(8.0, 40.0), min_size=count, max_size=count))
    turn = draw(st.floats(0.0, 1.0))
    angles = [2.0 * math.pi * (k + turn) / count for k in range(count)]
    return Polygon([(r * math.cos(a), r * math.sin(a)) for r, a in zip(radii, angles, strict=True)])


@given(one=stars(), other=stars(), gap=st.sampled_from([0.0, 1.2]), seed=st.integers(0, 999))
@settings(max_examples=60)
def test_outside_the_keep_out_region_pieces_are_the_gap_apart(
    one: Polygon, other: Polygon, gap: float, seed: int
) -> None:
    region = keep_out(one, other, gap)
    shifts = np.random.default_rng(seed).uniform(-90.0, 90.0, (30, 2))
    edge = shapely.get_coordinates(region.exterior)
    for x, y in [*shifts, *edge[:: max(1, len(edge) // 10)]]:
        distance = one.distance(translate(other, x, y))
        away = region.exterior.distance(shapely.Point(x, y))
        if away < 1e-6:
            assert gap - 1e-6 <= distance <= gap * 1.02 + 1e-6
        elif not region.contains(shapely.Point(x, y)):
            assert distance >= gap
        elif not shapely.Polygon(region).buffer(-0.02 - 0.01 * gap).contains(shapely.Point(x, y)):
            continue
        else:
            assert distance < gap or gap == 0.0


def test_keep_out_of_two_squares() -> None:
    region = keep_out(box(0, 0, 10, 10), box(0, 0, 4, 4), 0.0)
    assert region.equals(box(-4, -4, 10, 10))


def test_keep_out_leaves_a_bay_open() -> None:
    region = keep_out(HOOK, box(0, 0, 10, 10), 1.0)
    assert not region.contains(shapely.Point(40, 25))
    assert region.contains(shapely.Point(40, 29.5))


@pytest.mark.parametrize("gap", [0.0, 1.2])
def test_pieces_shifted_to_contact_are_the_gap_apart(gap: float) -> None:
    # every pair, either way round and in every turn, of which some share a region
    turns = (0.0, 90.0, 180.0, 270.0)
    shapes = (Shape("hook", HOOK, turns, 1), Shape("lens", LENS, turns, 1))
    problem = StripProblem(400.0, gap, 0.0, shapes)
    room = Room(problem)
    kinds = [(k, turn) for k in range(2) for turn in turns]
    for one in kinds:
        for other in kinds:
            outlines = room.outline(one), room.outline(other)
            middle = outlines[0].centroid.y - outlines[1].centroid.y
            at = np.array([[0.0, 0.0]]), np.array([[500.0, middle]])
            shift = room.contact([one], at[0], [other], at[1])
            there = translate(outlines[1], 500.0 + shift, middle)
            # reference: shapely's distance; a region is rounded up by a hundredth of the gap, and
            # by five millionths of the width twice
            assert gap - 1e-6 <= outlines[0].distance(there) <= 1.02 * gap + 4e-3


@given(loosened=st.floats(0.0, 0.5))
@settings(max_examples=15)
def test_compaction_shortens_and_stays_allowed(loosened: float) -> None:
    problem = order(3)
    room = Room(problem)
    rows = nest_in_rows(problem)
    spread = tuple(
        Spot(
            s.shape,
            Motion(s.motion.turn_deg, s.motion.shift + Vector(s.motion.shift.x * loosened, 0.0)),
        )
        for s in rows.spots
    )
    boxes = room.boxes([(s.shape, s.motion.turn_deg) for s in spread])
    end = max(s.motion.shift.x + b[2] for s, b in zip(spread, boxes, strict=True))
    loose = StripLayout(spread, float(end) + problem.margin, "loose")
    assert layout_faults(problem, loose, tolerance=1e-6) == []
    closed = compacted(room, Places.of(loose))
    assert closed is not None
    assert closed.length <= loose.length + 0.05
    assert layout_faults(problem, closed.layout("closed"), tolerance=1e-4) == []


def test_compaction_takes_a_small_overlap_apart() -> None:
    problem = StripProblem(100.0, 1.0, 0.0, (Shape("disk", DISK, (0.0,), 2),))
    at = np.array([[40.0, 45.0], [100.0, 55.0]])
    places = Places(((0, 0.0), (0, 0.0)), at, 140.0)
    closed = compacted(Room(problem), places)
    assert closed is not None
    assert layout_faults(problem, closed.layout("closed"), tolerance=1e-4) == []


def test_compaction_works_in_any_unit() -> None:
    problem = order(2)
    factor = 1e-3
    small = replace(
        problem,
        width=problem.width * factor,
        gap=problem.gap * factor,
        margin=problem.margin * factor,
        shapes=tuple(
            replace(s, outline=shapely.transform(s.outline, lambda xy: xy * factor))
            for s in problem.shapes
        ),
    )
    lengths = []
    for one in (problem, small):
        closed = compacted(Room(one), Places.of(nest_in_rows(one)))
        assert closed is not None
        assert layout_faults(one, closed.layout("x"), tolerance=1e-5 * one.width) == []
        lengths.append(closed.length)
    assert lengths[1] == pytest.approx(lengths[0] * factor, rel=0.01)


@given(counts=st.lists(st.integers(1, 40), min_size=1, max_size=4))
def test_sections_hold_every_piece_once(counts: list[int]) -> None:
    shapes = tuple(
        Shape(str(k), box(0, 0, 10 + k, 5), HALF_TURNS, count) for k, count in enumerate(counts)
    )
    parts = sections(StripProblem(100.0, 0.0, 0.0, shapes))
    total: Counter[int] = Counter()
    for part in parts:
        for member, shape in zip(part.members, part.problem.shapes, strict=True):
            assert shape.name == shapes[member].name
            total[member] += shape.count
    assert total == dict(enumerate(counts))


def test_a_search_whose_time_getting_ready_has_used_up_ends_at_once() -> None:
    race = Race(order(40), LAY_MM, Watch(60.0))
    Hunt(race, 1).search(0, -0.01)
    assert race.best is None


def test_equal_sections_of_an_order_of_caps() -> None:
    first, second = sections(order(12))
    assert first == second
    assert [shape.count for shape in first.problem.shapes] == [6, 6, 12]
    assert len(sections(order(5))) == 1
    long = replace(order(12), width=1200.0)
    assert len(sections(long)) == 1, "a section must be longer than its pieces"
    # 30 of each do not go into four equal parts, but into three
    parts = sections(order(30))
    assert len(parts) == 3
    assert len(set(parts)) == 1


@pytest.mark.parametrize("turns", [HALF_TURNS, (0.0,)])
@pytest.mark.parametrize("count", [12, 13])
def test_joined_sections_are_allowed_and_no_longer(count: int, turns: tuple[float, ...]) -> None:
    problem = order(count, turns)
    room = Room(problem)
    pools = [[part.places(nest_in_rows(part.problem))] for part in sections(problem)]
    plain = side_by_side(room, [pool[0] for pool in pools])
    assert layout_faults(problem, plain.layout("plain"), tolerance=1e-6) == []
    found = list(joined(room, pools))
    assert len(found) > 2
    for places in found:
        assert layout_faults(problem, places.layout("joined"), tolerance=1e-3) == []
    assert found[0].length <= plain.length + 0.05  # keep-outs are rounded up a little
    assert min(places.length for places in found) < plain.length


def test_joining_stops_when_asked() -> None:
    problem = order(12)
    pools = [[part.places(nest_in_rows(part.problem))] for part in sections(problem)]
    assert len(list(joined(Room(problem), pools, stop=lambda: True))) == 1


@pytest.mark.parametrize("height", [1, 2])
@pytest.mark.parametrize("walls", [0, 2])
def test_bundles_stand_for_their_members(height: int, walls: int) -> None:
    problem = order(6)
    bundles = bundled(problem, Bundling(height=height, walls=walls, pairs=True))
    by_name = {shape.name: shape.count for shape in bundles.stacked.shapes}
    assert by_name.get("wall of lens", 0) == walls
    assert by_name["pair of lens"] == (1 if walls else 3)
    layout = nest_in_rows(bundles.stacked)
    assert layout_faults(problem, bundles.unstacked(layout), tolerance=1e-6) == []
    for shape in bundles.stacked.shapes:
        assert shape.search_outline.buffer(1e-6).covers(shape.outline)


def test_one_way_cloth_has_no_pairs_and_narrow_cloth_no_walls() -> None:
    way = Bundling(walls=2, pairs=True)
    one_way = bundled(order(6, (0.0,)), way).stacked
    assert "pair of lens" not in [shape.name for shape in one_way.shapes]
    narrow = bundled(replace(order(6), width=300.0), way).stacked
    assert "wall of lens" not in [shape.name for shape in narrow.shapes]


@pytest.mark.usefixtures("searches_side_by_side")
def test_an_order_is_nested_denser_than_rows() -> None:
    problem = order(12)
    heard: list[float] = []
    watch = Watch(1.5, improved=lambda layout, _left: heard.append(layout.length))
    layout = nest_strip(problem, seed=1, watch=watch)
    assert layout_faults(problem, layout, tolerance=0.01) == []
    assert layout.length < nest_in_rows(problem).length
    assert heard == sorted(heard, reverse=True)
    assert heard[-1] == layout.length


def test_a_single_piece_is_compacted_to_the_margin() -> None:
    problem = StripProblem(100.0, 1.0, 2.0, (Shape("disk", DISK, (0.0,), 1),))
    places = Places(((0, 0.0),), np.array([[60.0, 50.0]]), 110.0)
    closed = compacted(Room(problem), places)
    assert closed is not None
    assert closed.length == pytest.approx(84.0, abs=0.01)
    assert compacted(Room(problem), places, stop=lambda: True) is None


@pytest.mark.usefixtures("searches_side_by_side")
def test_a_few_odd_shapes_are_nested_as_a_whole() -> None:
    shapes = (Shape("hook", HOOK, HALF_TURNS, 2), Shape("block", box(0, 0, 20, 15), (0.0, 90.0), 2))
    problem = StripProblem(90.0, 1.0, 0.0, shapes)
    layout = nest_strip(problem, seed=1, watch=Watch(0.8))
    assert layout_faults(problem, layout, tolerance=0.01) == []
    assert layout.length <= nest_in_rows(problem).length


def test_searches_side_by_side_may_share_a_room() -> None:
    problem = order(6)
    kinds = [(k, turn) for k in range(3) for turn in HALF_TURNS]
    chance = np.random.default_rng(3)
    places = [chance.uniform(0.0, 300.0, (len(kinds), 2)) for _ in range(12)]
    shared, alone = Room(problem), Room(problem)
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda at: shared.cuts(kinds, at, 20.0), places))
    for at, cuts in zip(places, found, strict=True):
        expected = alone.cuts(kinds, at, 20.0)
        assert np.array_equal(cuts.bound, expected.bound)
        assert np.array_equal(cuts.normal, expected.normal)
