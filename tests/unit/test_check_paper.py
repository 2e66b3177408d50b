"""`check` on printed patterns: by the list and the drawings beside them, and alone."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from cutfiles.errors import errors_of
from cutfiles.files.pdf import pdf_bytes
from cutfiles.geometry.vector import Vector
from cutfiles.job.sizes import size_named
from cutfiles.paper.sheet import PAPERS, PaperSheet, Tile
from cutfiles.pipeline.check import Checked, check_path
from cutfiles.pipeline.draft import draft_job
from cutfiles.pipeline.load import load_job
from cutfiles.verdict.read_pdf import ReadPaper, read_pdf
from tests.conftest import LASER, ONE_CAP, ONE_CLOTH, ROOT
from tests.unit.test_paper import sheet_for

CAPS = ONE_CAP + ONE_CAP.replace('"M"', '"L"')
POCKET = """
[[panels]]
file = "pocket.svg"
quantity = 2
"""
TOGETHER, POCKET_PDF = "pattern-tie-back-hem-together.pdf", "pattern-pocket.pdf"


@pytest.fixture(scope="module")
def drafted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two sizes in one PDF, and a panel. Read only."""
    folder = tmp_path_factory.mktemp("drafted")
    shutil.copy(ROOT / "fixtures" / "pieces" / "pocket.svg", folder)
    job = folder / "job.toml"
    job.write_text(ONE_CLOTH + CAPS + POCKET + LASER, encoding="utf-8")
    draft_job(load_job(job), folder, folder / "out", together=True)
    return folder / "out"


@pytest.fixture
def copy(drafted: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(drafted, tmp_path / "copy"))


def codes(checked: Checked) -> set[str]:
    return {finding.code for finding in errors_of(checked.findings)}


def test_a_draft_is_sound_with_its_papers(drafted: Path) -> None:
    checked = check_path(drafted)
    assert codes(checked) == set()
    assert {TOGETHER, POCKET_PDF} <= set(checked.files)
    (note,) = checked.findings
    assert "compared with their fingerprints only" in note.text
    assert "pattern-tie-back-M-hem.astm.dxf" in note.text


@pytest.mark.parametrize("name", [TOGETHER, POCKET_PDF])
def test_a_paper_beside_its_list_is_sound(name: str, drafted: Path) -> None:
    assert check_path(drafted / name) == Checked((name,), ())


def test_papers_that_are_gone_or_changed(copy: Path) -> None:
    (copy / TOGETHER).unlink()
    document = pypdfium2.PdfDocument(copy / POCKET_PDF)
    document.save(copy / "again.pdf")
    (copy / "again.pdf").replace(copy / POCKET_PDF)  # the same lines in other bytes
    (copy / "pattern-tie-back-M-hem-sewing.txt").write_text("sew it\n")
    checked = check_path(copy)
    assert codes(checked) == {"missing-file", "changed"}
    said = [finding.text for finding in errors_of(checked.findings)]
    assert len(said) == 3
    assert any(POCKET_PDF in text and "is not the file that was written" in text for text in said)


@pytest.fixture(scope="module")
def read_together(drafted: Path) -> ReadPaper:
    return read_pdf(drafted / TOGETHER)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda paper: paper["pieces"].pop(0), "stray-line"),
        (lambda paper: paper["pieces"][0].update(shift_mm=[0.0, 0.0]), "outline"),
        (lambda paper: paper["pieces"][0].update(turn_deg=0.01), "notch"),
        (lambda paper: paper["pieces"][0].update(size=1), "outline"),
        (lambda paper: paper["pieces"][0].update(size=7), "summary"),
        (lambda paper: paper["pieces"][0].update(id="sleeve"), "summary"),
        (lambda paper: paper["labels"][0].update(text="crown"), "label"),
        (lambda paper: paper["labels"][0].update(piece="sleeve"), "stray-line"),
        (lambda paper: paper["marks"].pop(0), "stray-line"),
        (lambda paper: paper["tiles"].pop(0), "pages"),
        (lambda paper: paper.update(paper="Letter"), "page-size"),
        (lambda paper: paper.update(square_at_mm=[60.0, 60.0]), "test-square"),
    ],
)
def test_a_list_that_was_changed(
    change: Callable[[dict[str, Any]], object],
    code: str,
    copy: Path,
    read_together: ReadPaper,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # the paper itself is the same in all of them
    monkeypatch.setattr("cutfiles.pipeline.check.read_pdf", lambda _: read_together)
    path = copy / "pattern.json"
    table = json.loads(path.read_text(encoding="utf-8"))
    change(table["papers"][0])
    path.write_text(json.dumps(table), encoding="utf-8")
    assert code in codes(check_path(copy / TOGETHER))


def test_a_paper_that_differs_from_its_drawing(copy: Path) -> None:
    """One notch of the drawing left out: its own judge and the paper's both say so."""
    path = copy / "pattern-tie-back-M-hem.dxf"
    lines = path.read_text(encoding="utf-8").split("\n")
    at = lines.index("notch-slits", lines.index("ENTITIES"))
    lines[at] = "stitch-lines"
    path.write_text("\n".join(lines), encoding="utf-8")
    assert {"changed", "notch"} <= codes(check_path(path))
    assert "stray-line" in codes(check_path(copy / TOGETHER))
    path.unlink()
    assert codes(check_path(copy / TOGETHER)) == {"missing-file"}


def alone(sheet: PaperSheet, folder: Path) -> Checked:
    path = folder / "alone.pdf"
    path.write_bytes(pdf_bytes(sheet))
    return check_path(path)


@pytest.fixture(scope="module")
def sheet() -> PaperSheet:
    return sheet_for((size_named("M"),), "hem", PAPERS["Letter"])


def test_a_paper_alone(drafted: Path, sheet: PaperSheet, tmp_path: Path) -> None:
    shutil.copy(drafted / TOGETHER, tmp_path / "pattern.pdf")
    for checked in (alone(sheet, tmp_path), check_path(tmp_path / "pattern.pdf")):
        assert checked.verdict == "Pages fit each other, no more is known"
        (finding,) = checked.findings
        assert (finding.code, finding.severity) == ("no-summary", "warning")
        assert "its pieces, notches and grain are not known" in finding.text


def with_tile(sheet: PaperSheet, number: int, tile: Tile) -> PaperSheet:
    tiles = list(sheet.tiles)
    tiles[number] = tile
    return replace(sheet, tiles=tuple(tiles))


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda s: with_tile(s, 1, replace(s.tiles[1], left_mm=s.tiles[1].left_mm + 0.06)),
         "strip"),
        (lambda s: with_tile(s, 1, replace(s.tiles[1], left_mm=s.tiles[1].left_mm + 1.0)),
         "page-place"),
        (lambda s: with_tile(s, 1, s.tiles[0]), "page-place"),
        (lambda s: replace(s, paper=replace(s.paper, height_mm=300.0)), "page-size"),
        (lambda s: replace(s, square_at=s.square_at + Vector(-60.0, 0.0)), "test-square"),
    ],
)  # fmt: skip
def test_a_paper_alone_whose_pages_do_not_fit(
    change: Callable[[PaperSheet], PaperSheet], code: str, sheet: PaperSheet, tmp_path: Path
) -> None:
    assert code in codes(alone(change(sheet), tmp_path))


@pytest.mark.parametrize(
    ("pages", "code"), [([0, 1, 2, 4], "pages"), ([0], "pages"), ([1, 2, 3], "key")]
)
def test_a_paper_alone_with_pages_taken_out(
    pages: list[int], code: str, sheet: PaperSheet, tmp_path: Path
) -> None:
    whole = pypdfium2.PdfDocument(pdf_bytes(sheet))
    some = pypdfium2.PdfDocument.new()
    some.import_pages(whole, pages)
    some.save(tmp_path / "some.pdf")
    assert code in codes(check_path(tmp_path / "some.pdf"))


def test_a_pdf_of_another_kind(tmp_path: Path) -> None:
    other = pypdfium2.PdfDocument.new()
    other.new_page(500.0, 500.0)
    other.save(tmp_path / "other.pdf")
    assert codes(check_path(tmp_path / "other.pdf")) == {"page-size"}
    (tmp_path / "torn.pdf").write_bytes(b"%PDF-1.4")
    assert codes(check_path(tmp_path / "torn.pdf")) == {"unreadable"}


def test_a_panel_called_like_a_paper_of_all_sizes(tmp_path: Path) -> None:
    name = "tie-back-hem-together"
    shutil.copy(ROOT / "fixtures" / "pieces" / "pocket.svg", tmp_path / f"{name}.svg")
    job = tmp_path / "job.toml"
    job.write_text(ONE_CLOTH + ONE_CAP + POCKET.replace("pocket", name) + LASER, encoding="utf-8")
    names = draft_job(load_job(job), tmp_path, tmp_path / "out", together=True).names
    assert {f"pattern-{name}.pdf", f"pattern-{name}-2.pdf"} <= set(names)
    assert codes(check_path(tmp_path / "out")) == set()


def test_a_panel_too_large_for_paper(tmp_path: Path) -> None:
    # derived: 2.5 x 2.5 m in steps of 180 x 267 mm is 14 x 10 pages of A4
    square = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="2500mm" height="2500mm" '
        'viewBox="0 0 2500 2500"><rect width="2500" height="2500"/></svg>'
    )
    (tmp_path / "sheet.svg").write_text(square)
    job = tmp_path / "job.toml"
    table = POCKET.replace("pocket", "sheet")
    job.write_text(ONE_CLOTH + table + LASER, encoding="utf-8")
    done = draft_job(load_job(job), tmp_path, tmp_path / "out")
    assert set(done.names) == {"pattern-sheet.dxf", "pattern-sheet.svg", "pattern.json"}
    said = {finding.code: finding for finding in done.findings}
    assert "pages of A4, and more than 100" in said["large-paper"].text
    assert codes(check_path(tmp_path / "out")) == set()
