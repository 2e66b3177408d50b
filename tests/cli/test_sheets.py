"""The paper for the table: job sheet, bundle tickets and list of pieces of a finished folder."""

from __future__ import annotations

import csv
import json
import re
import shutil
from collections import Counter
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
import zxingcpp

from cutfiles.effort import Effort
from cutfiles.pipeline.make import make_job
from tests.cli.program import WriteJob, cutfiles, names
from tests.conftest import ONE_CAP, ONE_CLOTH

SHEETS = ["bundle-tickets.pdf", "job-sheet.pdf", "pieces.csv", "sheets.json"]
BIB = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="120mm" viewBox="0 0 300 120">'
    '<g id="outline"><path d="M 10 110 H 250 V 60 Q 200 10 100 20 L 10 60 Z"/></g></svg>'
)
MIXED = """
title = "Möwen & Igel “Tern Street” (invented)"
length_unit = "cm"
[[cloth]]
name = "kelp-print cotton"
width = 112
spread = "folded"
fibre = "cotton"
flaws = [{ at = [30, 30], size = [4, 3] }]
[[cloth]]
name = "plain cotton, blue"
width = 90
plies = 2
fibre = "cotton"
[[caps]]
style = "tie-back"
size = "S"
quantity = 4
cloth = "kelp-print cotton"
[[caps]]
style = "tie-back"
size = "M"
quantity = 2
edge = "binding"
cloth = "kelp-print cotton"
from = { binding = "plain cotton, blue" }
[[panels]]
file = "bib.svg"
quantity = 3
grain_deg = 0
on_fold = true
cloth = "kelp-print cotton"
[machine]
kind = "drag knife"
settings = [{ plies = 2, note = "force 320 g, twice round" }]
"""


def words(path: Path) -> list[str]:
    """The text of every page, without white space, by PDFium."""
    with pypdfium2.PdfDocument(path) as document:
        return ["".join(page.get_textpage().get_text_range().split()) for page in document]


def codes(path: Path) -> list[str]:
    """What zxing-cpp reads off the pages, drawn at 300 dots an inch."""
    found: list[str] = []
    with pypdfium2.PdfDocument(path) as document:
        for page in document:
            picture = np.array(page.render(scale=300 / 72).to_pil().convert("L"))
            found.extend(code.text for code in zxingcpp.read_barcodes(picture))
    return found


def rows(folder: Path) -> list[dict[str, str]]:
    with (folder / "pieces.csv").open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def mixed_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folded cloth and another, bindings from the one for the other, panels on the fold; its
    sheets printed. Read only."""
    folder = tmp_path_factory.mktemp("mixed")
    (folder / "bib.svg").write_text(BIB, "utf-8")
    (folder / "job.toml").write_text(MIXED, "utf-8")
    make_job(folder / "job.toml", folder / "out", Effort(0.2, 1))
    run = cutfiles("sheets", folder / "out")
    assert run.returncode == 0, run.stderr
    return folder / "out"


@pytest.fixture(scope="module")
def demo_printed(demo_made: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with its sheets. Read only: copy it to change it."""
    folder = tmp_path_factory.mktemp("printed") / "demo"
    shutil.copytree(demo_made, folder)
    run = cutfiles("sheets", folder)
    assert run.returncode == 0, run.stderr
    # derived: 3 S and 5 M hemmed of band, crown and two ties, 4 L of band, crown and binding
    assert "3 bundles, 44 pieces" in run.stdout
    return folder


@pytest.fixture
def printed_copy(demo_printed: Path, tmp_path: Path) -> Path:
    """A copy of the demo and its sheets to tamper with."""
    copy = tmp_path / "printed-copy"
    shutil.copytree(demo_printed, copy)
    return copy


def test_the_sheets_of_the_demo(demo_printed: Path) -> None:
    first, *lay = words(demo_printed / "job-sheet.pdf")
    summary = json.loads((demo_printed / "summary.json").read_bytes())
    length = f"{summary['lays'][0]['length_mm'] / 25.4:.1f}in"  # 25.4 mm to the inch, exactly
    assert "12capscut,12capsordered:44piecesin1lay" in first
    assert f"{length}ofclothinall" in first
    text = "".join(lay)
    assert f"{length}long,43.0inofusablewidth" in text  # derived: 44 in less two half inches
    for row in ("tie-backS,hemtie66", "tie-backM,hemtie1010", "tie-backL,bindingbinding44"):
        assert row in text
    for lay_print in summary["lays"][0]["sha256"].values():
        assert lay_print in text
    for signed in ("Spreadby", "Checkedby", "Cutby", "Date"):
        assert signed in text
    for number, page in enumerate([first, *lay], 1):
        assert page.endswith(f"page{number}of{1 + len(lay)}") or f"page{number}of" in page
    assert cutfiles("check", demo_printed).returncode == 0


def test_the_codes_count_the_order(demo_printed: Path) -> None:
    found = codes(demo_printed / "bundle-tickets.pdf")
    counts = [re.match(r"(lay-01-b0\d): (\d+) pieces of (\d+) caps, cut file", c) for c in found]
    assert {c[1] for c in counts if c} == {"lay-01-b01", "lay-01-b02", "lay-01-b03"}
    assert [sum(int(c[k]) for c in counts if c) for k in (2, 3)] == [44, 12]
    printed = "".join(words(demo_printed / "bundle-tickets.pdf"))
    for code in found:
        assert "".join(code.split()) in printed


def test_the_table_holds_every_piece(demo_printed: Path) -> None:
    table = rows(demo_printed)
    summary = json.loads((demo_printed / "summary.json").read_bytes())
    pieces = {piece["id"]: piece for piece in summary["lays"][0]["pieces"]}
    assert {row["id"] for row in table} == set(pieces)
    assert len(table) == 44
    for row in table:
        piece = pieces[row["id"]]
        assert float(row["area_mm2"]) == pytest.approx(piece["area_mm2"], abs=0.06)
        assert float(row["along_mm"]) == pytest.approx(piece["centre_mm"][0], abs=0.0006)
        assert (row["style"], row["cap"]) == ("tie-back", f"tie-back {row['size']}")
        assert row["label"] == piece["label"]
    sizes = Counter((row["size"], row["edge"]) for row in table)
    assert sizes == {("S", "hem"): 12, ("M", "hem"): 20, ("L", "binding"): 12}


def test_plies_folds_and_caps_over_two_cloths(mixed_made: Path) -> None:
    found = codes(mixed_made / "bundle-tickets.pdf")
    said = {code.split(": ")[1].split(",")[0] for code in found}
    # derived: 4 S caps of 4 pieces; 2 M of band and crown here and a binding there; 3 bibs, each
    # of two layers on the fold, of which one half outline gives one
    assert said == {"16 pieces of 4 caps", "4 pieces of 2 caps", "2 pieces of 2 caps", "3 pieces"}
    table = rows(mixed_made)
    assert sum(int(row["cut"]) for row in table) == 16 + 4 + 2 + 3
    assert sum(row["piece"] == "panel" for row in table) == 3
    tickets = "".join(words(mixed_made / "bundle-tickets.pdf"))
    assert "otherpiecesofthesecaps:lay-02" in tickets
    sheet = "".join(words(mixed_made / "job-sheet.pdf"))
    for text in ("“TernStreet”", "Möwen", "force320g,twiceround", "2plies,folded", "1flawof"):
        assert text in sheet, text


# From makerspace and university laser policies, I. Vilumsone-Nemes on knives (guards and gloves),
# and a nurses' association on cloth caps; the words themselves are common practice, no source.
SAFETY = {
    "laser": ("PVC", "chlorine", "extinguisher", "extraction on", "interlocks", "test stack"),
    "drag knife": ("hands", "stop the machine"),
    "rotary blade": ("Guard down", "cut-resistant glove", "Close a hand-held rotary blade"),
}
ALWAYS = (
    "not certified protective equipment",
    "not a medical device",
    "attire and laundry policy",
    "Local rules and trained staff",
)


@pytest.mark.parametrize("kind", SAFETY)
def test_the_safety_text_is_on_every_job_sheet(
    kind: str, job_file: WriteJob, tmp_path: Path
) -> None:
    job = job_file(ONE_CLOTH + ONE_CAP + f'[machine]\nkind = "{kind}"\n')
    make_job(job, tmp_path / "out", Effort(0.0, 1))
    run = cutfiles("sheets", tmp_path / "out", "--paper", "letter")
    assert run.returncode == 0, run.stderr
    first, *lay = words(tmp_path / "out" / "job-sheet.pdf")
    for text in (*SAFETY[kind], *ALWAYS):
        squeezed = "".join(text.split())
        assert squeezed in first, text
        assert squeezed in "".join(lay), text
    with pypdfium2.PdfDocument(tmp_path / "out" / "job-sheet.pdf") as document:
        assert document[0].get_size() == pytest.approx((612.0, 792.0), abs=0.01)  # Letter, in pt


def test_the_same_bytes_again_and_a_date_where_it_is_given(printed_copy: Path) -> None:
    def printed(*more: str) -> dict[str, bytes]:
        assert cutfiles("sheets", printed_copy, *more).returncode == 0
        return {name: (printed_copy / name).read_bytes() for name in SHEETS}

    first = {name: (printed_copy / name).read_bytes() for name in SHEETS}
    assert printed() == first
    assert printed("--date", "3 May 2027") != first
    assert "3May2027" in words(printed_copy / "job-sheet.pdf")[0]
    assert "3May2027" in words(printed_copy / "bundle-tickets.pdf")[0]


def test_what_cannot_be_printed(demo_copy: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    for call, text in (
        ((tmp_path / "none",), "holds no summary.json"),
        ((tmp_path / "empty",), "holds no summary.json"),
        ((demo_copy, "--paper", "A5"), "--paper: 'A5' is not known: use A4 or Letter"),
        ((demo_copy, "--date", "x" * 41), "give up to 40 letters"),
        ((demo_copy, "--date", "a\nb"), "is no date"),
    ):
        run = cutfiles("sheets", *call)
        assert (run.returncode, run.stdout) == (2, "")
        assert text in run.stderr
    assert not (tmp_path / "none").exists()
    assert not set(SHEETS) & set(names(demo_copy))


def test_a_folder_that_was_changed_is_refused(printed_copy: Path) -> None:
    path = printed_copy / "lay-01.dxf"
    path.write_bytes(path.read_bytes() + b"999\nmore\n")
    run = cutfiles("sheets", printed_copy)
    assert run.returncode == 1
    assert "lay-01.dxf: is not the file that was written" in run.stderr
    # the older sheets are out of the way
    assert not set(SHEETS) & set(names(printed_copy))
    assert names(printed_copy / "older-results-1") == SHEETS


def test_a_file_of_somebody_else_stays(demo_copy: Path) -> None:
    (demo_copy / "job-sheet.pdf").write_text("mine")
    before = names(demo_copy)
    run = cutfiles("sheets", demo_copy)
    assert run.returncode == 2
    assert "job-sheet.pdf: is there already and was not written by cutfiles" in run.stderr
    assert (demo_copy / "job-sheet.pdf").read_text() == "mine"
    assert names(demo_copy) == before


def test_check_knows_the_sheets(printed_copy: Path) -> None:
    for name in ("job-sheet.pdf", "bundle-tickets.pdf", "pieces.csv"):
        run = cutfiles("check", printed_copy / name)
        assert (run.returncode, run.stderr) == (0, "")
        assert run.stdout == f"As it was written, no more is known: {name}\n"
    (printed_copy / "pieces.csv").write_text("lay\n")
    (printed_copy / "bundle-tickets.pdf").unlink()
    run = cutfiles("check", printed_copy)
    assert run.returncode == 1
    assert "pieces.csv: is not the file that was written" in run.stderr
    alone = cutfiles("check", printed_copy / "pieces.csv")
    assert alone.returncode == 1
    assert "pieces.csv: is not the file that was written" in alone.stderr
    assert "bundle-tickets.pdf: is named in the summary and is not there" in run.stderr
    # printing anew mends it
    assert cutfiles("sheets", printed_copy).returncode == 0
    assert cutfiles("check", printed_copy).returncode == 0


def test_sheets_of_other_lays_are_found(printed_copy: Path) -> None:
    summary = json.loads((printed_copy / "summary.json").read_bytes())
    (printed_copy / "summary.json").write_text(json.dumps(summary | {"title": "another"}))
    run = cutfiles("check", printed_copy)
    assert run.returncode == 1
    assert "of other lays than those of summary.json" in run.stderr
    (printed_copy / "sheets.json").write_text("{}")
    run = cutfiles("check", printed_copy)
    assert run.returncode == 2
    assert "sheets.json: summary_sha256: Field required: it is not as it was" in run.stderr


def test_new_lays_take_older_sheets_away(job_file: WriteJob, tmp_path: Path) -> None:
    job = job_file(ONE_CLOTH + ONE_CAP + '[machine]\nkind = "drag knife"\n')
    out = tmp_path / "out"
    make_job(job, out, Effort(0.0, 1))
    made = names(out)
    assert cutfiles("sheets", out).returncode == 0
    assert names(out) == sorted([*made, *SHEETS])
    shutil.copy(out / "pieces.csv", out / "mine.csv")
    make_job(job, out, Effort(0.0, 2))
    assert names(out) == sorted([*made, "mine.csv"])
