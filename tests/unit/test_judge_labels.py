"""The judge must find every fault of a label, written or drawn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Literal

import numpy as np
import pytest

from cutfiles.cuts.plan import CutPlan, Stroke
from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.lay.lay import Lay
from cutfiles.verdict.expected import ExpectedLay, ExpectedLettering, expected_of
from tests.small_lay import LASER, LAYERS
from tests.unit.tampering import codes, shifted

TEXTS = replace(LASER, labels="text")


def test_a_wrong_written_label_is_found(lay: Lay, tmp_path: Path) -> None:
    plan, expected = cut_plan(lay, TEXTS, seed=1), expected_of(lay, TEXTS, LAYERS)
    assert codes(plan, expected, tmp_path) == set()
    first, *rest = plan.letterings
    wrong = replace(plan, letterings=(replace(first, text="tie-back XL"), *rest))
    assert codes(wrong, expected, tmp_path) == {"label"}
    outside = replace(plan, letterings=(replace(first, centre=(-50.0, -50.0)), *rest))
    assert codes(outside, expected, tmp_path) == {"label"}


Letters = tuple[Stroke, ...]


def relettered(plan: CutPlan, change: Callable[[Letters], Letters]) -> CutPlan:
    """The plan with the strokes of the first piece's label changed."""
    first = plan.letterings[0].piece_id
    changed = change(tuple(s for s in plan.letters if s.piece_id == first))
    rest = tuple(s for s in plan.letters if s.piece_id != first)
    return replace(plan, letters=(*changed, *rest))


def by_numbers(change: Callable[[np.ndarray], np.ndarray]) -> Callable[[Letters], Letters]:
    """The strokes with their points, as complex numbers about their middle, changed."""

    def all_changed(strokes: Letters) -> Letters:
        middle = np.mean([np.mean(s.points, axis=0) for s in strokes], axis=0) @ [1, 1j]
        moved = []
        for stroke in strokes:
            there = change(np.array(stroke.points) @ [1, 1j] - middle) + middle
            points = tuple((float(z.real), float(z.imag)) for z in there)
            moved.append(replace(stroke, points=points))
        return tuple(moved)

    return all_changed


@pytest.mark.parametrize(
    "change",
    [
        lambda _: (),
        lambda s: s[1:],
        lambda s: s[:-1],
        lambda s: s[1:2] + s[:1] + s[2:],
        lambda s: (shifted(0.02, 0.0)(s[0]), *s[1:]),
        lambda s: tuple(map(shifted(-2000.0, 0.0), s)),
        by_numbers(lambda z: z.conjugate()),
        by_numbers(lambda z: -z),
        by_numbers(lambda z: 40.0 * z),
        by_numbers(lambda z: 1.01 * z.real + 1j * z.imag),
    ],
)
def test_a_wrong_drawn_label_is_found(
    change: Callable[[Letters], Letters], plan: CutPlan, expected: ExpectedLay, tmp_path: Path
) -> None:
    assert "label" in codes(relettered(plan, change), expected, tmp_path)


def test_a_label_of_another_text_is_found(
    plan: CutPlan, expected: ExpectedLay, tmp_path: Path
) -> None:
    first, *rest = expected.pieces
    other = replace(expected, pieces=(replace(first, label=first.label[:-1] + "9"), *rest))
    assert codes(plan, other, tmp_path) == {"label"}


def test_a_label_across_a_notch_is_found(
    plan: CutPlan, expected: ExpectedLay, tmp_path: Path
) -> None:
    notch = next(s for s in plan.strokes if s.role == "notch")
    home = [s for s in plan.letters if s.piece_id == notch.piece_id]
    by = np.array(notch.points[1]) - np.mean(home[len(home) // 2].points, axis=0)
    moved = tuple(
        shifted(*by.tolist())(s) if s.piece_id == notch.piece_id else s for s in plan.letters
    )
    assert codes(replace(plan, letters=moved), expected, tmp_path) == {"label"}


def test_a_label_off_its_place_in_the_summary_is_found(
    plan: CutPlan, expected: ExpectedLay, tmp_path: Path
) -> None:
    first, *rest = expected.pieces
    label = next(one for one in plan.letterings if one.piece_id == first.id)
    known = ExpectedLettering(label.centre, label.angle_deg, label.height_mm)

    def codes_with(lettering: ExpectedLettering) -> set[str]:
        there = replace(expected, pieces=(replace(first, lettering=lettering), *rest))
        return codes(plan, there, tmp_path)

    assert codes_with(known) == set()
    assert codes_with(replace(known, at=(known.at[0] + 0.1, known.at[1]))) == {"label"}
    assert codes_with(replace(known, turn_deg=known.turn_deg + 0.2)) == {"label"}
    assert codes_with(replace(known, height_mm=known.height_mm + 0.1)) == {"label"}


@pytest.mark.parametrize("kind", ["text", "none"])
def test_labels_of_another_kind_are_found(
    kind: Literal["text", "none"], lay: Lay, plan: CutPlan, expected: ExpectedLay, tmp_path: Path
) -> None:
    tool = replace(LASER, labels=kind)
    other = cut_plan(lay, tool, seed=1)
    assert codes(other, expected_of(lay, tool, LAYERS), tmp_path) == set()
    assert codes(other, expected, tmp_path) == {"label"}
    assert codes(plan, expected_of(lay, tool, LAYERS), tmp_path) == {"label"}
