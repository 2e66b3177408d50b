"""Write, then read with a reader that shares no code: nothing is lost to the written decimals."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from ezdxf.filemanagement import new, readfile
from hypothesis import given, settings
from hypothesis import strategies as st

from cutfiles.cuts.plan import CutPlan, Lettering, Role, Stroke
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.roles import INKS
from cutfiles.files.svg import svg_bytes
from cutfiles.verdict.drawing import ReadDrawing
from cutfiles.verdict.read_dxf import read_dxf
from cutfiles.verdict.read_svg import page_scale, read_svg
from tests.apart import apart_mm

WIDTH, LENGTH = 1092.2, 1583.4

numbers = st.integers(0, 10_000_000).map(lambda n: n / 10_000)  # the written decimals
points = st.lists(st.tuples(numbers, numbers), min_size=3, max_size=12, unique=True)
roles = st.sampled_from(["outline", "inner", "notch", "stitch", "grain"])
strokes = st.builds(
    lambda role, where, closed: Stroke(role, "piece-1", tuple(where), closed=closed),
    roles,
    points,
    st.booleans(),
)


def plan_of(*some: Stroke, letterings: tuple[Lettering, ...] = ()) -> CutPlan:
    return CutPlan("lay-01", WIDTH, LENGTH, some, letterings, 0.0, 0.0, 0.0)


def read(plan: CutPlan, suffix: str, folder: Path) -> ReadDrawing:
    path = folder / f"lay-01{suffix}"
    path.write_bytes(dxf_bytes(plan) if suffix == ".dxf" else svg_bytes(plan, "title & <more>"))
    return read_dxf(path) if suffix == ".dxf" else read_svg(path)


@pytest.mark.parametrize("suffix", [".dxf", ".svg"])
@settings(max_examples=40)
@given(some=st.lists(strokes, min_size=1, max_size=5))
def test_what_is_written_is_read(
    suffix: str, tmp_path_factory: pytest.TempPathFactory, some: list[Stroke]
) -> None:
    drawing = read(plan_of(*some), suffix, tmp_path_factory.mktemp("round"))
    assert drawing.findings == ()
    for role in INKS:
        wanted = [stroke for stroke in some if stroke.role == role]
        if role in ("label", "cloth"):
            continue
        lines = drawing.on(INKS[role].layer)
        assert len(lines) == len(wanted)
        for stroke, line in zip(wanted, lines, strict=True):
            there = np.array(stroke.points + (stroke.points[:1] if stroke.closed else ()))
            assert np.abs(there - line.points).max() <= 1.01e-4
            assert line.is_closed == (stroke.closed or stroke.points[0] == stroke.points[-1])


apart = st.lists(
    st.tuples(st.integers(0, 400), st.integers(0, 400)), min_size=3, max_size=8, unique=True
)
bulges = st.floats(-2.5, 2.5).map(lambda b: b if abs(b) > 0.01 else 0.0)


@pytest.mark.parametrize("suffix", [".dxf", ".svg"])
@settings(max_examples=40)
@given(data=st.data(), where=apart, closed=st.booleans())
def test_arcs_that_are_written_are_read(
    suffix: str, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject,
    where: list[tuple[float, float]], closed: bool,
) -> None:  # fmt: skip
    count = len(where) - (not closed)
    bends = tuple(data.draw(st.lists(bulges, min_size=count, max_size=count)))
    stroke = Stroke("outline", "p", tuple(where), closed=closed, bulges=bends)
    (line,) = read(plan_of(stroke), suffix, tmp_path_factory.mktemp("arcs")).on(
        INKS["outline"].layer
    )
    # reference: shapely's distance between the read line and the arcs, flattened finely
    there = shapely.LineString(np.vstack([span.flattened(1e-3) for span in stroke.spans]))
    assert apart_mm(shapely.LineString(line.points), there) <= 0.0085
    assert line.is_closed == closed


@pytest.mark.parametrize("suffix", [".dxf", ".svg"])
def test_cloth_and_labels_are_read(suffix: str, tmp_path: Path) -> None:
    lettering = Lettering("piece-1", "tie-back M / crown 1 of 1 & <x>", (100.0, 50.0), 90.0, 8.0)
    drawing = read(plan_of(letterings=(lettering,)), suffix, tmp_path)
    (cloth,) = drawing.on(INKS["cloth"].layer)
    assert shapely.Polygon(cloth.points).bounds == pytest.approx((0, 0, LENGTH, WIDTH), abs=1e-4)
    (text,) = drawing.texts
    assert text.text == lettering.text
    assert text.place == pytest.approx(lettering.centre, abs=1e-3)
    assert text.layer == INKS["label"].layer


@pytest.mark.parametrize("write", [dxf_bytes, lambda plan: svg_bytes(plan, "t")])
def test_the_same_plan_gives_the_same_bytes(write: object) -> None:
    stroke = Stroke("outline", "p", ((1.0, 2.0), (3.0, 2.0), (3.0, 9.0)), closed=True)
    plan = plan_of(stroke, letterings=(Lettering("p", "x", (2.0, 3.0), 0.0, 4.0),))
    assert callable(write)
    assert write(plan) == write(plan)


def test_the_dxf_header_says_millimetres(tmp_path: Path) -> None:
    # $INSUNITS 4 is millimetres and AC1015 is R2000: the format owner's header reference;
    # $MEASUREMENT 1 is metric: from memory
    path = tmp_path / "a.dxf"
    path.write_bytes(dxf_bytes(plan_of()))
    document = readfile(path)
    assert document.header["$INSUNITS"] == 4
    assert document.header["$MEASUREMENT"] == 1
    assert document.dxfversion == "AC1015"
    assert {ink.layer for ink in INKS.values()} <= {layer.dxf.name for layer in document.layers}
    colours = {document.layers.get(ink.layer).color for ink in INKS.values()}
    assert len(colours) == len(INKS)


def test_one_user_unit_is_one_millimetre() -> None:
    # W3C SVG 2 coordinate systems and CSS Values 3: 1 in = 25.4 mm = 96 px
    box = "0 0 1100 900"
    assert page_scale({"width": "1100mm", "height": "900mm", "viewBox": box}) == (1.0, 900.0)
    scale, _ = page_scale({"width": "1100", "height": "900", "viewBox": box})
    assert scale * 1100 == pytest.approx(291.04, abs=1e-2)
    assert 1 / scale == pytest.approx(3.779528, abs=1e-4)


@pytest.mark.parametrize(
    "attributes",
    [
        {},
        {"width": "10mm", "height": "10mm"},
        {"width": "10furlong", "height": "10mm", "viewBox": "0 0 10 10"},
        {"width": "10mm", "height": "20mm", "viewBox": "0 0 10 10"},
        {"width": "10mm", "height": "10mm", "viewBox": "5 0 10 10"},
    ],
)
def test_a_page_without_a_scale_is_refused(attributes: dict[str, str]) -> None:
    with pytest.raises(ValueError, match=r"its (width|height|viewBox)"):
        page_scale(attributes)


def test_svg_counts_down_and_dxf_up(tmp_path: Path) -> None:
    # derived: y_svg = H - y_dxf; the signed area changes its sign, its size stays
    corners = ((10.0, 20.0), (110.0, 20.0), (60.0, 90.0))
    plan = plan_of(Stroke("outline", "p", corners, closed=True))
    raw = svg_bytes(plan, "t").decode()
    data = raw.split(f'id="{INKS["outline"].layer}"')[1].split(' d="M')[1].split(" Z")[0]
    pairs = [pair.split(",") for pair in data.split(" L")]
    flipped = [(float(x), float(y)) for x, y in pairs]
    for (x, y), (there_x, there_y) in zip(corners, flipped, strict=True):
        assert there_x == x
        assert there_y == pytest.approx(WIDTH - y, abs=1e-4)

    def signed(ring: list[tuple[float, float]]) -> float:
        return sum(
            a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1], strict=True)
        )

    assert signed(flipped) == pytest.approx(-signed(list(corners)), rel=1e-9)
    for suffix in (".dxf", ".svg"):
        (line,) = read(plan, suffix, tmp_path).on(INKS["outline"].layer)
        assert line.points[:-1] == pytest.approx(np.array(corners), abs=1e-4)


@pytest.mark.parametrize(("unit", "millimetres"), [(4, 1.0), (1, 25.4), (5, 10.0)])
def test_one_piece_in_three_units(unit: int, millimetres: float, tmp_path: Path) -> None:
    # the format owner's $INSUNITS: the same piece at 4, 1 and 5 has its coordinates
    # multiplied by 1, 1/25.4 and 1/10
    document = new("R2000")
    document.header["$INSUNITS"] = unit
    corners = [(x / millimetres, y / millimetres) for x, y in ((0, 0), (200, 0), (200, 100))]
    document.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "a"})
    path = tmp_path / "unit.dxf"
    document.saveas(path)
    drawing = read_dxf(path)
    assert drawing.findings == ()
    assert shapely.Polygon(drawing.on("a")[0].points).bounds == pytest.approx((0, 0, 200, 100))


def test_arcs_as_bulges_are_read(tmp_path: Path) -> None:
    document = new("R2000")
    document.header["$INSUNITS"] = 4
    # the format owner's reference: a bulge is the tangent of a quarter of the sweep, so that 1 is
    # half a circle
    ring = [(0, 0, 1.0), (100, 0, 1.0)]
    document.modelspace().add_lwpolyline(ring, format="xyb", close=True)
    path = tmp_path / "arcs.dxf"
    document.saveas(path)
    (line,) = read_dxf(path).lines
    assert shapely.Polygon(line.points).area == pytest.approx(np.pi * 50**2, rel=2e-3)


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("a.dxf", b"", "unreadable"),
        ("a.dxf", b"\x00\x01\x02 not a drawing", "unreadable"),
        ("a.svg", b"", "unreadable"),
        ("a.svg", b"<svg", "unreadable"),
        ("a.svg", b'<!DOCTYPE s [<!ENTITY a "b">]><svg>&a;</svg>', "unreadable"),
        ("a.svg", b'<svg xmlns="http://www.w3.org/2000/svg"/>', "no-unit"),
        (
            "a.svg",
            b'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
            b'<g transform="scale(2)"><path d="M0 0L1 1"/></g></svg>',
            "unread-part",
        ),
        (
            "a.svg",
            b'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
            b'<path d="M0 0L1 nonsense"/></svg>',
            "unreadable",
        ),
        (
            "a.svg",
            b'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
            b"%s%s</svg>" % (b"<g>" * 200, b"</g>" * 200),
            "unreadable",
        ),
    ],
)
def test_files_that_cannot_be_read_are_findings(
    name: str, content: bytes, code: str, tmp_path: Path
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    drawing = read_dxf(path) if name.endswith("dxf") else read_svg(path)
    assert code in {finding.code for finding in drawing.findings}


@pytest.mark.parametrize("x", ["nan", "inf", "-inf", "1e400"])
@pytest.mark.parametrize("kind", ["LINE", "LWPOLYLINE", "TEXT"])
def test_places_that_are_no_numbers_are_a_finding(kind: str, x: str, tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    document = new("R2000", units=4)
    space = document.modelspace()
    if kind == "LINE":
        space.add_line((8125.25, 1.0), (2.0, 2.0))
    elif kind == "LWPOLYLINE":
        space.add_lwpolyline([(8125.25, 1.0), (2.0, 2.0), (3.0, 5.0)], close=True)
    else:
        space.add_text("a", height=3.0).set_placement((8125.25, 1.0))
    document.saveas(path)
    assert read_dxf(path).findings == ()
    path.write_text(path.read_text().replace("8125.25", x))
    assert [finding.code for finding in read_dxf(path).findings] == ["unreadable"]


def test_a_point_where_a_tool_may_go_down_is_a_finding(tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    document = new("R2000", units=4)
    document.modelspace().add_point((5.0, 6.0))
    document.saveas(path)
    (finding,) = read_dxf(path).findings
    assert finding.code == "unread-part"
    assert "(5.0, 6.0) mm" in finding.text


def test_a_truncated_dxf_is_a_finding(tmp_path: Path) -> None:
    plan = plan_of(
        *(
            Stroke("outline", str(k), ((k, 0.0), (k + 0.5, 0.0), (k, 9.0)), closed=True)
            for k in range(9)
        )
    )
    path = tmp_path / "cut.dxf"
    whole = dxf_bytes(plan)
    path.write_bytes(whole[: int(len(whole) * 0.9)])
    assert {finding.code for finding in read_dxf(path).findings} & {"truncated", "unreadable"}


def test_nothing_of_a_torn_svg_is_read(tmp_path: Path) -> None:
    path = tmp_path / "cut.svg"
    whole = svg_bytes(plan_of(Stroke("notch", "a", ((0.0, 0.0), (9.0, 9.0)), closed=False)), "t")
    path.write_bytes(whole)
    assert len(read_svg(path).lines) == 2  # the cloth too
    path.write_bytes(whole.removesuffix(b"</svg>\n"))
    drawing = read_svg(path)
    assert [finding.code for finding in drawing.findings] == ["unreadable"]
    assert not len(drawing.lines)


def test_all_words_of_an_svg_text_are_read(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
        '<g id="a"><text x="1" y="2">one <tspan>two</tspan><!-- no --> &amp; more</text> no'
        "</g></svg>"
    )
    drawing = read_svg(path)
    # SVG 2 (W3C), 11.2: the characters of a text are those of all that is in it
    assert [(text.layer, text.text) for text in drawing.texts] == [("a", "one two & more")]
    assert [finding.code for finding in drawing.findings] == ["unread-part"]


def test_every_role_has_its_own_layer_and_colour() -> None:
    every: set[Role] = {"outline", "inner", "notch", "stitch", "grain", "label", "cloth"}
    assert set(INKS) == every
    assert len({ink.layer for ink in INKS.values()}) == 7
    # Okabe and Ito 2008, "Color Universal Design": the eight colours
    palette = {"#000000", "#e69f00", "#56b4e9", "#009e73", "#f0e442", "#0072b2", "#d55e00",
               "#cc79a7"}  # fmt: skip
    assert {ink.hex for ink in INKS.values()} <= palette
