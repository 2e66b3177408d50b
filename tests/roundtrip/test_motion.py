"""Motion code: what is written is replayed, and what any program holds is understood or told."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutfiles.cuts.plan import CutPlan, Pass
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.motion import motion_bytes
from cutfiles.job.machine import DEFAULT_FITTINGS, Laser, Machine
from cutfiles.lay.lay import Lay
from cutfiles.verdict import tool_run
from cutfiles.verdict.drawing import ReadDrawing
from cutfiles.verdict.expected import ExpectedLay, expected_of
from cutfiles.verdict.judge_tool import (
    judge_against_drawing,
    judge_passes,
    judge_room,
    judge_tool_alone,
)
from cutfiles.verdict.read_dxf import read_dxf
from cutfiles.verdict.read_motion import CUT, TRAVEL, read_motion
from cutfiles.verdict.tool_run import ToolRun
from tests.small_lay import LAYERS, planned, small_lay, tie_backs

SLANT = math.sqrt(0.5)
HEAD = "G21 G90\nF600\n"
BARE = replace(DEFAULT_FITTINGS["laser"], tool=Laser(lead_in_mm=0.0, overlap_mm=0.0))
LASER = Machine("laser", 0.2, None, None, BARE)
"""Without ways in, so that its way is the drawn lines."""


def replayed(program: str | bytes, folder: Path) -> ReadDrawing:
    path = folder / "a.nc"
    path.write_bytes(program.encode() if isinstance(program, str) else program)
    return read_motion(path)


def run_of(program: str | bytes, folder: Path) -> ToolRun:
    replayed(program, folder)
    return tool_run.replayed(folder / "a.nc")


def cut_of(program: str, folder: Path) -> shapely.LineString:
    """The only stroke of a sound program's body."""
    drawing = replayed(f"{HEAD}{program}\nM30\n", folder)
    assert drawing.findings == ()
    (line,) = drawing.on(CUT)
    return shapely.LineString(line.points)


def written(*passes: Pass) -> bytes:
    plan = CutPlan("lay-01", 900.0, 1200.0, (), (), 0.0, 0.0, 0.0, passes=passes)
    return motion_bytes(plan, title="(Näh) 100% cotton!?~", feed_mm_min=6000, cautions=("Look.",))


def test_a_quarter_of_a_circle(tmp_path: Path) -> None:
    # derived: from (0, 0) round (10, 0), radius 10, clockwise to (10, 10): a quarter, 10 pi / 2
    run = cut_of("G0 X0 Y0\nM3\nG2 X10 Y10 I10 J0\nM5", tmp_path)
    assert run.length == pytest.approx(15.708, abs=1e-3)
    middle = run.interpolate(0.5, normalized=True)
    away = 10.0 * SLANT
    assert (middle.x, middle.y) == pytest.approx((10.0 - away, away), abs=1e-3)


@pytest.mark.parametrize(
    ("block", "length", "middle"),
    [
        # derived, all from (0, 0): how long the line is, and where its middle lies
        ("G3 X10 Y10 I0 J10", 5 * math.pi, (10 * SLANT, 10 - 10 * SLANT)),
        ("G2 X10 Y10 R10", 5 * math.pi, (10 - 10 * SLANT, 10 * SLANT)),
        ("G3 X10 Y10 R10", 5 * math.pi, (10 * SLANT, 10 - 10 * SLANT)),
        ("G3 X10 Y10 R-10", 15 * math.pi, (10 + 10 * SLANT, -10 * SLANT)),
        ("G2 X20 Y0 R10", 10 * math.pi, (10.0, 10.0)),
        ("G3 X0 Y0 I10", 20 * math.pi, (20.0, 0.0)),
        ("G2 I0 J-5", 10 * math.pi, (0.0, -10.0)),
        ("G1 X3 Y4", 5.0, (1.5, 2.0)),
        ("G70 G1 X1", 25.4, (12.7, 0.0)),
        ("G20 G2 X1 Y1 I1", 25.4 * math.pi / 2, (25.4 * (1 - SLANT), 25.4 * SLANT)),
        ("g01x 3 y+4.0", 5.0, (1.5, 2.0)),
        ("N20 G1 (to the right) X10 ; and stop", 10.0, (5.0, 0.0)),
        ("G1\nX10", 10.0, (5.0, 0.0)),
        ("G1 X2\nX6", 6.0, (3.0, 0.0)),
        ("G91 G1 X2\nX6", 8.0, (4.0, 0.0)),
        ("G4 P.5\nG1 X-8.", 8.0, (-4.0, 0.0)),
    ],
)  # fmt: skip
def test_what_a_block_draws(
    block: str, length: float, middle: tuple[float, float], tmp_path: Path
) -> None:
    run = cut_of(f"G0 X0 Y0\nM3\n{block}\nM5", tmp_path)
    assert run.length == pytest.approx(length, rel=2e-4)
    there = run.interpolate(0.5, normalized=True)
    assert (there.x, there.y) == pytest.approx(middle, abs=2e-3)


@pytest.mark.parametrize(
    ("program", "code", "words"),
    [
        ("", "unreadable", "is no motion code"),
        (b"\x7fELF\x00\x01\x02", "unreadable", "is no motion code"),
        (HEAD + "G0 X0 Y0\nM3\nG1 X9\n", "truncated", "line 5: breaks off before its end"),
        (HEAD + "G0 X0\nM3\nG1 X9\nM5\nG0 X0", "truncated", "no M30 or M2"),
        (HEAD + "G0 X0\nM3\nG0 X9\nM5\nM30", "tool-on", "line 5: G0: the tool is on"),
        (HEAD + "G0 X0\nM3\nG1 X9\nM30", "tool-on", "line 6: the tool is still on"),
        (HEAD + "G0 X0\nM3\nG1 X9\nM0\nM5\nM30", "tool-on", "line 6: the tool is still on"),
        (HEAD + "M3\nG1 X9\nM5\nM30", "tool-on", "line 3: M3: the tool goes on before"),
        (HEAD + "G0 X5\nM3\nM5\nM30", "no-cut", "at (5.0, 0.0) and cuts not"),
        (HEAD + "G0 X0 Y0\nM3\nG2 X10 Y10 I10.006\nM5\nM30", "arc", "by 0.0060 mm"),
        (HEAD + "G0 X0 Y0\nM3\nG2 X10 Y10 R5\nM5\nM30", "arc", "R5 is less than half"),
        (HEAD + "G0 X0 Y0\nM3\nG2 X0 Y0 R5\nM5\nM30", "arc", "a whole circle"),
        (HEAD + "G0 X0 Y0\nG2 X1 Y0\nM30", "arc", "needs its centre"),
        (HEAD + "G0 X0 Y0\nG2 X1 Y0 I.5 R1\nM30", "arc", "and one only"),
        (HEAD + "G0 X0 Y0\nG1 X1 I.5\nM30", "arc", "I, J and R go with G2 and G3"),
        (HEAD + "G0 X0 Y0\nG2 I0 J0\nM30", "arc", "its centre is where it starts"),
        (HEAD + "G0 X0 Y0 Z5\nM30", "unknown-word", "line 3: Z5 is no word"),
        (HEAD + "G28 X0\nM30", "unknown-word", "G28 is no word"),
        (HEAD + "M98 \nM30", "unknown-word", "M98 is no word"),
        (HEAD + "/G0 X0\nM30", "unknown-word", "'/' is no word"),
        (HEAD + "G1 X1e5\nM30", "unknown-word", "E5 is no word"),
        (HEAD + "#1=5\nM30", "unknown-word", "is no word that is known here"),
        (HEAD + "G0 X1 X2\nM30", "twice", "another X"),
        (HEAD + "G0 G1 X2\nM30", "twice", "G1: there is G0 before"),
        (HEAD + "M3 M5\nM30", "twice", "on and off in one line"),
        (HEAD + "G4 X2\nM30", "dwell", "G4 and P go together"),
        (HEAD + "X5\nM30", "no-motion", "no G0, G1, G2 or G3"),
        (HEAD + "G0 X99999999\nM30", "far", "further than 1 km"),
        (HEAD + "(open\nM30", "comment", "not closed"),
        (HEAD + "(a (b) c)\nM30", "comment", "another inside"),
        (HEAD + "M30\nG0 X1", "after-end", "line 4: there is more"),
        ("G90\nG0 X1\nM30", "no-unit", "the unit (G21)"),
        ("G21 G90\nG1 X1\nM30", "feed", "no feed"),
        ("G21 G90\nF0\nM30", "feed", "must be more than 0"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_with_its_line(
    program: str | bytes, code: str, words: str, tmp_path: Path
) -> None:
    drawing = replayed(program, tmp_path)
    assert code in {finding.code for finding in drawing.findings}
    assert words in " ".join(finding.text for finding in drawing.findings)
    assert all(f.severity == "error" for f in drawing.findings)


def test_a_file_full_of_faults_is_told_in_few(tmp_path: Path) -> None:
    found = replayed(HEAD + "G99\n" * 5000, tmp_path).findings
    assert len(found) == 21
    assert found[-1].text.endswith("there is more that is wrong, which is not told")


def test_a_tape_and_its_stops_are_replayed(tmp_path: Path) -> None:
    program = f"%\n{HEAD}G0 X1 Y1\nM3\nG1 X9\nM5\nM0\nG0 X5 Y5\nM3 G1 Y7\nG1 Y8 M5\nM2\n%\n"
    drawing = replayed(program, tmp_path)
    assert drawing.findings == ()
    assert [line.layer for line in drawing.lines] == [TRAVEL, CUT, TRAVEL, CUT]


numbers = st.integers(0, 10_000_000).map(lambda n: n / 10_000)  # the written decimals
places = st.lists(st.tuples(numbers, numbers), min_size=2, max_size=12, unique=True)
bulges = st.floats(-3.0, 3.0).map(lambda b: b if abs(b) > 1e-6 else 0.0)


@settings(max_examples=60)
@given(data=st.data(), lines=st.lists(places, min_size=1, max_size=4))
def test_what_is_written_is_replayed(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject,
    lines: list[list[tuple[float, float]]],
) -> None:  # fmt: skip
    passes = tuple(
        Pass(
            number, "outline", f"piece-{number}", tuple(line),
            tuple(data.draw(st.lists(bulges, min_size=len(line) - 1, max_size=len(line) - 1))),
        )
        for number, line in enumerate(lines)
    )  # fmt: skip
    run = run_of(written(*passes), tmp_path_factory.mktemp("motion"))
    assert judge_passes(run, passes) == ()


@settings(max_examples=80)
@given(
    chord=st.floats(2e-4, 0.05), turn=st.floats(0.0, math.tau), bulge=st.floats(-3.0, 3.0),
    x=st.floats(0.0, 900.0), y=st.floats(0.0, 900.0),
)  # fmt: skip
def test_a_short_arc_never_becomes_a_circle(
    tmp_path_factory: pytest.TempPathFactory,
    chord: float, turn: float, bulge: float, x: float, y: float,
) -> None:  # fmt: skip
    end = (x + chord * math.cos(turn), y + chord * math.sin(turn))
    cut = Pass(0, "inner", "p", ((x, y), end, (x, y + 5.0)), (bulge, 0.0))
    drawing = replayed(written(cut), tmp_path_factory.mktemp("short"))
    assert drawing.findings == ()
    (line,) = drawing.on(CUT)
    # derived: the pass is as long as its spans; roundings and one chord for a tiny arc apart
    assert shapely.LineString(line.points).length == pytest.approx(cut.length_mm(), abs=2e-3)


def test_large_circles_are_written_as_chords(tmp_path: Path) -> None:
    cut = Pass(0, "outline", "p", ((0.0, 0.0), (800.0, 0.0)), (0.005,))
    assert cut.spans[0].radius_mm > 10_000
    program = written(cut)
    assert b"G3" not in program
    assert judge_passes(run_of(program, tmp_path), (cut,)) == ()


def test_comments_hold_nothing_that_a_controller_acts_on() -> None:
    program = written(Pass(0, "outline", "päne(l) 1", ((0.0, 0.0), (5.0, 0.0)))).decode("ascii")
    assert program.startswith("(Look.)\n(Run it with the tool off first")
    assert "(_Nah_ 100_ cotton___: lay-01, 1200.0 mm along, 900.0 mm across," in program
    assert "passes:)\n(1.)" in program
    assert "(1: outline of pane_l_ 1)" in program
    assert not set("%!?~") & set(program)
    assert max(map(len, program.splitlines())) <= 80
    assert written() == written()


@pytest.fixture(scope="module")
def lay() -> Lay:
    return small_lay(tie_backs(1), machine=LASER)


@pytest.fixture(scope="module")
def plan(lay: Lay) -> CutPlan:
    return planned(lay, LASER)


@pytest.fixture(scope="module")
def expected(lay: Lay) -> ExpectedLay:
    return expected_of(lay, LASER, LAYERS)


def moved(cut: Pass, dx: float, dy: float) -> Pass:
    return replace(cut, points=tuple((x + dx, y + dy) for x, y in cut.points))


def backwards(cut: Pass) -> Pass:
    bulges = tuple(-bulge for bulge in cut.bulges[::-1])
    return replace(cut, points=cut.points[::-1], bulges=bulges)


def cut_short(cut: Pass) -> Pass:
    return replace(cut, points=cut.points[:-1], bulges=cut.bulges[:-1])


Change = Callable[[tuple[Pass, ...]], tuple[Pass, ...]]


@pytest.mark.parametrize(
    ("change", "by_plan", "by_drawing", "room"),
    [
        (lambda p: p, set(), set(), set()),
        (lambda p: p[:-1], {"passes"}, {"passes"}, set()),
        (lambda p: (*p, p[-1]), {"passes"}, set(), set()),
        (lambda p: (p[1], p[0], *p[2:]), {"passes"}, set(), set()),
        (lambda p: (*p[:-1], moved(p[-1], 0.02, 0.0)), {"passes"}, {"passes"}, set()),
        (lambda p: (*p[:-1], moved(p[-1], -700.0, 0.0)), {"passes"}, {"passes"}, {"outside"}),
        (lambda p: (*p[:-1], moved(p[-1], 0.0, 1500.0)), {"passes"}, {"passes"}, {"outside"}),
        (lambda p: (*p[:-1], backwards(p[-1])), {"passes"}, set(), set()),
        (lambda p: (*p[:-1], cut_short(p[-1])), {"passes"}, {"passes"},
         set()),
    ],
)  # fmt: skip
def test_another_way_of_the_tool_is_found(
    change: Change, by_plan: set[str], by_drawing: set[str], room: set[str],
    plan: CutPlan, expected: ExpectedLay, tmp_path: Path,
) -> None:  # fmt: skip
    drawing = tmp_path / "lay-01.dxf"
    drawing.write_bytes(dxf_bytes(plan))
    replay = run_of(written(*change(plan.passes)), tmp_path)
    assert {f.code for f in judge_passes(replay, plan.passes)} == by_plan
    beside = judge_against_drawing(replay, read_dxf(drawing), expected)
    assert {f.code for f in beside} == by_drawing
    assert {f.code for f in judge_room(replay, expected)} == room


def test_a_way_in_is_allowed_by_as_much_as_the_plan_says(
    plan: CutPlan, expected: ExpectedLay, tmp_path: Path
) -> None:
    drawing = tmp_path / "lay-01.dxf"
    drawing.write_bytes(dxf_bytes(plan))
    notch = next(cut for cut in plan.passes if cut.role == "notch")
    start, end = np.array(notch.points)
    beyond = end + 2.0 * (end - start) / np.hypot(*(end - start))
    further = replace(notch, points=(*notch.points, (float(beyond[0]), float(beyond[1]))))
    longer = tuple(further if cut is notch else cut for cut in plan.passes)
    replay = run_of(written(*longer), tmp_path)
    for off, found in ((2.0, set()), (1.9, {"passes"})):
        there = replace(expected, tool_off_mm=off)
        beside = judge_against_drawing(replay, read_dxf(drawing), there)
        assert {f.code for f in beside} == found


def test_the_bed_holds_every_way(plan: CutPlan, expected: ExpectedLay, tmp_path: Path) -> None:
    replay = run_of(written(*plan.passes), tmp_path)
    small = replace(expected, bed_mm=(expected.length_mm - 20.0, None))
    assert {f.code for f in judge_room(replay, small)} == {"outside"}
    framed = replace(small, frames_mm=(0.0, 20.0))  # a program moves no cloth on
    assert {f.code for f in judge_room(replay, framed)} == {"outside"}
    away = run_of(written(*plan.passes).replace(b"G0 X0 Y0", b"G0 X0 Y-50"), tmp_path)
    assert {f.code for f in judge_room(away, expected)} == {"outside"}


def test_a_program_alone(plan: CutPlan, tmp_path: Path) -> None:
    (note,) = judge_tool_alone(run_of(written(*plan.passes), tmp_path))
    assert f"passes: {len(plan.passes)}, from (" in note.text
    assert note.severity == "note"
    (fault,) = judge_tool_alone(run_of(HEAD + "G0 X5\nM30\n", tmp_path))
    assert fault.code == "no-cuts"
    points = np.vstack([cut.points for cut in plan.passes])
    x, y = points.max(axis=0)
    assert f"to ({x:.1f}, {y:.1f}) mm" in note.text
