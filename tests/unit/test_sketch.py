"""Sketched lays: cells, the places that they take, and how long a sketch is."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely.geometry import MultiPoint, Polygon, box

from cutfiles.geometry.polygons import turned_bounds
from cutfiles.geometry.vector import Point
from cutfiles.lay.bounds import reach_of
from cutfiles.lay.problem import NoPlaceError, Obstacle, Register, Shape, StripProblem
from cutfiles.lay.reach import WHOLE_BOXES
from cutfiles.lay.sketch import sketched_mm
from cutfiles.lay.stencils import Run, grown, stencils_of, taken

STRIDE = 17

_cells = st.sets(st.tuples(st.integers(0, 5), st.integers(0, 7)), min_size=1)


def _runs(cells: set[tuple[int, int]]) -> list[Run]:
    return [Run(column, row, row) for column, row in sorted(cells)]


def _joined(cells: set[tuple[int, int]]) -> list[Run]:
    """As few runs as there can be."""
    runs: list[Run] = []
    for column, row in sorted(cells):
        if runs and runs[-1].column == column and runs[-1].high == row - 1:
            runs[-1] = runs[-1]._replace(high=row)
        else:
            runs.append(Run(column, row, row))
    return runs


@given(_cells, _cells)
def test_places_that_are_taken(one: set[tuple[int, int]], other: set[tuple[int, int]]) -> None:
    # checked cell by cell with sets
    found = taken(grown(_joined(one), STRIDE, 8), _joined(other), STRIDE)
    assert found == taken(grown(_runs(one), STRIDE, 1), _runs(other), STRIDE)
    at = 8 * STRIDE + 8  # far enough on for every place beside it to be one of the strip's
    for along in range(-7, 8):
        for across in range(-8, 9):
            moved = {(column + along, row + across) for column, row in other}
            place = at + along * STRIDE + across
            assert bool(found.at(at) >> place & 1) == bool(one & moved)


@given(st.lists(st.floats(0.3, 1.0), min_size=5, max_size=12), st.floats(3.0, 400.0))
def test_cells_have_the_area_of_their_shape(radii: list[float], size: float) -> None:
    # star-shaped outlines about a middle; half a cell is off at most all round, and of what is
    # smaller than a cell, one
    angles = [2.0 * math.pi * number / len(radii) for number in range(len(radii))]
    outline = Polygon(
        [
            (size * r * math.cos(a), size * r * math.sin(a))
            for r, a in zip(radii, angles, strict=True)
        ]
    )
    problem = StripProblem(1000.0, 0.0, 0.0, (Shape("a", outline, (0.0,), 1),))
    grid, (stencil,) = stencils_of(problem, 1000.0)
    x0, y0, x1, y1 = outline.bounds
    cell = grid.along_mm, grid.across_mm
    assert abs(stencil.along - max(1.0, (x1 - x0) / cell[0])) <= 0.5
    assert abs(stencil.across - max(1.0, (y1 - y0) / cell[1])) <= 0.5
    assert stencil.cells >= 1
    off = abs(stencil.cells * cell[0] * cell[1] - outline.area)
    assert off <= outline.length * max(cell) / 2.0 + cell[0] * cell[1]


def _is_piece(outline: Polygon) -> bool:
    x0, y0, x1, y1 = outline.bounds
    return min(x1 - x0, y1 - y0) >= 50.0 and outline.area > 0.3 * (x1 - x0) * (y1 - y0)


@st.composite
def problems(draw: st.DrawFn) -> StripProblem:
    """Up to four outlines of three to six corners, thin ones, too; the strip as narrow as the
    widest of them needs, or wider; a flaw, or none."""
    place = st.tuples(st.floats(0.0, 400.0), st.floats(0.0, 300.0))
    corners = st.lists(place, min_size=3, max_size=6)
    hulls = [MultiPoint(draw(corners)).convex_hull for _ in range(draw(st.integers(1, 4)))]
    outlines = [hull for hull in hulls if isinstance(hull, Polygon) and _is_piece(hull)]
    assume(outlines)
    turns = st.sampled_from([(0.0,), (0.0, 180.0), (90.0, 270.0)])
    shapes = tuple(
        Shape(f"s{number}", outline, draw(turns), draw(st.integers(1, 5)))
        for number, outline in enumerate(outlines)
    )
    gap, margin = draw(st.floats(0.0, 12.0)), draw(st.floats(0.0, 15.0))
    widest = max(
        y1 - y0
        for shape in shapes
        for _, y0, _, y1 in [turned_bounds(shape.outline, turn) for turn in shape.turns_deg]
    )
    width = (widest + 2.0 * margin) * draw(st.sampled_from([1.0, 1.3, 2.0])) + 1e-9
    flaw = Obstacle(box(150, -5, 190, 40), margin)
    return StripProblem(width, gap, margin, shapes, draw(st.sampled_from([(), (flaw,)])))


@given(problems())
def test_what_can_be_laid_can_be_sketched(problem: StripProblem) -> None:
    # the skyline of whole boxes is a lay that is allowed: no sketch is much longer, and none is
    # shorter than half the area, though cells come out smaller than what they stand for
    try:
        reach = reach_of(problem, WHOLE_BOXES)
    except NoPlaceError:
        return
    length = sketched_mm(problem, 1.2 * reach.boxes_mm, 20)
    assert length is not None
    pieces = sum(shape.count for shape in problem.shapes)
    assert 0.5 * reach.full_mm - 25.0 <= length <= 1.2 * reach.boxes_mm + 40.0 * pieces


def test_turns_that_are_alike_are_one() -> None:
    square = Shape("square", box(0, 0, 100, 100), (0.0, 90.0, 180.0), 1)
    corner = Shape("corner", Polygon([(0, 0), (100, 0), (0, 100)]), (0.0, 180.0), 1)
    _, stencils = stencils_of(StripProblem(500.0, 1.0, 0.0, (square, corner)), 500.0)
    assert [stencil.shape for stencil in stencils] == [0, 1, 1]


@pytest.mark.parametrize(("count", "rows"), [(1, 1), (4, 1), (5, 2), (12, 3)])
def test_equal_rectangles_lie_in_rows(count: int, rows: int) -> None:
    # derived: four of 100 mm with a gap of 1 mm between them go into 403 mm, and no more
    shape = Shape("a", box(0, 0, 200, 100), (0.0,), count)
    length = sketched_mm(StripProblem(403.0, 1.0, 0.0, (shape,)), 1000.0, 10)
    assert length == pytest.approx(rows * 201.0 - 1.0, abs=12.0 * rows)


def test_shapes_go_into_each_others_corners() -> None:
    # derived: two right triangles make a square; one way, two lie no nearer than at half their
    # length
    corner = Polygon([(0, 0), (200, 0), (0, 200)])
    shape = Shape("corner", corner, (0.0, 180.0), 2)
    problem = StripProblem(240.0, 0.0, 0.0, (shape,))
    assert sketched_mm(problem, 2000.0, 50) == pytest.approx(200.0, abs=30.0)
    one_way = replace(problem, shapes=(replace(shape, turns_deg=(0.0,)),))
    length = sketched_mm(one_way, 2000.0, 50)
    assert length is not None
    assert length >= 285.0


def test_a_search_finds_what_no_first_order_does() -> None:
    # derived: 90, 60 and 30 mm fill 180 mm across, and so do 70, 70 and 40: two rows; widest first,
    # 90 and 70, then 70, 60 and 40, there are three
    widths = {30.0: 1, 40.0: 1, 60.0: 1, 70.0: 2, 90.0: 1}
    shapes = (Shape(f"{y}", box(0, 0, 150, y), (0.0,), count) for y, count in widths.items())
    problem = StripProblem(180.0, 0.0, 0.0, tuple(shapes))
    assert sketched_mm(problem, 1500.0, 1) == pytest.approx(450.0, abs=30.0)
    lengths = [sketched_mm(problem, 1500.0, tries) for tries in (100, 100)]
    assert lengths == [pytest.approx(300.0, abs=25.0)] * 2
    assert lengths[0] == lengths[1]


@pytest.mark.parametrize(("step", "length"), [(None, 300.0), (150.0, 400.0), (180.0, 460.0)])
def test_pieces_in_register_go_one_repeat_on(step: float | None, length: float) -> None:
    # derived: five squares of 100 mm, two side by side on 250 mm: three rows, each at the next
    # place that the print gives: at 0, 100, 200; at 0, 150, 300; at 0, 180, 360 mm
    square = Shape("a", box(0, 0, 100, 100), (0.0,), 5)
    if step is not None:
        register = Register(Point(0.0, 0.0), Point(0.0, 0.0), step_along=step)
        square = replace(square, register=register)
    sketched = sketched_mm(StripProblem(250.0, 0.0, 0.0, (square,)), 1000.0, 10)
    assert sketched == pytest.approx(length, abs=25.0)


@pytest.mark.parametrize("step", [0.7, 4.0, 33.0])
def test_places_of_a_repeat_less_than_a_cell(step: float) -> None:
    # derived: nearly as if it were free
    register = Register(Point(0.0, 0.0), Point(0.0, 0.0), step_along=step, step_across=step)
    square = Shape("a", box(0, 0, 100, 100), (0.0,), 5, register=register)
    length = sketched_mm(StripProblem(250.0, 0.0, 0.0, (square,)), 1000.0, 10)
    assert length == pytest.approx(300.0, abs=2.0 * step + 25.0)


@pytest.mark.parametrize("hair", [-1e-13, 0.0, 1e-13])
def test_a_place_at_the_very_edge_is_one(hair: float) -> None:
    # derived: the first place of a repeat is that at 0, whatever rounding makes of it
    register = Register(Point(0.0, 0.0), Point(hair, hair), step_along=400.0, step_across=400.0)
    square = Shape("a", box(0, 0, 100, 100), (0.0,), 1, register=register)
    length = sketched_mm(StripProblem(250.0, 0.0, 0.0, (square,)), 1000.0, 10)
    assert length == pytest.approx(100.0, abs=12.0)


def test_places_across_a_print() -> None:
    # derived: squares of 100 mm at 0, 120 or 240 mm across 350 mm; a row of three, and one more
    register = Register(Point(0.0, 0.0), Point(0.0, 0.0), step_across=120.0)
    square = Shape("a", box(0, 0, 100, 100), (0.0,), 4, register=register)
    sketched = sketched_mm(StripProblem(350.0, 0.0, 0.0, (square,)), 1000.0, 10)
    assert sketched == pytest.approx(200.0, abs=25.0)


def test_halves_lie_on_the_fold() -> None:
    # derived: on the fold they lie one behind the other, however wide the cloth
    register = Register(Point(0.0, 0.0), Point(0.0, 0.0), step_across=0.0)
    half = Shape("half", box(0, -100, 150, 100), (0.0,), 3, register=register)
    sketched = sketched_mm(StripProblem(500.0, 0.0, 0.0, (half,)), 1000.0, 10)
    assert sketched == pytest.approx(450.0, abs=30.0)


def test_flaws_are_kept_clear_of() -> None:
    # derived: a flaw across the strip from 100 to 130 mm, with 10 mm round it: what is 150 mm long
    # begins behind it, and what is 80 mm long goes before it
    flaw = Obstacle(box(100, -10, 130, 310), 10.0)
    for along, length in ((150.0, 290.0), (80.0, 80.0)):
        shape = Shape("a", box(0, 0, along, 250), (0.0,), 1)
        problem = StripProblem(300.0, 1.0, 0.0, (shape,), (flaw,))
        assert sketched_mm(problem, 1000.0, 5) == pytest.approx(length, abs=20.0)


def test_what_has_no_place_has_no_length() -> None:
    shape = Shape("a", box(0, 0, 100, 250), (0.0,), 1)
    with pytest.raises(NoPlaceError, match="a is wider"):
        sketched_mm(StripProblem(240.0, 0.0, 0.0, (shape,)), 1000.0, 5)
    everywhere = Obstacle(box(-10, -10, 2000, 310), 0.0)
    covered = StripProblem(300.0, 0.0, 0.0, (shape,), (everywhere,))
    assert sketched_mm(covered, 1000.0, 5) is None
    assert sketched_mm(replace(covered, obstacles=()), 1000.0, 5) == pytest.approx(100.0, abs=12.0)
