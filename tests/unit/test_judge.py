"""The judge must find every fault: a sound lay is tampered with, one fault at a time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import Polygon
from shapely.ops import nearest_points, unary_union

from cutfiles.cuts.plan import CutPlan, Stroke
from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.svg import svg_bytes
from cutfiles.job.job import PanelLine
from cutfiles.lay.lay import Lay
from cutfiles.verdict.expected import ExpectedLay, expected_of
from cutfiles.verdict.judge import judge_alone, judge_lay
from cutfiles.verdict.read_dxf import read_dxf
from cutfiles.verdict.read_svg import read_svg
from tests.small_lay import LASER, LAYERS, small_panel_lay
from tests.unit.tampering import changed, codes, grown, moved_last, shifted


def region_of(stroke: Stroke) -> Polygon:
    return Polygon(np.vstack([span.flattened(0.01) for span in stroke.spans]))


def test_a_piece_too_near_its_neighbour_is_found(
    plan: CutPlan, expected: ExpectedLay, tmp_path: Path
) -> None:
    outlines = [stroke for stroke in plan.strokes if stroke.role == "outline"]
    tie = next(stroke for stroke in outlines if "tie" in stroke.piece_id)
    others = unary_union([region_of(stroke) for stroke in outlines if stroke is not tie])
    (x, y), (to_x, to_y) = (p.coords[0] for p in nearest_points(region_of(tie), others))
    # nine tenths of the way to its nearest neighbour
    nearer = changed(plan, "outline", shifted(0.9 * (to_x - x), 0.9 * (to_y - y)), "tie")
    assert "too-close" in codes(nearer, expected, tmp_path)


def test_a_sound_lay_has_no_findings(plan: CutPlan, expected: ExpectedLay, tmp_path: Path) -> None:
    assert codes(plan, expected, tmp_path) == set()


@pytest.mark.parametrize(
    ("role", "change", "piece", "found"),
    [
        ("outline", lambda _: None, "crown", {"missing", "grain", "label", "notch"}),
        ("outline", lambda s: replace(s, closed=False, bulges=s.bulges[:-1]), "crown",
         {"open", "missing"}),
        ("outline", shifted(0.2, 0.0), "crown", {"wrong-outline", "missing", "notch"}),
        ("outline", shifted(0.0, -2000.0), "tie", {"outside", "wrong-outline"}),
        ("stitch", lambda _: None, "crown", {"stitch"}),
        ("stitch", shifted(90.0, 0.0), "band", {"stitch"}),
        ("outline", lambda s: replace(s, role="inner"), "tie", {"cut-out", "missing"}),
        ("notch", lambda s: replace(s, points=(s.points[0], (2 * s.points[1][0] - s.points[0][0],
         2 * s.points[1][1] - s.points[0][1]))), "crown", {"notch"}),
        ("outline", grown(0.1), "crown", {"wrong-outline"}),
        ("outline", grown(-0.1), "crown", {"wrong-outline"}),
        ("notch", shifted(0.5, 0.5), "crown", {"notch"}),
        ("notch", lambda _: None, "band", {"notch"}),
        ("notch", lambda s: replace(s, points=(s.points[0], tuple(np.mean(s.points, axis=0)))),
         "band", {"notch"}),
        ("grain", lambda s: replace(s, points=s.points[::-1]), "tie", {"grain"}),
        ("grain", lambda _: None, "tie", {"grain"}),
        ("grain", lambda s: replace(s, points=(s.points[0], (s.points[1][0], s.points[1][1] + 0.1),
                                               *s.points[2:])), "crown", {"grain"}),
    ],
)  # fmt: skip
def test_every_fault_is_found(
    role: str,
    change: Callable[[Stroke], Stroke | None],
    piece: str,
    found: set[str],
    plan: CutPlan,
    expected: ExpectedLay,
    tmp_path: Path,
) -> None:
    assert found <= codes(changed(plan, role, change, piece), expected, tmp_path)


def test_a_piece_cut_twice_is_found(plan: CutPlan, expected: ExpectedLay, tmp_path: Path) -> None:
    outline = next(s for s in plan.strokes if s.role == "outline")
    twice = replace(plan, strokes=(*plan.strokes, outline))
    assert {"overlap", "twice"} <= codes(twice, expected, tmp_path)


def test_cuts_out_of_order_are_found(
    plan: CutPlan, panel_lay: Lay, expected: ExpectedLay, tmp_path: Path
) -> None:
    # in the SVG each role has a group of its own, so that only the DXF can be wrong
    path = tmp_path / "a.dxf"

    def said(changed: CutPlan, lay: ExpectedLay) -> list[str]:
        path.write_bytes(dxf_bytes(changed))
        return [f.code for f in judge_lay(read_dxf(path), lay)]

    assert said(moved_last(plan, "notch", "crown"), expected) == ["order"]
    assert said(moved_last(plan, "outline", "crown"), expected) == []
    assert set(said(replace(plan, strokes=plan.strokes[::-1]), expected)) == {"order"}
    pockets, sound = cut_plan(panel_lay, LASER, seed=1), expected_of(panel_lay, LASER, LAYERS)
    assert said(moved_last(pockets, "inner", "panel"), sound) == ["order"]


def test_a_wrong_sheet_is_found(plan: CutPlan, expected: ExpectedLay, tmp_path: Path) -> None:
    longer = replace(plan, length_mm=plan.length_mm + 500.0)
    assert codes(longer, expected, tmp_path) == {"cloth"}
    path = tmp_path / "b.svg"
    svg = svg_bytes(plan, "t").decode().replace('<g id="usable-cloth"', '<g id="else"')
    path.write_text(svg)
    assert {f.code for f in judge_lay(read_svg(path), expected)} == {"cloth", "strange-layer"}


@pytest.mark.parametrize(
    "change",
    [
        ("<title>", "<style>g{transform:scale(.5)}</style><title>"),
        ('<g id="piece-outlines"', '<g style="transform:scale(.5)" id="piece-outlines"'),
        ('<g id="piece-outlines"', '<g display="none" id="piece-outlines"'),
        ('<g id="piece-outlines"', '<g visibility="hidden" id="piece-outlines"'),
        ('<g id="piece-outlines"', '<g opacity="0" id="piece-outlines"'),
        ('<g id="piece-outlines"', '<g clip-path="url(#a)" id="piece-outlines"'),
        ('<g id="piece-outlines"', '<svg viewBox="0 0 9 9" width="5"/><g id="piece-outlines"'),
        ('<g id="piece-outlines"', '<g transform="translate(1)" id="piece-outlines"'),
    ],
)
def test_what_would_move_or_hide_lines_is_found(
    change: tuple[str, str], plan: CutPlan, expected: ExpectedLay, tmp_path: Path
) -> None:
    path = tmp_path / "a.svg"
    path.write_text(svg_bytes(plan, "t").decode().replace(*change))
    assert {f.code for f in judge_lay(read_svg(path), expected)} == {"unread-part"}


def test_a_crossing_outline_is_found(plan: CutPlan, expected: ExpectedLay, tmp_path: Path) -> None:
    def cross(stroke: Stroke) -> Stroke:
        a, b, c, d = stroke.points[:4]
        return replace(stroke, points=(a, c, b, d, *stroke.points[4:]))

    assert "crossing" in codes(changed(plan, "outline", cross, "tie"), expected, tmp_path)


def test_the_kerf_on_the_wrong_side_is_found(
    lay: Lay, expected: ExpectedLay, tmp_path: Path
) -> None:
    without = cut_plan(lay, replace(LASER, kerf_mm=0.0), seed=1)
    assert "wrong-outline" in codes(without, expected, tmp_path)
    double = cut_plan(lay, replace(LASER, kerf_mm=0.4), seed=1)
    assert "wrong-outline" in codes(double, expected, tmp_path)


def test_a_file_of_which_nothing_is_known(plan: CutPlan, tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    path.write_bytes(dxf_bytes(plan))
    assert judge_alone(read_dxf(path), LAYERS["outline"]) == ()
    assert {f.code for f in judge_alone(read_dxf(path), "no-such-layer")} == {"no-outlines"}


MARKED = """<svg xmlns="http://www.w3.org/2000/svg" width="99mm" height="99mm" viewBox="0 0 99 99">
<g id="outline"><path d="M 10 90 V 50 A 39.5 39.5 0 0 1 89 50 V 90 Z"/></g>
<g id="stitch"><path d="M 10 50 A 39.5 39.5 0 0 1 89 50"/><path d="M 0 60 H 99"/></g></svg>"""


@pytest.mark.parametrize("kerf_mm", [0.0, 0.2])
def test_marks_along_an_edge_and_beyond_it_are_sound(kerf_mm: float, tmp_path: Path) -> None:
    line = PanelLine(1, "bib.svg", "bib", 2, "kelp", grain_deg=30.0)
    tool = replace(LASER, kerf_mm=kerf_mm)
    lay = small_panel_lay(MARKED.encode(), line, machine=tool)
    plan, expected = cut_plan(lay, tool, seed=1), expected_of(lay, tool, LAYERS)
    assert [piece.stitch_lines for piece in expected.pieces] == [2, 2]
    assert codes(plan, expected, tmp_path) == set()
    assert "stitch" in codes(changed(plan, "stitch", lambda _: None), expected, tmp_path)
