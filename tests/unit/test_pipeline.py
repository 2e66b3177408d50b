"""The whole way: sound, the same to the byte, and without a name where a check fails."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from cutfiles.cuts.plan import CutPlan
from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.effort import Effort
from cutfiles.errors import JobError, VerdictError
from cutfiles.files.astm_dxf import astm_dxf_bytes
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.pdf import pdf_bytes
from cutfiles.files.svg import svg_bytes
from cutfiles.job.cautions import check_safety
from cutfiles.paper.sheet import PaperSheet
from cutfiles.pieces.piece import Draft
from cutfiles.pipeline import draft as draft_module
from cutfiles.pipeline import prove
from cutfiles.pipeline.draft import draft_job
from cutfiles.pipeline.load import load_job
from cutfiles.pipeline.make import make_job
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

    def forgetful(plan: CutPlan, **words: Any) -> bytes:
        short = CutPlan(
            plan.lay_name, plan.width_mm, plan.length_mm, plan.strokes[:-1], plan.letterings,
            0.0, 0.0, 0.0,
        )  # fmt: skip
        return dxf_bytes(short, **words)

    monkeypatch.setattr(prove, "dxf_bytes", forgetful)
    with pytest.raises(VerdictError) as caught:
        make_job(job_file(SMALL_JOB), out, Effort(0.0, 1))
    assert caught.value.exit_status == 1
    assert {"missing", "older-results"} <= {f.code for f in caught.value.findings}
    assert sorted(path.name for path in out.iterdir()) == ["older-results-1"]
    older = out / "older-results-1"
    assert {path.name: path.read_bytes() for path in older.iterdir()} == before


@pytest.mark.usefixtures("all_kicks")
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


def test_a_paper_pattern_that_fails_its_check_gets_no_name(
    job_file: WriteJob, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    out.mkdir()

    def forgetful(sheet: PaperSheet) -> bytes:
        return pdf_bytes(replace(sheet, pieces=sheet.pieces[1:]))

    monkeypatch.setattr(draft_module, "pdf_bytes", forgetful)
    with pytest.raises(VerdictError) as caught:
        draft_job(load_job(job_file(SMALL_JOB)), tmp_path, out)
    assert {f.code for f in caught.value.findings} == {"outline", "stitch", "notch"}
    assert list(out.iterdir()) == []


def test_a_pattern_for_exchange_that_fails_its_check_gets_no_name(
    job_file: WriteJob, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def forgetful(draft: Draft, *, style: str, size: str, edge: str) -> bytes:
        short = replace(draft, parts=draft.parts[1:])
        return astm_dxf_bytes(short, style=style, size=size, edge=edge)

    monkeypatch.setattr(draft_module, "astm_dxf_bytes", forgetful)
    with pytest.raises(VerdictError) as caught:
        draft_job(load_job(job_file(SMALL_JOB)), tmp_path, tmp_path / "out")
    assert {f.code for f in caught.value.findings} == {"missing"}
    assert not (tmp_path / "out").exists()


def test_a_draft_is_the_same_to_the_byte(job_file: WriteJob, tmp_path: Path) -> None:
    path = job_file(SMALL_JOB)
    for name in ("one", "two"):
        draft_job(load_job(path), tmp_path, tmp_path / name, paper_name="Letter")
    contents = [
        {p.name: p.read_bytes() for p in sorted((tmp_path / name).iterdir())}
        for name in ("one", "two")
    ]
    assert contents[0] == contents[1]
    assert len(contents[0]) == 6


def test_a_paper_that_is_not_known(job_file: WriteJob, tmp_path: Path) -> None:
    with pytest.raises(JobError, match="'A5' is not known: use A4 or Letter"):
        draft_job(load_job(job_file(SMALL_JOB)), tmp_path, tmp_path / "out", paper_name="A5")


def test_a_size_with_a_point_in_its_name_is_replaced_too(
    job_file: WriteJob, tmp_path: Path
) -> None:
    text = SMALL_JOB.replace('size = "M"', 'head_girth = "565.3 mm"')
    out = tmp_path / "out"
    first = draft_job(load_job(job_file(text)), tmp_path, out).names
    assert "pattern-tie-back-565-3-mm-hem.pdf" in first
    second = draft_job(load_job(job_file(SMALL_JOB)), tmp_path, out).names
    assert set(second).isdisjoint(set(first) - {"pattern.json"})
    assert {path.name for path in out.iterdir()} == set(second)
