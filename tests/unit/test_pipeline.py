from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from cutfiles import pipeline
from cutfiles.cuts.plan import CutPlan
from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.effort import Effort
from cutfiles.errors import VerdictError
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.svg import svg_bytes
from cutfiles.job.cautions import check_safety
from cutfiles.pipeline import load_job, make_job
from tests.conftest import DEMO, SMALL_JOB

WriteJob = Callable[[str], Path]


def test_the_demo_job_is_sound() -> None:
    job = load_job(DEMO)
    assert sum(line.quantity for line in job.caps) == 12
    assert len({line.size.name for line in job.caps}) == 3
    assert {line.edge for line in job.caps} == {"hem", "binding"}
    assert "invented" in job.title
    assert check_safety(job) == ()


def test_a_file_that_fails_its_check_gets_no_name(
    job_file: WriteJob, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    make_job(job_file(SMALL_JOB), out, Effort(0.0, 1))
    before = {path.name: path.read_bytes() for path in out.iterdir()}

    def forgetful(plan: CutPlan) -> bytes:
        short = CutPlan(
            plan.lay_name, plan.width_mm, plan.length_mm, plan.strokes[:-1], plan.letterings,
            0.0, 0.0, 0.0,
        )  # fmt: skip
        return dxf_bytes(short)

    monkeypatch.setattr(pipeline, "dxf_bytes", forgetful)
    with pytest.raises(VerdictError) as caught:
        make_job(job_file(SMALL_JOB), out, Effort(0.0, 1))
    assert caught.value.exit_status == 1
    assert {"missing", "older-results"} <= {f.code for f in caught.value.findings}
    assert sorted(path.name for path in out.iterdir()) == ["older-results-1"]
    older = out / "older-results-1"
    assert {path.name: path.read_bytes() for path in older.iterdir()} == before


def test_from_one_lay_everything_is_the_same_to_the_byte(
    job_file: WriteJob, tmp_path: Path
) -> None:
    # no time for the strip engine: the rows repeat, so the lay is the same
    path = job_file(SMALL_JOB.replace("quantity = 1", "quantity = 3"))
    contents = []
    for name in ("one", "two"):
        made = make_job(path, tmp_path / name, Effort(0.0, 1))
        plan = cut_plan(made.lays[0], made.job.machine, seed=1)
        assert plan == made.plans[0]
        assert svg_bytes(plan, made.job.title) == (tmp_path / name / "lay-01.svg").read_bytes()
        contents.append({p.name: p.read_bytes() for p in sorted((tmp_path / name).iterdir())})
    assert contents[0] == contents[1]
    assert len(contents[0]) == 4
