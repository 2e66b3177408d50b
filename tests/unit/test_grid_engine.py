"""The grid engine, against shapely, exhaustive search and derived bounds."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import event, given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate, translate
from shapely.geometry import Polygon, box

from cutfiles.geometry.vector import Motion, Point, Vector
from cutfiles.lay import depths, free_parts, grid_engine
from cutfiles.lay.depths import DEPTH_STEPS
from cutfiles.lay.free_parts import Room
from cutfiles.lay.grid import Grid
from cutfiles.lay.grid_engine import GridTables, leftmost_layout, nest_on_grid
from cutfiles.lay.nest import nest_strip
from cutfiles.lay.pinned import nest_round
from cutfiles.lay.problem import (
    Obstacle,
    Register,
    Shape,
    Spot,
    StripLayout,
    StripProblem,
    Watch,
)
from tests.unit.test_sections import DISK, HALF_TURNS, HOOK, LENS, order

INCH = 25.4


def outlines_by_shapely(problem: StripProblem, layout: StripLayout) -> list[Polygon]:
    """The pieces where a layout puts them, by shapely's own motions."""
    return [
        translate(
            rotate(problem.shapes[s.shape].outline, s.motion.turn_deg, origin=(0, 0)),
            s.motion.shift.x,
            s.motion.shift.y,
        )
        for s in layout.spots
    ]


def assert_allowed(problem: StripProblem, layout: StripLayout) -> None:
    """Every rule of a strip, judged without the engine's own geometry or `feasible`."""
    tolerance = 0.01
    placed = outlines_by_shapely(problem, layout)
    assert sorted(s.shape for s in layout.spots) == [
        k for k, shape in enumerate(problem.shapes) for _ in range(shape.count)
    ]
    for spot, outline in zip(layout.spots, placed, strict=True):
        shape = problem.shapes[spot.shape]
        assert spot.motion.turn_deg in shape.turns_deg
        x0, y0, x1, y1 = outline.bounds
        assert x0 >= problem.margin - tolerance
        assert x1 <= layout.length - problem.margin + tolerance
        assert y1 <= problem.width - problem.margin + tolerance
        if shape.register is None or shape.register.step_across != 0.0:
            assert y0 >= problem.margin - tolerance
        if shape.register is not None:
            turned = rotate(
                shapely.Point(shape.register.point.x, shape.register.point.y),
                spot.motion.turn_deg,
                origin=(0, 0),
            )
            for at, first, step in (
                (turned.x + spot.motion.shift.x, shape.register.first.x, shape.register.step_along),
                (
                    turned.y + spot.motion.shift.y,
                    shape.register.first.y,
                    shape.register.step_across,
                ),
            ):
                if step is not None:
                    off = at - first
                    assert abs(off - (round(off / step) * step if step else 0.0)) <= tolerance
        for obstacle in problem.obstacles:
            if obstacle.clearance > tolerance:
                assert outline.distance(obstacle.outline) >= obstacle.clearance - tolerance
            else:
                assert outline.intersection(obstacle.outline).area <= tolerance * outline.length
    for one, other in itertools.combinations(placed, 2):
        assert one.distance(other) >= problem.gap - tolerance


def tables_of(problem: StripProblem) -> GridTables:
    return GridTables(problem, Room(problem))


@pytest.fixture(scope="module")
def tables() -> GridTables:
    return tables_of(order(3))


def test_the_tables_say_who_overlaps(tables: GridTables) -> None:
    # reference: shapely, which places and measures every pair by itself
    grid, problem = tables.grid, tables.problem
    depths, blocks = tables.exact.depths, tables.exact.blocks
    chance = np.random.default_rng(1)
    for _ in range(400):
        a, b = chance.integers(len(grid.kinds), size=2)
        dx, dy = chance.integers(-40, 41, size=2)
        one, other = (
            rotate(problem.shapes[k].search_outline, turn, origin=(0, 0))
            for k, turn in (grid.kinds[a], grid.kinds[b])
        )
        shift = grid.origins[b] - grid.origins[a] + grid.steps * (dx, dy)
        distance = one.distance(translate(other, *shift))
        start, along, across, first_x, first_y = blocks[a, b]
        inside = 0 <= dx - first_x < along and 0 <= dy - first_y < across
        depth = depths[start + (dx - first_x) * across + dy - first_y] if inside else 0
        if depth == 0:
            assert distance >= problem.gap
        else:
            assert distance <= 1.03 * problem.gap
            # moved apart by the depth, some way, they are clear
            reach = 1.001 * depth / DEPTH_STEPS * float(grid.steps.min())
            ways = 2.0 * np.pi * np.arange(180) / 180.0
            clear = [
                one.distance(
                    translate(other, shift[0] + reach * np.cos(w), shift[1] + reach * np.sin(w))
                )
                for w in ways
            ]
            assert max(clear) >= 0.97 * problem.gap


def test_the_leftmost_lay_is_allowed(tables: GridTables) -> None:
    layout = leftmost_layout(tables)
    assert layout is not None
    assert_allowed(tables.problem, layout)


def test_the_search_repeats_by_seed_and_rounds(tables: GridTables) -> None:
    one, same, other = (
        nest_on_grid(tables, seed=seed, watch=Watch(60.0), rounds=12) for seed in (3, 3, 4)
    )
    assert one is not None
    assert one == same
    assert one != other
    assert_allowed(tables.problem, one)


def test_the_search_beats_its_start(tables: GridTables) -> None:
    start = leftmost_layout(tables)
    found = nest_on_grid(tables, seed=1, watch=Watch(60.0), rounds=15)
    assert start is not None
    assert found is not None
    assert found.length < start.length


def test_a_long_enough_strip_ends_the_search(tables: GridTables) -> None:
    start = leftmost_layout(tables)
    assert start is not None
    heard: list[StripLayout] = []

    def improved(layout: StripLayout, _left: float) -> None:
        heard.append(layout)

    watch = Watch(60.0, enough_length=start.length, improved=improved)
    found = nest_on_grid(tables, seed=1, watch=watch, rounds=500)
    assert found is not None
    # it ended with the first lay that was short enough, long before its rounds were used up
    assert [layout.length <= start.length for layout in heard] == [True]


def shortest_of_rectangles(sizes: list[tuple[int, int]], width: int) -> int:
    """The shortest strip for whole rectangles that may turn, by trying every corner point.

    Rectangles of whole sides have a shortest packing at whole coordinates (derived: push
    everything to the left and down).
    """
    best = sum(max(size) for size in sizes)

    def place(left: list[tuple[int, int]], taken: set[tuple[int, int]], length: int) -> None:
        nonlocal best
        if length >= best:
            return
        if not left:
            best = length
            return
        (a, b), rest = left[0], left[1:]
        for along, across in {(a, b), (b, a)}:
            for x in range(best - along):
                for y in range(width - across + 1):
                    cells = {(x + i, y + j) for i in range(along) for j in range(across)}
                    if not cells & taken:
                        place(rest, taken | cells, max(length, x + along))

    place(sizes, set(), 0)
    return best


TINY_ORDERS = pytest.mark.parametrize(
    ("sizes", "width"),
    [
        ([(2, 3), (3, 1), (2, 2)], 4),
        ([(1, 4), (3, 2), (2, 2), (1, 1)], 4),
        ([(5, 2), (2, 3), (3, 1)], 5),
        ([(2, 1), (2, 1), (3, 2), (1, 2), (1, 1)], 3),
    ],
)


def tiny_order(sizes: list[tuple[int, int]], width: int) -> tuple[StripProblem, float]:
    """Rectangles that may turn, and the shortest strip for them (reference: exhaustive search)."""
    shapes = tuple(
        Shape(str(k), box(0, 0, 100 * a, 100 * b), (0.0, 90.0), 1) for k, (a, b) in enumerate(sizes)
    )
    best = 100.0 * shortest_of_rectangles(sizes, width)
    return StripProblem(100.0 * width, 0.0, 0.0, shapes), best


@TINY_ORDERS
def test_tiny_orders_are_nested_as_short_as_can_be(
    sizes: list[tuple[int, int]], width: int
) -> None:
    problem, best = tiny_order(sizes, width)
    watch = Watch(60.0, enough_length=best + 0.05)
    # by rounds, which do not depend on how busy the machine is
    layout = nest_on_grid(GridTables(problem, Room(problem)), seed=1, watch=watch, rounds=100)
    assert layout is not None
    assert layout.length == pytest.approx(best, abs=0.05)


@pytest.mark.usefixtures("searches_side_by_side")
def test_all_engines_together_nest_a_tiny_order() -> None:
    problem, best = tiny_order([(2, 1), (2, 1), (3, 2), (1, 2), (1, 1)], 3)
    layout = nest_strip(problem, seed=1, watch=Watch(30.0, enough_length=best + 0.05))
    assert layout.length == pytest.approx(best, abs=0.05)


def ruler_blocks(crown_turns: tuple[float, ...]) -> StripProblem:
    """Five caps as blocks on 40 in of cloth: bands 6 1/2 x 23 in, the long side across, and
    crowns of 8 x 10 in, the 10 in side along in turn 0."""
    return StripProblem(
        40.0 * INCH,
        0.0,
        0.0,
        (
            Shape("band", box(0, 0, 6.5 * INCH, 23 * INCH), (0.0,), 5),
            Shape("crown", box(0, 0, 10 * INCH, 8 * INCH), crown_turns, 5),
        ),
    )


@pytest.mark.usefixtures("searches_side_by_side")
@pytest.mark.parametrize(("turns", "fits"), [((90.0,), False), ((0.0,), True), ((0.0, 90.0), True)])
def test_the_grain_decides_whether_five_caps_fit_a_yard(
    turns: tuple[float, ...], fits: bool
) -> None:
    # derived: five bands in a row take 32.5 in and leave 17 in beside them. A crown of 10 in
    # across leaves no room for a second one there, so at most four lie beside the bands in 36 in
    # of length; with 8 in across two rows of them do.
    problem = ruler_blocks(turns)
    yard = 36.0 * INCH + 0.05
    layout = nest_strip(problem, seed=1, watch=Watch(30.0 if fits else 1.5, enough_length=yard))
    assert (layout.length <= yard) == fits


SHAPES = {"disk": DISK, "lens": LENS, "hook": HOOK, "tie": box(0, 0, 110, 14)}


@st.composite
def hindered_problems(draw: st.DrawFn) -> StripProblem:
    """Orders with flaws in the way, some pieces in register, some on the fold."""
    names = draw(st.lists(st.sampled_from(sorted(SHAPES)), min_size=1, max_size=3, unique=True))
    shapes = []
    for name in names:
        kept = draw(st.sampled_from(["free", "free", "along", "both", "fold"]))
        outline = SHAPES[name]
        turns: tuple[float, ...] = HALF_TURNS
        register = None
        if kept == "fold":
            x0, y0, x1, _ = outline.bounds
            halves = shapely.get_parts(shapely.intersection(outline, box(x0, y0 + 7, x1, 999)))
            outline = Polygon(max(halves, key=lambda part: float(part.area)).exterior)
            low = Point(outline.bounds[0], outline.bounds[1])
            turns, register = (0.0,), Register(low, Point(0.0, 0.0), None, 0.0)
        elif kept != "free":
            across = 70.0 if kept == "both" else None
            register = Register(Point(5.0, 3.0), Point(11.0, 17.0), 90.0, across)
        shapes.append(Shape(name, outline, turns, draw(st.integers(1, 4)), register=register))
    flaws = draw(
        st.lists(
            st.tuples(st.floats(0, 500), st.floats(0, 400), st.floats(1, 80), st.floats(1, 80)),
            max_size=3,
        )
    )
    obstacles = tuple(Obstacle(box(x, y, x + a, y + b), 0.1) for x, y, a, b in flaws)
    return StripProblem(400.0, 1.2, 0.1, tuple(shapes), obstacles)


@given(problem=hindered_problems(), seed=st.integers(1, 99))
@settings(max_examples=25)
def test_whatever_is_in_the_way_the_lay_is_allowed(problem: StripProblem, seed: int) -> None:
    tables = tables_of(problem)
    plain = leftmost_layout(tables)
    assert plain is not None
    assert_allowed(problem, plain)
    # a search of few rounds need not find a lay
    found = nest_on_grid(tables, seed=seed, watch=Watch(60.0), rounds=6)
    event("found" if found else "not found")
    if found is not None:
        assert_allowed(problem, found)


def test_pieces_keep_out_of_a_wall_across_the_strip() -> None:
    wall = Obstacle(box(150, 0, 170, 400), 0.1)
    problem = replace(order(5), obstacles=(wall,))
    layout = nest_strip(problem, seed=1, watch=Watch(0.6))
    assert_allowed(problem, layout)
    # derived: before the wall there is room for 60,000 mm2, and the pieces have more
    assert problem.area > 150.0 * 400.0
    assert any(o.bounds[0] > 170 for o in outlines_by_shapely(problem, layout))


@pytest.mark.usefixtures("searches_side_by_side")
@pytest.mark.slow
def test_a_large_order_round_flaws_is_allowed() -> None:
    flaws = tuple(Obstacle(box(x, y, x + 25, y + 40), 0.1) for x, y in ((200, 150), (900, 300)))
    problem = replace(order(24), obstacles=flaws)
    layout = nest_strip(problem, seed=1, watch=Watch(3.0))
    assert_allowed(problem, layout)
    plain = leftmost_layout(tables_of(problem))
    assert plain is not None
    assert layout.length < plain.length


def test_differing_steps_of_registers_are_refused() -> None:
    shapes = tuple(
        Shape(str(step), DISK, HALF_TURNS, 1, register=Register(Point(0, 0), Point(0, 0), step))
        for step in (90.0, 100.0)
    )
    with pytest.raises(ValueError, match="one step along it"):
        Grid(StripProblem(400.0, 1.2, 0.1, shapes))


def test_what_is_pinned_stays_and_the_rest_goes_round_it() -> None:
    problem = order(2)
    disk = Spot(0, Motion(0.0, Vector(200.0, 200.0)))
    band = Spot(1, Motion(180.0, Vector(90.0, 120.0)))
    layout = nest_round(problem, (disk, band), seed=1, watch=Watch(0.6))
    assert layout.spots[:2] == (disk, band)
    assert_allowed(problem, layout)


def test_all_pinned_is_a_lay() -> None:
    found = nest_strip(order(1), seed=1, watch=Watch(0.5))
    layout = nest_round(order(1), found.spots, seed=1, watch=Watch(0.5))
    assert layout.spots == found.spots
    assert layout.length == pytest.approx(found.length, abs=0.01)


@pytest.mark.parametrize(
    ("pinned", "words"),
    [
        ([(0, 0.0, 60.0, 60.0), (1, 0.0, 60.0, 100.0)], "nearer than the gap"),
        ([(0, 0.0, 10.0, 200.0)], "not inside the strip"),
        ([(0, 90.0, 200.0, 200.0)], "not allowed"),
        ([(0, 0.0, 60.0, 60.0), (0, 0.0, 160.0, 60.0)], "more are pinned"),
        ([(7, 0.0, 60.0, 60.0)], "no shapes"),
    ],
)
def test_pinned_pieces_that_break_a_rule_are_refused(
    pinned: list[tuple[int, float, float, float]], words: str
) -> None:
    spots = [Spot(shape, Motion(turn, Vector(x, y))) for shape, turn, x, y in pinned]
    with pytest.raises(ValueError, match=words):
        nest_round(order(1), spots, seed=1, watch=Watch(0.5))


def test_compiling_the_engine_runs_all_that_a_search_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    run: set[str] = set()

    def heard(name: str, wrapped: Callable[..., Any]) -> Callable[..., Any]:
        def hear(*arguments: Any) -> Any:
            run.add(name)
            return wrapped(*arguments)

        return hear

    compiled = {
        "leftmost": grid_engine,
        "untangle": grid_engine,
        "cut_out": free_parts,
        "depths_inside": depths,
    }
    for name, module in compiled.items():
        monkeypatch.setattr(module, name, heard(name, getattr(module, name)))
    depths.depths_between.cache_clear()
    grid_engine.compile_engine.__wrapped__()
    assert run == set(compiled)
