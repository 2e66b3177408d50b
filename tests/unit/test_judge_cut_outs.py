"""The judge must find every fault of a cut-out, by outlines and by the figures of a summary."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from cutfiles.cuts.plan import CutPlan, Stroke
from cutfiles.lay.lay import Lay
from cutfiles.verdict.expected import ExpectedLay, expected_of
from tests.small_lay import LASER, LAYERS, planned
from tests.unit.tampering import by_figures, changed, codes, grown, shifted, with_inner


def test_sound_cut_outs_have_no_findings(panel_lay: Lay, tmp_path: Path) -> None:
    plan, expected = planned(panel_lay, LASER), expected_of(panel_lay, LASER, LAYERS)
    assert [stroke.role for stroke in plan.strokes].count("inner") == 2
    assert codes(plan, expected, tmp_path) == set()
    assert codes(plan, by_figures(expected), tmp_path) == set()


@pytest.mark.parametrize(
    "change",
    [
        lambda _: None,
        lambda s: replace(s, closed=False, bulges=s.bulges[:-1]),
        lambda s: replace(s, points=(s.points[0], s.points[3], *s.points[1:3], *s.points[4:])),
        shifted(0.2, 0.0),
        shifted(15.0, 0.0),
        shifted(0.0, -2000.0),
        grown(0.1),
        grown(-0.1),
        grown(0.2),  # the kerf on the wrong side: outside
    ],
)  # fmt: skip
def test_every_fault_of_a_cut_out_is_found(
    change: Callable[[Stroke], Stroke | None], panel_lay: Lay, tmp_path: Path
) -> None:
    plan, expected = planned(panel_lay, LASER), expected_of(panel_lay, LASER, LAYERS)
    faulty = changed(plan, "inner", change)
    assert "cut-out" in codes(faulty, expected, tmp_path)
    assert "cut-out" in codes(faulty, by_figures(expected), tmp_path)


def test_a_cut_out_cut_twice_is_found(panel_lay: Lay, tmp_path: Path) -> None:
    plan, expected = planned(panel_lay, LASER), expected_of(panel_lay, LASER, LAYERS)
    inner = next(s for s in plan.strokes if s.role == "inner")
    twice = with_inner(plan, inner)
    assert codes(twice, expected, tmp_path) == {"cut-out"}
    assert codes(twice, by_figures(expected), tmp_path) == {"cut-out"}


def test_a_cut_out_that_nobody_asked_for_is_found(
    plan: CutPlan, expected: ExpectedLay, tmp_path: Path
) -> None:
    outline = next(s for s in plan.strokes if s.role == "outline" and "crown" in s.piece_id)
    middle = np.mean(outline.points, axis=0)
    corners = middle + np.array([(0, 0), (9, 0), (9, 9), (0, 9)])
    points = tuple((float(x), float(y)) for x, y in corners)
    extra = Stroke("inner", outline.piece_id, points, closed=True)
    # it is cut through the label, too
    assert codes(with_inner(plan, extra), expected, tmp_path) == {"cut-out", "label"}


@pytest.mark.parametrize("kerf_mm", [0.0, 0.4])
def test_a_cut_out_with_another_kerf_is_found(
    kerf_mm: float, panel_lay: Lay, tmp_path: Path
) -> None:
    right = planned(panel_lay, LASER)
    wrong = planned(panel_lay, replace(LASER, kerf_mm=kerf_mm))
    mixed = replace(right, strokes=tuple(s for s in right.strokes if s.role != "inner"))
    for stroke in (s for s in wrong.strokes if s.role == "inner"):
        mixed = with_inner(mixed, stroke)
    expected = expected_of(panel_lay, LASER, LAYERS)
    assert codes(mixed, expected, tmp_path) == {"cut-out"}
    assert codes(mixed, by_figures(expected), tmp_path) == {"cut-out"}
