"""The judge of printed patterns must find every fault: a sound sheet, or its file, is tampered
with, one fault at a time."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pypdfium2.raw as pdfium
import pytest

from cutfiles.files.pdf import pdf_bytes
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.job.job import PanelLine
from cutfiles.job.sizes import SIZES, size_named
from cutfiles.paper.sheet import PAPERS, DrawnPiece, PaperSheet, Tile
from cutfiles.paper.spread import SizedCap, paper_sheet
from cutfiles.pieces.cut_list import pattern_panel
from cutfiles.pieces.panel import read_panels
from cutfiles.pieces.piece import Edge, Piece
from cutfiles.verdict.expected_paper import expected_paper
from cutfiles.verdict.judge_paper import judge_paper
from cutfiles.verdict.read_pdf import read_pdf
from tests.conftest import ROOT
from tests.unit.test_paper import sheet_for

PT_PER_MM = 72.0 / 25.4

Change = Callable[[PaperSheet], PaperSheet]


@pytest.fixture(scope="module")
def one() -> PaperSheet:
    return sheet_for((size_named("M"),), "hem", PAPERS["A4"])


@pytest.fixture(scope="module")
def together() -> PaperSheet:
    return sheet_for(SIZES[2:5], "hem", PAPERS["A4"])


@pytest.fixture(scope="module")
def panel() -> PaperSheet:
    """A pocket with a cut-out, notches and a stitch line, drawn as SVG."""
    line = PanelLine(1, "pocket.svg", "pocket", 3, "any")
    content = (ROOT / "fixtures" / "pieces" / "pocket.svg").read_bytes()
    (read,), _ = read_panels(content, line, source="job.toml")
    caps = [SizedCap("", pattern_panel(read, 1))]
    return paper_sheet("pattern-pocket", "Pockets", "pocket", caps, PAPERS["A4"])


def codes(tampered: PaperSheet, sheet: PaperSheet, folder: Path) -> set[str]:
    """What the judge says of the tampered sheet's file, that should hold the other."""
    path = folder / "pattern.pdf"
    path.write_bytes(pdf_bytes(tampered))
    return {f.code for f in judge_paper(read_pdf(path), expected_paper(sheet))}


def without_a_tile(sheet: PaperSheet) -> PaperSheet:
    return replace(sheet, tiles=sheet.tiles[:-1])


def tiles_changed(sheet: PaperSheet) -> PaperSheet:
    first, second, *rest = sheet.tiles
    return replace(sheet, tiles=(second, first, *rest))


def tile_moved(sheet: PaperSheet) -> PaperSheet:
    first, second, *rest = sheet.tiles
    moved = Tile(second.row, second.column, second.left_mm + 1.0, second.bottom_mm)
    return replace(sheet, tiles=(first, moved, *rest))


def tile_moved_a_little(sheet: PaperSheet) -> PaperSheet:
    """By less than its words show."""
    first, second, *rest = sheet.tiles
    moved = Tile(second.row, second.column, second.left_mm + 0.08, second.bottom_mm)
    return replace(sheet, tiles=(first, moved, *rest))


def on_other_paper(sheet: PaperSheet) -> PaperSheet:
    return replace(sheet, paper=replace(sheet.paper, width_mm=sheet.paper.width_mm + 1.0))


def without_a_piece(sheet: PaperSheet) -> PaperSheet:
    return replace(sheet, pieces=sheet.pieces[1:])


def shifted(drawn: DrawnPiece, dx: float, dy: float) -> DrawnPiece:
    return replace(drawn, motion=replace(drawn.motion, shift=drawn.motion.shift + Vector(dx, dy)))


def piece_moved(sheet: PaperSheet) -> PaperSheet:
    first, *rest = sheet.pieces
    return replace(sheet, pieces=(shifted(first, 0.0, 0.05), *rest))


def piece_wider(sheet: PaperSheet) -> PaperSheet:
    """By 0.2 percent across."""
    *rest, last = sheet.pieces
    assert last.piece.name == "tie"
    wider = replace(last.piece, cut=last.piece.cut.stretched(1.0, 1.002))
    return replace(sheet, pieces=(*rest, replace(last, piece=wider)))


def squares_off_the_page(sheet: PaperSheet) -> PaperSheet:
    return replace(sheet, square_at=sheet.square_at + Vector(-60.0, 0.0))


def squares_moved(sheet: PaperSheet) -> PaperSheet:
    return replace(sheet, square_at=sheet.square_at + Vector(0.1, 0.0))


def without_labels(sheet: PaperSheet) -> PaperSheet:
    return replace(sheet, labels=sheet.labels[1:])


def label_of_another(sheet: PaperSheet) -> PaperSheet:
    one, two, *rest = sheet.labels
    return replace(sheet, labels=(replace(one, text=two.text), replace(two, text=one.text), *rest))


def mark_missing(sheet: PaperSheet) -> PaperSheet:
    return replace(sheet, marks=sheet.marks[1:])


def mark_moved(sheet: PaperSheet) -> PaperSheet:
    first, *rest = sheet.marks
    return replace(sheet, marks=(replace(first, at=first.at + Vector(0.0, 0.1)), *rest))


def marks_renamed(sheet: PaperSheet) -> PaperSheet:
    one, two, *rest = sheet.marks
    return replace(sheet, marks=(replace(one, name=two.name), replace(two, name=one.name), *rest))


def mark_twice(sheet: PaperSheet) -> PaperSheet:
    return replace(sheet, marks=(*sheet.marks, sheet.marks[0]))


def changed(name: str, change: Callable[[Piece], Piece]) -> Change:
    """The first piece of a name changed, and its grain line with it."""

    def apply(sheet: PaperSheet) -> PaperSheet:
        old = next(drawn for drawn in sheet.pieces if drawn.piece.name == name)
        new = replace(old, piece=change(old.piece))
        return replace(
            sheet,
            pieces=tuple(new if drawn is old else drawn for drawn in sheet.pieces),
            labels=tuple(
                replace(label, drawn=new) if label.drawn == old else label for label in sheet.labels
            ),
        )

    return apply


def notch_missing(piece: Piece) -> Piece:
    return replace(piece, notches=piece.notches[1:])


def notch_moved(piece: Piece) -> Piece:
    first, *rest = piece.notches
    step = Vector(0.1, 0.0)
    moved = replace(first, at=first.at + step, foot=first.foot + step)
    return replace(piece, notches=(moved, *rest))


def notch_shallow(piece: Piece) -> Piece:
    first, *rest = piece.notches
    return replace(piece, notches=(replace(first, depth_mm=first.depth_mm - 0.1), *rest))


def notch_twice(piece: Piece) -> Piece:
    return replace(piece, notches=(*piece.notches, piece.notches[0]))


def grain_turned(piece: Piece) -> Piece:
    return replace(piece, grain=piece.grain.reversed())


def grain_short(piece: Piece) -> Piece:
    return replace(piece, grain=piece.grain.part(0.0, 0.99))


def first_edge(piece: Piece, change: Callable[[Edge], Edge]) -> Piece:
    first, *rest = piece.edges
    assert first.allowance_mm > 0
    return replace(piece, edges=(change(first), *rest))


def stitch_missing(piece: Piece) -> Piece:
    return first_edge(piece, lambda edge: replace(edge, allowance_mm=0.0))


def stitch_moved(piece: Piece) -> Piece:
    step = Motion(0.0, Vector(0.05, 0.05))
    return first_edge(piece, lambda edge: replace(edge, stitch=edge.stitch.moved(step)))


def clip_missing(piece: Piece) -> Piece:
    return replace(piece, marks=piece.marks[1:])


def clip_moved(piece: Piece) -> Piece:
    first, *rest = piece.marks
    return replace(piece, marks=(first.moved(Motion(0.0, Vector(0.1, 0.1))), *rest))


def clips_as_stitching(piece: Piece) -> Piece:
    raw = tuple(replace(edge, finish="raw") for edge in piece.edges)
    return replace(piece, edges=raw)


def cut_out_missing(piece: Piece) -> Piece:
    return replace(piece, inner=piece.inner[1:])


def mark_of_a_panel_missing(piece: Piece) -> Piece:
    return replace(piece, marks=piece.marks[1:])


def label_moved(piece: Piece) -> Piece:
    spot = piece.label
    return replace(piece, label=replace(spot, centre=spot.centre + Vector(4.0, 4.0)))


def label_turned(piece: Piece) -> Piece:
    return replace(piece, label=replace(piece.label, angle_deg=piece.label.angle_deg + 1.0))


def label_too_large(piece: Piece) -> Piece:
    return replace(piece, label=replace(piece.label, room_mm=1000.0, height_mm=25.0))


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (without_a_tile, "pages"),
        (tiles_changed, "page-place"),
        (tile_moved, "page-place"),
        (tile_moved_a_little, "outline"),
        (on_other_paper, "page-size"),
        (without_a_piece, "outline"),
        (piece_moved, "outline"),
        (piece_wider, "outline"),
        (squares_off_the_page, "test-square"),
        (squares_moved, "test-square"),
        (mark_missing, "match-mark"),
        (mark_moved, "match-mark"),
        (marks_renamed, "match-mark"),
        (mark_twice, "stray-line"),
        (without_labels, "label"),
        (label_of_another, "label"),
        (changed("tie", label_moved), "label"),
        (changed("tie", label_turned), "label"),
        (changed("tie", label_too_large), "label"),
        (changed("band", notch_missing), "notch"),
        (changed("band", notch_moved), "notch"),
        (changed("band", notch_moved), "stray-line"),
        (changed("crown", notch_shallow), "notch"),
        (changed("crown", notch_twice), "stray-line"),
        (changed("tie", grain_turned), "grain"),
        (changed("crown", grain_short), "grain"),
        (changed("crown", stitch_missing), "stitch"),
        (changed("crown", stitch_moved), "stitch"),
        (changed("band", clip_missing), "clip"),
        (changed("band", clip_moved), "clip"),
        (changed("band", clips_as_stitching), "clip"),
    ],
)  # fmt: skip
def test_every_fault_is_found(change: Change, code: str, one: PaperSheet, tmp_path: Path) -> None:
    assert code in codes(change(one), one, tmp_path)


def size_missing(sheet: PaperSheet) -> PaperSheet:
    return replace(sheet, pieces=sheet.pieces[1:])


def size_moved(sheet: PaperSheet) -> PaperSheet:
    first, *rest = sheet.pieces
    return replace(sheet, pieces=(shifted(first, 0.05, 0.0), *rest))


def sizes_changed(sheet: PaperSheet) -> PaperSheet:
    """Each of two sizes drawn with the other's dashes, and named after it."""
    one, two, *rest = sheet.pieces
    assert one.piece.name == two.piece.name
    return replace(
        sheet,
        pieces=(replace(one, size_number=two.size_number),
                replace(two, size_number=one.size_number), *rest),
    )  # fmt: skip


def names_changed(sheet: PaperSheet) -> PaperSheet:
    return replace(sheet, sizes=sheet.sizes[::-1])


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (size_missing, "outline"),
        (size_moved, "outline"),
        (sizes_changed, "outline"),
        (names_changed, "outline"),
        (changed("band", clip_missing), "clip"),
        (changed("band", notch_missing), "notch"),
    ],
)
def test_every_fault_of_sizes_together_is_found(
    change: Change, code: str, together: PaperSheet, tmp_path: Path
) -> None:
    assert code in codes(change(together), together, tmp_path)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda sheet: sheet, None),
        (changed("pocket", cut_out_missing), "outline"),
        (changed("pocket", mark_of_a_panel_missing), "stitch"),
        (changed("pocket", grain_turned), "grain"),
    ],
)
def test_panels_on_paper(
    change: Change, code: str | None, panel: PaperSheet, tmp_path: Path
) -> None:
    found = codes(change(panel), panel, tmp_path)
    assert code in found if code else found == set()


def add_line(page: pypdfium2.PdfPage) -> None:
    """A short line as a notch is drawn."""
    line = pdfium.FPDFPageObj_CreateNewPath(300.0, 300.0)
    pdfium.FPDFPath_LineTo(line, 310.0, 300.0)
    pdfium.FPDFPageObj_SetStrokeColor(line, 0, 0, 0, 255)
    pdfium.FPDFPageObj_SetStrokeWidth(line, 0.5 * PT_PER_MM)
    pdfium.FPDFPath_SetDrawMode(line, pdfium.FPDF_FILLMODE_NONE, True)
    pdfium.FPDFPage_InsertObject(page, line)


def add_cover(page: pypdfium2.PdfPage) -> None:
    """A white sheet over half the page: all is in the file, and half of it is seen."""
    cover = pdfium.FPDFPageObj_CreateNewRect(0.0, 0.0, 300.0, 900.0)
    pdfium.FPDFPageObj_SetFillColor(cover, 255, 255, 255, 255)
    pdfium.FPDFPath_SetDrawMode(cover, pdfium.FPDF_FILLMODE_WINDING, False)
    pdfium.FPDFPage_InsertObject(page, cover)


def pale(page: pypdfium2.PdfPage) -> None:
    """Every line white."""
    for thing in page.get_objects():
        pdfium.FPDFPageObj_SetStrokeColor(thing, 255, 255, 255, 255)


def add_words(page: pypdfium2.PdfPage) -> None:
    text = pdfium.FPDFPageObj_NewTextObj(page.pdf, b"Helvetica", 12.0)
    words = ctypes.create_string_buffer("cut 4\0".encode("utf-16-le"))
    pdfium.FPDFText_SetText(text, ctypes.cast(words, ctypes.POINTER(ctypes.c_ushort)))
    pdfium.FPDFPageObj_Transform(text, 1.0, 0.0, 0.0, 1.0, 300.0, 300.0)
    pdfium.FPDFPage_InsertObject(page, text)


@pytest.mark.parametrize(
    ("tamper", "number", "found"),
    [
        (add_line, 3, {"stray-line"}),
        (add_cover, 3, {"stray-line", "outline"}),
        (pale, 3, {"stray-line", "outline", "stitch", "frame"}),
        (pale, 0, {"key"}),
        (add_words, 3, {"stray-words"}),
    ],
)
def test_a_file_that_was_tampered_with(
    tamper: Callable[[pypdfium2.PdfPage], None],
    number: int,
    found: set[str],
    one: PaperSheet,
    tmp_path: Path,
) -> None:
    document = pypdfium2.PdfDocument(pdf_bytes(one))
    page = document[number]
    tamper(page)
    page.gen_content()
    path = tmp_path / "pattern.pdf"
    document.save(path)
    findings = judge_paper(read_pdf(path), expected_paper(one))
    assert found <= {finding.code for finding in findings}
    assert all(f"page {number + 1}" in f.text or "on no page" in f.text for f in findings)
