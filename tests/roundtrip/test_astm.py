"""The pattern for exchange, read back by GDAL, and by ezdxf, which wrote none of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import get_args

import ezdxf.recover
import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cutfiles.files.astm_dxf import astm_dxf_bytes
from cutfiles.geometry.polygons import polygon_of
from cutfiles.job.job import CapLine, EdgeFinish, Style
from cutfiles.job.sizes import (
    LARGEST_GIRTH_MM,
    SIZES,
    SMALLEST_GIRTH_MM,
    Size,
    made_to_measure,
    size_named,
)
from cutfiles.pieces.cut_list import draft_line
from cutfiles.pieces.piece import Draft
from cutfiles.pieces.tie_back import draft_tie_back
from cutfiles.verdict.judge_astm import judge_astm
from cutfiles.verdict.read_astm import ReadPattern, read_astm
from cutfiles.verdict.read_dxf import read_dxf
from tests.apart import apart_mm

M = size_named("M")


def written(draft: Draft, size: Size, edge: EdgeFinish, folder: Path) -> Path:
    path = folder / "pattern.astm.dxf"
    path.write_bytes(astm_dxf_bytes(draft, style="tie-back", size=size.name, edge=edge))
    return path


def read_of(draft: Draft, folder: Path) -> ReadPattern:
    return read_astm(written(draft, M, "hem", folder))


def assert_as_drafted(read: ReadPattern, draft: Draft) -> None:
    blocks = {block.said["Piece Name"]: block for block in read.blocks}
    assert set(blocks) == {part.piece.name for part in draft.parts}
    for part in draft.parts:
        piece, block = part.piece, blocks[part.piece.name]
        (boundary,) = block.lines["1"]
        assert (boundary[0] == boundary[-1]).all()
        exact = shapely.LineString(piece.cut.flattened(1e-4))
        assert apart_mm(shapely.LineString(boundary), exact) <= 0.01
        assert shapely.Polygon(boundary).area == pytest.approx(polygon_of(piece.cut).area, rel=1e-4)
        assert shapely.Polygon(boundary).exterior.is_ccw
        # every vertex of the boundary is a turn point or a curve point, and none is both
        corners = {tuple(point) for point in block.points.get("2", [])}
        others = {tuple(point) for point in block.points.get("3", [])}
        assert corners | others == {tuple(point) for point in boundary}
        assert not corners & others
        notches = np.array([[n.at.x, n.at.y] for n in piece.notches]).reshape(-1, 2)
        found = np.array(block.points.get("4", [])).reshape(-1, 2)
        assert found == pytest.approx(notches, abs=1e-4)
        (grain,) = block.lines["7"]
        ends = [[p.x, p.y] for p in (piece.grain.start, piece.grain.end)]
        assert grain == pytest.approx(np.array(ends), abs=1e-4)
        sewn = [edge for edge in piece.edges if edge.allowance_mm > 0]
        lines = block.lines.get("14", [])
        assert len(lines) == len(sewn)
        for line, edge in zip(lines, sewn, strict=True):
            stitch = shapely.LineString(edge.stitch.flattened(1e-4))
            assert apart_mm(shapely.LineString(line), stitch) <= 0.01
        assert block.said["Quantity"] == f"{part.count},0"


@pytest.mark.parametrize("style", get_args(Style))
@pytest.mark.parametrize("edge", ["hem", "binding"])
@pytest.mark.parametrize("size", SIZES[::3], ids=lambda size: size.name)
def test_every_style_size_and_edge_comes_back(
    size: Size, edge: EdgeFinish, style: Style, tmp_path: Path
) -> None:
    draft = draft_line(CapLine(style, size, 1, edge, "any"))
    read = read_astm(written(draft, size, edge, tmp_path))
    assert judge_astm(read, draft, size=size.name) == ()
    assert_as_drafted(read, draft)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    girth=st.floats(SMALLEST_GIRTH_MM, LARGEST_GIRTH_MM),
    edge=st.sampled_from(("hem", "binding")),
    style=st.sampled_from(get_args(Style)),
)
def test_every_head_comes_back(
    girth: float, edge: EdgeFinish, style: Style, tmp_path: Path
) -> None:
    size = made_to_measure(girth)
    draft = draft_line(CapLine(style, size, 1, edge, "any"))
    read = read_astm(written(draft, size, edge, tmp_path))
    assert judge_astm(read, draft, size=size.name) == ()
    assert_as_drafted(read, draft)


@pytest.mark.parametrize(
    ("edge", "wanted"),
    [
        # derived: a strip has four corners; the crown two at its back edge and two where the casing
        # begins. The band's casings have two corners at their upper ends, where each lies beyond
        # the seam; at the lower a hem runs straight through both, and beside an edge that is bound,
        # without an allowance, they have two again
        ("hem", {"tie": 4, "crown": 4, "band": 2 * 2 + 2 * 1}),
        ("binding", {"binding": 4, "crown": 4, "band": 2 * 2 + 2 * 2}),
    ],
)
def test_a_piece_has_turn_points_at_its_corners_only(
    edge: EdgeFinish, wanted: dict[str, int], tmp_path: Path
) -> None:
    read = read_astm(written(draft_tie_back(M, edge), M, edge, tmp_path))
    assert {b.said["Piece Name"]: len(b.points["2"]) for b in read.blocks} == wanted


def test_another_reader_finds_nothing_to_mend(tmp_path: Path) -> None:
    path = written(draft_tie_back(M, "hem"), M, "hem", tmp_path)
    document, auditor = ezdxf.recover.readfile(path)
    assert not auditor.errors
    assert not auditor.fixes
    assert document.dxfversion == "AC1009"  # R12, by the format owner's table of $ACADVER
    assert {"CROWN-M", "BAND-M", "TIE-M"} <= {block.name for block in document.blocks}
    inserts = document.modelspace().query("INSERT")
    assert sorted(insert.dxf.name for insert in inserts) == ["BAND-M", "CROWN-M", "TIE-M"]
    kinds = {entity.dxftype() for block in document.blocks for entity in block}
    assert kinds <= {"POLYLINE", "LINE", "POINT", "TEXT", "INSERT"}


def test_the_text_of_style_and_piece(tmp_path: Path) -> None:
    read = read_of(draft_tie_back(M, "hem"), tmp_path)
    assert read.said == {
        "Style Name": "tie-back",
        "Author": "cutfiles",
        "Sample Size": "M",
        "Units": "METRIC",
    }
    tie = next(block for block in read.blocks if block.name == "TIE-M")
    assert tie.said["Piece Name"] == "tie"
    assert tie.said["Size"] == "M"
    assert tie.said["Category"] == "hem"
    assert tie.said["Quantity"] == "2,0"
    assert tie.notes == ["tie-back M / tie / cut 2"]


def test_nothing_in_it_is_on_a_layer_that_is_cut(tmp_path: Path) -> None:
    drawing = read_dxf(written(draft_tie_back(M, "hem"), M, "hem", tmp_path))
    layers = {line.layer for line in drawing.lines} | {text.layer for text in drawing.texts}
    assert all(layer.isdigit() or not layer for layer in layers)
    assert [finding.code for finding in drawing.findings] == ["no-unit", "unread-part"]


def test_the_same_draft_gives_the_same_bytes() -> None:
    one, other = (
        astm_dxf_bytes(draft_tie_back(M, "hem"), style="tie-back", size="M", edge="hem")
        for _ in range(2)
    )
    assert one == other
    assert one.isascii()


TAMPERED = [
    ("VERTEX\n  8\n1\n 10\n0.0000\n", "VERTEX\n  8\n1\n 10\n0.1000\n", "wrong-outline"),
    ("Piece Name: crown", "Piece Name: crowns", "missing"),
    ("Size: M", "Size: L", "label"),
    ("Quantity: 2,0", "Quantity: 1,0", "label"),
    ("Units: METRIC", "Units: ENGLISH", "no-unit"),
    ("INSERT\n  8\n1\n  2\nTIE-M", "INSERT\n  8\n1\n  2\nBAND-M", "insert"),
    ("POINT\n  8\n4\n", "POINT\n  8\n3\n", "notch"),
    ("LINE\n  8\n7\n", "LINE\n  8\n8\n", "grain"),
    ("POLYLINE\n  8\n14\n", "POLYLINE\n  8\n8\n", "stitch"),
]


@pytest.mark.parametrize(("before", "after", "code"), TAMPERED, ids=lambda word: word[-14:].strip())
def test_a_pattern_that_was_tampered_with(
    before: str, after: str, code: str, tmp_path: Path
) -> None:
    draft = draft_tie_back(M, "hem")
    path = written(draft, M, "hem", tmp_path)
    text = path.read_text("ascii")
    assert before in text
    path.write_text(text.replace(before, after, 1), "ascii")
    assert code in {f.code for f in judge_astm(read_astm(path), draft, size="M")}


def test_what_is_no_dxf(tmp_path: Path) -> None:
    path = tmp_path / "pattern.astm.dxf"
    path.write_bytes(b"not a drawing")
    draft = draft_tie_back(M, "hem")
    assert [f.code for f in judge_astm(read_astm(path), draft, size="M")] == ["unreadable"]


def test_reading_it_leaves_the_other_reader_as_it_was(tmp_path: Path) -> None:
    path = written(draft_tie_back(M, "hem"), M, "hem", tmp_path)
    before = len(read_dxf(path).lines)
    read_astm(path)
    assert len(read_dxf(path).lines) == before


def test_a_draft_of_another_size_is_no_match(tmp_path: Path) -> None:
    draft = draft_tie_back(M, "hem")
    read = read_of(draft, tmp_path)
    other = replace(draft_tie_back(size_named("L"), "hem"), title=draft.title)
    codes = {finding.code for finding in judge_astm(read, other, size="M")}
    assert {"wrong-outline", "notch", "grain"} <= codes
