"""DXF as general drawing programs save it: blocks of blocks, planes seen from below, odd curves.

References: GDAL's DXF driver for area and place; where GDAL does not read a thing, ezdxf's own
flattening of it, or a derivation.
"""

from __future__ import annotations

import io
import math
from pathlib import Path
from typing import Any

import numpy as np
import pyogrio
import pytest
import shapely
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import read as read_by_ezdxf
from ezdxf.layouts.base import BaseLayout
from scipy.interpolate import BSpline

from cutfiles.job.job import PanelLine
from cutfiles.pieces.chain import chained
from cutfiles.pieces.drawn import Drawing
from cutfiles.pieces.panel import read_panels
from cutfiles.pieces.panel_dxf import read_dxf_drawing
from tests.unit.dxf_drawings import Draw, drawn

pytestmark = pytest.mark.usefixtures("fine_arcs")

CORNERS = [(0, 0), (90, 0), (110, 60), (30, 80)]
BULGED = [(0, 0, 0), (90, 0, 0.5), (90, 60, 0), (40, 90, -0.3), (0, 60, 1.2)]
ROUND = [(0, 0, 0), (80, -20, 0), (120, 60, 0), (60, 120, 0), (-40, 90, 0)]
Region = shapely.Polygon | shapely.MultiPolygon
BELOW = {"extrusion": (0, 0, -1)}


def read(content: bytes, unit: str | None = None) -> Drawing:
    return read_dxf_drawing(content, unit=unit, where="a.dxf")


def region(lines: list[shapely.LineString]) -> Region:
    """All that lines close in."""
    noded = shapely.union_all(shapely.set_precision(lines, 1e-5))
    whole = shapely.union_all(shapely.get_parts(shapely.polygonize([noded])))
    assert isinstance(whole, Region)
    return whole


def our_region(content: bytes, unit: str | None = None) -> Region:
    found = read(content, unit)
    assert [f for f in found.findings if f.severity == "error"] == []
    chains = chained([line.path for line in found.lines], gap_mm=0.0)
    assert chains.loose == ()
    return region([shapely.LineString(loop.flattened(0.001)) for loop in chains.loops])


def gdal_region(content: bytes, folder: Path) -> Region:
    path = folder / "a.dxf"
    path.write_bytes(content)
    _, _, shapes, _ = pyogrio.raw.read(path)
    found = shapely.force_2d(shapely.from_wkb(shapes))
    parts = [part for shape in found for part in shapely.get_parts(shapely.get_parts(shape))]
    rings = [p.exterior if isinstance(p, shapely.Polygon) else p for p in parts]
    return region([shapely.LineString(ring.coords) for ring in rings])


def alike(one: Region, other: Region) -> bool:
    """Within a thousandth of the area, and in the same place."""
    return bool(
        one.area > 1.0 and shapely.symmetric_difference(one, other).area < 1.5e-3 * one.area
    )


def put(inside: Draw, **how: object) -> Draw:
    """A block that is put once, in this way."""

    def draw(document: Document, space: BaseLayout) -> None:
        block = document.blocks.new("A", base_point=(10, 5))
        inside(document, block)
        insert = {"name": "A", "insert": (40, 30), **how}
        space.add_blockref("A", insert.pop("insert"), dxfattribs=insert)

    return draw


def bulged(_d: Document, s: BaseLayout) -> None:
    s.add_lwpolyline(BULGED, format="xyb", close=True)


def egg(_d: Document, s: BaseLayout) -> None:
    s.add_ellipse((60, 50), (40, 10), 0.4)


def half_egg(_d: Document, s: BaseLayout) -> None:
    ellipse = s.add_ellipse((60, 50), (40, 10), 0.4, math.radians(200), math.radians(20))
    tool = ellipse.construction_tool()
    s.add_line(tool.start_point, tool.end_point)


def upside_egg(_d: Document, s: BaseLayout) -> None:
    ellipse = s.add_ellipse((60, 50), (40, 10), 0.4, 0.3, 2.5, dxfattribs=BELOW)
    tool = ellipse.construction_tool()
    s.add_line(tool.start_point, tool.end_point)


def clamped_spline(_d: Document, s: BaseLayout) -> None:
    s.add_open_spline([(0, 0), (80, -20), (120, 60), (60, 120), (-40, 90), (0, 0)])


def closed_spline(_d: Document, s: BaseLayout) -> None:
    s.add_spline().set_closed(ROUND)


def closed_rational(_d: Document, s: BaseLayout) -> None:
    s.add_spline().set_closed_rational(ROUND, [1, 2, 1, 0.5, 1])


def fit_spline(_d: Document, s: BaseLayout) -> None:
    s.add_spline_control_frame([(0, 0), (80, -20), (120, 60), (60, 120), (-40, 90), (0, 0)])


def circle_as_spline(_d: Document, s: BaseLayout) -> None:
    # nine points of a rational circle of degree 2 (The NURBS Book, 7.5)
    w = math.sqrt(0.5)
    points = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)]
    spline = s.add_spline(degree=2)
    spline.control_points = [(50 + 40 * x, 60 + 40 * y, 0) for x, y in points]
    spline.weights = [1, w, 1, w, 1, w, 1, w, 1]
    spline.knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]


def by_hand(_d: Document, s: BaseLayout) -> None:
    for a, b in [((0, 0), (90, 0)), ((90, 60), (0, 60)), ((0, 60), (0, 0))]:
        s.add_line(a, b)
    s.add_arc((90, 30), 30, -90, 90)


def blocks_in_blocks(document: Document, space: BaseLayout) -> None:
    bulged(document, document.blocks.new("A", base_point=(4, 9)))
    for name, inner in zip("BCDE", "ABCD", strict=True):
        block = document.blocks.new(name)
        how = {"rotation": 25, "xscale": -1.1, "yscale": 0.9}
        block.add_blockref(inner, (30, 10), dxfattribs=how)
    space.add_blockref("E", (100, 100), dxfattribs={"yscale": -1})


def turned_array(document: Document, space: BaseLayout) -> None:
    document.blocks.new("A").add_lwpolyline(CORNERS, close=True)
    space.add_blockref(
        "A", (20, 10),
        dxfattribs={"rotation": 30, "row_count": 2, "row_spacing": 120, "column_count": 3,
                    "column_spacing": 150, "xscale": 0.8},
    )  # fmt: skip


def array_of_arrays(document: Document, space: BaseLayout) -> None:
    document.blocks.new("A").add_circle((0, 0), 8)
    document.blocks.new("B").add_blockref(
        "A", (10, 10), dxfattribs={"column_count": 2, "column_spacing": 30}
    )
    space.add_blockref("B", (0, 0), dxfattribs={"row_count": 3, "row_spacing": 50, "rotation": 10})


def below_in_block(_document: Document, block: BaseLayout) -> None:
    block.add_lwpolyline(BULGED, format="xyb", close=True, dxfattribs=BELOW)


def hidden_parts(document: Document, space: BaseLayout) -> None:
    bulged(document, space)
    document.layers.add("frozen").freeze()
    document.layers.add("off").off()
    space.add_circle((300, 0), 50, dxfattribs={"layer": "frozen"})
    space.add_circle((300, 0), 60, dxfattribs={"layer": "OFF"})
    space.add_circle((300, 0), 70, dxfattribs={"invisible": 1})
    block = document.blocks.new("A")
    block.add_circle((300, 300), 40, dxfattribs={"layer": "frozen"})
    block.add_circle((200, 300), 20)
    space.add_blockref("A", (0, 0))


def decorated(document: Document, space: BaseLayout) -> None:
    bulged(document, space)
    space.add_text("hem")
    space.add_mtext("cut\ntwo")
    hatch = space.add_hatch()
    hatch.paths.add_polyline_path(CORNERS)
    dimension = space.add_linear_dim(base=(0, -20), p1=(0, 0), p2=(90, 0))
    dimension.render()
    space.add_solid([(0, 0), (1, 0), (0, 1), (1, 1)])
    space.add_leader([(0, 0), (5, 5)])


def on_paper_too(document: Document, space: BaseLayout) -> None:
    bulged(document, space)
    document.layout().add_circle((500, 500), 90)


def widths(_d: Document, s: BaseLayout) -> None:
    s.add_lwpolyline([(x, y, 2, 5, 0.1) for x, y in CORNERS], close=True)


def flag_missing(_d: Document, s: BaseLayout) -> None:
    s.add_lwpolyline([*BULGED, (0, 0, 0)], format="xyb")


def twice_the_same(_d: Document, s: BaseLayout) -> None:
    s.add_lwpolyline([*CORNERS[:2], CORNERS[1], *CORNERS[2:], CORNERS[0]], close=True)


def heights(_d: Document, s: BaseLayout) -> None:
    s.add_lwpolyline(CORNERS, close=True, dxfattribs={"elevation": 50})
    s.add_circle((200, 0, 30), 20)
    s.add_polyline2d([(300 + x, y) for x, y in CORNERS], close=True,
                     dxfattribs={"elevation": (0, 0, 7)})  # fmt: skip


def old_curve(_d: Document, s: BaseLayout) -> None:
    """A polyline that a program has smoothed: frame points and points of the curve."""
    line = s.add_polyline2d([], close=True)
    line.dxf.flags |= 4
    line.dxf.smooth_type = 6
    frame = [(0, 0), (100, 0), (100, 100), (0, 100)]
    line.append_formatted_vertices(frame, "xy", dxfattribs={"flags": 16})
    curve = [(50 + 40 * math.cos(t / 9), 50 + 40 * math.sin(t / 9)) for t in range(57)]
    line.append_formatted_vertices(curve, "xy", dxfattribs={"flags": 8})


def quarter_arcs(_d: Document, s: BaseLayout) -> None:
    for k in range(4):
        s.add_arc((50, 50), 40, 90 * k - 720, 90 * k - 630)


def upside_arcs(_d: Document, s: BaseLayout) -> None:
    for k in range(4):
        s.add_arc((50, 50), 40, 90 * k, 90 * k + 90, dxfattribs=BELOW)


DRAWINGS: dict[str, Draw] = {
    "an ellipse over its start": half_egg,
    "an ellipse from below": upside_egg,
    "lines and an arc over 0": by_hand,
    "arcs of more than a turn": quarter_arcs,
    "arcs from below": upside_arcs,
    "blocks in blocks": blocks_in_blocks,
    "a turned array": turned_array,
    "an array of arrays": array_of_arrays,
    "a block from below": put(bulged, **BELOW),
    "a block from below, turned": put(bulged, rotation=30, xscale=1.5, **BELOW),
    "from below in a block": put(below_in_block, rotation=30),
    "from below in a block from below": put(below_in_block, rotation=30, **BELOW),
    "an ellipse in a stretched block": put(egg, xscale=2, yscale=0.5, rotation=20),
    "a full ellipse in a mirrored block": put(half_egg, yscale=-2, rotation=70),
    "widths": widths,
    "a closed flag missing": flag_missing,
    "a corner twice": twice_the_same,
    "heights": heights,
    "a smoothed polyline": old_curve,
    "a flat bulge": lambda _, s: s.add_lwpolyline(
        [(0, 0, 1e-4), (90, 0, 0), (90, 50, 0)], format="xyb", close=True
    ),
    "far from the origin": lambda _, s: s.add_lwpolyline(
        [(x + 654321.25, y - 123456.75) for x, y in CORNERS], close=True
    ),
}


@pytest.mark.parametrize("name", DRAWINGS)
def test_area_and_place_are_what_gdal_reads(name: str, tmp_path: Path) -> None:
    content = drawn(DRAWINGS[name])
    ours, theirs = our_region(content), gdal_region(content, tmp_path)
    assert alike(ours, theirs), (ours.area, theirs.area, ours.bounds, theirs.bounds)


SPLINES: dict[str, Draw] = {
    "a clamped spline": clamped_spline,
    "a closed spline": closed_spline,
    "a closed rational spline": closed_rational,
    "a spline by its frame": fit_spline,
    "a spline by points on it": lambda _, s: s.add_spline(
        [(0, 0), (80, -20), (120, 60), (60, 120), (-40, 90), (0, 0)]
    ),
    "a rational circle": circle_as_spline,
}


# reference: scipy's BSpline in homogeneous coordinates, over the range in which a spline is defined
# (GDAL's chords are too coarse; it and ezdxf's flattening also run on beyond that range)
@pytest.mark.parametrize("name", SPLINES)
def test_splines(name: str) -> None:
    content = drawn(SPLINES[name])
    spline: Any
    (spline,) = read_by_ezdxf(io.StringIO(content.decode())).modelspace()
    tool = spline.construction_tool()
    spots, degree = np.array([tuple(at)[:2] for at in tool.control_points]), tool.order - 1
    weights = np.array(list(tool.weights()) or [1.0] * len(spots))[:, None]
    knots = np.array(tool.knots())
    curve = BSpline(knots, np.hstack((spots * weights, weights)), degree)
    exact = curve(np.linspace(knots[degree], knots[len(spots)], 20_001))
    assert alike(our_region(content), shapely.Polygon(exact[:, :2] / exact[:, 2:]))


# derived: the circle has a radius of 40
def test_a_rational_circle() -> None:
    assert our_region(drawn(circle_as_spline)).area == pytest.approx(math.pi * 1600, rel=1e-4)


def test_a_spline_in_a_mirrored_block() -> None:
    whole = our_region(drawn(put(clamped_spline, xscale=-1.5, yscale=1.5)))
    plain = our_region(drawn(clamped_spline))
    moved = shapely.affinity.affine_transform(plain, (-1.5, 0, 0, 1.5, 40 + 15, 30 - 7.5))
    assert alike(whole, moved)


def test_a_bulge_of_nearly_a_whole_turn() -> None:
    def draw(_document: Document, space: BaseLayout) -> None:
        space.add_lwpolyline([(0, 0, 20), (10, 0, 0)], format="xyb", close=True)

    # a quarter of the sweep has the tangent 20; the radius is 10 (1 + 400) / 80
    radius = 10 * 401 / 80
    sweep = 4 * math.atan(20)
    area = radius**2 / 2 * (sweep - math.sin(sweep))
    assert our_region(drawn(draw)).area == pytest.approx(area, rel=1e-4)


def test_hidden_parts_are_left_out() -> None:
    content = drawn(hidden_parts)
    circle = shapely.Point(200, 300).buffer(20, quad_segs=200)
    expected = shapely.union(our_region(drawn(bulged)), circle)
    assert isinstance(expected, Region)
    assert alike(our_region(content), expected)
    (said,) = read(content).findings
    assert "4 hidden parts left out" in said.text


def test_paper_space_and_decoration_are_named() -> None:
    assert alike(our_region(drawn(on_paper_too)), our_region(drawn(bulged)))
    (said,) = read(drawn(on_paper_too)).findings
    assert (said.code, "parts on a sheet (paper space)" in said.text) == ("unread-part", True)
    assert alike(our_region(drawn(decorated)), our_region(drawn(bulged)))
    (said,) = read(drawn(decorated)).findings
    for kind in ("DIMENSION", "HATCH", "LEADER", "MTEXT", "SOLID", "TEXT"):
        assert kind in said.text


def nothing(_document: Document, _space: BaseLayout) -> None:
    pass


def no_radius(_document: Document, space: BaseLayout) -> None:
    space.add_circle((0, 0), 0)
    space.add_arc((0, 0), -5, 0, 90)


def flat_ellipse(_document: Document, space: BaseLayout) -> None:
    space.add_ellipse((0, 0), (10, 0), 1e-9)


def no_block(_document: Document, space: BaseLayout) -> None:
    space.add_blockref("GONE", (0, 0))


def flat_block(document: Document, space: BaseLayout) -> None:
    document.blocks.new("A").add_circle((0, 0), 5)
    space.add_blockref("A", (0, 0), dxfattribs={"xscale": 1e-9})


def no_knots(_document: Document, space: BaseLayout) -> None:
    spline = space.add_spline()
    spline.control_points = [(0, 0), (10, 0), (10, 10), (0, 0)]


def not_a_number(_document: Document, space: BaseLayout) -> None:
    space.add_lwpolyline([(0, 0), (math.nan, 5), (math.inf, 9), (3, 3)], close=True)


def endless(_document: Document, space: BaseLayout) -> None:
    space.add_xline((0, 0), (1, 0))
    space.add_ray((0, 0), (1, 0))


def many(document: Document, space: BaseLayout) -> None:
    document.blocks.new("A").add_point((0, 0))
    space.add_blockref("A", (0, 0), dxfattribs={"row_count": 32767, "column_count": 32767})


ODD: list[Draw] = [
    nothing, no_radius, flat_ellipse, no_block, flat_block, no_knots, not_a_number, endless, many
]  # fmt: skip


@pytest.mark.parametrize("draw", ODD)
def test_what_makes_no_sense_is_no_traceback(draw: Draw) -> None:
    line = PanelLine(1, "a.dxf", "a", 1, "kelp")
    panels, findings = read_panels(drawn(draw), line, source="job.toml")
    assert panels == ()
    assert [f for f in findings if f.severity == "error"]
    assert all(f.text.startswith("job.toml: [[panels]] 1: a.dxf: ") for f in findings)


# ends that meet but for a rounding must not make an outline cross itself where it is closed
@pytest.mark.parametrize("name", DRAWINGS)
def test_each_makes_panels(name: str) -> None:
    line = PanelLine(1, "a.dxf", "a", 1, "kelp")
    panels, findings = read_panels(drawn(DRAWINGS[name]), line, source="job.toml")
    assert panels, findings
    assert [f for f in findings if f.severity == "error"] == []


# derived: what is torn off the head says nothing about the lines, so they are read as they were or
# not at all
@pytest.mark.parametrize(
    ("old", "torn", "at", "code"),
    [
        (b"$INSUNITS\n 70\n4", b"$INSUNITS\n 70\n?", 1, "unreadable"),
        (b"Layout1", b"", 1, "unit-unused"),
        (b"Layout1", b"", 2, "unreadable"),
        *((b"AcDb", b"", at, "unit-unused") for at in (1, 2, 3)),
    ],
)
def test_a_torn_head(old: bytes, torn: bytes, at: int, code: str) -> None:
    whole = drawn(bulged)
    parts = whole.split(old)
    assert at < len(parts)
    found = read(torn.join([old.join(parts[:at]), old.join(parts[at:])]), "mm")
    assert [finding.code for finding in found.findings] == [code]
    assert found.lines == (() if code == "unreadable" else read(whole, "mm").lines)
    # words of the library's own inside help nobody
    assert not any("object has no attribute" in finding.text for finding in found.findings)
