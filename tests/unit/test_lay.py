"""Nesting a strip, against published counts, derived bounds and the judge of layouts."""

from __future__ import annotations

import math
import os
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from typing import Any

import pytest
import shapely
from shapely.geometry import Polygon, box

from cutfiles.geometry.vector import Motion, Vector
from cutfiles.job.job import CapLine, Cloth, Job
from cutfiles.job.machine import Machine
from cutfiles.job.sizes import size_named
from cutfiles.lay.arrange import strip_problem
from cutfiles.lay.bundles import Bundling, bundled
from cutfiles.lay.feasible import close_pairs, layout_faults
from cutfiles.lay.lay import guard_of
from cutfiles.lay.nest import nest_strip
from cutfiles.lay.problem import Shape, Spot, StripLayout, StripProblem, Watch
from cutfiles.lay.rows import nest_in_rows
from cutfiles.lay.strip_engine import nest_on_strip
from cutfiles.pieces.cut_list import cut_list

INCH = 25.4
YARD = 36 * INCH


def blocks(
    *rows: tuple[str, float, float, int], turns: tuple[float, ...] = (0.0, 180.0)
) -> tuple[Shape, ...]:
    return tuple(Shape(name, box(0, 0, a, b), turns, count) for name, a, b, count in rows)


@pytest.mark.parametrize(
    ("square_in", "count"),
    [
        # quilterscache.com: squares from one yard, 44 x 36 in usable (grid, exact). Its 7 in
        # row is a misprint and left out.
        (1, 1584), (1.5, 696), (2, 396), (2.5, 238), (3, 168), (3.5, 120), (4, 99), (4.5, 72),
        (5, 56), (6, 42), (6.5, 30), (8, 20), (9, 16), (10, 12), (12, 9),
    ],
)  # fmt: skip
def test_squares_from_a_yard(square_in: float, count: int) -> None:
    side = square_in * INCH
    problem = StripProblem(44 * INCH, 0.0, 0.0, blocks(("square", side, side, count)))
    layout = nest_strip(problem, seed=1, watch=Watch(0.0))
    assert layout.length <= YARD + 1e-6
    assert layout_faults(problem, layout, tolerance=1e-6) == []
    one_more = StripProblem(44 * INCH, 0.0, 0.0, blocks(("square", side, side, count + 1)))
    assert nest_in_rows(one_more).length > YARD


@pytest.mark.parametrize(
    ("square_in", "count"),
    [
        # quilterscache.com: squares from an 18 x 22 in fat quarter (grid, exact)
        (2, 99), (2.5, 56), (3, 42), (3.5, 30), (4, 20), (4.5, 16), (5, 12), (5.5, 12), (6, 9),
    ],
)  # fmt: skip
def test_squares_from_a_fat_quarter(square_in: float, count: int) -> None:
    side = square_in * INCH
    problem = StripProblem(22 * INCH, 0.0, 0.0, blocks(("square", side, side, count)))
    layout = nest_strip(problem, seed=1, watch=Watch(0.0))
    assert layout.length <= 18 * INCH + 1e-6
    assert layout_faults(problem, layout, tolerance=1e-6) == []


@pytest.mark.usefixtures("searches_side_by_side")
def test_five_caps_of_ruler_blocks_from_a_yard() -> None:
    # common practice, no source: one yard of 44-45 in cloth gives five caps with ties, as blocks
    # of 6 1/2 x 23 in and 8 x 10 in and ten strips of 1 1/2 x 12 in
    shapes = blocks(
        ("band", 6.5 * INCH, 23 * INCH, 5),
        ("crown", 10 * INCH, 8 * INCH, 5),
        ("tie", 12 * INCH, 1.5 * INCH, 10),
    )
    problem = StripProblem(43 * INCH, 0.0, 0.0, shapes)
    layout = nest_strip(problem, seed=1, watch=Watch(4.0, enough_length=YARD))
    assert layout_faults(problem, layout, tolerance=0.01) == []
    assert layout.length <= YARD


@pytest.mark.usefixtures("searches_side_by_side")
@pytest.mark.parametrize("style_turns", [(0.0, 180.0), (0.0,)], ids=["plain", "one way"])
def test_six_caps_with_ties_from_a_yard(style_turns: tuple[float, ...]) -> None:
    # common practice, no source: a ruler gets five caps with ties out of one yard of 44 in cloth
    cloth = Cloth("cotton", 44 * INCH, 0.5 * INCH, None, len(style_turns) == 1, 1, 0, 0, "cotton")
    caps = (CapLine("tie-back", size_named("M"), 6, "hem", "cotton"),)
    job = Job("yard", "yard", "mm", (cloth,), caps, Machine("laser", 0.2, None, None))
    problem = strip_problem(cut_list(job, cloth).caps, cloth, job.machine)
    assert {shape.turns_deg for shape in problem.shapes} == {style_turns}
    layout = nest_strip(problem, seed=1, watch=Watch(30.0, enough_length=YARD))
    assert layout_faults(problem, layout, tolerance=0.01) == []
    assert Counter(spot.shape for spot in layout.spots) == {0: 6, 1: 6, 2: 12}
    assert layout.length <= YARD


def test_equal_discs_never_beat_the_hexagonal_packing() -> None:
    # derived: pi / (2 sqrt 3) = 0.9069; a square grid gives pi / 4 = 0.7854
    disc = shapely.Point(0, 0).buffer(100.0, quad_segs=16)
    problem = StripProblem(1000.0, 0.0, 0.0, (Shape("disc", disc, (0.0,), 40),))
    layout = nest_strip(problem, seed=1, watch=Watch(1.0))
    assert layout_faults(problem, layout, tolerance=0.01) == []
    assert math.pi / 4 * 0.98 < layout.efficiency(problem) < math.pi / (2 * math.sqrt(3))


def test_a_shape_wider_than_the_strip_is_refused() -> None:
    with pytest.raises(ValueError, match="band is wider than the strip"):
        nest_in_rows(StripProblem(100.0, 0.0, 0.0, blocks(("band", 10, 101, 1))))


def test_rows_take_the_better_turn() -> None:
    problem = StripProblem(100.0, 0.0, 0.0, blocks(("tie", 90, 10, 3), turns=(0.0, 90.0)))
    layout = nest_in_rows(problem)
    assert layout.length == pytest.approx(30.0)
    assert layout_faults(problem, layout, tolerance=1e-9) == []


def test_the_judge_of_layouts_sees_every_fault() -> None:
    problem = StripProblem(100.0, 2.0, 1.0, blocks(("a", 10, 10, 2)))

    def layout(*spots: tuple[float, float, float], length: float = 30.0) -> StripLayout:
        return StripLayout(
            tuple(Spot(0, Motion(turn, Vector(x, y))) for turn, x, y in spots), length, "test"
        )

    good = layout((0, 1, 1), (0, 13, 1))
    assert layout_faults(problem, good, tolerance=0.01) == []
    bad = {
        "1 placed, 2 asked": layout((0, 1, 1)),
        "turned by 90": layout((0, 1, 1), (90, 23, 1)),
        "not inside": layout((0, 0.5, 1), (0, 13, 1)),
        "nearer than the gap": layout((0, 1, 1), (0, 12, 1)),
        "margins": layout((0, 1, 1), (0, 13, 1), length=23.0),
    }
    for reason, wrong in bad.items():
        faults = layout_faults(problem, wrong, tolerance=0.01)
        assert any(reason in fault for fault in faults), (reason, faults)


def test_touching_is_allowed_without_a_gap_and_overlap_is_not() -> None:
    touching = [box(0, 0, 10, 10), box(10, 0, 20, 10)]
    assert close_pairs(touching, 0.0) == []
    assert close_pairs([box(0, 0, 10, 10), box(9.9, 0, 20, 10)], -0.01) == [(0, 1)]
    assert close_pairs([box(0, 0, 10, 10), box(9.995, 0, 20, 10)], -0.01) == []


def test_a_stop_keeps_the_best_so_far() -> None:
    stop = threading.Event()
    problem = StripProblem(100.0, 0.5, 0.5, blocks(("a", 13, 7, 20), ("b", 9, 21, 12)))
    watch = Watch(60.0, stop=stop.is_set, improved=lambda _layout, _left: stop.set())
    started = time.monotonic()
    layout = nest_on_strip(problem, seed=1, workers=1, watch=watch)
    assert time.monotonic() - started < 10.0
    assert layout is not None
    assert layout_faults(problem, layout, tolerance=0.01) == []


@pytest.mark.usefixtures("searches_side_by_side")
def test_a_crash_of_the_solver_leaves_a_plain_lay(monkeypatch: pytest.MonkeyPatch) -> None:
    real = subprocess.Popen
    started: list[list[str]] = []

    def dying(command: list[str], **options: Any) -> subprocess.Popen[bytes]:
        started.append(command)
        code = "import os, signal; os.kill(os.getpid(), signal.SIGSEGV)"
        process: subprocess.Popen[bytes] = real([sys.executable, "-c", code], **options)
        return process

    monkeypatch.setattr(subprocess, "Popen", dying)
    # of so many kinds, in half a second, the grid engine's tables alone would take too long
    many = tuple((f"block {k}", 13.0 + k, 7.0, 1) for k in range(20))
    problem = StripProblem(100.0, 0.5, 0.5, blocks(*many))
    layout = nest_strip(problem, seed=1, watch=Watch(0.5))
    assert len(started) == 2
    assert layout.engine in {"rows", "skyline"}
    assert layout_faults(problem, layout, tolerance=0.01) == []


def test_the_solver_ends_with_the_program_that_started_it() -> None:
    child = subprocess.Popen(
        [sys.executable, "-m", "cutfiles.lay.strip_worker"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    assert child.stdin is not None
    request = (
        b'{"width": 100, "gap": 0, "seconds": 60, "seed": 1, "workers": 1, "shapes": '
        b'[{"points": [[0,0],[9,0],[0,9]], "turns": [0, 180], "count": 30}]}\n'
    )
    child.stdin.write(request)
    child.stdin.flush()
    child.stdin.close()
    assert child.wait(timeout=20) == 0
    assert child.stdout is not None
    child.stdout.close()


def test_stacks_of_strips_stand_for_the_same_strips() -> None:
    problem = StripProblem(500.0, 1.0, 1.0, blocks(("tie", 300, 38, 10), ("block", 50, 60, 2)))
    stacked = bundled(problem, Bundling(height=4))
    assert [(s.name, s.count) for s in stacked.stacked.shapes] == [
        ("4 x tie", 2), ("tie", 2), ("block", 2),
    ]  # fmt: skip
    layout = nest_in_rows(stacked.stacked)
    turned = StripLayout(
        tuple(
            Spot(
                s.shape,
                Motion(
                    180.0,
                    s.motion.shift + Vector(*stacked.stacked.shapes[s.shape].outline.bounds[2:]),
                ),
            )
            for s in layout.spots
        ),
        layout.length,
        layout.engine,
    )
    for variant in (layout, turned):
        assert layout_faults(problem, stacked.unstacked(variant), tolerance=1e-9) == []
    assert bundled(problem, Bundling(height=1)).stacked == problem


def test_a_guard_contains_its_outline_with_fewer_points() -> None:
    wavy = Polygon(
        [
            ((100 + 8 * math.sin(5 * a)) * math.cos(a), (100 + 8 * math.sin(5 * a)) * math.sin(a))
            for a in (2 * math.pi * k / 400 for k in range(400))
        ]
    )
    guard = guard_of(wavy)
    assert guard.covers(wavy)
    assert len(guard.exterior.coords) < 100
    assert guard.hausdorff_distance(wavy) < 0.8
    square = box(0, 0, 1, 1)
    assert guard_of(square) is square


def test_interrupting_the_terminal_does_not_reach_the_solver() -> None:
    """Ctrl-C goes to the whole process group of a terminal; the solver must be in another."""
    problem = StripProblem(100.0, 0.5, 0.5, blocks(("a", 13, 7, 20)))
    groups: list[int] = []

    def stop() -> bool:
        children = subprocess.run(
            ["pgrep", "-P", str(os.getpid()), "-f", "strip_worker"],
            capture_output=True,
            text=True,
            check=False,
        ).stdout.split()
        groups.extend(os.getpgid(int(pid)) for pid in children)
        return bool(groups)

    nest_on_strip(problem, seed=1, workers=1, watch=Watch(10.0, stop=stop))
    assert groups
    assert os.getpgid(0) not in groups
    assert signal.getsignal(signal.SIGINT) is not None
