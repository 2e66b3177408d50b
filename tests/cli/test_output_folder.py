"""The folder that is written to: older results, files of others, and what cannot be written."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.program import WriteJob, cutfiles, names
from tests.conftest import SMALL_JOB


def test_an_output_folder_that_cannot_be(job_file: WriteJob, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("in the way")
    run = cutfiles("make", job_file(SMALL_JOB), "--out", tmp_path / "out", "--seconds", "0.1")
    assert run.returncode == 2
    assert "a file stands in the way" in run.stderr
    assert (tmp_path / "out").read_text() == "in the way"
    run = cutfiles("make", job_file(SMALL_JOB), "--out", "/proc/nowhere", "--seconds", "0.1")
    assert run.returncode == 2
    assert "cannot be written" in run.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="file size limits are not known there")
def test_a_disk_that_fills_up_while_writing(job_file: WriteJob, tmp_path: Path) -> None:
    # a limit on file size makes the write itself fail half-way, as a full disk does
    import resource

    out = tmp_path / "out"
    assert cutfiles("make", job_file(SMALL_JOB), "--out", out, "--seconds", "0.1").returncode == 0
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    command = [sys.executable, "-m", "cutfiles", "make", str(job_file(SMALL_JOB)),
               "--out", str(out), "--seconds", "0.1"]  # fmt: skip
    run = subprocess.run(
        command, capture_output=True, text=True, check=False, timeout=100,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000)),
    )  # fmt: skip
    assert run.returncode == 2, run.stderr
    assert "lay-01.dxf: cannot be written: File too large" in run.stderr
    assert "Traceback" not in run.stderr
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


def test_files_of_others_are_never_replaced(job_file: WriteJob, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "lay-01.svg").write_text("mine")
    run = cutfiles("make", job_file(SMALL_JOB), "--out", out, "--seconds", "0.1")
    assert run.returncode == 2
    assert "lay-01.svg: is there already and was not written by cutfiles" in run.stderr
    assert names(out) == ["lay-01.svg"]


def test_older_results_are_replaced(job_file: WriteJob, tmp_path: Path) -> None:
    out = tmp_path / "out"
    two_lays = SMALL_JOB.replace("quantity = 1", "quantity = 4") + "bed = { along = 320 }"
    assert cutfiles("make", job_file(two_lays), "--out", out, "--seconds", "0.1").returncode == 0
    assert "lay-02.dxf" in names(out)
    (out / "my-notes.txt").write_text("mine")
    assert cutfiles("make", job_file(SMALL_JOB), "--out", out, "--seconds", "0.1").returncode == 0
    assert names(out) == [
        "lay-01.dxf",
        "lay-01.svg",
        "my-notes.txt",
        "preview.html",
        "summary.json",
    ]


def test_a_bad_job_leaves_older_results(job_file: WriteJob, demo_copy: Path) -> None:
    before = {path.name: path.read_bytes() for path in demo_copy.iterdir()}
    assert cutfiles("make", job_file("width = = 3"), "--out", demo_copy).returncode == 2
    assert {path.name: path.read_bytes() for path in demo_copy.iterdir()} == before
