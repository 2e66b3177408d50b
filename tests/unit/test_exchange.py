"""Patterns for exchange as panels: how many, of which size, mirrored, unfolded, by their own text.

Layers and text lines are those of ASTM D6673-10 as read on secondary pages; the drawings are made
here with ezdxf. Areas are derived.
"""

from __future__ import annotations

import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import pytest
import shapely
from ezdxf.filemanagement import new
from ezdxf.layouts.base import BaseLayout

from cutfiles.errors import Finding
from cutfiles.geometry.polygons import polygon_of
from cutfiles.job.job import PanelLine
from cutfiles.pieces.ordered import Panel
from cutfiles.pieces.panel import read_panels

LINE = PanelLine(1, "shirt.dxf", "shirt", None, "kelp")
STYLE = ("ANSI/AAMA", "Style Name: Tern", "Sample Size: M", "Units: METRIC")
CORNERS = [(0, 0), (100, 0), (120, 60), (0, 80)]
"""Its area is 100 x 60 + 20 x 60 / 2 + 20 x 120 / 2 = 7800."""

AREA = 7800.0


def layer(number: int) -> dict[str, str]:
    return {"layer": str(number)}


def put_piece(
    space: BaseLayout, said: Sequence[str], corners: Sequence[tuple[float, float]] = CORNERS
) -> None:
    space.add_polyline2d(corners, close=True, dxfattribs=layer(1))
    for x, y in corners:
        space.add_point((x, y), dxfattribs=layer(2))
    space.add_line((10, 20), (60, 20), dxfattribs=layer(7))
    for text in said:
        space.add_text(text, dxfattribs=layer(1))


def pattern(
    pieces: Mapping[str, Sequence[str]], *, style: Sequence[str] = STYLE, units: int = 0,
    put: bool = True, more: bool = False,
) -> bytes:  # fmt: skip
    """A block a piece, all put on one another, as programs do; ``more`` adds what else there is."""
    document = new("R2000")
    document.header["$INSUNITS"] = units
    space = document.modelspace()
    for text in style:
        space.add_text(text, dxfattribs=layer(1))
    for name, said in pieces.items():
        block = document.blocks.new(name)
        put_piece(block, said)
        if more:
            block.add_circle((40, 45), 8, dxfattribs=layer(11))
            block.add_point((80, 20), dxfattribs=layer(13))
            block.add_point((50, 0), dxfattribs=layer(4))
            block.add_line((5, 5), (95, 5), dxfattribs=layer(14))
            block.add_line((5, 55), (20, 55), dxfattribs=layer(8))
            block.add_line((0, 0), (0, 80), dxfattribs=layer(6))
        if put:
            space.add_blockref(name, (0, 0), dxfattribs=layer(1))
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def read(
    content: bytes, line: PanelLine = LINE
) -> tuple[tuple[Panel, ...], tuple[Finding, ...]]:  # fmt: skip
    return read_panels(content, line, source="job.toml")


def codes(findings: Sequence[Finding], severity: str) -> list[str]:
    return sorted({f.code for f in findings if f.severity == severity})


CROWN = ("Piece Name: crown", "Size: M", "Quantity: 2,0", "Category: shell", "Annotation: on top")
SLEEVE = ("PIECE NAME: sleeve", "SIZE: M", "QUANTITY: 1, 3")


def test_the_text_says_how_many() -> None:
    panels, findings = read(pattern({"A": CROWN, "B": SLEEVE}))
    assert [(panel.name, panel.quantity) for panel in panels] == [
        ("crown M", 2), ("sleeve M left", 1), ("sleeve M right", 3),
    ]  # fmt: skip
    assert [polygon_of(panel.piece.cut).area for panel in panels] == pytest.approx([AREA] * 3)
    assert codes(findings, "note") == ["pattern-read", "unit-from-text"]
    assert codes(findings, "warning") == codes(findings, "error") == []
    told = " ".join(f.text for f in findings)
    assert "of style 'Tern': 'crown' (2 as drawn, category 'shell', annotation 'on top')" in told
    assert "'sleeve' (1 as drawn, 3 mirrored)" in told
    assert "Units: METRIC, read as mm: measure a piece" in told


def test_the_right_one_is_the_mirror_image() -> None:
    left, right = read(pattern({"B": SLEEVE}, more=False))[0]
    mirrored = shapely.affinity.scale(polygon_of(left.piece.cut), yfact=-1)
    both = shapely.affinity.translate(mirrored, 0, polygon_of(right.piece.cut).centroid.y
                                      - mirrored.centroid.y)  # fmt: skip
    assert both.symmetric_difference(polygon_of(right.piece.cut)).area < 1e-6
    assert both.symmetric_difference(polygon_of(left.piece.cut)).area > 100.0
    assert polygon_of(right.piece.cut).exterior.is_ccw


def test_the_mirror_line_unfolds_a_half_with_all_that_is_in_it() -> None:
    (panel,), findings = read(pattern({"A": CROWN}, more=True))
    assert codes(findings, "warning") == codes(findings, "error") == []
    piece = panel.piece
    assert polygon_of(piece.cut).area == pytest.approx(2 * AREA)
    assert [polygon_of(hole).area for hole in piece.inner] == pytest.approx(
        [math.pi * 64] * 2, rel=2e-3
    )
    assert len(piece.notches) == 2
    assert {notch.depth_mm for notch in piece.notches} == {3.0}
    # sew line, internal line and the two strokes of a drill hole, each twice
    assert sorted(mark.length() for mark in piece.marks) == pytest.approx(
        [4, 4, 4, 4, 15, 15, 90, 90]
    )
    x0, y0, x1, y1 = polygon_of(piece.cut).bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((240, 80))


def test_a_mirror_line_through_a_whole_piece() -> None:
    document = new("R2000")
    document.header["$INSUNITS"] = 4
    block = document.blocks.new("A")
    put_piece(block, CROWN)
    block.add_line((50, -5), (50, 90), dxfattribs=layer(6))
    stream = io.StringIO()
    document.write(stream)
    (panel,), findings = read(stream.getvalue().encode())
    assert codes(findings, "warning") == ["fold-unclear"]
    assert polygon_of(panel.piece.cut).area == pytest.approx(AREA)
    block.delete_all_entities()
    put_piece(block, CROWN)
    block.add_line((-3, 0), (-3, 90), dxfattribs=layer(6))
    block.add_line((0, 0), (50, 0), dxfattribs=layer(8))
    stream = io.StringIO()
    document.write(stream)
    panels, findings = read(stream.getvalue().encode(), replace(LINE, gap_tolerance_mm=4.0))
    assert codes(findings, "error") == []
    assert polygon_of(panels[0].piece.cut).area == pytest.approx(2 * AREA)
    panels, findings = read(stream.getvalue().encode())
    assert codes(findings, "warning") == ["stray-mark"]


SIZES = {
    f"{name}-{size}": (f"Piece Name: {name}", f"Size: {size}", "Quantity: 1,0")
    for name in ("crown", "tie")
    for size in ("S", "M", "L")
}


@pytest.mark.parametrize(
    ("line", "names", "notes"),
    [
        (replace(LINE, size="L"), ["crown L", "tie L"], ["pattern-read", "unit-from-text"]),
        (replace(LINE, size="s"), ["crown S", "tie S"], ["pattern-read", "unit-from-text"]),
        (LINE, ["crown M", "tie M"], ["pattern-read", "size-assumed", "unit-from-text"]),
    ],
)
def test_sizes(line: PanelLine, names: list[str], notes: list[str]) -> None:
    panels, findings = read(pattern(SIZES), line)
    assert [panel.name for panel in panels] == names
    assert codes(findings, "note") == notes


@pytest.mark.parametrize(
    ("line", "said", "wanted"),
    [
        (replace(LINE, sets=5), "2,1", [10, 5]),
        (replace(LINE, quantity=7), "2,1", [7, 7]),
        (replace(LINE, quantity=7), "2,0", [7]),
        (replace(LINE, quantity=7), "0,2", [7]),
        (replace(LINE, quantity=7), "0,0", [7]),
        (replace(LINE, quantity=7), "two", [7]),
        (LINE, "3", [3]),
        (LINE, "0,2", [2]),
    ],
)
def test_quantities(line: PanelLine, said: str, wanted: list[int]) -> None:
    panels, _ = read(pattern({"A": ("Piece Name: a", f"Quantity: {said}")}), line)
    assert [panel.quantity for panel in panels] == wanted


# $INSUNITS, the text, the job: what a drawing unit comes to, and what is said of it
@pytest.mark.parametrize(
    ("units", "word", "unit", "mm", "code"),
    [
        (0, "METRIC", None, 1.0, "unit-from-text"),
        (0, "ENGLISH", None, 25.4, "unit-from-text"),
        (0, "cm", None, 10.0, "unit-from-text"),
        (0, "METRIC", "cm", 10.0, ""),
        (0, "METRIC", "in", 25.4, "unit-conflict"),
        (0, "", "in", 25.4, ""),
        (5, "METRIC", None, 10.0, ""),
        (1, "ENGLISH", None, 25.4, ""),
        (1, "ENGLISH", "mm", 25.4, "unit-unused"),
        (1, "METRIC", "mm", 1.0, "unit-conflict"),
        (4, "ENGLISH", "mm", 1.0, "unit-conflict"),
        (1, "METRIC", None, 0.0, "unit-conflict"),
        (4, "inches", None, 0.0, "unit-conflict"),
        (0, "", None, 0.0, "unknown-unit"),
        (0, "ells", None, 0.0, "unknown-unit"),
    ],
)
def test_units(units: int, word: str, unit: str | None, mm: float, code: str) -> None:
    content = pattern({"A": CROWN}, style=(f"Units: {word}",), units=units)
    panels, findings = read(content, replace(LINE, unit=unit))
    areas = [polygon_of(panel.piece.cut).area for panel in panels]
    assert areas == pytest.approx([AREA * mm * mm] if mm else [])
    said = {f.code for f in findings} - {"pattern-read"}
    assert said == ({code} if code else set())


@pytest.mark.parametrize(
    ("pieces", "style", "line", "code", "words"),
    [
        (SIZES, ("Units: METRIC",), LINE, "size-unclear", "sizes S, M, L: give size in the job"),
        (SIZES, STYLE, replace(LINE, size="XL"), "no-such-size", "did you mean 'L'?"),
        ({"A": ("Piece Name: a",)}, STYLE, LINE, "no-quantity", "'a': its text says no Quant"),
        ({"A": ("Piece Name: a", "Quantity: some")}, STYLE, LINE, "no-quantity", "not left,right"),
        ({"A": ("Piece Name: a", "Quantity: 0,0")}, STYLE, LINE, "no-outline", "orders no piece"),
        ({"A": ("Piece Name: a", "Quantity: 9000,1")}, STYLE, replace(LINE, sets=9), "bad-value",
         "9 sets of 9000 are 81000, and may be 20000"),
        ({"A": CROWN}, STYLE, replace(LINE, roles=(("stitch", ("41",)),)), "no-such-layer",
         "no layer or group is called '41'"),
        ({"A": CROWN}, STYLE, replace(LINE, roles=(("outline", ("7",)),)), "open-outline",
         "shirt.dxf: crown M: at (10.0, 20.0) mm"),
    ],
)  # fmt: skip
def test_what_a_pattern_lacks_is_said(
    pieces: Mapping[str, Sequence[str]],
    style: Sequence[str],
    line: PanelLine,
    code: str,
    words: str,
) -> None:
    panels, findings = read(pattern(pieces, style=style), line)
    assert panels == ()
    said = [f for f in findings if f.code == code and words in f.text]
    assert said, findings


def test_blocks_that_were_never_put_are_pieces_too() -> None:
    (panel,), _ = read(pattern({"A": CROWN}, put=False))
    assert polygon_of(panel.piece.cut).area == pytest.approx(AREA)


@pytest.mark.parametrize(
    ("key", "line"),
    [
        ("size", replace(LINE, quantity=3, size="M")),
        ("sets", replace(LINE, quantity=3, sets=2)),
        ("quantity", replace(LINE, quantity=None)),
    ],
)
def test_a_drawing_that_is_no_pattern(key: str, line: PanelLine) -> None:
    document = new("R2000")
    document.modelspace().add_circle((0, 0), 50)
    document.header["$INSUNITS"] = 4
    stream = io.StringIO()
    document.write(stream)
    panels, findings = read(stream.getvalue().encode(), line)
    assert panels == ()
    assert [f.text for f in findings if f.severity == "error" and f"{key}: " in f.text]
