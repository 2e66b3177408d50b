"""Plain lays at once: allowed by the judge of layouts, whatever is in the way."""

from __future__ import annotations

import random
from unittest.mock import patch

import pytest
import shapely
from shapely.geometry import Polygon, box

from cutfiles.geometry.vector import Point
from cutfiles.lay.bounds import plain_layout, reach_of
from cutfiles.lay.feasible import layout_faults
from cutfiles.lay.problem import NoPlaceError, Obstacle, Register, Shape, StripProblem
from cutfiles.lay.reach import WHOLE_BOXES, Fill
from cutfiles.lay.skyline import skyline_layout


def random_problem(seed: int) -> StripProblem:
    """Shapes of all sorts on a strip with flaws, some on a fold or in register."""
    dice = random.Random(seed)
    shapes = []
    for number in range(dice.randint(1, 5)):
        w, h = dice.uniform(20, 200), dice.uniform(20, 150)
        outline = Polygon([(0, 0), (w, dice.uniform(0, h)), (w, h), (dice.uniform(0, w), h)])
        x0, y0, x1, y1 = outline.bounds
        middle = Point((x0 + x1) / 2, (y0 + y1) / 2)
        register = dice.choice(
            [
                None,
                Register(middle, Point(30.0, 0.0), step_along=70.0),
                Register(middle, Point(30.0, 110.0), step_along=70.0, step_across=45.0),
                Register(Point(middle.x, 0.0), Point(0.0, 0.0), step_across=0.0),
            ]
        )
        turns = (0.0,) if register is not None and register.step_across == 0.0 else (0.0, 180.0)
        shapes.append(Shape(f"s{number}", outline, turns, dice.randint(1, 9), None, register))
    obstacles = []
    for _ in range(dice.randint(0, 4)):
        x, y = dice.uniform(0, 500), dice.uniform(0, 250)
        corners = [(x, y), (x + dice.uniform(10, 90), y + 20), (x + 15, y + dice.uniform(30, 60))]
        obstacles.append(Obstacle(Polygon(corners), 2.0))
    return StripProblem(300.0, 1.0, 0.5, tuple(shapes), tuple(obstacles))


@pytest.mark.parametrize("seed", range(40))
def test_plain_layouts_are_allowed(seed: int) -> None:
    problem = random_problem(seed)
    layout = plain_layout(problem)
    assert layout_faults(problem, layout, tolerance=1e-6) == []
    assert layout == plain_layout(problem)


def test_equal_rectangles_fill_a_grid() -> None:
    # 44 x 36 in yard, squares of 8 in: floor(44/8) floor(36/8) = 20 (quilterscache.com)
    problem = StripProblem(44.0, 0.0, 0.0, (Shape("a", box(0, 0, 8, 8), (0.0,), 20),))
    assert skyline_layout(problem).length == pytest.approx(32.0)


def test_a_notched_skyline_is_filled() -> None:
    # derived: two of 6 x 5 leave a step of 4 x 10 beside one of 10 x 10, all on 20 across
    shapes = (
        Shape("a", box(0, 0, 10, 10), (0.0,), 1),
        Shape("b", box(0, 0, 6, 10), (0.0,), 1),
        Shape("c", box(0, 0, 4, 10), (0.0,), 1),
    )
    assert skyline_layout(StripProblem(20.0, 0.0, 0.0, shapes)).length == pytest.approx(10.0)


def test_bounds_of_known_strips() -> None:
    # derived: triangles of half their box; 4 of them have 4 * 5000 / 200 = 100 mm at 100 %
    corner = Polygon([(0, 0), (100, 0), (0, 100)])
    problem = StripProblem(200.0, 0.0, 0.0, (Shape("t", corner, (0.0,), 4),))
    reach = reach_of(problem, WHOLE_BOXES)
    assert reach.pieces == 4
    assert reach.full_mm == reach.least_mm == pytest.approx(100.0)
    assert reach.boxes_mm == pytest.approx(200.0)
    assert reach.filled_mm == pytest.approx(200.0)
    # half as wide for its neighbours: all four abreast
    assert reach_of(problem, Fill(0.0, 1.0)).filled_mm == pytest.approx(100.0)
    one = reach_of(StripProblem(200.0, 0.0, 1.0, (Shape("t", corner, (0.0,), 1),)), WHOLE_BOXES)
    assert one.least_mm == pytest.approx(102.0)  # no shorter than its longest piece needs


def test_consumption_at_an_efficiency() -> None:
    # derived: 265.5 square inches a cap at 80 % of 44 in take 7.543 in of cloth: consumption is the
    # area over efficiency times width. A box that leaves a fifth of the width free shows it
    across = 0.80 * 44.0
    cap = Shape("cap", box(0, 0, 265.5 / across, across), (0.0,), 1)
    problem = StripProblem(44.0, 0.0, 0.0, (cap,))
    layout = plain_layout(problem)
    assert layout.efficiency(problem) == pytest.approx(0.80)
    assert layout.length == pytest.approx(7.543, abs=5e-4)
    assert reach_of(problem, WHOLE_BOXES).full_mm == pytest.approx(0.80 * 7.543, abs=5e-4)


def test_a_half_on_the_fold_counts_up_to_it() -> None:
    register = Register(Point(0.0, 5.0), Point(0.0, 0.0), step_across=0.0)
    half = Shape("half", box(0, 0, 100, 105), (0.0,), 1, None, register)
    reach = reach_of(StripProblem(200.0, 0.0, 0.0, (half,)), WHOLE_BOXES)
    assert reach.full_mm == pytest.approx(100.0 * 100.0 / 200.0)


def test_a_large_order_is_laid_in_parts() -> None:
    problem = StripProblem(100.0, 0.0, 0.0, (Shape("a", box(0, 0, 10, 10), (0.0,), 40_000),))
    reach = reach_of(problem, WHOLE_BOXES)
    assert reach.full_mm == pytest.approx(40_000.0)
    assert 40_000.0 <= reach.boxes_mm < 1.01 * 40_000.0


def test_no_place_is_said() -> None:
    wide = StripProblem(50.0, 0.0, 0.0, (Shape("a", box(0, 0, 10, 60), (0.0, 180.0), 1),))
    with pytest.raises(NoPlaceError, match="wider than the strip"):
        reach_of(wide, WHOLE_BOXES)


def test_a_box_keeps_the_gap_below_its_neighbour() -> None:
    # derived: 99.4 and 99 mm lie side by side, 1 mm apart, the shorter one first; behind that one
    # 99.4 mm come nearer than 1 mm to the longer one, so that they lie behind both
    shapes = (
        Shape("long", box(0, 0, 300, 99.4), (0.0,), 1),
        Shape("short", box(0, 0, 100, 99), (0.0,), 1),
        Shape("last", box(0, 0, 90, 99.4), (0.0,), 1),
    )
    flaw = Obstacle(box(0, 0, 1, 99.5), 0.0)
    problem = StripProblem(199.9, 1.0, 0.0, shapes, (flaw,))
    assert layout_faults(problem, skyline_layout(problem), tolerance=1e-6) == []


def test_many_flaws_are_hardly_looked_at() -> None:
    # derived: of 200 small flaws, as many as a cloth may have, few lie in the way of any one place;
    # beside each of them a box may begin, and all but a few of those places lie beyond another
    dice = random.Random(0)
    flaws = tuple(
        Obstacle(box(x, y, x + 30, y + 30), 0.5)
        for x, y in ((dice.uniform(0, 6000), dice.uniform(0, 1000)) for _ in range(200))
    )
    shapes = tuple(Shape(f"{s}", box(0, 0, s, s), (0.0,), 4) for s in (60, 90, 120, 200))
    problem = StripProblem(1100.0, 1.0, 0.5, shapes, flaws)
    with patch.object(shapely, "clip_by_rect", wraps=shapely.clip_by_rect) as clip:
        layout = skyline_layout(problem)
    assert clip.call_count < 10 * len(flaws)
    assert layout_faults(problem, layout, tolerance=1e-6) == []


def test_half_a_panel_as_wide_as_folded_cloth() -> None:
    # derived: what runs past the fold is no cloth; three halves of 300 mm lie one behind the other
    fold = Register(Point(0.0, 0.0), Point(0.0, 0.0), step_across=0.0)
    half = Shape("half", box(0, -548, 300, 548), (0.0,), 3, register=fold)
    problem = StripProblem(550.0, 1.0, 0.02, (half,))
    layout = skyline_layout(problem)
    assert layout.length == pytest.approx(902.04)
    assert layout_faults(problem, layout, tolerance=1e-6) == []
    with pytest.raises(NoPlaceError, match="wider than the strip"):
        skyline_layout(StripProblem(547.0, 1.0, 0.02, (half,)))
