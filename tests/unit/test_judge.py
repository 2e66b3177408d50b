"""The judge must find every fault: a sound lay is tampered with, one fault at a time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
from shapely.geometry import Polygon
from shapely.ops import nearest_points, unary_union

from cutfiles.cuts.plan import CutPlan, Stroke
from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.effort import Effort
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.roles import INKS
from cutfiles.files.svg import svg_bytes
from cutfiles.job.cloth import GrainRule
from cutfiles.job.job import CapLine, Cloth, Job, PanelLine
from cutfiles.job.machine import DEFAULT_FITTINGS, Machine, NotchCut, NotchShape
from cutfiles.job.sizes import size_named
from cutfiles.lay.arrange import arrange
from cutfiles.lay.lay import Lay
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.panel import read_panels
from cutfiles.verdict.expected import ExpectedLay, ExpectedLettering, expected_of
from cutfiles.verdict.judge import judge_alone, judge_lay
from cutfiles.verdict.raster import raster_findings
from cutfiles.verdict.read_dxf import read_dxf
from cutfiles.verdict.read_svg import read_svg
from tests.conftest import ROOT

CLOTH = Cloth("kelp", 1117.6, 12.7, None, False, 1, 3.0, 2.0, "cotton")
LASER = Machine("laser", 0.2, None, None)
LAYERS = {role: ink.layer for role, ink in INKS.items()}


@pytest.fixture(scope="module")
def lay() -> Lay:
    caps = (CapLine("tie-back", size_named("M"), 2, "hem", "kelp"),)
    job = Job("job.toml", "t", "mm", (CLOTH,), caps, LASER)
    (lay,) = arrange(cut_list(job, CLOTH), LASER, Effort(0.0, 1), unit="mm", source="job.toml")
    return lay


@pytest.fixture(scope="module")
def plan(lay: Lay) -> CutPlan:
    return cut_plan(lay, LASER, seed=1)


@pytest.fixture(scope="module")
def expected(lay: Lay) -> ExpectedLay:
    return expected_of(lay, LASER, LAYERS)


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


def moved_last(plan: CutPlan, role: str, piece: str) -> CutPlan:
    """The plan with the first stroke of a role, of a piece, done after all others."""
    late = next(s for s in plan.strokes if s.role == role and piece in s.piece_id)
    return replace(plan, strokes=(*(s for s in plan.strokes if s is not late), late))


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


@pytest.fixture(scope="module")
def panel_lay() -> Lay:
    """Two pockets, each with one cut-out."""
    line = PanelLine(1, "pocket.svg", "pocket", 2, "kelp")
    content = (ROOT / "fixtures" / "pieces" / "pocket.svg").read_bytes()
    panels, _ = read_panels(content, line, source="job.toml")
    job = Job("job.toml", "t", "mm", (CLOTH,), (), LASER, (line,))
    cuts = cut_list(job, CLOTH, panels)
    (lay,) = arrange(cuts, LASER, Effort(0.0, 1), unit="mm", source="job.toml")
    return lay


MARKED = """<svg xmlns="http://www.w3.org/2000/svg" width="99mm" height="99mm" viewBox="0 0 99 99">
<g id="outline"><path d="M 10 90 V 50 A 39.5 39.5 0 0 1 89 50 V 90 Z"/></g>
<g id="stitch"><path d="M 10 50 A 39.5 39.5 0 0 1 89 50"/><path d="M 0 60 H 99"/></g></svg>"""


@pytest.mark.parametrize("kerf_mm", [0.0, 0.2])
def test_marks_along_an_edge_and_beyond_it_are_sound(kerf_mm: float, tmp_path: Path) -> None:
    line = PanelLine(1, "bib.svg", "bib", 2, "kelp", grain_deg=30.0)
    panels, _ = read_panels(MARKED.encode(), line, source="job.toml")
    tool = replace(LASER, kerf_mm=kerf_mm)
    cuts = cut_list(Job("job.toml", "t", "mm", (CLOTH,), (), tool, (line,)), CLOTH, panels)
    (lay,) = arrange(cuts, tool, Effort(0.0, 1), unit="mm", source="job.toml")
    plan, expected = cut_plan(lay, tool, seed=1), expected_of(lay, tool, LAYERS)
    assert [piece.stitch_lines for piece in expected.pieces] == [2, 2]
    assert codes(plan, expected, tmp_path) == set()
    assert "stitch" in codes(changed(plan, "stitch", lambda _: None), expected, tmp_path)


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


def with_inner(plan: CutPlan, extra: Stroke) -> CutPlan:
    """The plan with one more cut-out, in the order of the work."""
    first = [stroke.role for stroke in plan.strokes].index("outline")
    return replace(plan, strokes=(*plan.strokes[:first], extra, *plan.strokes[first:]))


def test_sound_cut_outs_have_no_findings(panel_lay: Lay, tmp_path: Path) -> None:
    plan, expected = cut_plan(panel_lay, LASER, seed=1), expected_of(panel_lay, LASER, LAYERS)
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
    plan, expected = cut_plan(panel_lay, LASER, seed=1), expected_of(panel_lay, LASER, LAYERS)
    faulty = changed(plan, "inner", change)
    assert "cut-out" in codes(faulty, expected, tmp_path)
    assert "cut-out" in codes(faulty, by_figures(expected), tmp_path)


def test_a_cut_out_cut_twice_is_found(panel_lay: Lay, tmp_path: Path) -> None:
    plan, expected = cut_plan(panel_lay, LASER, seed=1), expected_of(panel_lay, LASER, LAYERS)
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
    right = cut_plan(panel_lay, LASER, seed=1)
    wrong = cut_plan(panel_lay, replace(LASER, kerf_mm=kerf_mm), seed=1)
    mixed = replace(right, strokes=tuple(s for s in right.strokes if s.role != "inner"))
    for stroke in (s for s in wrong.strokes if s.role == "inner"):
        mixed = with_inner(mixed, stroke)
    expected = expected_of(panel_lay, LASER, LAYERS)
    assert codes(mixed, expected, tmp_path) == {"cut-out"}
    assert codes(mixed, by_figures(expected), tmp_path) == {"cut-out"}


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
    plan = cut_plan(lay, tool, seed=1)
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
    plan = cut_plan(lay, tool, seed=1)
    expected = expected_of(lay, tool, LAYERS)
    assert "notch" in codes(changed(plan, "notch", change, "crown"), expected, tmp_path)


def test_a_round_notch_without_its_round_bottom_is_found(lay: Lay, tmp_path: Path) -> None:
    tool = with_notch("U")
    plan = cut_plan(lay, tool, seed=1)
    flat = changed(plan, "notch", lambda s: replace(s, bulges=(0.0, 0.6, 0.0)), "crown")
    assert codes(flat, expected_of(lay, tool, LAYERS), tmp_path) == {"notch"}


def drawn(plan: CutPlan, expected: ExpectedLay) -> set[str]:
    """What resvg's picture of a plan's SVG says."""
    return {finding.code for finding in raster_findings("a.svg", svg_bytes(plan, "t"), expected)}


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
) -> None:
    assert drawn(changed(plan, "outline", change, piece), expected) == found
    assert drawn(changed(plan, "outline", change, piece), by_figures(expected)) == found


def test_a_picture_shows_arcs_that_bend_the_wrong_way(plan: CutPlan, expected: ExpectedLay) -> None:
    def bent(stroke: Stroke) -> Stroke:
        return replace(stroke, bulges=tuple(-bulge for bulge in stroke.bulges))

    assert drawn(changed(plan, "outline", bent, "crown"), expected) == {"area"}


def test_a_drawing_that_cannot_be_read_has_no_picture(expected: ExpectedLay) -> None:
    assert raster_findings("a.svg", b"<svg", expected) == ()
