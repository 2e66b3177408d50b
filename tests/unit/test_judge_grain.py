"""The judge must find every grain line that breaks the rule of its piece."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from cutfiles.cuts.plan import CutPlan, Stroke
from cutfiles.job.cloth import GrainRule
from cutfiles.verdict.expected import ExpectedLay
from tests.unit.tampering import changed, codes


def turned(plan: CutPlan, piece: str, by_deg: float) -> CutPlan:
    """The plan with the grain line of one piece turned about its middle."""

    def turn(stroke: Stroke) -> Stroke:
        points = np.array(stroke.points)
        middle = points[:2].mean(axis=0)
        way = np.exp(1j * np.radians(by_deg))
        spun = ((points - middle) @ [1, 1j]) * way
        moved = zip(spun.real + middle[0], spun.imag + middle[1], strict=True)
        return replace(stroke, points=tuple((float(x), float(y)) for x, y in moved))

    return changed(plan, "grain", turn, piece)


def allowed(expected: ExpectedLay, piece: str, rule: GrainRule, grain_deg: float) -> ExpectedLay:
    """The lay with one piece of another grain rule, that claims to lie at an angle."""
    pieces = [
        replace(p, grain=rule, grain_deg=(p.grain_deg + grain_deg) % 360.0) if p.id == piece else p
        for p in expected.pieces
    ]
    return replace(expected, pieces=tuple(pieces))


@pytest.mark.parametrize(
    ("rule", "by_deg", "found"),
    [
        (GrainRule("along"), 0.0, set()),
        (GrainRule("along"), 90.0, {"grain"}),
        (GrainRule("across"), 90.0, set()),
        (GrainRule("across"), 0.0, {"grain"}),
        (GrainRule("either"), 90.0, set()),
        (GrainRule("either"), 45.0, {"grain"}),
        (GrainRule("bias"), 45.0, set()),
        (GrainRule("bias"), 44.5, {"grain"}),
        (GrainRule("along", 1.5), -1.5, set()),
        (GrainRule("along", 1.5), 1.6, {"grain"}),
        (GrainRule("across", 1.0), 89.0, set()),
    ],
)
def test_the_grain_as_drawn_keeps_to_its_rule(
    rule: GrainRule,
    by_deg: float,
    found: set[str],
    plan: CutPlan,
    expected: ExpectedLay,
    tmp_path: Path,
) -> None:
    # the lay's own figures agree with the drawing, so that only the rule is at stake
    claimed = allowed(expected, "cap-001-crown", rule, by_deg)
    assert codes(turned(plan, "cap-001-crown", by_deg), claimed, tmp_path) == found


def test_on_one_way_cloth_no_piece_points_back(
    plan: CutPlan, expected: ExpectedLay, tmp_path: Path
) -> None:
    for piece in expected.pieces:
        if piece.grain_deg:
            plan = turned(plan, piece.id, -piece.grain_deg)
            expected = allowed(expected, piece.id, GrainRule(), -piece.grain_deg)
    one_way = replace(expected, one_way=True)
    assert codes(plan, one_way, tmp_path) == set()
    back = turned(plan, "cap-001-crown", 180.0)
    assert codes(back, allowed(one_way, "cap-001-crown", GrainRule(), 180.0), tmp_path) == {"grain"}
