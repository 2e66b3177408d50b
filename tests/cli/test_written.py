"""What a job asks to be written beside its drawings: made, judged, and checked again."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pyogrio
import pytest

from cutfiles.effort import Effort
from cutfiles.files.pdf import pdf_bytes
from cutfiles.geometry.vector import Vector
from cutfiles.job.job import Cloth
from cutfiles.paper.lay_sheet import lay_sheet
from cutfiles.paper.sheet import PAPERS
from cutfiles.pipeline.make import make_job
from cutfiles.verdict.expected_paper import expected_paper
from cutfiles.verdict.judge_paper import judge_paper
from cutfiles.verdict.read_pdf import read_pdf
from tests.cli.program import WriteJob, cutfiles, names
from tests.conftest import SMALL_JOB
from tests.small_lay import small_lay, tie_backs


def test_motion_code_is_made_and_checked(job_file: WriteJob, tmp_path: Path) -> None:
    job = job_file(SMALL_JOB + "files = { motion_code = true }\n")
    out = tmp_path / "out"
    run = cutfiles("make", job, "--out", out, "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    assert "run it first with the tool off and no cloth on the bed" in run.stderr
    assert "local rules and trained staff come first" in run.stderr
    assert "lay-01.nc" in names(out)
    table = json.loads((out / "summary.json").read_text("utf-8"))
    (lay,) = table["lays"]
    assert lay["files"] == {"dxf": "lay-01.dxf", "svg": "lay-01.svg", "motion": "lay-01.nc"}
    assert set(lay["sha256"]) == set(lay["files"])
    # derived: a way in of 3 mm at 45 degrees
    assert lay["tool_off_mm"] == pytest.approx(3.0 * 0.5**0.5, abs=1e-3)
    assert "lay-01.nc" in table["written"]
    program = (out / "lay-01.nc").read_text("ascii")
    # common practice, no source: the safety text stands first in what a machine is given
    assert program.startswith("(Never cut PVC, vinyl or anything with chlorine")
    run = cutfiles("check", out)
    assert run.returncode == 0, run.stderr
    assert "Sound: lay-01.dxf, lay-01.svg, lay-01.nc" in run.stdout
    assert cutfiles("check", out / "lay-01.nc").stdout == "Sound: lay-01.nc\n"


def made_once(folder: Path, files: str) -> Path:
    """A job of one cap, made with some files asked for."""
    (folder / "job.toml").write_text(f"{SMALL_JOB}files = {{ {files} }}\n", "utf-8")
    make_job(folder / "job.toml", folder / "out", Effort(0.0, 1))
    return folder / "out"


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lay and its motion code, made once. Read only: copy it to change it."""
    return made_once(tmp_path_factory.mktemp("program"), "motion_code = true")


def test_the_same_job_gives_the_same_program(program: Path, tmp_path: Path) -> None:
    make_job(program.parent / "job.toml", tmp_path / "out", Effort(0.0, 1))
    assert (tmp_path / "out" / "lay-01.nc").read_bytes() == (program / "lay-01.nc").read_bytes()


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("M30\n", "", "breaks off before its end"),
        ("M5\n", "", "the tool is on while it travels"),
        ("G0 X0 Y0\nM30", "G0 X0 Y-90\nM30", "leaves the bed"),
        ("M3\nG1 X", "M3\nG1 X1", "the tool cuts where no cut is drawn"),
    ],
)
def test_a_changed_program_is_found(
    before: str, after: str, words: str, program: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    shutil.copytree(program, out)
    path = out / "lay-01.nc"
    path.write_text(path.read_text("ascii").replace(before, after), "ascii")
    run = cutfiles("check", out)
    assert run.returncode == 1
    assert "lay-01.nc: is not the file that was written" in run.stderr
    assert words in run.stderr


@pytest.mark.parametrize(
    ("name", "content", "status", "words"),
    [
        (
            "a.nc",
            b"G21 G90\nG0 X1 Y1\nM3\nG1 X9 F60\nM5\nM30\n",
            0,
            "passes: 1, from (1.0, 1.0) to",
        ),
        ("a.gcode", b"G21 G90\nG0 X1 Y1\nM3\nG1 X9 F60\n", 1, "line 4: breaks off before its end"),
        ("a.nc", b"", 1, "is no motion code"),
        ("a.nc", b"\x89PNG\r\n\x1a\n\0\0\0", 1, "is no motion code"),
        ("a.tap", b"PK\x03\x04 junk \xff\xfe", 1, "is no word that is known here"),
    ],
)
def test_a_program_from_anywhere(
    name: str, content: bytes, status: int, words: str, tmp_path: Path
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    run = cutfiles("check", path)
    assert run.returncode == status
    assert words in run.stderr
    assert "Traceback" not in run.stderr
    assert status == 1 or "no summary beside it names it, so it was only read through" in run.stderr


EVERYTHING = (
    'dxf = "R12", layers = { outline = "CUT-1", cloth = "CLOTH" }, colours = { outline = "#ff0000" '
    '}, apart = ["stitch", "grain", "label"], tool_path = true, motion_code = true'
)
ALL_FILES = {
    "dxf": "lay-01.dxf",
    "svg": "lay-01.svg",
    "marks_dxf": "lay-01-marks.dxf",
    "marks_svg": "lay-01-marks.svg",
    "tool": "lay-01-tool.dxf",
    "motion": "lay-01.nc",
}


@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One job with everything asked for, made once. Read only: copy it to change it."""
    return made_once(tmp_path_factory.mktemp("everything"), EVERYTHING)


def test_everything_at_once(everything: Path) -> None:
    table = json.loads((everything / "summary.json").read_text("utf-8"))
    (lay,) = table["lays"]
    assert lay["files"] == ALL_FILES
    assert set(lay["sha256"]) == set(ALL_FILES)
    assert set(ALL_FILES.values()) | {"preview.html", "summary.json"} == set(table["written"])
    assert table["roles"]["outline"] == "CUT-1"
    assert table["apart"] == ["stitch", "grain", "label"]
    page = (everything / "preview.html").read_text("utf-8")
    assert page.count("tie-back M / crown 1 of 1") == 1
    assert "#ff0000" in page
    # reference: GDAL's DXF driver, by pyogrio
    layers = {}
    for kind in ("dxf", "marks_dxf", "tool"):
        path = everything / ALL_FILES[kind]
        assert path.read_bytes().count(b"AC1009") == 1
        _, _, _, (names_there,) = pyogrio.raw.read(path, columns=["Layer"])
        layers[kind] = set(names_there)
    assert layers["dxf"] == layers["tool"] == {"CLOTH", "CUT-1", "notch-slits"}
    assert layers["marks_dxf"] == {"CLOTH", "stitch-lines", "grain-lines", "piece-labels"}
    run = cutfiles("check", everything)
    assert run.returncode == 0, run.stderr


@pytest.mark.parametrize("name", ALL_FILES.values())
def test_each_file_is_checked_by_its_summary(name: str, everything: Path) -> None:
    run = cutfiles("check", everything / name)
    assert (run.returncode, run.stdout) == (0, f"Sound: {name}\n"), run.stderr


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("lay-01-marks.dxf", "lay-01.dxf: cannot be judged without lay-01-marks.dxf"),
        ("lay-01.dxf", "lay-01.nc: cannot be judged without lay-01.dxf"),
        ("lay-01-tool.dxf", "lay-01-tool.dxf: is named in the summary and is not there"),
    ],
)
def test_a_lost_file_is_found(name: str, words: str, everything: Path, tmp_path: Path) -> None:
    copy = tmp_path / "copy"
    shutil.copytree(everything, copy)
    (copy / name).unlink()
    run = cutfiles("check", copy)
    assert run.returncode == 1
    assert words in run.stderr


@pytest.mark.parametrize(
    ("name", "status", "words"),
    [
        ("lay-01-tool.dxf", 1, "CUT-1, which no tool cuts"),  # layers that nothing here names
        ("lay-01-marks.svg", 2, "holds the marks of a lay only"),
        ("lay-01.dxf", 1, "layers found: CLOTH, CUT-1, notch-slits"),
        ("lay-01.nc", 0, "what it should cut is not known"),
    ],
)
def test_a_file_alone(name: str, status: int, words: str, everything: Path, tmp_path: Path) -> None:
    shutil.copy(everything / name, tmp_path / name)
    run = cutfiles("check", tmp_path / name)
    assert run.returncode == status
    assert words in run.stderr


def made_on_paper(paper: str, folder: Path) -> Path:
    """A lay of shrinking cloth on paper."""
    text = SMALL_JOB.replace("width = 1117.6", "width = 600\nshrinkage_percent = { along = 3 }")
    (folder / "job.toml").write_text(f'{text}files = {{ paper = "{paper}" }}\n', "utf-8")
    make_job(folder / "job.toml", folder / "out", Effort(0.0, 1))
    return folder / "out"


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_lay_on_paper(paper: str, tmp_path: Path) -> None:
    out = made_on_paper(paper, tmp_path)
    table = json.loads((out / "summary.json").read_text("utf-8"))
    assert list(table["others"]) == ["lay-01.pdf"]
    assert "lay-01.pdf" in table["written"]
    # reference: PDFium reads the pages; how large they are: ISO 216, ANSI/ASME Y14.1
    read = read_pdf(out / "lay-01.pdf")
    size = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}[paper]
    assert {(round(p.width_mm, 1), round(p.height_mm, 1)) for p in read.pages} == {size}
    scale = re.search(r"The whole lay, 1 : ([\d.]+)", read.pages[0].text)
    assert scale
    # derived: the lay's picture, its test squares above it included, fits the page at that scale
    (lay,) = table["lays"]
    assert lay["length_mm"] / float(scale[1]) < size[0] - 20.0
    assert (lay["width_mm"] + 101.6) / float(scale[1]) < size[1] - 20.0
    assert "with its growth for shrinkage" in read.pages[0].text
    run = cutfiles("check", out)
    assert run.returncode == 0, run.stderr
    assert "lay-01.pdf: compared with its fingerprint only" in run.stderr
    if paper != "A4":
        return  # what is known of a file alone does not hang on its paper
    assert cutfiles("check", out / "lay-01.pdf").returncode == 0
    alone = tmp_path / "alone.pdf"
    shutil.copy(out / "lay-01.pdf", alone)
    run = cutfiles("check", alone)
    assert run.returncode == 0, run.stderr
    assert "only its pages could be compared" in run.stderr
    (out / "lay-01.pdf").write_bytes(alone.read_bytes() + b"\n")
    run = cutfiles("check", out / "lay-01.pdf")
    assert run.returncode == 1
    assert "is not the file that was written" in run.stderr


def test_a_lay_of_too_many_pages_is_told(job_file: WriteJob, tmp_path: Path) -> None:
    text = SMALL_JOB.replace("quantity = 1", "quantity = 40")
    out = tmp_path / "out"
    make_job(job_file(f'{text}files = {{ paper = "A4" }}\n'), out, Effort(0.0, 1))
    assert not (out / "lay-01.pdf").exists()
    table = json.loads((out / "summary.json").read_text("utf-8"))
    assert "others" not in table
    (said,) = (f["text"] for f in table["findings"] if f["code"] == "large-paper")
    assert "lay-01: takes " in said


def test_another_lay_on_paper_is_found(tmp_path: Path) -> None:
    cloth = Cloth("kelp", 600.0, 0.0, None, False, 1, 0.0, 0.0, "cotton")
    lay = small_lay(tie_backs(1), cloth=cloth)
    sheet = lay_sheet(lay, "t", PAPERS["A4"])
    path = tmp_path / "lay-01.pdf"
    path.write_bytes(pdf_bytes(sheet))
    assert pdf_bytes(sheet) == path.read_bytes()
    assert judge_paper(read_pdf(path), expected_paper(sheet)) == ()
    first, *others = lay.placed
    off = replace(first.motion, shift=first.motion.shift + Vector(0.0, 0.2))
    moved = replace(lay, placed=(replace(first, motion=off), *others))
    found = judge_paper(read_pdf(path), expected_paper(lay_sheet(moved, "t", PAPERS["A4"])))
    assert "outline" in {finding.code for finding in found}
