"""Plans of cuts with one thing changed, and what the judge says of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from cutfiles.cuts.plan import CutPlan, Stroke
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.svg import svg_bytes
from cutfiles.verdict.expected import ExpectedLay
from cutfiles.verdict.judge import judge_lay
from cutfiles.verdict.read_dxf import read_dxf
from cutfiles.verdict.read_svg import read_svg


def codes(plan: CutPlan, expected: ExpectedLay, folder: Path) -> set[str]:
    """What the judge says of a plan's two files; both must say the same."""
    dxf, svg = folder / "a.dxf", folder / "a.svg"
    dxf.write_bytes(dxf_bytes(plan))
    svg.write_bytes(svg_bytes(plan, "t"))
    one = {finding.code for finding in judge_lay(read_dxf(dxf), expected)}
    two = {finding.code for finding in judge_lay(read_svg(svg), expected)}
    assert one == two
    return one


def changed(
    plan: CutPlan, role: str, change: Callable[[Stroke], Stroke | None], piece: str = ""
) -> CutPlan:
    """The plan with the first stroke of a role, of a piece, changed or left out."""
    strokes: list[Stroke] = []
    done = False
    for stroke in plan.strokes:
        if not done and stroke.role == role and piece in stroke.piece_id:
            done = True
            new = change(stroke)
            strokes.extend([new] if new else [])
        else:
            strokes.append(stroke)
    assert done
    return replace(plan, strokes=tuple(strokes))


def shifted(dx: float, dy: float) -> Callable[[Stroke], Stroke]:
    return lambda s: replace(s, points=tuple((x + dx, y + dy) for x, y in s.points))


def grown(by: float) -> Callable[[Stroke], Stroke]:
    def change(stroke: Stroke) -> Stroke:
        points = np.array(stroke.points)
        middle = points.mean(axis=0)
        away = points - middle
        moved = middle + away * (1 + by / np.linalg.norm(away, axis=1, keepdims=True))
        return replace(stroke, points=tuple((float(x), float(y)) for x, y in moved))

    return change


def moved_last(plan: CutPlan, role: str, piece: str) -> CutPlan:
    """The plan with the first stroke of a role, of a piece, done after all others."""
    late = next(s for s in plan.strokes if s.role == role and piece in s.piece_id)
    return replace(plan, strokes=(*(s for s in plan.strokes if s is not late), late))


def with_inner(plan: CutPlan, extra: Stroke) -> CutPlan:
    """The plan with one more cut-out, in the order of the work."""
    first = [stroke.role for stroke in plan.strokes].index("outline")
    return replace(plan, strokes=(*plan.strokes[:first], extra, *plan.strokes[first:]))


def by_figures(expected: ExpectedLay) -> ExpectedLay:
    """What a summary leaves known of a lay: areas and places, and no outlines."""
    pieces = tuple(
        replace(
            piece,
            outline=None,
            cut_outs=tuple(replace(cut_out, outline=None) for cut_out in piece.cut_outs),
        )
        for piece in expected.pieces
    )
    return replace(expected, pieces=pieces)
