"""Edges that two pieces share: strips in blocks, cut once between two of them by every tool."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate
from shapely.geometry import LineString, Polygon, box

from cutfiles.cuts.plan import CutPlan, Frame, Stroke
from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.cuts.shared_edges import left_to_cut, with_parts
from cutfiles.cuts.stretch import region_of
from cutfiles.geometry.bulges import flattened
from cutfiles.geometry.vector import Vector
from cutfiles.job.machine import DEFAULT_FITTINGS, DragKnife, Laser, Machine, Tabs
from cutfiles.lay.edge_to_edge import share_a_side
from cutfiles.lay.feasible import layout_faults
from cutfiles.lay.lay import Lay
from cutfiles.lay.nest import nest_strip
from cutfiles.lay.problem import Shape, StripProblem, Watch, placed_outlines
from cutfiles.verdict.expected import expected_of
from cutfiles.verdict.neighbours import judge_neighbours
from tests.small_lay import LAYERS, small_lay, tie_backs
from tests.unit.tampering import codes
from tests.unit.test_drag_knife import in_steps, trail

TRIANGLE = Polygon([(0, 0), (200, 0), (120, 180)])
MACHINES = {
    "laser": Machine("laser", 0.2, None, None, shares_edges=True),
    "drag knife": Machine("drag knife", 0.0, None, None, shares_edges=True),
    "rotary blade": Machine("rotary blade", 0.0, None, None, shares_edges=True),
}


@pytest.fixture(scope="module", params=list(MACHINES))
def machine(request: pytest.FixtureRequest) -> Machine:
    return MACHINES[str(request.param)]


@pytest.fixture(scope="module")
def lay(machine: Machine) -> Lay:
    """Four tie-back caps, with eight equal ties."""
    return small_lay(tie_backs(4), machine=machine)


@pytest.fixture(scope="module")
def plan(lay: Lay, machine: Machine) -> CutPlan:
    return cut_plan(lay, machine, seed=1)


def outlines_of(plan: CutPlan) -> list[LineString]:
    found = []
    for stroke in plan.strokes:
        if stroke.role == "outline":
            line = flattened(stroke.points, stroke.bulges, closed=True, tolerance_mm=0.002)
            found.append(LineString(line))
    return found


def union_length_mm(lines: list[LineString]) -> float:
    """What is there once of some lines that may run along each other: shapely's union, on a grid of
    0.1 micrometre."""
    return float(shapely.union_all(lines, grid_size=1e-4).length)


@given(
    long=st.floats(100, 900),
    wide=st.floats(20, 90),
    count=st.integers(1, 20),
    tall=st.booleans(),
)
@settings(max_examples=30)
def test_strips_lie_edge_to_edge(long: float, wide: float, count: int, tall: bool) -> None:
    strip = box(0, 0, wide, long) if tall else box(0, 0, long, wide)
    shapes = (Shape("tie", strip, (0.0, 180.0), count), Shape("crown", TRIANGLE, (0.0,), 3))
    problem = StripProblem(1000.0, 1.0, 0.01, shapes, edge_to_edge=True)
    layout = nest_strip(problem, seed=1, watch=Watch(0.0))
    assert layout_faults(problem, layout, tolerance=0.01) == []
    ties = [
        outline
        for spot, outline in zip(layout.spots, placed_outlines(problem, layout), strict=True)
        if spot.shape == 0
    ]
    assert len(ties) == count
    # derived: a block of h strips has h - 1 shared sides; long ones where it gets no longer along
    # the strip than across it, else short ones, and no more strips than there is room for across
    by_long = not tall or long >= 2.0 * wide
    most = min(6, int(long // wide)) if tall and by_long else 6 if by_long else int(999.98 // long)
    blocks = math.ceil(count / min(count, most, 6))
    shared_mm = len(ties) * 2.0 * (long + wide) - union_length_mm([t.exterior for t in ties])
    assert shared_mm == pytest.approx((count - blocks) * (long if by_long else wide), abs=0.01)


def test_strips_are_apart_where_nobody_asked() -> None:
    shapes = (Shape("tie", box(0, 0, 300, 40), (0.0,), 6),)
    problem = StripProblem(1000.0, 1.0, 0.01, shapes)
    layout = nest_strip(problem, seed=1, watch=Watch(0.0))
    outlines = placed_outlines(problem, layout)
    for k, one in enumerate(outlines):
        assert all(one.distance(other) >= 0.99 for other in outlines[:k])
    # what lies edge to edge is a fault then
    blocks = replace(problem, edge_to_edge=True)
    together = nest_strip(blocks, seed=1, watch=Watch(0.0))
    assert any("nearer than the gap" in f for f in layout_faults(problem, together, tolerance=0.01))


def test_a_block_with_no_room_is_nested_one_by_one() -> None:
    # three strips of 40 mm across 100 mm of room: two beside each other, no more
    shapes = (Shape("tie", box(0, 0, 300, 40), (0.0,), 3),)
    problem = StripProblem(100.0, 1.0, 0.01, shapes, edge_to_edge=True)
    layout = nest_strip(problem, seed=1, watch=Watch(0.0))
    assert layout_faults(problem, layout, tolerance=0.01) == []
    assert layout.length == pytest.approx(601.0, abs=0.1)


@pytest.mark.parametrize(
    ("other", "shares"),
    [
        (box(0, 40, 300, 80), True),
        (box(0, 40.005, 300, 80.005), True),
        (box(0, 40.02, 300, 80.02), False),
        (box(0, 0, 300, 40), False),  # the same place
        (box(0, 0, 300, 80), False),  # over it, with a side in common
        (box(0, 40, 300, 90), False),  # another size
        (box(10, 40, 310, 80), False),  # beside half of it
        (box(300, 40, 600, 80), False),  # at a corner
        (Polygon([(0, 40), (300, 40), (150, 120)]), False),
    ],
)
def test_what_shares_a_side(other: Polygon, shares: bool) -> None:
    assert share_a_side(box(0, 0, 300, 40), other, 0.01) is shares


def test_each_shared_edge_is_cut_once(plan: CutPlan) -> None:
    outlines = outlines_of(plan)
    once = union_length_mm(outlines)
    assert plan.shared_mm > 1000.0
    assert sum(line.length for line in outlines) - once == pytest.approx(plan.shared_mm, abs=0.5)
    apart = sum(stroke.length_mm() for stroke in plan.strokes if stroke.role == "notch")
    notches = apart if plan.passes and any(cut.role == "notch" for cut in plan.passes) else 0.0
    assert plan.cut_length_mm == pytest.approx(once + notches, abs=0.5)
    # no two passes run along each other, but for what ways in, overlaps and overruns add
    lines = [LineString(flattened(c.points, c.bulges, closed=False, tolerance_mm=0.002))
             for c in plan.passes if c.role == "outline" and len(c.points) > 1]  # fmt: skip
    for k, one in enumerate(lines):
        for other in lines[:k]:
            assert one.buffer(0.6).intersection(other).length < 20.0


def test_every_outline_is_made_by_some_pass(plan: CutPlan, machine: Machine) -> None:
    made = shapely.MultiLineString(
        [
            flattened(cut.points, cut.bulges, closed=False, tolerance_mm=0.002)
            for cut in plan.passes
            if len(cut.points) > 1
        ]
    )
    tool = machine.tool
    # the edge trails the pivot, and a round blade cuts before and behind its axle
    reach = {"laser": 0.01, "drag knife": 0.6}.get(machine.kind)
    if reach is None:
        assert not isinstance(tool, Laser | DragKnife)
        reach = tool.reach_mm(0.0) + 0.05
    for line in outlines_of(plan):
        assert shapely.covers(made.buffer(reach), line)


def test_the_files_are_sound_and_the_judge_knows_why(
    lay: Lay, plan: CutPlan, machine: Machine, tmp_path: Path
) -> None:
    expected = expected_of(lay, machine, LAYERS)
    assert codes(plan, expected, tmp_path) == set()
    assert codes(plan, replace(expected, shares_edges=False), tmp_path) == {"too-close"}


def test_a_strip_moved_off_its_edge_is_found(lay: Lay, machine: Machine, tmp_path: Path) -> None:
    ties = [placed for placed in lay.placed if placed.ordered.name == "tie"]
    moved = replace(
        ties[0], motion=replace(ties[0].motion, shift=ties[0].motion.shift + Vector(0.0, 0.4))
    )
    tampered = replace(lay, placed=tuple(moved if p is ties[0] else p for p in lay.placed))
    found = codes(
        cut_plan(tampered, machine, seed=1), expected_of(tampered, machine, LAYERS), tmp_path
    )
    assert found & {"too-close", "overlap"}


@pytest.mark.parametrize("turn_deg", [0.0, 90.0, 31.0])
@pytest.mark.parametrize(
    ("other", "said"),
    [
        (box(0, 30, 900, 60), set()),
        (box(0, -30, 900, 0), set()),
        (box(900, 0, 1800, 30), set()),
        (box(0.01, 30.01, 900.01, 60.01), set()),
        (box(0, 29.95, 900, 59.95), {"overlap"}),
        (box(899.95, 0, 1799.95, 30), {"overlap"}),
        (box(0, 30.05, 900, 60.05), {"too-close"}),
        (box(900.05, 0, 1800.05, 30), {"too-close"}),
        (box(0.05, 30, 900.05, 60), {"too-close"}),
        (box(0, 30, 900, 60.05), {"too-close"}),
        (box(0, 30, 899.9, 60), {"too-close"}),
        (box(900, 30, 1800, 60), {"too-close"}),
        (box(0, 0, 900, 30), {"overlap"}),
        (Polygon([(0, 30), (900, 30), (900, 60), (450, 59.9), (0, 60)]), {"too-close"}),
    ],
)
def test_the_judge_lets_only_whole_sides_be_shared(
    other: Polygon, said: set[str], turn_deg: float
) -> None:
    # derived: a lay is 0.01 mm off at most, and each outline 0.005 mm as read
    found = set()
    strips = [rotate(strip, turn_deg, origin=(0, 0)) for strip in (box(0, 0, 900, 30), other)]
    judge_neighbours(strips, 0.8, lambda code, _: found.add(code), shared=True)
    assert found == said


def test_the_edge_of_a_drag_knife_stays_on_shared_outlines() -> None:
    knife = MACHINES["drag knife"]
    plan = cut_plan(small_lay(tie_backs(4), machine=knife), knife, seed=1)
    tool = knife.tool
    assert isinstance(tool, DragKnife)
    left = left_to_cut(plan.strokes, ())
    drawn = shapely.union_all(outlines_of(plan))
    tried = 0
    for cut in plan.passes:
        if cut.stroke not in left:
            continue
        pivot = in_steps(list(cut.spans), 0.02)
        first = cut.spans[0].directions_rad[0]
        tip = (
            float(pivot[0, 0] - tool.offset_mm * math.cos(first)),
            float(pivot[0, 1] - tool.offset_mm * math.sin(first)),
        )
        edge = trail(pivot, tool.offset_mm, tip)
        assert shapely.distance(drawn, shapely.points(edge)).max() < 0.02
        tried += 1
    assert tried


def square(name: str, x: float, y: float) -> Stroke:
    corners = ((x, y), (x + 50, y), (x + 50, y + 50), (x, y + 50))
    return Stroke("outline", name, corners, closed=True)


@given(order=st.permutations(range(9)))
@settings(max_examples=25)
def test_a_grid_of_squares_is_cut_once_in_any_order(order: list[int]) -> None:
    squares = [square(f"p{k}", 50.0 * (k % 3), 50.0 * (k // 3)) for k in range(9)]
    strokes = [squares[k] for k in order]
    left = left_to_cut(strokes, (Frame(0.0, 0),))
    lines = [line for _, line in with_parts(strokes, left)]
    # derived: four lines of 150 mm each way
    assert sum(line.length_mm() for line in lines) == pytest.approx(8 * 150.0)
    runs = [LineString([*s.points, s.points[0]] if s.closed else s.points) for s in lines]
    assert union_length_mm(runs) == pytest.approx(8 * 150.0)
    assert all(part.points for parts in left.values() for part in parts)


def test_the_middle_square_may_have_nothing_left() -> None:
    squares = [square(f"p{k}", 50.0 * (k % 3), 50.0 * (k // 3)) for k in range(9)]
    left = left_to_cut([s for k, s in enumerate(squares) if k != 4] + [squares[4]], ())
    assert left[8] == ()


def test_an_edge_of_another_frame_is_cut_again() -> None:
    strokes = [square("p", 0.0, 0.0), square("q", 50.0, 0.0)]
    assert set(left_to_cut(strokes, (Frame(0.0, 0),))) == {1}
    assert left_to_cut(strokes, (Frame(0.0, 0), Frame(50.0, 1))) == {}


def test_parts_follow_each_other_by_their_nearest_ends() -> None:
    strokes = [square(f"p{k}", 0.0, 50.0 * k) for k in range(4)]
    left = left_to_cut(strokes, ())
    lines = [part for k in (1, 2, 3) for part in left[k]]
    assert [len(line.points) for line in lines] == [4, 4, 4]
    hops = [math.dist(one.end, two.points[0]) for one, two in pairwise(lines)]
    assert hops == pytest.approx([50.0, 50.0])


def test_tabs_hold_what_is_left_of_an_outline() -> None:
    # derived: each bridge leaves its width, and the kerf eats half of itself at both its ends
    fittings = replace(
        DEFAULT_FITTINGS["laser"], tool=Laser(lead_in_mm=3.0, overlap_mm=0.2, tabs=Tabs(2, 0.8))
    )
    laser = replace(MACHINES["laser"], own=fittings)
    plan = cut_plan(small_lay(tie_backs(4), machine=laser), laser, seed=1)
    left = left_to_cut(plan.strokes, ())
    assert left
    for number, parts in left.items():
        longest = max(part.length_mm() for part in parts)
        cut = sum(c.length_mm() for c in plan.passes if c.stroke == number)
        whole = sum(part.length_mm() for part in parts)
        assert cut == pytest.approx(whole - 2 * (0.8 + 0.2), abs=1e-6), longest


def test_pieces_have_their_size(lay: Lay, plan: CutPlan, machine: Machine) -> None:
    # derived: the tool's path goes half a kerf outside each piece, on a shared edge outside both
    for stroke in plan.strokes:
        if stroke.role == "outline":
            placed = next(p for p in lay.placed if p.ordered.id == stroke.piece_id)
            piece = region_of(stroke).buffer(-machine.kerf_mm / 2.0, join_style="mitre")
            assert piece.area == pytest.approx(placed.outline.area, rel=2e-4)
    assert np.isfinite(plan.time_s)
