"""Properties that hold for all inputs, by Hypothesis."""

from __future__ import annotations

import math
from collections import Counter
from typing import get_args

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from cutfiles.cuts.tour import nearest_neighbour_way, short_way, way_length
from cutfiles.geometry.kerf import waste_side_path
from cutfiles.geometry.path import Path
from cutfiles.geometry.polygons import moved_polygon, polygon_of
from cutfiles.geometry.segments import Cubic
from cutfiles.geometry.vector import Motion, Point, Vector
from cutfiles.job.job import CapLine, EdgeFinish, Style
from cutfiles.job.sizes import LARGEST_GIRTH_MM, SMALLEST_GIRTH_MM, made_to_measure
from cutfiles.lay.bundles import stack_strips
from cutfiles.lay.feasible import layout_faults
from cutfiles.lay.problem import Shape, StripProblem
from cutfiles.lay.rows import nest_in_rows
from cutfiles.pieces.growth import grown_piece, growth_factor
from cutfiles.pieces.styles import draft_style
from cutfiles.pieces.tie_back import draft_tie_back
from cutfiles.pieces.walk import check_draft

coordinate = st.floats(-500, 500, allow_nan=False)
places = st.builds(Point, coordinate, coordinate)
motions = st.builds(
    Motion, st.floats(-720, 720, allow_nan=False), st.builds(Vector, coordinate, coordinate)
)
cubics = st.builds(Cubic, places, places, places, places)
edges = st.sampled_from(["hem", "binding"])
styles: st.SearchStrategy[Style] = st.sampled_from(get_args(Style))


@given(curve=cubics, motion=motions)
def test_a_rigid_motion_keeps_lengths(curve: Cubic, motion: Motion) -> None:
    moved = curve.moved(motion)
    assert moved.length() == pytest.approx(curve.length(), rel=1e-9, abs=1e-9)
    there = motion.point(curve.point(0.3))
    assert moved.point(0.3).distance(there) < 1e-9 * 1000


@given(curve=cubics, t=st.floats(0.01, 0.99))
def test_parts_of_a_curve_add_up(curve: Cubic, t: float) -> None:
    assume(curve.length() > 1.0)
    both = curve.part(0, t).length() + curve.part(t, 1).length()
    # cusps defeat any fixed quadrature, so a thousandth is all that is promised for any curve
    assert both == pytest.approx(curve.length(), rel=1e-3)
    assert curve.part(0, t).end.distance(curve.point(t)) < 1e-9


@settings(max_examples=30, deadline=None)
@given(style=styles, girth=st.floats(SMALLEST_GIRTH_MM, LARGEST_GIRTH_MM), edge=edges)
def test_every_head_gets_a_sound_cap(style: Style, girth: float, edge: EdgeFinish) -> None:
    line = CapLine(style, made_to_measure(girth), 1, edge, "any")
    draft = draft_style(line, longest_strip_mm=math.inf)
    assert check_draft(draft) == ()
    for part in draft.parts:
        cut, stitch = polygon_of(part.piece.cut), [e.stitch for e in part.piece.edges]
        inside = polygon_of(Path(tuple(s for path in stitch for s in path.segments)))
        assert cut.buffer(0.02).covers(inside)
        for notch in part.piece.notches:
            assert cut.exterior.distance(shapely.Point(notch.at.x, notch.at.y)) < 0.02
            assert notch.depth_mm <= part.piece.edge(notch.edge).allowance_mm / 2.0


@settings(max_examples=20, deadline=None)
@given(
    girth=st.floats(SMALLEST_GIRTH_MM, LARGEST_GIRTH_MM),
    along=st.floats(-2, 8),
    across=st.floats(-2, 8),
    turn=st.sampled_from([0.0, 180.0]),
)
def test_growth_and_motion_keep_a_piece_whole(
    girth: float, along: float, across: float, turn: float
) -> None:
    crown = draft_tie_back(made_to_measure(girth), "hem").piece("crown")
    factors = growth_factor(along), growth_factor(across)
    grown = polygon_of(grown_piece(crown, along=factors[0], across=factors[1]).cut)
    assert grown.area == pytest.approx(
        polygon_of(crown.cut).area * factors[0] * factors[1], rel=1e-3
    )
    moved = moved_polygon(grown, Motion(turn, Vector(333.3, -99.9)))
    assert moved.area == pytest.approx(grown.area, rel=1e-9)


@given(
    radii=st.lists(st.floats(0.9, 1.1), min_size=20, max_size=60),
    size=st.floats(20, 200),
    kerf=st.floats(0.05, 1.0),
)
def test_kerf_out_then_in_gives_the_outline(radii: list[float], size: float, kerf: float) -> None:
    # a wavy disc: bays and points, none narrower than the kerf
    smooth = np.convolve(radii * 3, np.ones(5) / 5, mode="same")[len(radii) : 2 * len(radii)]
    angles = np.linspace(0, 2 * math.pi, len(radii), endpoint=False)
    outline = Polygon(size * np.column_stack((smooth * np.cos(angles), smooth * np.sin(angles))))
    path = waste_side_path(outline, kerf)
    assert path.contains(outline)
    assert path.exterior.distance(outline.exterior) == pytest.approx(kerf / 2, abs=1e-6)
    back = path.buffer(-kerf / 2, join_style="mitre")
    assert back.hausdorff_distance(outline) < 1e-6 * size + 1e-6


rectangles = st.lists(
    st.tuples(st.floats(5, 90), st.floats(5, 90), st.integers(1, 6)), min_size=1, max_size=5
)


@given(sizes=rectangles, gap=st.floats(0, 5), margin=st.floats(0, 4))
def test_rows_are_always_allowed_and_repeat(
    sizes: list[tuple[float, float, int]], gap: float, margin: float
) -> None:
    shapes = tuple(
        Shape(str(n), box(-a / 2, 0, a / 2, b), (0.0, 180.0), count)
        for n, (a, b, count) in enumerate(sizes)
    )
    problem = StripProblem(100.0, gap, margin, shapes)
    layout = nest_in_rows(problem)
    assert layout_faults(problem, layout, tolerance=1e-6) == []
    assert layout == nest_in_rows(problem)
    assert layout.efficiency(problem) <= 1.0 + 1e-9


@given(sizes=rectangles, height=st.integers(1, 5), gap=st.floats(0, 3))
def test_stacks_hold_every_copy_once(
    sizes: list[tuple[float, float, int]], height: int, gap: float
) -> None:
    shapes = tuple(
        Shape(str(n), box(0, 0, a, b), (0.0, 180.0), count) for n, (a, b, count) in enumerate(sizes)
    )
    problem = StripProblem(1000.0, gap, 0.0, shapes)
    stacks = stack_strips(problem, height)
    layout = stacks.unstacked(nest_in_rows(stacks.stacked))
    assert Counter(spot.shape for spot in layout.spots) == {
        n: shape.count for n, shape in enumerate(shapes)
    }
    assert layout_faults(problem, layout, tolerance=1e-6) == []


@given(seed=st.integers(0, 10_000), count=st.integers(1, 40))
@settings(deadline=None)
def test_a_way_visits_everything_once_and_is_no_detour(seed: int, count: int) -> None:
    points = np.random.default_rng(seed).random((count, 2)) * 100
    way = short_way(points, seed=seed, kicks=20)
    assert sorted(way) == list(range(count))
    assert way[0] == 0
    assert way_length(points, way) <= way_length(points, nearest_neighbour_way(points)) + 1e-9
