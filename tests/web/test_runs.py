"""Runs in processes of their own: watched, stopped, dropped, killed; what they leave is proved by
`check` and read by GDAL."""

from __future__ import annotations

import errno
import io
import os
import re
import shutil
import signal
import threading
import time
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pyogrio
import pytest
import shapely
from starlette.testclient import TestClient

from cutfiles.pipeline.check import check_path
from cutfiles.pipeline.make import Made, make_job
from cutfiles.web.desk import Desk
from cutfiles.web.held import Held, is_held
from cutfiles.web.index import GOING_ON
from cutfiles.web.run_folder import RunFolder
from cutfiles.web.run_one import _Teller, main
from cutfiles.web.runs import Runs
from tests.conftest import LASER, ONE_CLOTH, SMALL_JOB
from tests.web.page import nest, new_job, refusal, run_in, with_panels

Table = dict[str, Any]
ENDS = ("done", "stopped", "failed", "cancelled")
LONG = 120.0
"""Seconds of a search that only ends because somebody ends it."""


@pytest.fixture
def going(desk: Desk) -> Iterator[Desk]:
    """A desk whose line goes on."""
    desk.runs.start()
    yield desk
    for run in desk.index.line():
        desk.runs.cancel(run)
    desk.runs.close()


def of_job(desk: Desk, job: str) -> tuple[Path, int]:
    """The folder of a job's newest run, and its process."""
    run = desk.index.last_run(job.rpartition("/")[2])
    assert run is not None
    process = desk.runs._process
    assert process is not None
    return desk.runs.folder_of(run).path, process.pid


def test_the_page_asks_for_the_seconds_that_a_run_may_have(page: TestClient) -> None:
    script = page.get("/static/lays.js").text
    low, high = (
        re.findall(rf"const {name}_SECONDS = ([\d._]+);", script)[0].replace("_", "")
        for name in ("LEAST", "MOST")
    )
    job = new_job(page, SMALL_JOB)
    answer = page.post(f"{job}/nest", json={"revision": 1, "seconds": 0, "seed": 1})
    text = refusal(answer, 400)["text"]
    assert (low, high) == ("0.1", "86400")
    assert f"must be a number, {low} to {high}" in text


def test_a_run_is_watched_to_its_end_and_leaves_everything(
    page: TestClient, desk: Desk, tmp_path: Path
) -> None:
    job, drawing = with_panels(page, SMALL_JOB)
    toml = page.get(job).json()["toml"]
    assert page.get(f"{job}/run").json()["state"] == "none"
    _, run = run_here(page, desk, job, seconds=0.3)
    assert (run["run"], run["revision"], run["of_seconds"], run["note"]) == (1, 2, 0.3, "")
    assert run["state"] == "done"
    (lay,) = run["lays"]
    assert len(lay["pieces"]) == 4 + 3
    assert page.get(f"{job}/run?seen={run['step']}").json()["lays"] is None
    # the lay as it is shown: pieces on the cloth and apart, by shapely
    outlines = [shapely.Polygon(piece["outline"]) for piece in lay["pieces"]]
    cloth = shapely.box(0.0, 0.0, lay["length_mm"], lay["width_mm"])
    assert all(map(cloth.covers, outlines))
    assert all(a.distance(b) > 0.9 for a in outlines for b in outlines if a is not b)
    used = sum(outline.area for outline in outlines) / cloth.area
    assert used == pytest.approx(lay["efficiency"], abs=0.005)

    (result,) = page.get(f"{job}/results").json()
    assert (result["number"], result["caps"], result["panels"]) == (1, 1, 3)
    assert result["efficiency"] == pytest.approx(lay["efficiency"], abs=1e-6)
    assert result["cloth_mm"] == pytest.approx(lay["length_mm"], abs=0.01)
    assert page.get(f"{job}/results/1").json()["lays"] == run["lays"]
    refusal(page.get(f"{job}/results/2"), 404)
    refusal(page.get(f"{job}/results/01"), 404)

    preview = page.get(f"{job}/results/1/preview")
    policy = preview.headers["content-security-policy"].split("; ")
    assert "sandbox allow-scripts" in policy
    assert "default-src 'none'" in policy
    assert preview.text.startswith("<!DOCTYPE html>")

    packed = page.get(f"{job}/results/1/files.zip")
    assert packed.content == page.get(f"{job}/results/1/files.zip").content
    with zipfile.ZipFile(io.BytesIO(packed.content)) as archive:
        assert archive.testzip() is None
        archive.extractall(tmp_path / "zip")
    names = {path.name for path in (tmp_path / "zip").iterdir()}
    assert names == {
        "job.toml", drawing, "lay-01.dxf", "lay-01.svg", "preview.html", "summary.json",
    }  # fmt: skip
    assert (tmp_path / "zip" / "job.toml").read_text(encoding="utf-8") == toml
    layers = pyogrio.raw.read(tmp_path / "zip" / "lay-01.dxf", columns=["Layer"])[3][0]
    assert list(layers).count("piece-outlines") == len(lay["pieces"])
    checked = check_path(tmp_path / "zip")
    assert [f for f in checked.findings if f.severity == "error"] == []


def test_the_line_and_a_process_that_dies(page: TestClient, going: Desk) -> None:
    """One run at a time; a killed one is said to be, its job is kept, and the next has its turn."""
    jobs = [with_panels(page, ONE_CLOTH + LASER)[0] for _ in range(3)]
    first, second, third = jobs
    for job in jobs:
        nest(page, job, LONG)
    run_in(page, first, ("nesting",))
    refusal(page.post(f"{first}/nest", json={"revision": 2, "seconds": 1, "seed": 1}), 409)
    assert [page.get(f"{job}/run").json()["place_in_line"] for job in jobs] == [0, 1, 2]
    assert page.get("/api/jobs").json()[0]["state"] == "waiting"
    assert page.post(f"{second}/cancel", json={}).json()["state"] == "cancelled"
    assert page.get(f"{third}/run").json()["place_in_line"] == 1
    held = kill(going, first)
    run = run_in(page, first, ("failed",))
    assert not is_held(held)
    assert "ended by signal 9" in run["note"]
    assert page.get(f"{first}/results").json() == []
    assert page.get(first).json()["revision"] == 2

    run_in(page, third, ("nesting",))
    kill(going, third)
    run_in(page, third, ("failed",))


def kill(desk: Desk, job: str) -> Path:
    """End the process of a run as soon as that holds its file; that file."""
    folder, process = of_job(desk, job)
    end = time.monotonic() + 60.0
    while not is_held(folder / "alive"):
        assert time.monotonic() < end
        time.sleep(0.01)
    os.kill(process, signal.SIGKILL)
    return folder / "alive"


def run_here(
    page: TestClient, desk: Desk, job: str, *asked: str, seconds: float = LONG
) -> tuple[RunFolder, Table]:
    """What the process of a run does, done in this one, and the run after it; what a page asks
    for meanwhile is asked for beforehand."""
    nest(page, job, seconds)
    run = desk.index.last_run(job.rpartition("/")[2])
    assert run is not None
    desk.index.set_run(run.job, run.number, "nesting")
    folder = desk.runs.folder_of(run)
    for what in asked:
        assert page.post(f"{job}/{what}", json={}).status_code == 200
    main(folder.path)
    desk.runs.start()
    shown = run_in(page, job, ENDS)
    desk.runs.close()
    return folder, shown


def test_a_run_that_is_dropped_leaves_nothing(page: TestClient, desk: Desk) -> None:
    job, _ = with_panels(page, ONE_CLOTH + LASER)
    folder, run = run_here(page, desk, job, "cancel")
    assert (run["state"], run["lays"]) == ("cancelled", [])
    assert page.get(f"{job}/results").json() == []
    assert not folder.out.exists()
    assert page.get(job).json()["revision"] == 2


def test_a_run_that_is_dropped_while_it_is_written_leaves_nothing(
    page: TestClient, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    job, _ = with_panels(page, ONE_CLOTH + LASER)

    def make(*words: Any) -> Made:
        made = make_job(*words)
        assert page.post(f"{job}/cancel", json={}).status_code == 200
        return made

    monkeypatch.setattr("cutfiles.pipeline.make.make_job", make)
    folder, run = run_here(page, desk, job, "stop")
    assert (run["state"], run["lays"]) == ("cancelled", [])
    assert not folder.out.exists()


def test_news_that_cannot_be_written_stops_no_looking(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a disk without room a run is still told to stop, and leaves no half of a file."""
    folder, failed = RunFolder(tmp_path), threading.Event()
    teller = _Teller(folder)

    def no_room(*_: object) -> None:
        failed.set()
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Path, "replace", no_room)
    teller.hear("cloth", list)
    assert failed.wait(60.0)
    folder.ask("stop")
    end = time.monotonic() + 60.0
    while not teller.is_stopped:
        assert time.monotonic() < end
        time.sleep(0.01)
    monkeypatch.undo()
    teller.end("stopped")
    assert {path.name for path in tmp_path.iterdir()} == {"progress.json", "stop.mark"}


def test_a_run_that_is_stopped_at_once_leaves_what_there_is(page: TestClient, desk: Desk) -> None:
    job, _ = with_panels(page, ONE_CLOTH + LASER)
    _, run = run_here(page, desk, job, "stop")
    assert run["state"] == "stopped"
    assert run["seconds"] < LONG
    (result,) = page.get(f"{job}/results").json()
    assert (result["state"], result["panels"]) == ("stopped", 3)
    refusal(page.post(f"{job}/stop", json={}), 409)


def test_what_is_asked_of_a_run_that_went_on_meanwhile(page: TestClient, desk: Desk) -> None:
    """One whose turn has come is told, and not left to nest unseen; one that has ended stays so."""
    job = new_job(page, SMALL_JOB)
    name = job.rpartition("/")[2]
    nest(page, job, LONG)
    (seen,) = desk.index.line()
    assert seen.state == "waiting"
    desk.index.set_run(name, 1, "nesting")
    desk.runs.cancel(seen)
    assert page.get(f"{job}/run").json()["state"] == "nesting"
    assert desk.runs.folder_of(seen).is_asked("cancel")
    (seen,) = desk.index.line()
    desk.index.set_run(name, 1, "done")
    desk.runs.stop(seen)
    assert page.get(f"{job}/run").json()["state"] == "done"
    assert not desk.runs.folder_of(seen).is_asked("stop")


def test_a_job_that_cannot_be_nested_says_why(page: TestClient, desk: Desk) -> None:
    """What only comes out when pieces are laid: the band is wider than the cloth."""
    job = new_job(page, SMALL_JOB.replace("1117.6", "400"))
    _, run = run_here(page, desk, job)
    assert run["state"] == "failed"
    assert [finding["code"] for finding in run["findings"]] == ["too-wide"]
    assert page.get(f"{job}/results").json() == []


def test_a_mistake_of_our_own_is_told_and_the_job_kept(
    page: TestClient,
    desk: Desk,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("deep inside")

    monkeypatch.setattr("cutfiles.pipeline.make.make_job", broken)
    job = new_job(page, SMALL_JOB)
    _, run = run_here(page, desk, job)
    assert run["state"] == "failed"
    assert "mistake of its own" in run["note"]
    assert "deep inside" not in run["note"]
    assert "deep inside" in capsys.readouterr().err  # which goes to the run's log
    assert page.get(job).json()["toml"] == SMALL_JOB


def test_a_job_that_is_wrong_is_not_put_in_the_line(page: TestClient, desk: Desk) -> None:
    job = new_job(page, SMALL_JOB.replace("1117.6", "-3"))
    asked = {"revision": 1, "seconds": 1, "seed": 1}
    assert refusal(page.post(f"{job}/nest", json=asked), 422)["path"] == ["cloth", 0, "width"]
    good = new_job(page, SMALL_JOB)
    for key, value in (
        ("seconds", 0),
        ("seconds", "1"),
        ("seed", -1),
        ("seed", 1.5),
        ("seed", None),
    ):
        text = refusal(page.post(f"{good}/nest", json=asked | {key: value}), 400)["text"]
        limits = "a number, 0.1 to 86400" if key == "seconds" else "whole number, 0 to 2147483648"
        assert text.startswith(f"{key}: ")
        assert text.endswith(limits)
    assert desk.index.line() == []


def test_a_run_of_a_server_that_was_killed_is_told(page: TestClient, desk: Desk) -> None:
    """Its process is gone, too: nobody holds its file."""
    job = new_job(page, SMALL_JOB)
    nest(page, job, LONG)
    desk.index.set_run(job.rpartition("/")[2], 1, "nesting")
    runs = Runs(desk.folder, desk.index)
    runs.start()
    run = run_in(page, job, ("failed",))
    assert "without a word" in run["note"]
    runs.close()


def test_a_run_that_goes_on_without_its_server_is_waited_for(page: TestClient, desk: Desk) -> None:
    job = new_job(page, SMALL_JOB)
    name = job.rpartition("/")[2]
    nest(page, job, LONG)
    (run,) = desk.index.runs(name)
    desk.index.set_run(name, 1, "nesting")
    folder = desk.runs.folder_of(run)
    held = Held(folder.alive)  # as the run's process does
    folder.say({"state": "writing", "began": 0.0, "step": 3, "lays": [], "findings": []})
    desk.runs.start()
    run_in(page, job, ("writing",))
    time.sleep(0.3)
    assert page.get(f"{job}/run").json()["state"] in GOING_ON
    folder.say({"state": "done", "began": 0.0, "step": 3, "lays": [], "findings": []})
    held.let_go()
    run_in(page, job, ("done",))
    desk.runs.close()


def test_a_run_that_cannot_be_started_blocks_no_other(page: TestClient, desk: Desk) -> None:
    job, other = new_job(page, SMALL_JOB), new_job(page, SMALL_JOB)
    name = job.rpartition("/")[2]
    (desk.folder / name / "run-0001").write_text("in the way")
    answer = page.post(f"{job}/nest", json={"revision": 1, "seconds": 1, "seed": 1})
    assert "cannot be read or written: File exists" in refusal(answer, 507)["text"]
    assert "could not be started" in page.get(f"{job}/run").json()["note"]
    nest(page, other, LONG)
    shutil.rmtree(desk.folder / other.rpartition("/")[2] / "run-0001")
    desk.runs.start()
    assert "No such file" in run_in(page, other, ("failed",))["note"]
    desk.runs.close()


def test_a_file_is_held_by_one_alone(tmp_path: Path) -> None:
    path = tmp_path / "held"
    assert not is_held(path)
    held = Held(path)
    assert is_held(path)
    with pytest.raises(BlockingIOError):
        Held(path)
    held.let_go()
    assert not is_held(path)
    Held(path).let_go()
