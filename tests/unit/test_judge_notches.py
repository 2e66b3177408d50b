"""The judge must find every fault of a notch, whatever its shape."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from cutfiles.cuts.plan import Stroke
from cutfiles.files.dxf import dxf_bytes
from cutfiles.job.cloth import PrintRepeat
from cutfiles.job.machine import DEFAULT_FITTINGS, Machine, NotchCut, NotchShape
from cutfiles.lay.lay import Lay
from cutfiles.verdict.expected import expected_of, in_frames
from cutfiles.verdict.judge import judge_lay
from cutfiles.verdict.read_dxf import read_dxf
from tests.small_lay import CLOTH, LASER, LAYERS, planned, small_lay, tie_backs
from tests.unit.tampering import changed, codes, shifted

SHAPES: tuple[NotchShape, ...] = ("slit", "V", "T", "castle", "check", "U")


def with_notch(shape: NotchShape) -> Machine:
    width = 0.0 if shape == "slit" else 3.0
    fittings = replace(DEFAULT_FITTINGS["laser"], notch=NotchCut(shape, width))
    return replace(LASER, own=fittings)


@pytest.mark.parametrize("shape", SHAPES)
def test_notches_of_every_shape_are_sound_and_of_no_other(
    shape: NotchShape, lay: Lay, tmp_path: Path
) -> None:
    tool = with_notch(shape)
    plan = planned(lay, tool)
    assert codes(plan, expected_of(lay, tool, LAYERS), tmp_path) == set()
    for other in SHAPES:
        if other != shape:
            found = codes(plan, expected_of(lay, with_notch(other), LAYERS), tmp_path)
            assert found == {"notch"}, other
    wide = replace(tool, own=replace(tool.fittings, notch=NotchCut(shape, 3.2)))
    if shape != "slit":
        assert codes(plan, expected_of(lay, wide, LAYERS), tmp_path) == {"notch"}


def moved_point(number: int, dx: float, dy: float) -> Callable[[Stroke], Stroke]:
    def change(stroke: Stroke) -> Stroke:
        points = list(stroke.points)
        x, y = points[number]
        points[number] = (x + dx, y + dy)
        return replace(stroke, points=tuple(points))

    return change


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(
    "change",
    [
        lambda _: None,
        shifted(0.3, 0.3),
        moved_point(0, 0.2, 0.2),
        moved_point(1, 0.2, 0.2),
        moved_point(-1, 0.2, 0.2),
        lambda s: replace(s, points=(*s.points, s.points[0]), bulges=()),
    ],
)
def test_every_fault_of_a_notch_is_found(
    shape: NotchShape, change: Callable[[Stroke], Stroke | None], lay: Lay, tmp_path: Path
) -> None:
    tool = with_notch(shape)
    plan = planned(lay, tool)
    expected = expected_of(lay, tool, LAYERS)
    assert "notch" in codes(changed(plan, "notch", change, "crown"), expected, tmp_path)


def test_a_round_notch_without_its_round_bottom_is_found(lay: Lay, tmp_path: Path) -> None:
    tool = with_notch("U")
    plan = planned(lay, tool)
    flat = changed(plan, "notch", lambda s: replace(s, bulges=(0.0, 0.6, 0.0)), "crown")
    assert codes(flat, expected_of(lay, tool, LAYERS), tmp_path) == {"notch"}


@pytest.mark.parametrize("shape", SHAPES)
def test_each_notch_after_its_outline_is_found(shape: NotchShape, lay: Lay, tmp_path: Path) -> None:
    # its piece has come loose by then; in the SVG each role has a group of its own
    tool = with_notch(shape)
    plan = planned(lay, tool)
    notches = [stroke for stroke in plan.strokes if stroke.role == "notch"]
    others = [stroke for stroke in plan.strokes if stroke.role != "notch"]
    path = tmp_path / "a.dxf"
    path.write_bytes(dxf_bytes(replace(plan, strokes=(*others, *notches))))
    said = [f.code for f in judge_lay(read_dxf(path), expected_of(lay, tool, LAYERS))]
    assert said == ["order"] * len(notches)


@pytest.mark.parametrize("shape", SHAPES)
def test_a_piece_keeps_to_the_print_by_a_notch_of_any_shape(
    shape: NotchShape, tmp_path: Path
) -> None:
    tool, printed = with_notch(shape), replace(CLOTH, print_repeat=PrintRepeat(120.0, 100.0))
    matched = small_lay(replace(tie_backs(1), matched=("crown",)), cloth=printed, machine=tool)
    plan, expected = planned(matched, tool), expected_of(matched, tool, LAYERS)
    (crown,) = (piece for piece in expected.pieces if piece.match is not None)
    assert crown.match is not None
    assert crown.match.is_notch
    assert codes(plan, expected, tmp_path) == set()
    at = crown.match.at
    elsewhere = replace(crown, match=replace(crown.match, at=(at[0] + 120.0, at[1])))
    pieces = tuple(elsewhere if piece is crown else piece for piece in expected.pieces)
    assert codes(plan, replace(expected, pieces=pieces), tmp_path) == {"print"}


@pytest.mark.parametrize("shape", SHAPES)
def test_each_notch_cut_before_its_frame_is_found(shape: NotchShape, tmp_path: Path) -> None:
    tool = replace(with_notch(shape), bed_along_mm=420.0, advances=True)
    framed = small_lay(tie_backs(4), machine=tool)
    plan = planned(framed, tool)
    expected = in_frames(expected_of(framed, tool, LAYERS), plan)
    late = [s for s in plan.strokes[plan.frames[1].first_stroke :] if s.role == "notch"]
    assert late
    path = tmp_path / "a.dxf"
    for notch in late[::3]:
        others = (stroke for stroke in plan.strokes if stroke is not notch)
        path.write_bytes(dxf_bytes(replace(plan, strokes=(notch, *others))))
        assert {f.code for f in judge_lay(read_dxf(path), expected)} == {"frame"}
