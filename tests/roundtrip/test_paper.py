"""The paper pattern, read back: drawn by PDFium, put together again and measured."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import get_args

import numpy as np
import pypdfium2
import pypdfium2.raw
import pytest

from cutfiles.files.pdf import pdf_bytes
from cutfiles.geometry.polygons import polygon_of
from cutfiles.job.job import EdgeFinish, Style
from cutfiles.job.sizes import SIZES, Size, made_to_measure, size_named
from cutfiles.paper.sheet import PAPERS, PaperName, PaperSheet
from cutfiles.verdict.expected_paper import expected_paper
from cutfiles.verdict.judge_paper import judge_paper, square_sides_mm
from cutfiles.verdict.read_pdf import ReadPaper, read_pdf
from tests.roundtrip.assembled import assembled, printed_area_mm2
from tests.unit.test_paper import sheet_for

M = (size_named("M"),)


def written(sheet: PaperSheet, folder: Path) -> Path:
    path = folder / "pattern.pdf"
    path.write_bytes(pdf_bytes(sheet))
    return path


@pytest.mark.parametrize(
    ("paper", "edge", "sizes", "style"),
    [
        *(("A4", edge, M, style) for edge in ("hem", "binding") for style in get_args(Style)),
        ("Letter", "hem", M, "tie-back"),
        ("A4", "hem", SIZES, "tie-back"),
        ("Letter", "binding", SIZES, "long-hair"),
        ("A4", "hem", (made_to_measure(480.0),), "three-panel"),
        ("Letter", "binding", (made_to_measure(660.0),), "bouffant"),
    ],
)
def test_a_paper_pattern_is_sound(
    paper: PaperName, edge: EdgeFinish, sizes: tuple[Size, ...], style: Style, tmp_path: Path
) -> None:
    sheet = sheet_for(sizes, edge, PAPERS[paper], style)
    read = read_pdf(written(sheet, tmp_path))
    assert judge_paper(read, expected_paper(sheet)) == ()
    assert len(read.pages) == len(sheet.tiles) + 1
    whole = assembled(read.pages[1:], sheet.paper, sheet.width_mm, sheet.height_mm)
    for drawn in sheet.pieces:
        if drawn.size_number is None:
            area = printed_area_mm2(whole, drawn, sheet.height_mm)
            assert area == pytest.approx(polygon_of(drawn.piece.cut).area, rel=0.005)


@pytest.mark.parametrize(
    ("paper", "width_pt", "height_pt"), [("A4", 595.276, 841.890), ("Letter", 612.0, 792.0)]
)
def test_page_sizes_in_points(
    paper: PaperName, width_pt: float, height_pt: float, tmp_path: Path
) -> None:
    # ISO 216 and ANSI/ASME Y14.1 at 72 points an inch
    document = pypdfium2.PdfDocument(written(sheet_for(M, "hem", PAPERS[paper]), tmp_path))
    for page in document:
        assert page.get_size() == pytest.approx((width_pt, height_pt), abs=0.1 * 72 / 25.4)
        assert page.get_size() == pytest.approx((width_pt, height_pt), abs=0.001)


@pytest.mark.parametrize("paper", PAPERS)
def test_the_test_squares_on_a_picture(paper: PaperName, tmp_path: Path) -> None:
    # 100 mm and 4 in = 101.6 mm, exact since the agreement of 1959, at 300 dots an inch
    sheet = sheet_for(M, "hem", PAPERS[paper])
    path = written(sheet, tmp_path)
    picture = read_pdf(path).squares
    assert picture is not None
    page = PAPERS[paper]
    per_mm = (picture.shape[1] / page.width_mm, picture.shape[0] / page.height_mm)
    assert per_mm == pytest.approx((300 / 25.4, 300 / 25.4), rel=1e-3)
    assert square_sides_mm(picture, "blue", per_mm) == pytest.approx((100.0, 100.0), abs=0.3)
    assert square_sides_mm(picture, "orange", per_mm) == pytest.approx((101.6, 101.6), abs=0.3)


def test_the_words_on_the_pages(tmp_path: Path) -> None:
    sheet = sheet_for(M, "hem", PAPERS["A4"])
    read = read_pdf(written(sheet, tmp_path))
    front, *tiles = (page.text for page in read.pages)
    for words in ("Invented caps", "6 pages of A4", "1 row and 5 columns", "cut line", "stitch"):
        assert words in front
    for number in range(2, 7):
        assert str(number) in front.split()
    for number, text in enumerate(tiles, start=2):
        assert f"row 1 of 1, column {number - 1} of 5" in text
        assert f"page {number} of 6" in text
        assert "overlap 10 mm" in text
    assert "this strip lies under page 3" in tiles[0]
    assert "this strip lies over page 2" in tiles[1]
    for mark in ("a1", "a2"):
        assert mark in tiles[0].split()
        assert mark in tiles[1].split()
        assert mark not in tiles[2].split()


def test_curves_are_true_curves(tmp_path: Path) -> None:
    document = pypdfium2.PdfDocument(written(sheet_for(M, "hem", PAPERS["A4"]), tmp_path))
    raw = pypdfium2.raw
    kinds: Counter[int] = Counter()
    dashed = 0
    for thing in document[2].get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
        for k in range(raw.FPDFPath_CountSegments(thing)):
            kinds[raw.FPDFPathSegment_GetType(raw.FPDFPath_GetPathSegment(thing, k))] += 1
        dashed += raw.FPDFPageObj_GetDashCount(thing) > 0
    # PDFium counts three points a curve; flattened to 0.01 mm the crown alone has 200 chords
    assert kinds[raw.FPDF_SEGMENT_BEZIERTO] > 30
    assert kinds[raw.FPDF_SEGMENT_LINETO] < 100
    assert dashed > 0


def test_the_same_sheet_gives_the_same_bytes() -> None:
    one, other = (pdf_bytes(sheet_for(M, "hem", PAPERS["A4"])) for _ in range(2))
    assert one == other
    assert b"D:2000" in one  # no date but a fixed one


def test_a_title_in_letters_that_the_fonts_lack(tmp_path: Path) -> None:
    sheet = replace(sheet_for(M, "hem", PAPERS["A4"]), title="Häubchen und Шапки (é) \\")
    read = read_pdf(written(sheet, tmp_path))
    assert judge_paper(read, expected_paper(sheet)) == ()
    assert "Häubchen und ????? (é) \\" in read.pages[0].text


def test_a_page_printed_too_small_is_found(tmp_path: Path) -> None:
    """Fitted to the page at 97 %, as printers do unasked: no piece keeps its size."""
    sheet = sheet_for(M, "hem", PAPERS["A4"])
    read = read_pdf(written(sheet, tmp_path))
    assert read.squares is not None
    rows, columns = (np.arange(n) / 0.97 for n in read.squares.shape[:2])
    rows, columns = rows[rows < len(rows) - 1], columns[columns < len(columns) - 1]
    small = np.full_like(read.squares, 255)
    shrunk = read.squares[np.ix_(rows.astype(int), columns.astype(int))]
    small[: len(rows), : len(columns)] = shrunk
    findings = judge_paper(ReadPaper(read.name, read.pages, small, ()), expected_paper(sheet))
    assert {f.code for f in findings} == {"test-square"}
    assert "measures 96.98 mm along x, not 100 mm" in findings[0].text


def test_what_is_no_pdf(tmp_path: Path) -> None:
    path = tmp_path / "pattern.pdf"
    path.write_bytes(b"not a pdf")
    findings = judge_paper(read_pdf(path), expected_paper(sheet_for(M, "hem", PAPERS["A4"])))
    assert [f.code for f in findings] == ["unreadable"]
    whole = pdf_bytes(sheet_for(M, "hem", PAPERS["A4"]))
    path.write_bytes(whole[: len(whole) // 3])
    findings = judge_paper(read_pdf(path), expected_paper(sheet_for(M, "hem", PAPERS["A4"])))
    assert findings
