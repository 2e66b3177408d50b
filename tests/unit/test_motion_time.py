"""How long cutting takes: derived figures, and an integration in fine steps of its own."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from shapely.geometry import box

from cutfiles.cuts.motion_time import cutting_legs, move_time_s, pass_time_s, piece_times
from cutfiles.cuts.plan import Frame, Stroke
from cutfiles.cuts.tool_passes import tool_passes
from cutfiles.geometry.bulges import Span, spans_of
from cutfiles.job.machine import Machine, Pace

PACE = Pace(200.0, 200.0, 1000.0, 0.5, corner_mm=0.05, advance_mm_s=100.0)


@pytest.mark.parametrize(("distance", "seconds"), [(300.0, 1.700), (20.0, 0.2828), (40.0, 0.400)])
def test_moves_from_rest_to_rest(distance: float, seconds: float) -> None:
    # derived from the standard motion profile: v = 200 mm/s, a = 1000 mm/s2
    assert move_time_s(distance, 200.0, 1000.0) == pytest.approx(seconds, abs=1e-4)
    straight = [Span((0.0, 0.0), (distance, 0.0))]
    assert pass_time_s(straight, PACE) == pytest.approx(seconds, abs=1e-4)
    # a line in parts is no slower than the whole
    parts = list(spans_of([(distance * k / 7.0, 0.0) for k in range(8)], (), closed=False))
    assert pass_time_s(parts, PACE) == pytest.approx(seconds, abs=1e-4)


@pytest.mark.parametrize(("speed", "seconds"), [(30.0, 53.3), (45.0, 35.6)])
def test_an_outline_through_ten_plies(speed: float, seconds: float) -> None:
    # a 100 W laser cut ten plies of cotton at 30 to 45 mm/s (Tekstilna industrija, January 2024);
    # derived: 1600 mm of outline at that; a round one, so that no corner counts
    radius = 1600.0 / (2.0 * math.pi)
    around = spans_of([(-radius, 0.0), (radius, 0.0)], (1.0, 1.0), closed=True)
    slow = Pace(speed, 300.0, 1000.0, 0.0)
    assert pass_time_s(list(around), slow) == pytest.approx(seconds, abs=0.1)


def test_a_corner_of_a_right_angle() -> None:
    # derived: s = sin 45 degrees, v^2 = 1000 * 0.05 * s / (1 - s) = 120.7, v = 10.99 mm/s; two
    # sides of 100 mm, each from rest or that speed to 200 mm/s: (2 * 200 - 10.99) / 1000 s of
    # ramps over (2 * 200^2 - 120.7) / 2000 mm, the rest at 200 mm/s
    spans = list(spans_of([(0.0, 0.0), (100.0, 0.0), (100.0, 100.0)], (), closed=False))
    corner = 1000.0 * 0.05 * math.sin(math.pi / 4.0) / (1.0 - math.sin(math.pi / 4.0))
    each = (400.0 - math.sqrt(corner)) / 1000.0
    each += (100.0 - (80000.0 - corner) / 2000.0) / 200.0
    assert corner == pytest.approx(120.7, abs=0.1)
    assert pass_time_s(spans, PACE) == pytest.approx(2.0 * each, rel=1e-9)


def test_a_reversal_stops() -> None:
    there_and_back = list(spans_of([(0.0, 0.0), (300.0, 0.0), (0.0, 0.0)], (), closed=False))
    assert pass_time_s(there_and_back, PACE) == pytest.approx(2 * 1.7, abs=1e-4)


def test_a_tight_arc_is_slow() -> None:
    # derived: radius 10 at a = 1000: v = 100 mm/s at most; a half circle between long tangents
    spans = list(
        spans_of(
            [(0.0, 0.0), (200.0, 0.0), (200.0, 20.0), (0.0, 20.0)], (0.0, 1.0, 0.0), closed=False
        )
    )
    side = (400.0 - 100.0) / 1000.0 + (200.0 - (80000.0 - 10000.0) / 2000.0) / 200.0
    assert pass_time_s(spans, PACE) == pytest.approx(2.0 * side + 10.0 * math.pi / 100.0, rel=1e-9)


def integrated_s(line: list[tuple[float, float]], bulges: list[float], pace: Pace) -> float:
    """The same motion in steps of 1/1000 mm: the least time under a limit of speed at every place.

    Limits are set on a grid of places along the line, each corner on its own grid point; a pass
    forward and one back lower them to what the acceleration allows; time is the sum of step over
    mean speed. Nothing of the program is used: centres and directions are found anew.
    """
    step = 0.001
    limits: list[np.ndarray[tuple[int], np.dtype[np.float64]]] = []
    corners: list[tuple[int, float]] = []
    count, came = 0, math.nan
    for (a, b), bulge in zip(itertools.pairwise(line), bulges, strict=True):
        chord = complex(b[0] - a[0], b[1] - a[1])
        sweep = 4.0 * math.atan(bulge)
        radius = abs(chord) / (2.0 * math.sin(abs(sweep) / 2.0)) if bulge else math.inf
        length = radius * abs(sweep) if bulge else abs(chord)
        direction = math.atan2(chord.imag, chord.real) - sweep / 2.0
        if count:
            between = math.pi - abs((direction - came + math.pi) % (2.0 * math.pi) - math.pi)
            s = math.sin(between / 2.0)
            allowed = pace.acceleration_mm_s2 * pace.corner_mm * s / max(1.0 - s, 1e-15)
            corners.append((count, math.sqrt(allowed)))
        came = direction + sweep
        cells = max(1, round(length / step))
        top = min(pace.cut_mm_s, math.sqrt(pace.acceleration_mm_s2 * radius))
        limits.append(np.full(cells, top))
        count += cells
    speeds = np.concatenate([*limits, [0.0]])
    within = speeds.copy()
    within[1:-1] = np.minimum(speeds[:-2], speeds[1:-1])
    for at, most in corners:
        within[at] = min(within[at], most)
    within[0] = 0.0
    squares = (within**2).tolist()
    gain = 2.0 * pace.acceleration_mm_s2 * step
    for k in range(1, len(squares)):
        squares[k] = min(squares[k], squares[k - 1] + gain)
    for k in range(len(squares) - 2, -1, -1):
        squares[k] = min(squares[k], squares[k + 1] + gain)
    found = np.sqrt(squares)
    return float((2.0 * step / (found[1:] + found[:-1])).sum())


LINES: dict[str, tuple[list[tuple[float, float]], list[float]]] = {
    "square": ([(0, 0), (60, 0), (60, 60), (0, 60), (0, 0)], [0.0] * 4),
    "slot": ([(0, 0), (80, 0), (80, 6), (0, 6), (0, 0)], [0.0, 1.0, 0.0, 1.0]),
    "leaf": ([(0, 0), (70, 0), (0, 0)], [0.4, 0.4]),
    "zigzag": ([(4.0 * k, 3.0 * (k % 2)) for k in range(14)], [0.0] * 13),
    "wave": ([(12.0 * k, 0.0) for k in range(9)], [0.3 * (-1) ** k for k in range(8)]),
    "one way and back": ([(0, 0), (35, 0), (5, 1)], [0.0, 0.0]),
}


@pytest.mark.parametrize("name", sorted(LINES))
@pytest.mark.parametrize("pace", [PACE, Pace(100.0, 300.0, 3000.0, 0.1, corner_mm=0.01)])
def test_passes_against_integration_in_fine_steps(name: str, pace: Pace) -> None:
    line, bulges = LINES[name]
    found = pass_time_s(list(spans_of(line, bulges, closed=False)), pace)
    assert found == pytest.approx(integrated_s(line, bulges, pace), rel=0.01)


def test_a_random_outline_against_integration_in_fine_steps() -> None:
    rng = np.random.default_rng(5)
    angles = np.linspace(0.0, 2.0 * math.pi, 60)
    radii = 30.0 + 6.0 * rng.random(60)
    line = [
        (float(r * math.cos(t)), float(r * math.sin(t))) for r, t in zip(radii, angles, strict=True)
    ]
    bulges = rng.uniform(-0.5, 0.5, 59).tolist()
    found = pass_time_s(list(spans_of(line, bulges, closed=False)), PACE)
    assert found == pytest.approx(integrated_s(line, bulges, PACE), rel=0.01)


STROKES = (
    Stroke("stitch", "p", ((0, 0), (999, 999)), closed=False),  # not cut: takes no time
    Stroke("notch", "p", ((300, 0), (300, 20)), closed=False),
    Stroke("notch", "q", ((300, 40), (600, 40)), closed=False),
)
PASSES, _ = tool_passes(
    STROKES,
    Machine("laser", 0.0, None, None),
    box(0, 0, 999, 999),
    0.3,
    lay_name="lay-01",
    left={},
)


def test_the_time_of_a_plan_is_the_sum_of_its_moves() -> None:
    # derived: hop 300, cut 20, hop 20, cut 300, and two starts
    legs = cutting_legs(PASSES, PACE)
    each = 1.7 + 0.2828 + 0.5
    assert sum(leg.total_s for leg in legs) == pytest.approx(2.0 * each, abs=1e-3)
    assert piece_times(PASSES, legs) == pytest.approx({"p": each, "q": each}, abs=1e-3)


def test_the_cloth_is_moved_on_between_frames() -> None:
    # derived: the tool waits at (300, 20) while the cloth moves 300 mm on under it, to (600, 20)
    # of the lay, 3 s at 100 mm/s; then it hops to (300, 40)
    frames = (Frame(0.0, 0), Frame(300.0, 2))
    legs = cutting_legs(PASSES, PACE, frames)
    hop = move_time_s(math.hypot(300.0, 20.0), 200.0, 1000.0)
    pieces = piece_times(PASSES, legs)
    assert pieces["q"] == pytest.approx(hop + 1.7 + 0.5, abs=1e-3)
    assert [leg.advance_s for leg in legs] == pytest.approx([0.0, 3.0])
    assert sum(leg.total_s for leg in legs) == pytest.approx(sum(pieces.values()) + 3.0)
