"""The passes of a round blade, what it cuts beyond corners, and what it cannot do."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from cutfiles.cuts.plan import Stroke
from cutfiles.cuts.rotary_blade import cuts_into_others, overshoots, rotary_passes, runs_of, work_on
from cutfiles.cuts.tool_findings import blade_findings
from cutfiles.job.job import Cloth
from cutfiles.job.machine import Machine, RotaryBlade
from cutfiles.lay.table import CLOSE, spacing_for

BLADE = RotaryBlade(28.0, 0.5, 1.0)
STACK = 2.5


def polygon(*corners: tuple[float, float], role: str = "outline", name: str = "p") -> Stroke:
    assert role in ("outline", "inner")
    return Stroke("outline" if role == "outline" else "inner", name, corners, closed=True)


SQUARE = polygon((0, 0), (100, 0), (100, 60), (0, 60))


def test_the_axle_stops_short_of_every_corner() -> None:
    # derived: sqrt(28 x 0.5 - 0.25) = 3.708 mm at r = 14
    passes = rotary_passes(0, SQUARE, BLADE, STACK)
    assert [one.length_mm() for one in passes] == pytest.approx(
        [100 - 2 * 3.708, 60 - 2 * 3.708] * 2, abs=2e-3
    )
    assert passes[0].points[0] == pytest.approx((3.708, 0.0), abs=1e-3)


def test_the_top_is_cut_beyond_every_corner() -> None:
    # derived: 8.660 mm at 3.0 mm of depth, less the 3.708 at 0.5
    over = list(overshoots(SQUARE, BLADE, STACK))
    assert len(over) == 8
    assert [line.length for line in over] == pytest.approx([4.952] * 8, abs=1e-3)
    assert all(line.intersection(Polygon(SQUARE.points).buffer(-1e-6)).is_empty for line in over)


@settings(max_examples=60)
@given(
    st.lists(st.floats(12.0, 120.0), min_size=3, max_size=9),
    st.floats(10.0, 60.0),
    st.floats(0.2, 2.0),
    st.integers(1, 8),
)
def test_the_lowest_ply_is_cut_to_the_corners_and_no_further(
    rays: list[float], diameter: float, depth: float, plies: int
) -> None:
    # an independent blade: a disc's chord at the height of a ply, laid along every pass
    blade, stack = RotaryBlade(diameter, depth, 1.0), 0.3 * plies
    corners = [
        (r * math.cos(2 * math.pi * k / len(rays)), r * math.sin(2 * math.pi * k / len(rays)))
        for k, r in enumerate(rays)
    ]
    stroke = polygon(*corners)
    if not Polygon(corners).is_valid:
        return
    half = math.sqrt((diameter / 2) ** 2 - (diameter / 2 - depth) ** 2)
    runs = runs_of(stroke, blade, stack)
    for run, one in zip(runs, rotary_passes(0, stroke, blade, stack), strict=True):
        (x0, y0), (x1, y1) = run[0].start, run[-1].end
        length = math.dist((x0, y0), (x1, y1))
        if len(run) > 1 or length < 2.0 * half + 0.1:
            continue
        way = np.array([x1 - x0, y1 - y0]) / length
        first, last = np.array(one.points[0]) - half * way, np.array(one.points[-1]) + half * way
        assert first == pytest.approx((x0, y0), abs=1e-6)
        assert last == pytest.approx((x1, y1), abs=1e-6)


def test_a_side_shorter_than_the_blade_cuts_is_one_plunge() -> None:
    strip = polygon((0, 0), (100, 0), (100, 5), (0, 5))
    passes = rotary_passes(0, strip, BLADE, STACK)
    assert passes[1].points == ((100.0, 2.5), (100.0, 2.5))
    assert work_on(strip, BLADE, STACK).short_runs == 2
    # derived: half of the 8.660 is cut from the middle, and 2.5 mm are the side's
    lengths = sorted(line.length for line in overshoots(strip, BLADE, STACK))
    assert lengths[-1] == pytest.approx(8.660 - 2.5, abs=1e-3)


def test_a_smooth_line_is_one_pass() -> None:
    circle = Stroke("outline", "p", ((-60.0, 0.0), (60.0, 0.0)), closed=True, bulges=(1.0, 1.0))
    (one,) = rotary_passes(0, circle, BLADE, STACK)
    assert one.length_mm() == pytest.approx(2 * math.pi * 60)
    assert list(overshoots(circle, BLADE, STACK)) == []


@pytest.mark.parametrize("flattened", [False, True])
def test_the_tightest_curve_is_found(*, flattened: bool) -> None:
    circle = Stroke("outline", "p", ((-30.0, 0.0), (30.0, 0.0)), closed=True, bulges=(1.0, 1.0))
    if flattened:
        ring = [(x, y) for x, y in Point(0, 0).buffer(30.0, quad_segs=64).exterior.coords[:-1]]
        circle = polygon(*ring)
    assert work_on(circle, BLADE, STACK).tightest_mm == pytest.approx(30.0, rel=1e-4)
    # derived: within 1 mm of scrub R >= 38.0 at 3.0 mm of depth
    (finding,) = blade_findings([circle], BLADE, STACK, "job.toml")
    assert finding.code == "blade-curve"
    assert "radius of 30.0 mm" in finding.text
    assert "38.0 mm" in finding.text
    assert list(blade_findings([circle], BLADE, 0.3, "job.toml")) == []


def test_a_single_corner_is_no_tight_curve() -> None:
    # derived: a circle of 60 mm about the middle, drawn out to a tip where its two tangents meet at
    # a right angle; the blade is lifted there and follows 60 mm everywhere else
    ring = [270.0 / 90 * k + 45.0 for k in range(91)]
    arc = [(60 * math.cos(math.radians(a)), 60 * math.sin(math.radians(a))) for a in ring]
    drop = polygon((60 * math.sqrt(2.0), 0.0), *arc)
    work = work_on(drop, BLADE, STACK)
    assert work.tightest_mm == pytest.approx(60.0, rel=1e-2)
    assert work.short_runs == 0
    (one,) = rotary_passes(0, drop, BLADE, STACK)
    # derived: both tangents of 60 mm and three quarters round, less 3.708 mm at both ends
    assert one.length_mm() == pytest.approx(120 + 1.5 * math.pi * 60 - 2 * 3.708, abs=0.1)


def test_what_is_cut_into_the_piece_at_inner_corners_is_said() -> None:
    bay = polygon((0, 0), (100, 0), (100, 60), (70, 60), (70, 30), (30, 30), (30, 60), (0, 60))
    (finding,) = blade_findings([bay], BLADE, STACK, "job.toml: crown")
    assert finding.code == "blade-overshoot"
    # derived: 4.952, less a twentieth of a millimetre that passes for rounding
    assert "up to 4.9 mm into the piece" in finding.text
    assert "use a smaller blade, fewer plies, or another tool" in finding.text


def test_a_cut_out_in_which_the_blade_has_no_room_is_refused() -> None:
    small = polygon((0, 0), (15, 0), (15, 40), (0, 40), role="inner")
    (finding,) = blade_findings([small], BLADE, STACK, "job.toml")
    assert (finding.code, finding.severity) == ("blade", "error")
    assert "15.0 mm by 40.0 mm is too small for a blade that cuts 17.3 mm" in finding.text
    large = polygon((0, 0), (40, 0), (40, 40), (0, 40), role="inner")
    assert [f.code for f in blade_findings([large], BLADE, STACK, "j")] == ["blade-overshoot"]


@pytest.mark.parametrize(("gap", "deep"), [(5.0, None), (3.0, 1.9)])
def test_whether_a_gap_is_wide_enough(gap: float, deep: float | None) -> None:
    # derived: 4.952 mm beyond the corner of one, less 0.05 mm that passes for rounding
    other = polygon(
        *((x + 100 + gap, y - 30) for x, y in ((0, 0), (80, 0), (80, 120), (0, 120))), name="q"
    )
    found = {pair[:2]: pair[2] for pair in cuts_into_others([SQUARE, other], BLADE, STACK)}
    if deep is None:
        assert found == {}
    else:
        assert found["p", "q"] == pytest.approx(deep, abs=0.01)
        assert ("q", "p") not in found


def test_the_gap_of_a_lay_is_wide_enough() -> None:
    cloth = Cloth("c", 1000.0, 0.0, None, False, 10, 0.0, 0.0, "cotton", thickness_mm=0.25)
    blade = Machine("rotary blade", 0.0, None, None)
    assert spacing_for(cloth, blade).clearance_mm == pytest.approx(4.952, abs=1e-3)
    assert spacing_for(cloth, Machine("laser", 0.2, None, None)) == CLOSE
