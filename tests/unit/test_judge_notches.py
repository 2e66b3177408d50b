"""The judge must find every fault of a notch, whatever its shape."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from cutfiles.cuts.plan import Stroke
from cutfiles.job.machine import DEFAULT_FITTINGS, Machine, NotchCut, NotchShape
from cutfiles.lay.lay import Lay
from cutfiles.verdict.expected import expected_of
from tests.small_lay import LASER, LAYERS, planned
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
