"""From a drawing to panels: roles, loops, findings with their place, folds, grain, notches.

Where no source is named beside a check, its figures are derived from the drawing in it by plane
geometry; a place is counted from the lower left corner of the page, 200 mm high.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from cutfiles.errors import Finding
from cutfiles.geometry.polygons import polygon_of
from cutfiles.job.job import Cloth, Job, PanelLine, PanelRole
from cutfiles.job.machine import Machine
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.ordered import Panel
from cutfiles.pieces.panel import read_panels
from tests.conftest import ROOT

LINE = PanelLine(1, "pocket.svg", "pocket", 10, "kelp")
GRAIN_UP = replace(LINE, grain_deg=90.0)
BOX = '<path d="M 20 30 H 120 V 90 H 20 Z"/>'


def page(body: str, size: float = 200) -> bytes:
    """A page of 200 mm, or as wide and high as said, 200 user units each way."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}mm" height="{size}mm" '
        f'viewBox="0 0 200 200">{body}</svg>'
    ).encode()


def panels_of(body: str, line: PanelLine = LINE) -> tuple[tuple[Panel, ...], tuple[Finding, ...]]:
    return read_panels(page(body), line, source="job.toml")


def only(body: str, line: PanelLine = GRAIN_UP) -> Panel:
    panels, findings = panels_of(body, line)
    assert findings == ()
    (panel,) = panels
    return panel


def test_the_fixture_is_read_whole() -> None:
    content = (ROOT / "fixtures" / "pieces" / "pocket.svg").read_bytes()
    (panel,), findings = read_panels(content, LINE, source="job.toml")
    assert findings == ()
    piece = panel.piece
    # derived: 140 x 160 without a quarter circle's corner, and without a parabola's (a sixth of
    # 30 x 30)
    area = 140 * 160 - 30**2 * (1 - math.pi / 4) - 30**2 / 6
    assert polygon_of(piece.cut).area == pytest.approx(area, rel=1e-4)
    assert polygon_of(piece.inner[0]).area == pytest.approx(12 * 30 - 9 * (4 - math.pi), rel=1e-3)
    # the grain is drawn up the page: it comes to lie along x, and the hem line across it
    assert polygon_of(piece.cut).bounds == pytest.approx((0, 0, 160, 140), abs=1e-9)
    (hem,) = piece.marks
    assert hem.start.x == pytest.approx(135)
    assert hem.end.x == pytest.approx(135)
    assert [notch.depth_mm for notch in piece.notches] == pytest.approx([4, 4])
    assert {round(notch.at.x, 6) for notch in piece.notches} == {135}
    assert {round(notch.at.y, 6) for notch in piece.notches} == {0, 140}
    assert piece.grain.start.x < piece.grain.end.x
    assert {type(s).__name__ for s in piece.cut.segments} == {"Line", "Arc", "Cubic"}


# what is wrong, where it is said to be, and in which words
BAD_DRAWINGS: list[tuple[str, str, PanelLine, str, str, str]] = [
    ("empty", "", LINE, "no-outline", "", "there is no closed outline"),
    ("open", '<path d="M 20 30 H 120 V 90"/>', LINE, "open-outline", "(20.0, 170.0)",
     "the nearest end is 116.619 mm away and gap_tolerance is 0.1 mm"),
    ("a gap too wide", '<path d="M 20 30 H 120 V 90 H 20 V 30.2"/>', LINE, "open-outline",
     "(20.0, 170.0)", "0.200 mm away"),
    ("a loose line", BOX + '<path d="M 150 150 h 30"/>', LINE, "open-outline", "(150.0, 50.0)",
     "a line of 30.0 mm, on to (180.0, 50.0) mm"),
    ("a tail", BOX + '<path d="M 120 90 L 150 150"/>', LINE, "open-outline", "(120.0, 110.0)",
     "is not closed"),
    ("a shared side",
     '<path d="M 20 30 H 120"/><path d="M 120 30 V 90 H 20 V 30"/><path d="M 120 30 L 60 60 '
     'L 20 30"/>', LINE, "open-outline", "", "three or more lines meet"),
    ("crossing itself", '<path d="M 20 30 L 120 90 V 30 L 20 90 Z"/>', LINE, "self-crossing",
     "(70.0, 140.0)", "as one simple line round"),
    ("no width", '<path d="M 20 30 H 120 H 20 Z"/>', LINE, "self-crossing", "", "touches itself"),
    ("crossing another", BOX + '<path d="M 100 60 h 90 v 90 h -90 Z"/>', LINE,
     "crossing-outlines", "", "two outlines cross or touch"),
    ("a cut-out at the edge", BOX + '<path d="M 20 50 h 20 v 20 h -20 Z"/>', LINE,
     "crossing-outlines", "", "draw them apart"),
    ("a cut-out in a cut-out", BOX + '<circle cx="60" cy="60" r="20"/><circle cx="60" cy="60" '
     'r="9"/>', LINE, "stray-cut-out", "(51.0, 131.0)", "lies in another cut-out"),
    ("a cut-out outside", f'<g id="outline">{BOX}</g><g id="inner"><circle cx="160" cy="60" '
     'r="9"/></g>', LINE, "stray-cut-out", "(151.0, 131.0)", "lies in no outline"),
    ("tiny", '<rect x="9" y="9" width="4" height="3"/>', LINE, "absurd-size", "(9.0, 188.0)",
     "4 by 3 mm, and must be at least 5 mm"),
    ("out of all bounds", '<circle cx="1e308" r="1e308"/><rect width="1e300" height="50"/>'
     '<path d="M0 0 L 1e400 5 L 5 5z"/>', LINE, "absurd-size", "", "3 lines reach beyond 1e+06 mm"),
    ("specks alone", '<rect x="9" y="9" width=".4" height=".3"/>', LINE, "no-outline", "",
     "see that the unit is right"),
    ("no such layer", BOX, replace(LINE, roles=(("outline", ("cut",)),)), "no-such-layer", "",
     "no layer or group is called 'cut': found: none"),
    ("almost a layer", f'<g id="cutline">{BOX}</g>', replace(LINE, roles=(("outline", ("cut-line",)
     ),)), "no-such-layer", "", "did you mean 'cutline'?"),
    ("a notch off the edge", f'<g id="outline">{BOX}</g><path id="notch" d="M 60 40 v 5"/>', LINE,
     "bad-notch", "(60.0, 160.0)", "begins 10.000 mm off"),
    ("a notch outwards", f'<g id="outline">{BOX}</g><path id="notch" d="M 60 30 v -5"/>', LINE,
     "bad-notch", "", "must begin on the outline"),
    ("a fold without an edge", '<circle cx="60" cy="60" r="30"/>', replace(LINE, on_fold=True),
     "no-fold", "(30.0, 110.0)", "no straight edge"),
    ("a fold in the middle",
        '<path d="M 10 10 H 40 V 110 H 70 V 150 H 10 L 15 80 Z"/>',
        replace(LINE, on_fold=True), "no-fold", "", "both sides"),
    ("over a hundred", "".join(f'<rect x="{x * 8}" y="{y * 8}" width="6" height="6"/>'
     for x in range(21) for y in range(5)), LINE, "too-many-outlines", "", "there are 105"),
    ("loose lines everywhere", "".join(f'<path d="M {9 * n} 0 v 5"/>' for n in range(20)), LINE,
     "open-outline", "", "20 lines not closed, of which the first 8 follow"),
    ("not SVG", "<g>", LINE, "unreadable", "", "no SVG file"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("body", "line", "code", "place", "words"),
    [bad[1:] for bad in BAD_DRAWINGS],
    ids=[bad[0] for bad in BAD_DRAWINGS],
)
def test_a_bad_drawing_says_what_is_wrong_and_where(
    body: str, line: PanelLine, code: str, place: str, words: str
) -> None:
    panels, findings = panels_of(body, line)
    assert panels == ()
    said = [f for f in findings if f.code == code]
    assert said, findings
    assert said[0].severity == "error"
    assert words in said[0].text
    assert said[0].text.startswith("job.toml: [[panels]] 1: pocket.svg: ")
    if place:
        assert f"at {place} mm: " in said[0].text


def test_a_drawing_in_the_wrong_unit() -> None:
    panels, findings = read_panels(page(BOX, size=20_000), LINE, source="job.toml")
    assert panels == ()
    assert "1e+04 by 6000 mm, and must be at most 5000 mm" in " ".join(f.text for f in findings)


def test_all_findings_come_at_once() -> None:
    body = (
        '<path d="M 20 30 L 120 90 V 30 L 20 90 Z"/><path d="M 150 150 h 30"/>'
        '<path d="M 190 190 l 0.1 0.1"/><text>hem</text>'
    )
    _, findings = panels_of(body)
    assert {f.code for f in findings} >= {
        "self-crossing", "open-outline", "stray-speck", "unread-part",
    }  # fmt: skip


# what is mended or assumed, and goes on
@pytest.mark.parametrize(
    ("body", "line", "code", "severity", "words"),
    [
        ('<path d="M 20 30 H 120 V 90 H 20 V 30.05"/>', GRAIN_UP, "gap-closed", "note",
         "1 gap closed, the widest 0.050 mm (up to gap_tolerance, 0.1 mm)"),
        ('<path d="M 20 30 H 120 V 90 H 20 V 31"/>', replace(GRAIN_UP, gap_tolerance_mm=2.0),
         "gap-closed", "note", "at (20.0, 170.0) mm: 1 gap"),
        (BOX + BOX, GRAIN_UP, "duplicate-line", "warning", "at (20.0, 110.0) mm: an outline"),
        ('<path d="M 20 30 H 120"/><path d="M 120 30 V 90 H 20 V 30"/><path d="M 120 30 H 20"/>',
         GRAIN_UP, "duplicate-line", "warning", "at (70.0, 170.0) mm: a line lies twice"),
        (BOX + '<path d="M 150 150 l 0.2 0.1"/>', GRAIN_UP, "stray-speck", "warning",
         "at (150.0, 50.0) mm: 1 speck of 0.5 mm or less"),
        (BOX, LINE, "grain-assumed", "note", "the drawing's x axis is taken"),
        (BOX + '<path d="M 20 100 h 50 v 50 h -50 z"/>', GRAIN_UP, "several-outlines", "note",
         "there are 2 outlines"),
        (f'<g id="outline">{BOX}</g><g id="hints"><path d="M 0 0 h 9"/></g>', GRAIN_UP, "no-role",
         "note", "1 line without a role left out (on hints)"),
        (f'<g id="outline">{BOX}</g><g id="stitch"><path d="M 0 0 h 9"/></g>', GRAIN_UP,
         "stray-mark", "warning", "at (0.0, 200.0) mm: 1 line of role stitch"),
        (f'<g id="outline">{BOX}</g><g id="stitch"><path d="M 50 60 h 99"/></g>', GRAIN_UP,
         "stray-mark", "warning", "1 mark cut off at the outline"),
        (BOX, replace(GRAIN_UP, on_fold=True), "fold-unclear", "warning", "is as long"),
        (BOX + "<text>hem</text>", GRAIN_UP, "unread-part", "warning", "<text>"),
        (BOX, replace(GRAIN_UP, unit="in"), "unit-unused", "note", "says its unit itself"),
    ],
)  # fmt: skip
def test_what_is_mended_is_told(
    body: str, line: PanelLine, code: str, severity: str, words: str
) -> None:
    panels, findings = panels_of(body, line)
    assert panels
    (finding,) = findings
    assert (finding.code, finding.severity) == (code, severity)
    assert words in finding.text


#    +---------+        the outline, two holes, a stitch line and the grain,
#    |  o   [] |        each on a layer of its own name
#    | ------- |
#    +---------+
@pytest.mark.parametrize("given", [True, False])
def test_roles_by_layer_or_group(given: bool) -> None:
    names = ("cut line", "holes", "sewing", "warp", "nicks") if given else (
        "outline", "inner", "stitch", "grain", "notch")  # fmt: skip
    body = (
        f'<g id="{names[0]}">{BOX}</g>'
        f'<circle class="{names[1]}" cx="50" cy="50" r="8"/>'
        f'<g id="x" class="{names[1]}"><rect x="80" y="40" width="9" height="9"/></g>'
        f'<g id="{names[2]}"><path d="M 25 70 H 115"/></g>'
        f'<path id="{names[3]}" d="M 30 80 L 60 65"/>'
        f'<path id="{names[4]}" d="M 20 60 h 3"/>'
    ).replace("cut line", "cut-line")
    roles: tuple[tuple[PanelRole, tuple[str, ...]], ...] = (
        ("outline", ("cut-line",)), ("inner", ("holes",)), ("stitch", ("sewing",)),
        ("grain", ("warp",)), ("notch", ("nicks",)),
    )  # fmt: skip
    panel = only(body, replace(LINE, roles=roles if given else ()))
    piece = panel.piece
    assert len(piece.inner) == 2
    assert len(piece.marks) == len(piece.notches) == 1
    # 15 up in 30 along: turned back by that angle, the stitch line slopes down
    slope = (piece.marks[0].end - piece.marks[0].start).angle_deg
    assert slope == pytest.approx(-math.degrees(math.atan2(15, 30)))


def test_holes_are_cut_outs_and_the_label_is_beside_them() -> None:
    piece = only(BOX + '<circle cx="70" cy="60" r="20"/>').piece
    (hole,) = piece.inner
    inside = polygon_of(piece.cut).difference(polygon_of(hole))
    assert inside.contains(shapely.Point(piece.label.centre.x, piece.label.centre.y))
    assert inside.contains(shapely.Point(piece.grain.end.x, piece.grain.end.y))


def test_a_mark_is_kept_to_its_panel() -> None:
    marks = '<path d="M 50 60 h 99"/><path d="M 30 30 v 60"/><path d="M 20 90 H 120"/>'
    panels, _ = panels_of(f'<g id="outline">{BOX}</g><g id="stitch">{marks}</g>')
    assert [mark.length() for mark in panels[0].piece.marks] == pytest.approx([70, 60, 100])
    assert len(panels[0].piece.stitch_lines) == 3


def test_every_outermost_outline_is_a_panel() -> None:
    other = '<path d="M 20 100 h 50 v 50 h -50 z"/><circle cx="40" cy="120" r="9"/>'
    panels, _ = panels_of(BOX + other, GRAIN_UP)
    assert [panel.name for panel in panels] == ["pocket 1", "pocket 2"]
    assert [len(panel.piece.inner) for panel in panels] == [0, 1]
    assert [polygon_of(panel.piece.cut).area for panel in panels] == pytest.approx([6000, 2500])


@pytest.mark.parametrize("grain_deg", [0.0, 90.0, 37.0, -120.0])
def test_the_grain_comes_to_lie_along_x(grain_deg: float) -> None:
    plain = only('<path d="M 20 30 H 120 L 100 90 H 20 Z"/>', replace(LINE, grain_deg=0.0))
    turned = only('<path d="M 20 30 H 120 L 100 90 H 20 Z"/>', replace(LINE, grain_deg=grain_deg))
    first = plain.piece.cut.segments[0]
    same = turned.piece.cut.segments[0]
    angle = (same.end - same.start).angle_deg - (first.end - first.start).angle_deg
    assert (angle + grain_deg) % 360 == pytest.approx(0, abs=1e-9) or (
        (angle + grain_deg) % 360 == pytest.approx(360, abs=1e-9)
    )
    x0, y0, _, _ = polygon_of(turned.piece.cut).bounds
    assert (x0, y0) == pytest.approx((0, 0), abs=1e-9)
    assert polygon_of(turned.piece.cut).exterior.is_ccw


#    |‾‾\              |‾‾\ /‾‾|
#    |   )    opens    |   )|( |  the fold is the longest edge, here the left one; a bay in it
#    (  o|     to      |o (___)|  becomes a cut-out
#    |___/
def test_a_half_on_the_fold_is_opened() -> None:
    half = '<path d="M 50 20 H 70 Q 100 60 70 120 L 50 150 V 110 A 10 10 0 0 0 50 90 Z"/>'
    panel = only(half + '<circle cx="68" cy="60" r="5"/>', replace(GRAIN_UP, on_fold=True))
    whole = polygon_of(panel.piece.cut)
    x0, y0, x1, y1 = whole.bounds
    (size_x, size_y) = (x1 - x0, y1 - y0)
    assert size_x == pytest.approx(130)
    assert size_y == pytest.approx(70, abs=0.02)
    mirrored = shapely.affinity.scale(whole, yfact=-1, origin=(0, (y0 + y1) / 2))
    assert mirrored.symmetric_difference(whole).area < 0.05
    areas = sorted(polygon_of(path).area for path in panel.piece.inner)
    assert areas == pytest.approx([math.pi * 25, math.pi * 25, math.pi * 100], rel=4e-3)


def test_panels_are_grown_counted_and_labelled() -> None:
    panel = only(BOX + '<circle cx="70" cy="60" r="20"/>', replace(LINE, grain_deg=0.0))
    cloth = Cloth("kelp", 1100.0, 0.0, None, False, 4, 10.0, 5.0, "cotton")
    job = Job("job.toml", "t", "mm", (cloth,), (), Machine("laser", 0.2, None, None), (LINE,))
    cuts = cut_list(job, cloth, (panel,))
    # derived: 10 panels in 4 plies are three outlines, two panels too many
    assert [f.code for f in cuts.findings] == ["over-cut"]
    assert "4 plies do not divide 10 panels: 12 are cut, 2 more" in cuts.findings[0].text
    pieces = [ordered for cap in cuts.caps for ordered in cap.pieces]
    assert [p.label for p in pieces] == [f"pocket / {k} of 3" for k in (1, 2, 3)]
    assert {p.cap for p in pieces} == {"pocket"}
    assert len({p.id for p in pieces}) == 3
    piece = pieces[0].piece
    x0, y0, x1, y1 = polygon_of(piece.cut).bounds
    # derived: cloth that shrinks by 10 % and 5 % leaves 0.9 and 0.95 of what is cut
    assert (x1 - x0, y1 - y0) == pytest.approx((100 / 0.9, 60 / 0.95))
    x0, y0, x1, y1 = polygon_of(piece.inner[0]).bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((40 / 0.9, 40 / 0.95), abs=0.02)


#     ___________         the right side overshoots the top by a little, the left one falls short;
#    |           |'       round corners meet their sides in steps
@pytest.mark.parametrize("by", [-0.05, 0.05, -0.0005, 0.0005])
@pytest.mark.parametrize(
    "corner",
    ["l 20 20", "a 20 20 0 0 1 20 20", "q 20 0 20 20"],
)
def test_ends_that_overshoot_or_fall_short_are_brought_together(by: float, corner: str) -> None:
    lines = (
        f'<path d="M 20 30 H 100"/><path d="M 100 30 {corner}"/>'
        f'<path d="M 120 {50 + by} V 90"/><path d="M {120 + by} 90 H 20"/><path d="M 20 90 V 30"/>'
    )
    (panel,), findings = panels_of(lines, GRAIN_UP)
    assert {f.code for f in findings} == ({"gap-closed"} if abs(by) > 0.001 else set())
    sharp = {"l": 200.0, "a": 400 * (1 - math.pi / 4), "q": 400 / 6}[corner[0]]
    assert polygon_of(panel.piece.cut).area == pytest.approx(6000 - sharp, rel=1e-3)
    assert len(panel.piece.cut.segments) == 5


def test_two_arcs_that_do_not_quite_meet() -> None:
    arcs = '<path d="M 20 50 a 30 30 0 0 1 60 0"/><path d="M 80 50.06 a 30 30 0 0 1 -60 0"/>'
    (panel,), _ = panels_of(arcs, GRAIN_UP)
    assert polygon_of(panel.piece.cut).area == pytest.approx(math.pi * 900, rel=2e-3)


def test_a_corner_of_next_to_nothing_is_no_junction() -> None:
    lines = (
        '<path d="M 20 30 H 120"/><path d="M 120 30 l 0.0004 0.0004"/>'
        '<path d="M 120.0004 30.0004 V 90"/><path d="M 120.0004 90 H 20 V 30"/>'
    )
    panel = only(lines)
    assert polygon_of(panel.piece.cut).area == pytest.approx(6000, rel=1e-4)


def test_a_curve_of_many_short_lines_is_one_outline() -> None:
    # steps shorter than the gap tolerance must neither be skipped nor closed upon themselves
    spots = [
        (60 + 30 * math.cos(math.tau * k / 3000), 60 + 30 * math.sin(math.tau * k / 3000))
        for k in range(3000)
    ]
    lines = "".join(
        f'<line x1="{a:.5f}" y1="{b:.5f}" x2="{c:.5f}" y2="{d:.5f}"/>'
        for (a, b), (c, d) in zip(spots, spots[1:] + spots[:1], strict=True)
    )
    panel = only(lines, replace(GRAIN_UP, gap_tolerance_mm=1.0))
    assert len(panel.piece.cut.segments) == 3000
    assert polygon_of(panel.piece.cut).area == pytest.approx(math.pi * 900, rel=1e-5)


#    |----\       the fold is said by a line: the short left side, which on_fold would not take;
#    |     |      a notch on it and a mark along it stay single, all else is doubled
#    |____/
def test_a_fold_line_says_where_a_half_is_opened() -> None:
    body = (
        '<g id="outline"><path d="M 20 50 H 120 L 130 70 L 120 90 H 20 Z"/></g>'
        '<path id="fold" d="M 20 90 V 50"/><path id="stitch" d="M 20 55 V 85"/>'
        '<g id="notch"><path d="M 20 50 v 4"/><path d="M 80 50 v 4"/></g>'
        '<g id="drill"><circle cx="60" cy="70" r="2"/></g>'
    )
    (panel,), findings = panels_of(body, GRAIN_UP)
    assert findings == ()
    piece = panel.piece
    assert polygon_of(piece.cut).area == pytest.approx(2 * (100 * 40 + 10 * 40 / 2))
    assert sorted(round(notch.at.y) for notch in piece.notches) == [50, 110, 170]
    assert sorted(mark.length() for mark in piece.marks) == pytest.approx([4, 4, 4, 4, 30])


def test_a_fold_line_beside_the_outline() -> None:
    fold = '<path id="fold" d="M 15 30 V 90"/>'
    panels, findings = panels_of(f'<g id="outline">{BOX}</g>{fold}', GRAIN_UP)
    assert [f.code for f in findings] == ["stray-mark"]
    across = '<path id="fold" d="M 60 30 V 90"/>'
    panels, findings = panels_of(f'<g id="outline">{BOX}</g>{across}', GRAIN_UP)
    assert [f.code for f in findings] == ["fold-unclear"]
    assert "taken to be drawn whole" in findings[0].text
    round_half = '<g id="outline"><path d="M 20 30 C 40 60 40 60 20 90 L 120 60 Z"/></g>'
    beside = '<path id="fold" d="M 20 30 V 90"/>'
    panels, findings = panels_of(round_half + beside, GRAIN_UP)
    assert panels == ()
    assert [f.code for f in findings] == ["no-fold"]
