"""Drawings in DXF: what we read against what GDAL reads, and splines against scipy."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import shapely
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new
from ezdxf.layouts.base import BaseLayout
from scipy.interpolate import BSpline

from cutfiles.pieces.chain import chained
from cutfiles.pieces.drawn import Drawing
from cutfiles.pieces.panel_dxf import read_dxf_drawing
from tests.apart import apart_mm
from tests.unit.dxf_drawings import MILLIMETRES, Draw, drawn

pytestmark = pytest.mark.usefixtures("fine_arcs")


def read(content: bytes, unit: str | None = None) -> Drawing:
    return read_dxf_drawing(content, unit=unit, where="job.toml: [[panels]] 1: a.dxf")


def our_area(content: bytes) -> float:
    found = read(content)
    assert found.findings == ()
    chains = chained([line.path for line in found.lines], gap_mm=0.0)
    assert chains.loose == ()
    return sum(shapely.Polygon(loop.flattened(0.0005)).area for loop in chains.loops)


def gdal_area(content: bytes, folder: Path) -> float:
    path = folder / "a.dxf"
    path.write_bytes(content)
    _, _, shapes, _ = pyogrio.raw.read(path)
    lines = [
        shapely.LineString(ring.coords)
        for shape in shapely.from_wkb(shapes)
        for part in shapely.get_parts(shapely.get_parts(shape))
        for ring in ([part.exterior] if isinstance(part, shapely.Polygon) else [part])
    ]
    ends = shapely.union_all(shapely.set_precision(lines, 1e-5))
    return float(sum(polygon.area for polygon in shapely.polygonize([ends]).geoms))


BULGED = [(0, 0, 0), (90, 0, 0.5), (90, 60, 0), (40, 90, -0.3), (0, 60, 1.2)]
CORNERS = [(0, 0), (90, 0), (110, 60), (30, 80)]


def block(
    *, scale: tuple[float, float] = (1, 1), turn: float = 0, draw: Draw | None = None
) -> Draw:
    def put(document: Document, space: BaseLayout) -> None:
        inside = document.blocks.new("POCKET", base_point=(10, 5))
        (draw or bulged)(document, inside)
        space.add_blockref(
            "POCKET", (40, 30),
            dxfattribs={"xscale": scale[0], "yscale": scale[1], "rotation": turn},
        )  # fmt: skip

    return put


def bulged(_document: Document, space: BaseLayout) -> None:
    space.add_lwpolyline(BULGED, format="xyb", close=True)


def loose(_document: Document, space: BaseLayout) -> None:
    space.add_arc((90, 30), 30, 270, 90)
    space.add_line((0, 0), (90, 0))
    space.add_line((0, 60), (90, 60))
    space.add_arc((0, 30), 30, 90, 270)


def nested(document: Document, space: BaseLayout) -> None:
    inner = document.blocks.new("INNER")
    inner.add_circle((10, 130), 8)
    bulged(document, inner)
    outer = document.blocks.new("OUTER", base_point=(3, 4))
    outer.add_blockref("INNER", (5, 5), dxfattribs={"xscale": 1.5, "yscale": 0.7, "rotation": 20})
    outer.add_blockref("INNER", (450, 5), dxfattribs={"xscale": -1, "rotation": 50})
    space.add_blockref("OUTER", (0, 0), dxfattribs={"rotation": -35, "xscale": 2, "yscale": 2})


def rows(document: Document, space: BaseLayout) -> None:
    document.blocks.new("ROW").add_lwpolyline(CORNERS, close=True)
    space.add_blockref(
        "ROW", (0, 0), dxfattribs={"row_count": 2, "row_spacing": 100, "column_count": 3,
                                   "column_spacing": 130},
    )  # fmt: skip


def from_below(_document: Document, space: BaseLayout) -> None:
    flags = {"extrusion": (0, 0, -1)}
    space.add_arc((-90, 30), 30, 90, 270, dxfattribs=flags)
    space.add_line((0, 0), (90, 0))
    space.add_line((0, 60), (90, 60))
    space.add_line((0, 0), (0, 60))
    space.add_lwpolyline([(-200, 0, 0.4), (-300, 0, 0), (-250, 80, 0)], format="xyb", close=True,
                         dxfattribs=flags)  # fmt: skip


def half_ellipse(_document: Document, space: BaseLayout) -> None:
    space.add_ellipse((50, 50), (40, 10), 0.5, np.pi / 3, np.pi * 4 / 3)
    ends = [space[0].construction_tool().start_point, space[0].construction_tool().end_point]
    space.add_line(*ends)


DRAWINGS: dict[str, Draw] = {
    "line": lambda _, s: [
        s.add_line(a, b) for a, b in zip(CORNERS, CORNERS[1:] + CORNERS[:1], strict=True)
    ],
    "lines out of order, some turned round": lambda _, s: [
        s.add_line(*ends)
        for ends in [(CORNERS[0], CORNERS[1]), (CORNERS[3], CORNERS[2]), (CORNERS[2], CORNERS[1]),
                     (CORNERS[0], CORNERS[3])]
    ],
    "arcs and lines": loose,
    "circle": lambda _, s: s.add_circle((60, 50), 40),
    "ellipse": lambda _, s: s.add_ellipse((60, 50), (40, 15), 0.4),
    "half an ellipse": half_ellipse,
    "lwpolyline": lambda _, s: s.add_lwpolyline(CORNERS, close=True),
    "lwpolyline, bulges": bulged,
    "lwpolyline, a round one": lambda _, s: s.add_lwpolyline(
        [(0, 0, 1), (50, 0, 1)], format="xyb", close=True
    ),
    "lwpolyline, last is first": lambda _, s: s.add_lwpolyline([*CORNERS, CORNERS[0]]),
    "polyline": lambda _, s: s.add_polyline2d(CORNERS, close=True),
    "polyline, bulges": lambda _, s: s.add_polyline2d(BULGED, format="xyb", close=True),
    "polyline in space": lambda _, s: s.add_polyline3d(
        [(x, y, 0) for x, y in CORNERS], close=True
    ),
    "block": block(),
    "block, turned": block(turn=33),
    "block, scaled": block(scale=(1.7, 1.7), turn=-20),
    "block, unevenly scaled": block(scale=(2, 0.6), turn=15),
    "block, mirrored": block(scale=(-1, 1), turn=40),
    "block, mirrored the other way": block(scale=(1.2, -0.8)),
    "block of arcs, unevenly scaled": block(scale=(2, 0.6), turn=15, draw=loose),
    "block of a circle, uneven": block(scale=(0.5, 2), draw=lambda _, s: s.add_circle((20, 9), 9)),
    "nested blocks": nested,
    "rows of blocks": rows,
    "seen from below": from_below,
}  # fmt: skip


@pytest.mark.parametrize("name", DRAWINGS)
def test_the_area_is_what_gdal_reads(name: str, tmp_path: Path) -> None:
    content = drawn(DRAWINGS[name])
    assert our_area(content) == pytest.approx(gdal_area(content, tmp_path), rel=1e-3)


@pytest.mark.parametrize("release", ["R2004", "R2007", "R2010", "R2013", "R2018"])
def test_every_release(release: str, tmp_path: Path) -> None:
    content = drawn(nested, release=release)
    assert our_area(content) == pytest.approx(gdal_area(content, tmp_path), rel=1e-3)


HEART = [(0, 0), (80, -20), (120, 60), (60, 120), (40, 60), (-40, 110), (-60, 30), (0, 0)]


# reference: scipy's BSpline, in homogeneous coordinates where there are weights
@pytest.mark.parametrize("degree", [2, 3, 5])
@pytest.mark.parametrize("weights", [None, [1, 2, 0.5, 1, 3, 1, 0.7, 1]])
def test_a_spline_is_within_its_tolerance(degree: int, weights: list[float] | None) -> None:
    def draw(_document: Document, space: BaseLayout) -> None:
        if weights is None:
            space.add_open_spline([(x, y, 0) for x, y in HEART], degree=degree)
        else:
            space.add_rational_spline([(x, y, 0) for x, y in HEART], weights, degree=degree)

    content = drawn(draw)
    spans = len(HEART) - degree
    knots = np.concatenate([[0.0] * degree, np.arange(spans + 1.0), [float(spans)] * degree])
    scale = np.array(weights or [1.0] * len(HEART))[:, None]
    curve = BSpline(knots, np.hstack((np.array(HEART) * scale, scale)), degree)
    exact = curve(np.linspace(0.0, spans, 20_001))
    outline = shapely.LineString(exact[:, :2] / exact[:, 2:])
    (line,) = read(content).lines
    ours = shapely.LineString(line.path.flattened(0.0005))
    assert apart_mm(ours, outline) < 0.004
    assert line.path.start.distance(line.path.end) < 1e-9
    area = shapely.Polygon(outline.coords).area
    assert shapely.Polygon(ours.coords).area == pytest.approx(area, rel=1e-4)
    if weights is None and degree <= 3:
        assert len(line.path.segments) == spans


def test_true_curves_stay() -> None:
    (line,) = read(drawn(bulged)).lines
    kinds = [type(segment).__name__ for segment in line.path.segments]
    assert kinds == ["Line", "Arc", "Line", "Arc", "Arc"]
    (line,) = read(drawn(block(scale=(-2, 2), turn=30))).lines
    assert [type(segment).__name__ for segment in line.path.segments] == kinds


# the format owner's table of $INSUNITS: 1 in, 2 ft, 4 mm, 5 cm, 6 m, 10 yd, 14 dm, 0 none
@pytest.mark.parametrize(
    ("units", "unit", "mm_per_unit"),
    [(1, None, 25.4), (2, None, 304.8), (4, None, 1), (5, None, 10), (6, None, 1000),
     (10, None, 914.4), (14, None, 100), (0, "mm", 1), (0, "in", 25.4), (0, "cm", 10)],
)  # fmt: skip
def test_units(units: int, unit: str | None, mm_per_unit: float) -> None:
    content = drawn(lambda _, s: s.add_line((1, 2), (4, 6)), units=units)
    (line,) = read(content, unit).lines
    assert line.path.length() == pytest.approx(5.0 * mm_per_unit)


def test_names_are_layers_and_blocks() -> None:
    def draw(document: Document, space: BaseLayout) -> None:
        inside = document.blocks.new("HALF")
        inside.add_circle((0, 0), 5)
        inside.add_circle((0, 0), 3, dxfattribs={"layer": "holes"})
        space.add_blockref("HALF", (0, 0), dxfattribs={"layer": "cut"})

    assert [line.names for line in read(drawn(draw)).lines] == [
        ("HALF", "cut"),
        ("holes", "HALF", "cut"),
    ]


def off(document: Document, space: BaseLayout) -> None:
    document.layers.add("old").off()
    space.add_circle((0, 0), 5, dxfattribs={"layer": "old"})


def tilted(_document: Document, space: BaseLayout) -> None:
    space.add_circle((0, 0), 5, dxfattribs={"extrusion": (0, 1, 1)})


def itself(document: Document, space: BaseLayout) -> None:
    document.blocks.new("A").add_blockref("B", (0, 0))
    document.blocks.new("B").add_blockref("A", (0, 0))
    space.add_blockref("A", (0, 0))


def laughs(document: Document, space: BaseLayout) -> None:
    document.blocks.new("N0")
    for n in range(1, 30):
        inside = document.blocks.new(f"N{n}")
        for _ in range(10):
            inside.add_blockref(f"N{n - 1}", (0, 0))
    space.add_blockref("N29", (0, 0), dxfattribs={"row_count": 30000, "column_count": 30000})


LINE = drawn(lambda _, s: s.add_line((1, 2), (4, 6)))


@pytest.mark.parametrize(
    ("content", "code", "words"),
    [
        (b"", "unreadable", "breaks off"),
        (b"hello", "unreadable", "no DXF file"),
        (b"hello EOF", "unreadable", "no DXF file"),
        (b"\0" * 99, "unreadable", "no DXF file"),
        (b"AutoCAD Binary DXF\r\n\x1a\0", "unreadable", "breaks off"),
        (LINE[: len(LINE) // 2], "unreadable", "breaks off"),
        (LINE.replace(b"AcDbLine", b"A").replace(b"\n 10\n", b"\n 10\nx"), "unreadable", "no DXF"),
        (drawn(lambda *_: None, units=0), "unknown-unit", "$INSUNITS"),
        (drawn(lambda *_: None, units=12), "unknown-unit", "$INSUNITS"),
        (drawn(lambda _, s: s.add_text("hem")), "unread-part", "TEXT"),
        (drawn(off), "hidden-part", "1 hidden"),
        (drawn(tilted), "not-flat", "1 part not lying flat"),
        (drawn(itself), "unreadable", ""),
        (drawn(laughs), "too-many-lines", "holds more than 50000 parts"),
    ],
)
def test_what_cannot_be_read_is_said(content: bytes, code: str, words: str) -> None:
    said = [finding for finding in read(content).findings if finding.code == code]
    assert said, read(content).findings
    assert words in said[0].text
    assert said[0].text.startswith("job.toml: [[panels]] 1: a.dxf: ")


# reference: GDAL reads the binary file itself; and its twin in text gives the same lines
@pytest.mark.parametrize(
    ("name", "release"),
    [("arcs and lines", "R12"), ("polyline, bulges", "R12"), ("nested blocks", "R2000"),
     ("nested blocks", "R2007"), ("lwpolyline, bulges", "R2018")],
)  # fmt: skip
def test_binary(name: str, release: str, tmp_path: Path) -> None:
    document = new(release)
    document.header["$INSUNITS"] = MILLIMETRES
    DRAWINGS[name](document, document.modelspace())
    stream = io.BytesIO()
    document.write(stream, fmt="bin")
    unit = "mm" if release == "R12" else None
    found = read(stream.getvalue(), unit)
    assert found.findings == ()
    text = io.StringIO()
    document.write(text)
    assert found.lines == read(text.getvalue().encode(), unit).lines
    chains = chained([line.path for line in found.lines], gap_mm=0.0)
    area = sum(shapely.Polygon(loop.flattened(0.0005)).area for loop in chains.loops)
    assert area == pytest.approx(gdal_area(stream.getvalue(), tmp_path), rel=1e-3)


def test_a_torn_binary() -> None:
    document = new("R2000")
    document.layers.add("Säume 口")
    document.modelspace().add_circle((0, 0), 5, dxfattribs={"layer": "Säume 口"})
    stream = io.BytesIO()
    document.write(stream, fmt="bin")
    whole = stream.getvalue()
    (line,) = read(whole, "mm").lines
    assert line.names[0].startswith("Säume")
    for cut in range(0, len(whole), len(whole) // 40):
        torn = read(whole[:cut], "mm")
        assert torn.lines == ()
        assert [finding.code for finding in torn.findings] == ["unreadable"]
