"""`plan`: the lays that it writes, and what it says of jobs that it cannot plan."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from cutfiles.effort import Effort
from cutfiles.pipeline.load import load_job
from cutfiles.pipeline.many_nests import ProcessNests, cluster_nests
from cutfiles.pipeline.nest_task import NestTask, OneLay, nest_task
from cutfiles.pipeline.plan import plan_job
from cutfiles.pipeline.plan_cloth import MOST_LAYS
from tests.cli.program import NestsHere, Table, WriteJob, cutfiles, cutfiles_alone, names
from tests.conftest import LASER, ONE_CAP, ONE_CLOTH, SMALL_JOB

TWO_SIZES = (
    ONE_CLOTH
    + ONE_CAP.replace("quantity = 1", "quantity = 5")
    + ONE_CAP.replace('"M"', '"L"').replace("quantity = 1", "quantity = 3")
    + LASER
    + "most_plies = 2\n"
)


@pytest.fixture
def nests_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plans start no processes."""
    monkeypatch.setattr("cutfiles.pipeline.plan.nests_on", NestsHere)


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small plan and the lays that it keeps."""
    folder = tmp_path_factory.mktemp("plan")
    (folder / "job.toml").write_text(TWO_SIZES, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CUTFILES_KEPT_LAYS", str(folder / "kept"))
        patch.setattr("cutfiles.pipeline.plan.nests_on", NestsHere)
        patch.setattr("cutfiles.pipeline.plan_search._SHORTEST_S", 0.1)
        run = cutfiles("plan", folder / "job.toml", "--out", folder / "out", "--seconds", "1")
    assert run.returncode == 0, run.stderr
    assert "saved" in run.stdout
    assert run.stdout == (folder / "out" / "plan.txt").read_text("utf-8")
    return folder


def table_of(folder: Path) -> Table:
    table: Table = json.loads((folder / "plan.json").read_text("utf-8"))
    return table


def test_the_plan_cuts_the_order_exactly(planned: Path) -> None:
    table = table_of(planned / "out")
    assert table["format"] == "cutfiles-plan/1"
    cut = {1: 0, 2: 0}
    for lay in table["lays"]:
        assert 1 <= lay["plies"] <= 2
        for row in lay["caps"]:
            assert row["cut"] == row["in_one_layer"] * lay["plies"]
            cut[row["line"]] += row["cut"]
        # I. Vilumsone-Nemes, p. 37: about 20 mm are lost at each end of a ply
        assert lay["cloth_mm"] == pytest.approx(lay["plies"] * (lay["length_mm"] + 40), abs=0.1)
    assert cut == {1: 5, 2: 3}
    (cloth,) = table["cloths"]
    assert cloth["cloth_mm"] == pytest.approx(sum(lay["cloth_mm"] for lay in table["lays"]), abs=1)
    assert cloth["cloth_mm"] <= cloth["one_size_lays"]["cloth_mm"]
    files = [lay["file"] for lay in table["lays"]]
    assert names(planned / "out") == sorted([*files, "plan.json", "plan.txt"])


def test_make_takes_a_lay_of_the_plan_as_it_stands(
    planned: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CUTFILES_KEPT_LAYS", str(planned / "kept"))
    lay = table_of(planned / "out")["lays"][0]
    words = ("--seconds", "0.1")
    run = cutfiles("make", planned / "out" / lay["file"], "--out", tmp_path / "out", *words)
    assert run.returncode == 0, run.stderr
    assert "found before and kept" in run.stderr
    made = json.loads((tmp_path / "out" / "summary.json").read_text("utf-8"))
    (row,) = made["lays"]
    assert row["length_mm"] == pytest.approx(lay["length_mm"], abs=0.01)
    assert row["plies"] == lay["plies"]
    assert made["totals"]["caps"] == sum(one["cut"] for one in lay["caps"])
    assert row["time_s"] == pytest.approx(lay["time_s"], rel=0.02)


@pytest.mark.usefixtures("nests_here", "short_nests_of_plans")
def test_make_keeps_a_lay_whole_that_just_fits_the_bed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CUTFILES_KEPT_LAYS", str(tmp_path / "kept"))
    (tmp_path / "job.toml").write_text(
        TWO_SIZES.replace("kerf = 0.2", 'kerf = 0.2\nbed = { along = "700 mm" }')
    )
    out = tmp_path / "out"
    words = ("--seconds", "1", "--workers", "1")
    run = cutfiles("plan", tmp_path / "job.toml", "--out", out, *words)
    assert run.returncode == 0, run.stderr
    lays = table_of(out)["lays"]
    assert all(lay["length_mm"] <= 700 for lay in lays)
    longest = max(lays, key=lambda lay: lay["length_mm"])
    lay = out / longest["file"]
    run = cutfiles("make", lay, "--out", tmp_path / "made", "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    made = json.loads((tmp_path / "made" / "summary.json").read_text("utf-8"))
    assert [row["length_mm"] for row in made["lays"]] == [
        pytest.approx(longest["length_mm"], abs=0.01)
    ]


def test_a_plan_by_processes_of_its_own(job_file: WriteJob, tmp_path: Path) -> None:
    out = tmp_path / "out"
    words = ("--out", out, "--seconds", "0.1", "--workers", "1")
    run = cutfiles_alone("plan", job_file(SMALL_JOB), *words)
    assert run.returncode == 0, run.stderr
    assert names(out) == ["lay-01.toml", "plan.json", "plan.txt"]
    assert run.stdout == (out / "plan.txt").read_text("utf-8")
    assert [row["cut"] for lay in table_of(out)["lays"] for row in lay["caps"]] == [1]


def test_a_plan_replaces_an_earlier_one_and_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "plan.txt").write_text("mine")
    (tmp_path / "job.toml").write_text(TWO_SIZES)
    run = cutfiles("plan", tmp_path / "job.toml", "--out", tmp_path / "out")
    assert run.returncode == 2
    assert "plan.txt: is there already and was not written by cutfiles" in run.stderr
    assert (tmp_path / "out" / "plan.txt").read_text() == "mine"


@pytest.mark.usefixtures("nests_here", "short_nests_of_plans")
@pytest.mark.parametrize(
    ("change", "says"),
    [
        # derived: folded cloth is cut in twos
        (
            lambda t: t.replace("quantity = 1", "quantity = 7").replace(
                'fibre = "cotton"', 'fibre = "cotton"\nspread = "folded"'
            ).replace("kerf = 0.2", "kerf = 0.2\nmost_plies = 8"),
            "gives 6 or 8: order one of these, or allow overcut = 1",
        ),
        # derived: 24 caps in a lay of one ply, of 20000
        (
            lambda t: t.replace("quantity = 1", "quantity = 20000"),
            f"take 834 lays or more of at most 24 caps in 1 plies, 634 more than the {MOST_LAYS}",
        ),
        (
            lambda t: t.replace(
                "kerf = 0.2", 'kerf = 0.2\nbed = { along = "310 mm", across = "560 mm" }'
            ),
            "and the bed gives 310 mm,",
        ),
        (
            lambda t: t.replace('fibre = "cotton"', 'fibre = "cotton"\nlength = 1000').replace(
                "quantity = 1", "quantity = 20"
            ),
            "length: 1000 mm: the order takes at least",
        ),
        (
            lambda t: t.replace('fibre = "cotton"', 'fibre = "cotton"\nplies = 9').replace(
                "kerf = 0.2", "kerf = 0.2\nmost_plies = 6"
            ),
            "9 layers are more than the 6 that the machine cuts at once",
        ),
        (
            lambda t: t.replace("quantity = 1", "quantity = 1\novercut = -1"),
            "overcut: -1 must be 0 to 1000",
        ),
        (
            lambda t: t.replace("quantity = 1", 'quantity = "as many as fit"').replace(
                'fibre = "cotton"', 'fibre = "cotton"\nlength = 3000'
            ),
            'quantity = "as many as fit": no plan is made with it',
        ),
        (
            lambda t: t.replace(
                'fibre = "cotton"',
                'fibre = "cotton"\nflaws = [{ at = [100, 100], size = [20, 20] }]',
            ),
            "flaws: no plan is made with it: cut the flawed stretches out, and give",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_planned_is_said(
    change: Callable[[str], str], says: str, job_file: WriteJob, tmp_path: Path
) -> None:
    job = job_file(change(SMALL_JOB))
    run = cutfiles("plan", job, "--out", tmp_path / "out", "--seconds", "1", "--workers", "1")
    assert run.returncode == 2
    assert says in run.stderr
    assert "Traceback" not in run.stderr
    assert names(tmp_path / "out") == []


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "not an address", "tcp://127.0.0.1"])
def test_an_address_that_does_not_answer_is_said(
    address: str, job_file: WriteJob, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    run = cutfiles("plan", job_file(TWO_SIZES), "--out", out, "--cluster", address)
    assert run.returncode == 2
    assert f"--cluster: {address!r}: no scheduler answered within 5 s" in run.stderr
    assert names(out) == []


def test_without_the_library_a_cluster_is_refused(
    job_file: WriteJob, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    run = cutfiles("plan", job_file(TWO_SIZES), "--out", tmp_path / "o", "--cluster", "tcp://x:1")
    assert run.returncode == 2
    assert "needs distributed, which is not installed: pip install cutfiles[cluster]" in run.stderr


def tasks(job: Path, count: int, seconds: float) -> list[NestTask]:
    return [NestTask(OneLay(load_job(job)), seconds, seed) for seed in range(1, count + 1)]


def test_a_process_that_is_killed_loses_no_result(job_file: WriteJob) -> None:
    todo = tasks(job_file(SMALL_JOB), 3, 0.2)
    nests = ProcessNests(1)
    try:
        found = {}
        for number, result in nests.results(todo, lambda: False):
            found[number] = result
            if len(found) == 1:
                for process in nests._pool._processes.values():
                    os.kill(process.pid or 0, signal.SIGKILL)
        assert sorted(found) == [0, 1, 2]
        assert all(result is not None and result.length_mm > 0 for result in found.values())
        # the same, stopped, gives what is there
        stopped = dict(nests.results(tasks(job_file(SMALL_JOB), 4, 60.0), lambda: True))
        assert len(stopped) < 4
    finally:
        nests.close()


def test_a_cluster_gives_the_results_and_loses_none_with_a_worker(
    job_file: WriteJob, tmp_path: Path
) -> None:
    pytest.importorskip("distributed")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    dask = [sys.executable, "-m", "distributed.cli.dask_scheduler"]
    worker = [sys.executable, "-m", "distributed.cli.dask_worker", address, "--no-nanny",
              "--no-dashboard", "--nthreads", "1", "--local-directory", str(tmp_path)]  # fmt: skip

    def quietly(words: list[str]) -> subprocess.Popen[bytes]:
        return subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    started = [
        quietly([*dask, "--host", "127.0.0.1", "--port", str(port), "--no-dashboard"]),
        *(quietly(worker) for _ in range(2)),
    ]
    try:
        nests = None
        end = time.monotonic() + 60
        while nests is None or nests.workers < 2:
            assert time.monotonic() < end, "the cluster did not start"
            if nests is not None:
                nests.close()
                nests = None
                time.sleep(0.5)
            try:
                nests = cluster_nests(address)
            except ValueError:
                time.sleep(0.5)
        assert nests.workers == 2
        todo, found = tasks(job_file(SMALL_JOB), 4, 0.3), {}
        for number, result in nests.results(todo, lambda: False):
            found[number] = result
            if len(found) == 1:
                started[1].kill()
        nests.close()
        here = nest_task(todo[0])
        assert here is not None
        assert sorted(found) == [0, 1, 2, 3]
        for one in found.values():
            assert one is not None
            assert one.length_mm > 0
            assert one.key == here.key
    finally:
        for process in reversed(started):
            process.kill()
            process.wait()


@pytest.mark.usefixtures("nests_here")
def test_a_plan_that_is_stopped_keeps_the_best_so_far(job_file: WriteJob, tmp_path: Path) -> None:
    path = job_file(TWO_SIZES)
    planned = plan_job(
        load_job(path),
        path,
        tmp_path / "out",
        Effort(600.0, 1, stop=lambda: True),
        workers=1,
        cluster=None,
        hear=lambda _: None,
    )
    assert [row["cut"] for row in planned.table["cloths"][0]["caps"]] == [5, 3]
    assert (tmp_path / "out" / "lay-01.toml").is_file()


@pytest.mark.usefixtures("nests_here", "short_nests_of_plans")
def test_without_a_limit_of_the_machine_plies_are_those_of_the_cloth(
    job_file: WriteJob, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    text = SMALL_JOB.replace("quantity = 1", "quantity = 2\novercut = 1")
    run = cutfiles("plan", job_file(text), "--out", out, "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    assert "planned in 1 layer at most, as plies says" in run.stderr
    assert sum(row["cut"] for lay in table_of(out)["lays"] for row in lay["caps"]) in (2, 3)
