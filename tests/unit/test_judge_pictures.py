"""The pixels that resvg fills must show every outline of another size."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from cutfiles.cuts.plan import CutPlan, Stroke
from cutfiles.files.svg import svg_bytes
from cutfiles.verdict.expected import ExpectedLay
from cutfiles.verdict.raster import raster_findings
from tests.unit.tampering import by_figures, changed


def drawn(plan: CutPlan, expected: ExpectedLay, folder: Path) -> set[str]:
    """What resvg's picture of a plan's SVG says."""
    path = folder / "a.svg"
    path.write_bytes(svg_bytes(plan, "t"))
    return {finding.code for finding in raster_findings(path, expected)}


def scaled(by: float) -> Callable[[Stroke], Stroke]:
    def change(stroke: Stroke) -> Stroke:
        middle = np.mean(stroke.points, axis=0)
        moved = middle + (np.array(stroke.points) - middle) * by
        return replace(stroke, points=tuple((float(x), float(y)) for x, y in moved))

    return change


@pytest.mark.parametrize("piece", ["crown", "band", "tie"])
@pytest.mark.parametrize(
    ("change", "found"),
    [
        (lambda s: s, set()),
        (scaled(1.03), {"area"}),
        (scaled(0.97), {"area"}),
        (lambda _: None, {"area"}),
        (lambda s: replace(s, points=s.points[:2], bulges=()), {"area"}),
    ],
)
def test_a_picture_shows_outlines_of_another_size(
    piece: str,
    change: Callable[[Stroke], Stroke | None],
    found: set[str],
    plan: CutPlan,
    expected: ExpectedLay,
    tmp_path: Path,
) -> None:
    assert drawn(changed(plan, "outline", change, piece), expected, tmp_path) == found
    assert drawn(changed(plan, "outline", change, piece), by_figures(expected), tmp_path) == found


def test_a_picture_shows_arcs_that_bend_the_wrong_way(
    plan: CutPlan, expected: ExpectedLay, tmp_path: Path
) -> None:
    def bent(stroke: Stroke) -> Stroke:
        return replace(stroke, bulges=tuple(-bulge for bulge in stroke.bulges))

    assert drawn(changed(plan, "outline", bent, "crown"), expected, tmp_path) == {"area"}


def test_a_drawing_that_cannot_be_read_has_no_picture(
    expected: ExpectedLay, tmp_path: Path
) -> None:
    path = tmp_path / "a.svg"
    path.write_bytes(b"<svg")
    assert raster_findings(path, expected) == ()
