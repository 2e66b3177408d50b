"""The judge must find every fault of a label, written or drawn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Literal

import numpy as np
import pytest

from cutfiles.cuts.plan import CutPlan, Letters
from cutfiles.lay.lay import Lay
from cutfiles.verdict.expected import ExpectedLay, ExpectedLettering, expected_of
from tests.small_lay import LASER, LAYERS, planned
from tests.unit.tampering import codes

TEXTS = replace(LASER, labels="text")


def test_a_wrong_written_label_is_found(lay: Lay, tmp_path: Path) -> None:
    plan, expected = planned(lay, TEXTS), expected_of(lay, TEXTS, LAYERS)
    assert codes(plan, expected, tmp_path) == set()
    first, *rest = plan.letterings
    wrong = replace(plan, letterings=(replace(first, text="tie-back XL"), *rest))
    assert codes(wrong, expected, tmp_path) == {"label"}
    outside = replace(plan, letterings=(replace(first, centre=(-50.0, -50.0)), *rest))
    assert codes(outside, expected, tmp_path) == {"label"}


Strokes = tuple[np.ndarray, ...]


def relettered(
    plan: CutPlan, change: Callable[[Strokes], Strokes], piece_id: str | None = None
) -> CutPlan:
    """The plan with the strokes of a piece's label changed, or the first piece's."""

    def changed(label: Letters) -> Letters:
        if label.piece_id != (piece_id or plan.letters[0].piece_id):
            return label
        strokes = change(tuple(np.array(stroke.points) for stroke in label.strokes))
        starts = np.cumsum([0, *(len(stroke) for stroke in strokes)])
        points = np.concatenate([np.empty((0, 2)), *strokes])
        return replace(label, points=points, starts=tuple(starts.tolist()))

    return replace(plan, letters=tuple(map(changed, plan.letters)))


def moved(dx: float, dy: float) -> Callable[[Strokes], Strokes]:
    return lambda strokes: tuple(np.add(stroke, (dx, dy)) for stroke in strokes)


def by_numbers(change: Callable[[np.ndarray], np.ndarray]) -> Callable[[Strokes], Strokes]:
    """The strokes with their points, as complex numbers about their middle, changed."""

    def all_changed(strokes: Strokes) -> Strokes:
        middle = np.mean([stroke.mean(axis=0) for stroke in strokes], axis=0) @ [1, 1j]
        there = [change(stroke @ [1, 1j] - middle) + middle for stroke in strokes]
        return tuple(np.column_stack((z.real, z.imag)) for z in there)

    return all_changed


@pytest.mark.parametrize(
    "change",
    [
        lambda _: (),
        lambda s: s[1:],
        lambda s: s[:-1],
        lambda s: s[1:2] + s[:1] + s[2:],
        lambda s: (np.add(s[0], (0.02, 0.0)), *s[1:]),
        moved(-2000.0, 0.0),
        by_numbers(lambda z: z.conjugate()),
        by_numbers(lambda z: -z),
        by_numbers(lambda z: 40.0 * z),
        by_numbers(lambda z: 1.01 * z.real + 1j * z.imag),
    ],
)
def test_a_wrong_drawn_label_is_found(
    change: Callable[[Strokes], Strokes], plan: CutPlan, expected: ExpectedLay, tmp_path: Path
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
    home = next(one.strokes for one in plan.letters if one.piece_id == notch.piece_id)
    by = np.array(notch.points[1]) - np.mean(home[len(home) // 2].points, axis=0)
    across = relettered(plan, moved(*by.tolist()), notch.piece_id)
    assert codes(across, expected, tmp_path) == {"label"}


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
    other = planned(lay, tool)
    assert codes(other, expected_of(lay, tool, LAYERS), tmp_path) == set()
    assert codes(other, expected, tmp_path) == {"label"}
    assert codes(plan, expected_of(lay, tool, LAYERS), tmp_path) == {"label"}
