"""The program's calls, help, chart and interruptions."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from cutfiles.asked import Asked
from tests.cli.program import WriteJob, cutfiles, cutfiles_alone, names
from tests.conftest import DEMO, SMALL_JOB


def test_sizes_prints_the_chart() -> None:
    run = cutfiles("sizes")
    assert run.returncode == 0
    assert "M     55.4-57.6 cm   56.5 cm      7 1/8     57          42.5%   45.0%" in run.stdout


def test_wrong_calls_end_with_2(job_file: WriteJob, tmp_path: Path) -> None:
    assert cutfiles("make").returncode == 2
    assert cutfiles("make", job_file(SMALL_JOB)).returncode == 2
    assert cutfiles("mke").returncode == 2
    run = cutfiles("make", job_file(SMALL_JOB), "--out", tmp_path / "o", "--seconds", "-1")
    assert run.returncode == 2


def loaded(module: str, *words: str, command: str = "make") -> subprocess.Popen[bytes]:
    """A command on the demo, in a process of its own that has just loaded a module."""
    process = subprocess.Popen(
        [sys.executable, "-X", "importtime", "-m", "cutfiles", command, str(DEMO), *words],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
    )  # fmt: skip
    assert process.stderr is not None
    for line in process.stderr:
        if line.split(b"|")[-1].strip() == module.encode():
            return process
    raise AssertionError(f"{module} was never loaded")


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are not known there")
def test_ctrl_c_keeps_the_best_so_far(tmp_path: Path) -> None:
    out = tmp_path / "out"
    # what is shown of the nest is loaded when all else is, and from then on Ctrl-C keeps a lay
    process = loaded("rich.live", "--out", str(out), "--seconds", "80")
    time.sleep(1.0)
    os.killpg(process.pid, signal.SIGINT)
    said, complaints = process.communicate(timeout=30)
    assert process.returncode == 130, complaints
    assert b"Stopped early" in said
    assert names(out) == ["lay-01.dxf", "lay-01.svg", "preview.html", "summary.json"]
    assert cutfiles("check", out).returncode == 0


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are not known there")
def test_ctrl_c_ends_the_nest_beside_a_plan_by_ruler(tmp_path: Path) -> None:
    out = tmp_path / "out"
    words = ("--out", str(out), "--nest", "300")
    process = loaded("rich.live", *words, command="ruler")
    time.sleep(1.0)
    os.killpg(process.pid, signal.SIGINT)
    said, complaints = process.communicate(timeout=60)
    assert process.returncode == 130, complaints
    assert b"Nested by their outlines" in said
    assert b"Stopped early" in said
    assert names(out) == ["ruler-plan.json", "ruler-plan.svg", "ruler-plan.txt"]


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are not known there")
@pytest.mark.parametrize("module", ["typer", "cutfiles.cli", "cutfiles.job.job"])
def test_ctrl_c_while_loading(module: str, tmp_path: Path) -> None:
    process = loaded(module, "--out", str(tmp_path / "out"))
    os.killpg(process.pid, signal.SIGINT)
    _, complaints = process.communicate(timeout=30)
    assert process.returncode == 130, complaints
    assert b"Traceback" not in complaints


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are not known there")
@pytest.mark.parametrize("module", ["cutfiles.job.job", "shapely", "numba"])
def test_terminated_while_loading(module: str, tmp_path: Path) -> None:
    process = loaded(module, "--out", str(tmp_path / "out"))
    process.terminate()
    _, complaints = process.communicate(timeout=30)
    assert process.returncode == 128 + signal.SIGTERM, complaints
    assert b"Traceback" not in complaints


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are not known there")
def test_a_terminated_run_leaves_nothing(tmp_path: Path) -> None:
    out = tmp_path / "out"
    process = loaded("cutfiles.pipeline.make", "--out", str(out))
    time.sleep(1.0)
    process.terminate()
    _, complaints = process.communicate(timeout=30)
    assert process.returncode == 128 + signal.SIGTERM, complaints
    assert names(out) == []


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are not known there")
@pytest.mark.parametrize("module", ["numba.core.typing", "importlib._bootstrap"])
def test_a_library_is_not_ended_in_its_midst(module: str) -> None:
    asked = Asked()
    asked.go_on_unless_stopped()
    within: dict[str, Any] = {"__name__": module}
    exec("def work(step): step()", within)
    steps: list[str] = []

    def step() -> None:
        asked.on_terminate(signal.SIGTERM, sys._getframe())
        asked.on_interrupt(signal.SIGINT, sys._getframe())
        steps.append("done")

    before = signal.getsignal(signal.SIGALRM)
    try:
        within["work"](step)
        with pytest.raises(SystemExit) as ended:
            time.sleep(30.0)  # the signal that comes again ends it
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)
    assert steps == ["done"]
    assert ended.value.code == 128 + signal.SIGTERM


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are not known there")
def test_what_ends_before_it_is_asked_again_ends_by_the_signal() -> None:
    asked = Asked()
    asked.end_if_terminated()  # nothing was asked
    asked.go_on_unless_stopped()
    within: dict[str, Any] = {"__name__": "numba.core"}
    exec("def work(step): step()", within)
    before = signal.getsignal(signal.SIGALRM)
    try:
        within["work"](lambda: asked.on_terminate(signal.SIGTERM, sys._getframe()))
        with pytest.raises(SystemExit) as ended:
            asked.end_if_terminated()
        assert signal.getitimer(signal.ITIMER_REAL)[0] == 0.0
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)
    assert ended.value.code == 128 + signal.SIGTERM


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are not known there")
def test_a_terminated_plan_leaves_nothing(tmp_path: Path) -> None:
    out = tmp_path / "out"
    words = ("--out", str(out), "--seconds", "30", "--workers", "1")
    process = loaded("cutfiles.pipeline.many_nests", *words, command="plan")
    time.sleep(4.0)
    process.terminate()
    _, complaints = process.communicate(timeout=30)
    assert process.returncode == 128 + signal.SIGTERM, complaints
    assert b"leaked" not in complaints, complaints  # as Python says of semaphores
    assert names(out) == []


def test_help_names_every_command() -> None:
    run = cutfiles_alone("--help")
    assert run.returncode == 0
    for command in (
        "make", "draft", "ruler", "strips", "estimate", "plan", "check", "show", "sheets",
        "take", "sizes", "serve",
    ):  # fmt: skip
        assert command in run.stdout


def test_a_process_of_its_own_says_and_leaves_the_same(job_file: WriteJob, tmp_path: Path) -> None:
    # the others are run so with a sound job: make and check in the tutorial's test, draft below,
    # and estimate, plan, ruler and show in files of their own
    bad = job_file(SMALL_JOB.replace("quantity = 1", "quantity = 0"))
    for words in (
        ("make", bad, "--out", tmp_path / "out"),
        ("take", tmp_path),
        ("sheets", tmp_path),
        ("sizes",),
    ):
        here, alone = cutfiles(*words), cutfiles_alone(*words)
        assert alone.returncode == here.returncode == (0 if words == ("sizes",) else 2)
        assert (alone.stdout, alone.stderr) == (here.stdout, here.stderr)
        assert names(tmp_path / "out") == []


def test_draft_loads_all_that_it_needs(job_file: WriteJob, tmp_path: Path) -> None:
    run = cutfiles_alone("draft", job_file(SMALL_JOB), "--out", tmp_path / "out")
    assert run.returncode == 0, run.stderr
    assert "pattern.json" in names(tmp_path / "out")
