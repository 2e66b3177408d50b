"""The judge of the paper for the table finds what was tampered with."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from cutfiles.effort import Effort
from cutfiles.errors import Finding
from cutfiles.files.job_sheet import job_sheet
from cutfiles.files.pieces_csv import pieces_csv
from cutfiles.files.roles import INKS
from cutfiles.files.tickets import bundle_tickets
from cutfiles.paper.sheet import PAPERS
from cutfiles.pipeline.make import make_job
from cutfiles.pipeline.sheets import Contents, contents_of
from cutfiles.sheets.bundles import bundles_of
from cutfiles.sheets.sheet import CutFolder, CutLay
from cutfiles.verdict.judge_sheets import (
    ExpectedSheet,
    judge_job_sheet,
    judge_pieces,
    judge_tickets,
)
from cutfiles.verdict.read_pdf import read_pdf

A4 = PAPERS["A4"]
A4_MM = (210.0, 297.0)  # ISO 216
JOB = """
title = "Two gulls (invented)"
length_unit = "in"
[[cloth]]
name = "kelp-print cotton"
width = 24
fibre = "cotton"
[[caps]]
style = "tie-back"
size = "S"
quantity = 2
[[caps]]
style = "tie-back"
size = "L"
quantity = 3
[machine]
kind = "laser"
bed = { along = 40, across = 30, advance = true }
settings = [{ plies = 1, note = "55 % at 90 mm/s, air on" }]
"""


@pytest.fixture(scope="module")
def contents(tmp_path_factory: pytest.TempPathFactory) -> Contents:
    """A lay in several frames, shown in two pictures."""
    folder = tmp_path_factory.mktemp("gulls")
    (folder / "job.toml").write_text(JOB)
    make_job(folder / "job.toml", folder / "out", Effort(0.2, 1))
    return contents_of(folder / "out", "")


def expected_of(contents: Contents) -> ExpectedSheet:
    folder = contents.folder
    colour = INKS["outline"].rgb
    return ExpectedSheet(contents.summary, contents.drawings, folder.cautions, A4_MM, colour)


def said(findings: tuple[Finding, ...]) -> str:
    assert all(finding.severity == "error" for finding in findings)
    return "\n".join(finding.text for finding in findings)


def sheet_faults(contents: Contents, folder: CutFolder, path: Path) -> str:
    path.write_bytes(job_sheet(folder, A4))
    return said(judge_job_sheet(read_pdf(path), expected_of(contents)))


def with_lay(folder: CutFolder, change: Callable[[CutLay], CutLay]) -> CutFolder:
    first, *others = folder.lays
    return replace(folder, lays=(change(first), *others))


def moved(lay: CutLay, by_mm: float) -> CutLay:
    first, second, *others = lay.lines.outlines
    second = tuple((x + by_mm, y) for x, y in second)
    return replace(lay, lines=replace(lay.lines, outlines=(first, second, *others)))


def test_a_sound_sheet(contents: Contents, tmp_path: Path) -> None:
    path = tmp_path / "sheet.pdf"
    assert sheet_faults(contents, contents.folder, path) == ""
    text = "".join(page.text for page in read_pdf(path).pages)
    assert "Cut in" in text
    assert "beginning at 0.0 in," in text  # frames
    assert "55 % at 90 mm/s, air on" in text
    assert text.count("1 : ") > 1  # pictures


def test_a_title_like_the_heading_of_a_lay(contents: Contents, tmp_path: Path) -> None:
    title = "lay-01: kelp-print cotton"
    folder = replace(contents.folder, title=title)
    told = replace(contents, summary=contents.summary.model_copy(update={"title": title}))
    assert sheet_faults(told, folder, tmp_path / "sheet.pdf") == ""
    path = tmp_path / "sheet.pdf"
    without = replace(folder, lays=())
    path.write_bytes(job_sheet(without, A4))
    faults = said(judge_job_sheet(read_pdf(path), expected_of(told)))
    assert "shows 0 lays and the summary has 1" in faults


SHEET_TAMPERED: dict[str, tuple[Callable[[CutFolder], CutFolder], str]] = {
    "caution left out": (lambda f: replace(f, cautions=f.cautions[1:]), "does not say 'Never cut"),
    "medical note left out": (
        lambda f: replace(f, cautions=tuple(c for c in f.cautions if "certified" not in c)),
        "does not say 'These caps are not certified",
    ),
    "caps miscounted": (lambda f: replace(f, caps=6), "does not say '5 caps cut"),
    "cloth mismeasured": (
        lambda f: replace(f, cloth_length_mm=f.cloth_length_mm + 25.4),
        "of cloth in all'",
    ),
    "a finding left out": (lambda f: replace(f, findings=()), "does not say 'note: "),
    "another title": (lambda f: replace(f, title="Three gulls"), "does not say 'Two gulls"),
    "no lay": (lambda f: replace(f, lays=()), "shows 0 lays and the summary has 1"),
    "plies miscounted": (
        lambda f: with_lay(f, lambda lay: replace(lay, plies=2)),
        "lay-01: does not say '1 ply, single",
    ),
    "a setting left out": (
        lambda f: with_lay(f, lambda lay: replace(lay, setting=None)),
        "does not say '55 % at 90",
    ),
    "another fingerprint": (
        lambda f: with_lay(f, lambda lay: replace(lay, prints=(("lay-01.dxf", "0" * 64),))),
        "does not say 'lay-01.dxf: ",
    ),
    "a piece too few": (
        lambda f: with_lay(f, lambda lay: replace(lay, pieces=lay.pieces[1:])),
        "does not list",
    ),
    "an outline too few": (
        lambda f: with_lay(
            f,
            lambda lay: replace(lay, lines=replace(lay.lines, outlines=lay.lines.outlines[1:])),
        ),
        "outlines and not",
    ),
    "an outline moved": (lambda f: with_lay(f, lambda lay: moved(lay, 3.0)), "mm off its place"),
}


@pytest.mark.parametrize("name", SHEET_TAMPERED)
def test_a_sheet_that_was_tampered_with(name: str, contents: Contents, tmp_path: Path) -> None:
    change, text = SHEET_TAMPERED[name]
    assert text in sheet_faults(contents, change(contents.folder), tmp_path / "sheet.pdf")


def test_a_page_of_another_size(contents: Contents, tmp_path: Path) -> None:
    path = tmp_path / "sheet.pdf"
    path.write_bytes(job_sheet(contents.folder, PAPERS["Letter"]))
    faults = said(judge_job_sheet(read_pdf(path), expected_of(contents)))
    assert "page 1: is 215.9 x 279.4 mm and should be 210 x 297" in faults
    path.write_bytes(b"no PDF")
    assert "is no PDF" in said(judge_job_sheet(read_pdf(path), expected_of(contents)))


def test_tickets_that_were_tampered_with(contents: Contents, tmp_path: Path) -> None:
    path = tmp_path / "tickets.pdf"
    bundles = bundles_of(contents.folder.lays)
    first, second = bundles

    def faults(*changed: object) -> str:
        tickets = [b for b in changed if isinstance(b, type(first))]
        path.write_bytes(bundle_tickets(contents.folder, tickets, A4))
        return said(judge_tickets(read_pdf(path), contents.summary, page_mm=A4_MM))

    assert faults(*bundles) == ""
    # derived: 3 L of band, crown and two ties
    assert "1 tickets of lay-01 with 12 pieces of 3 caps cannot be read" in faults(first)
    assert "1 tickets too many, of lay-01 with 12 pieces" in faults(first, second, second)
    assert "2 tickets are called lay-01-b01" in faults(
        first, replace(second, id=first.id, code=second.code.replace("b02", "b01"))
    )
    wrong = replace(second, code=second.code.replace("12 pieces", "11 pieces"))
    assert "with 11 pieces of 3 caps" in faults(first, wrong)
    assert "no ticket is headed lay-01-b02" in faults(first, replace(second, id="lay-01-b03"))
    assert "which is not printed" in faults(first, replace(second, code="something else"))
    turned = tuple((name, 9 - count) for name, count in second.counts)
    assert faults(first, replace(second, counts=turned)) == (
        "tickets.pdf: no ticket says that tie-back L, hem of lay-01 are band 3, crown 3, tie 6"
    )


def test_a_table_that_was_tampered_with(contents: Contents) -> None:
    folder, summary = contents.folder, contents.summary
    table = pieces_csv(folder.lays, bundles_of(folder.lays))
    assert judge_pieces("pieces.csv", table, summary) == ()
    lines = table.decode().splitlines(keepends=True)
    for changed, text in (
        (lines[:-1], "has no row of piece cap-005-tie-2"),
        ([*lines, lines[-1]], "has a row too many, of piece cap-005-tie-2"),
        ([lines[0].replace("label", "words"), *lines[1:]], "its columns are"),
        ([*lines[:-1], lines[-1].replace(",tie,", ",band,")], "has no row of piece"),
        (lines[:1], "has no row of piece cap-001-band"),
        ([*lines[:-1], lines[-1].replace("-b02,", "-b01,")], "bundle 'lay-01-b01' is not all of"),
        ([*lines[:-1], lines[-1].replace("-b02,", "-b03,")], "bundle 'lay-01-b03' is not all of"),
        ([line.replace("lay-01-b", "lay-02-b") for line in lines], "bundle 'lay-02-b01' is not"),
    ):
        assert text in said(judge_pieces("pieces.csv", "".join(changed).encode(), summary))


def test_ids_do_not_hang_on_the_order_of_the_pieces(contents: Contents) -> None:
    (lay,) = contents.folder.lays
    turned = replace(lay, pieces=tuple(reversed(lay.pieces)))
    assert bundles_of([turned]) == bundles_of([lay])
    assert [b.kind for b in bundles_of([lay])] == ["tie-back S, hem", "tie-back L, hem"]


@pytest.mark.parametrize(
    "text",
    ["two\nlines\tand more", "co\u00adop", "well-known- gull-", "Чайка", "bell\u0007", "x" * 300],
    ids=["controls", "soft hyphen", "hyphens", "cyrillic", "bell", "long"],
)
def test_odd_texts_are_printed_and_found(text: str, contents: Contents, tmp_path: Path) -> None:
    (row,) = contents.summary.lays
    pieces = [piece.model_copy(update={"cap": text}) for piece in row.pieces]
    row = row.model_copy(update={"cloth": text, "setting": text, "pieces": pieces})
    summary = contents.summary.model_copy(update={"title": text, "lays": [row]})
    (lay,) = contents.folder.lays
    own = tuple(replace(piece, cap=text) for piece in lay.pieces)
    lay = replace(lay, cloth=text, setting=text, pieces=own)
    folder = replace(contents.folder, title=text, lays=(lay,))
    assert sheet_faults(replace(contents, summary=summary), folder, tmp_path / "s.pdf") == ""
    path = tmp_path / "t.pdf"
    path.write_bytes(bundle_tickets(folder, bundles_of([lay]), A4))
    assert judge_tickets(read_pdf(path), summary, page_mm=A4_MM) == ()


@pytest.mark.parametrize(
    ("label", "cell"),
    [("=1+1", "'=1+1"), ("@SUM(A1)", "'@SUM(A1)"), ("-bib", "'-bib"), ("bib - 1", "bib - 1")],
)
def test_no_name_is_a_formula(label: str, cell: str, contents: Contents) -> None:
    # OWASP, "CSV injection", from memory: what begins with = + - @ gets an apostrophe
    folder, summary = contents.folder, contents.summary
    (lay, *_), (row, *_) = folder.lays, summary.lays
    named = replace(lay, pieces=tuple(replace(piece, label=label) for piece in lay.pieces))
    listed = [piece.model_copy(update={"label": label}) for piece in row.pieces]
    told = summary.model_copy(update={"lays": [row.model_copy(update={"pieces": listed})]})
    table = pieces_csv((named,), bundles_of((named,)))
    cells = {one["label"] for one in csv.DictReader(io.StringIO(table.decode(), newline=""))}
    assert cells == {cell}
    assert judge_pieces("pieces.csv", table, told) == ()
    plain = table.replace(f",{cell}\r".encode(), f",{label}\r".encode())
    assert bool(judge_pieces("pieces.csv", plain, told)) == (cell != label)
