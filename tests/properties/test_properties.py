"""Properties that hold for all inputs, by Hypothesis."""

from __future__ import annotations

import math
import random
from collections import Counter
from typing import get_args

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from cutfiles.geometry.affine import Affine
from cutfiles.geometry.kerf import waste_side_path
from cutfiles.geometry.path import Path
from cutfiles.geometry.polygons import moved_polygon, polygon_of
from cutfiles.geometry.segments import Arc, Cubic, Segment
from cutfiles.geometry.vector import Motion, Point, Vector
from cutfiles.job.job import CapLine, EdgeFinish, Style
from cutfiles.job.sizes import LARGEST_GIRTH_MM, SMALLEST_GIRTH_MM, made_to_measure
from cutfiles.lay.bundles import Bundling, bundled
from cutfiles.lay.feasible import layout_faults
from cutfiles.lay.problem import Shape, StripProblem
from cutfiles.lay.rows import nest_in_rows
from cutfiles.pieces.chain import chained
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


@settings(max_examples=30)
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


@settings(max_examples=20)
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
    stacks = bundled(problem, Bundling(height=height))
    layout = stacks.unstacked(nest_in_rows(stacks.stacked))
    assert Counter(spot.shape for spot in layout.spots) == {
        n: shape.count for n, shape in enumerate(shapes)
    }
    assert layout_faults(problem, layout, tolerance=1e-6) == []


def pieces_of_a_ring(corners: int, at: Point, radius: float) -> list[Path]:
    """The sides of a regular polygon, each a line of its own."""
    spots = [at + Vector.at_angle(360.0 * k / corners) * radius for k in range(corners)]
    return [Path.through((spots[k - 1], spots[k])) for k in range(corners)]


@given(
    rings=st.lists(st.integers(3, 9), min_size=1, max_size=4),
    loose=st.lists(st.tuples(coordinate, coordinate), max_size=4),
    shuffle=st.randoms(use_true_random=False),
    gap=st.floats(0.0, 0.5),
)
def test_a_far_loose_edge_never_removes_a_loop(
    rings: list[int], loose: list[tuple[float, float]], shuffle: random.Random, gap: float
) -> None:
    lines: list[Path] = []
    for number, corners in enumerate(rings):
        lines.extend(pieces_of_a_ring(corners, Point(1000.0 * number, 0.0), 100.0))
    for number, (x, y) in enumerate(loose):
        # far off, and far from one another
        start = Point(x + 2000.0 * number, 5000.0 + y)
        lines.append(Path.through((start, start + Vector(50.0, 20.0))))
    turned = [path.reversed() if shuffle.random() < 0.5 else path for path in lines]
    shuffle.shuffle(turned)
    found = chained(turned, gap_mm=gap)
    assert len(found.loops) == len(rings)
    assert len(found.loose) == len(loose)
    assert sorted(len(loop.segments) for loop in found.loops) == sorted(rings)
    assert found.gaps == ()
    assert found.duplicates == ()


numbers = st.floats(-3.0, 3.0)


@given(
    entries=st.tuples(*[numbers] * 6),
    arc=st.builds(Arc, places, st.floats(1, 100), st.floats(-360, 360), st.floats(1, 360)),
    t=st.floats(0, 1),
)
def test_an_affine_map_takes_every_point_along(
    entries: tuple[float, ...], arc: Arc, t: float
) -> None:
    to = Affine(*entries)
    image: tuple[Segment, ...] = to.segment(arc)
    share = t * len(image)
    k = min(int(share), len(image) - 1)
    # along the curve, a cubic's parameter keeps pace with the angle to within 3e-4
    there, exact = image[k].point(share - k), to.point(arc.point(t))
    assert there.distance(exact) < 3e-4 * arc.radius_mm * 6.0
    # across it, as stated, it is within 4e-7 of the half-axis: taken back, of the radius
    if abs(to.determinant) > 0.1:
        x, y = there.x - to.e, there.y - to.f
        back_x = (to.d * x - to.c * y) / to.determinant
        back_y = (to.a * y - to.b * x) / to.determinant
        off = arc.centre.distance(Point(back_x, back_y)) - arc.radius_mm
        assert abs(off) < 4e-7 * arc.radius_mm + 1e-9
    assert image[0].start.distance(to.point(arc.start)) < 1e-8
    assert image[-1].end.distance(to.point(arc.end)) < 1e-8
    back = Affine.mirror(arc.centre, Vector(entries[0], 1.0))
    assert back.point(back.point(exact)).distance(exact) < 1e-8
