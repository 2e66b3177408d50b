"""Cuts: half a kerf aside, in what order, and how long they take."""

from __future__ import annotations

import itertools
import math
import random

import numpy as np
import pytest
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial.distance import cdist
from shapely.geometry import Polygon, box

from cutfiles.cuts.motion_time import cutting_time_s, move_time_s
from cutfiles.cuts.order import ordered_strokes, travel_mm
from cutfiles.cuts.passes import passes_of
from cutfiles.cuts.plan import CUT_ROLES, Stroke
from cutfiles.cuts.tour import nearest_neighbour_way, short_way, way_length
from cutfiles.geometry.kerf import inner_path, waste_side_path
from cutfiles.job.machine import Pace


def test_the_path_runs_half_a_kerf_outside_an_outline() -> None:
    # derived: kerf 0.2: a 200 x 100 outline gives a path of 200.2 x 100.2
    x0, y0, x1, y1 = waste_side_path(box(0, 0, 200, 100), 0.2).bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((200.2, 100.2), abs=1e-9)


def test_the_path_runs_half_a_kerf_inside_a_cut_out() -> None:
    # derived: a 30 mm hole gives a path of 29.8
    x0, y0, x1, y1 = inner_path(box(0, 0, 30, 30), 0.2).bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((29.8, 29.8), abs=1e-9)


def test_the_path_of_a_smooth_convex_outline_is_pi_k_longer() -> None:
    # derived (Steiner): 0.628 mm at k = 0.2
    oval = Polygon(
        [(120 * math.cos(t), 80 * math.sin(t)) for t in np.linspace(0, 2 * math.pi, 2001)]
    )
    path = waste_side_path(oval, 0.2)
    assert path.exterior.length - oval.exterior.length == pytest.approx(math.pi * 0.2, abs=1e-3)


def test_an_outline_cut_without_offset_would_be_small() -> None:
    # derived: the tool takes half the kerf off each side of its path
    small = box(0, 0, 200, 100).buffer(-0.1, join_style="mitre").bounds
    assert small[2] - small[0] == pytest.approx(199.8)
    right = waste_side_path(box(0, 0, 200, 100), 0.2).buffer(-0.1, join_style="mitre").bounds
    assert right[2] - right[0] == pytest.approx(200.0)


def test_a_cut_out_or_opening_narrower_than_the_kerf_is_refused() -> None:
    # derived (the note under the kerf rule): it would vanish
    with pytest.raises(ValueError, match="narrower than the kerf"):
        inner_path(box(0, 0, 0.3, 30), 0.4)
    dumbbell = box(0, 0, 10, 10).union(box(9, 4.9, 21, 5.1)).union(box(20, 0, 30, 10))
    assert isinstance(dumbbell, Polygon)
    with pytest.raises(ValueError, match="narrower than the kerf"):
        inner_path(dumbbell, 0.5)
    ring_with_slit = (
        box(0, 0, 30, 30).difference(box(10, 10, 20, 20)).difference(box(14.9, 20, 15.1, 30))
    )
    assert isinstance(ring_with_slit, Polygon)
    with pytest.raises(ValueError, match="narrower than the kerf"):
        waste_side_path(ring_with_slit, 0.5)


@pytest.mark.parametrize(("distance", "seconds"), [(300.0, 1.700), (20.0, 0.2828), (40.0, 0.400)])
def test_move_times(distance: float, seconds: float) -> None:
    # derived from the standard motion profile: v = 200 mm/s, a = 1000 mm/s2
    assert move_time_s(distance, 200.0, 1000.0) == pytest.approx(seconds, abs=1e-4)


def test_the_time_of_a_plan_is_the_sum_of_its_moves() -> None:
    strokes = (
        Stroke("stitch", "p", ((0, 0), (999, 999)), closed=False),  # not cut: takes no time
        Stroke("notch", "p", ((300, 0), (300, 20)), closed=False),
        Stroke("outline", "p", ((300, 40), (375, 40), (375, 115), (300, 115)), closed=True),
    )
    pace = Pace(200.0, 200.0, 1000.0, 0.5)
    # hop 300, cut 20, hop 20, cut 300, and two starts (derived)
    assert cutting_time_s(passes_of(strokes), pace) == pytest.approx(
        2 * 1.7 + 2 * 0.2828 + 1.0, abs=1e-3
    )


@pytest.mark.parametrize("count", [1, 2, 3, 5, 7])
def test_small_ways_are_the_shortest(count: int) -> None:
    # reference: every order tried
    points = np.random.default_rng(count).random((count, 2)) * 100
    shortest = min(
        way_length(points, [0, *rest]) for rest in itertools.permutations(range(1, count))
    )
    way = short_way(points, seed=1, kicks=50)
    assert way[0] == 0
    assert way_length(points, way) == pytest.approx(shortest, rel=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_ways_against_their_bounds(seed: int) -> None:
    # derived: never longer than its start, never shorter than the minimum spanning tree (scipy)
    points = np.random.default_rng(seed).random((60, 2)) * 1000
    way = short_way(points, seed=1, kicks=100)
    assert sorted(way) == list(range(60))
    length = way_length(points, way)
    assert length <= way_length(points, nearest_neighbour_way(points))
    assert length >= minimum_spanning_tree(cdist(points, points)).sum()
    assert way == short_way(points, seed=1, kicks=100)


def test_more_kicks_never_lengthen_a_way() -> None:
    points = np.random.default_rng(3).random((80, 2)) * 1000
    lengths = [way_length(points, short_way(points, seed=2, kicks=k)) for k in (0, 50, 400)]
    assert lengths[0] >= lengths[1] >= lengths[2]


def _pieces(count: int, seed: int) -> tuple[list[Stroke], dict[str, float]]:
    rng = random.Random(seed)
    strokes, areas = [], {}
    for number in range(count):
        x, y, size = rng.uniform(0, 900), rng.uniform(0, 900), rng.choice([10.0, 60.0])
        name = f"piece-{number}"
        corners = ((x, y), (x + size, y), (x + size, y + size), (x, y + size))
        areas[name] = size * size
        strokes.append(Stroke("outline", name, corners, closed=True))
        strokes.append(Stroke("notch", name, ((x, y), (x + 1, y + 1)), closed=False))
        strokes.append(
            Stroke("inner", name, tuple((a + 2, b + 2) for a, b in corners), closed=True)
        )
        strokes.append(Stroke("grain", name, ((x, y), (x + 5, y)), closed=False))
    return strokes, areas


@pytest.mark.parametrize("seed", range(4))
def test_the_order_of_strokes(seed: int) -> None:
    # common practice, no source: a permutation; no stroke of a piece after its outline; small
    # before large
    strokes, areas = _pieces(25, seed)
    ordered = ordered_strokes(strokes, areas, seed=1)
    key = [(s.role, s.piece_id, frozenset(s.points)) for s in strokes]
    assert sorted(map(str, ((s.role, s.piece_id, sorted(s.points)) for s in ordered))) == sorted(
        map(str, ((s.role, s.piece_id, sorted(s.points)) for s in strokes))
    )
    assert len(key) == len(ordered)
    at = {(s.role, s.piece_id): n for n, s in enumerate(ordered)}
    for name in areas:
        assert at["grain", name] < at["notch", name] < at["inner", name] < at["outline", name]
    last_small = max(at["outline", n] for n, area in areas.items() if area == 100.0)
    first_large = min(at["outline", n] for n, area in areas.items() if area == 3600.0)
    assert last_small < first_large


def test_the_order_shortens_travel() -> None:
    strokes, areas = _pieces(40, 9)
    ordered = ordered_strokes(strokes, areas, seed=1)
    in_stages = sorted(
        (s for s in strokes if s.role in CUT_ROLES),
        key=lambda s: (CUT_ROLES.index(s.role), areas[s.piece_id] if s.role == "outline" else 0),
    )
    cut = [s for s in ordered if s.role in CUT_ROLES]
    assert travel_mm(cut) < 0.5 * travel_mm(in_stages)
    assert sum(s.length_mm() for s in cut) == pytest.approx(sum(s.length_mm() for s in in_stages))


def test_a_grain_arrow_and_a_slit_keep_their_direction() -> None:
    strokes, areas = _pieces(12, 2)
    before = {(s.role, s.piece_id): s.points for s in strokes if not s.closed}
    for stroke in ordered_strokes(strokes, areas, seed=1):
        if not stroke.closed:
            assert stroke.points == before[stroke.role, stroke.piece_id]


def test_the_same_strokes_give_the_same_order() -> None:
    strokes, areas = _pieces(30, 5)
    assert ordered_strokes(strokes, areas, seed=1) == ordered_strokes(strokes, areas, seed=1)
