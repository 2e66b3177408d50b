"""What a job asks to be written beside its drawings: made, judged, and checked again."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cutfiles.effort import Effort
from cutfiles.pipeline.make import make_job
from tests.cli.program import WriteJob, cutfiles, names
from tests.conftest import SMALL_JOB


def made_with(files: str, job_file: WriteJob, out: Path) -> Path:
    make_job(job_file(f"{SMALL_JOB}files = {{ {files} }}\n"), out, Effort(0.0, 1))
    return out


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
    assert lay["tool_off_mm"] == 0
    assert "lay-01.nc" in table["written"]
    program = (out / "lay-01.nc").read_text("ascii")
    # common practice, no source: the safety text stands first in what a machine is given
    assert program.startswith("(Never cut PVC, vinyl or anything with chlorine")
    run = cutfiles("check", out)
    assert run.returncode == 0, run.stderr
    assert "Sound: lay-01.dxf, lay-01.svg, lay-01.nc" in run.stdout
    assert cutfiles("check", out / "lay-01.nc").stdout == "Sound: lay-01.nc\n"


def test_the_same_job_gives_the_same_program(job_file: WriteJob, tmp_path: Path) -> None:
    one, two = (made_with("motion_code = true", job_file, tmp_path / name) for name in "ab")
    assert (one / "lay-01.nc").read_bytes() == (two / "lay-01.nc").read_bytes()


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
    before: str, after: str, words: str, job_file: WriteJob, tmp_path: Path
) -> None:
    out = made_with("motion_code = true", job_file, tmp_path / "out")
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
