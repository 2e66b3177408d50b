"""Orders whose lines are alike in name and not in what is cut, on limited cloth and beds.

What must come of them is derived from what the job asks for.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.program import Table, WriteJob, cutfiles

CLOTH = '[[cloth]]\nname = "kelp"\nwidth = 1117.6\nselvedge = 12.7\nfibre = "cotton"\n'
LASER = '[machine]\nkind = "laser"\nkerf = 0.2\n'


def caps(quantity: int | str, *more: str, edge: str = "hem") -> str:
    wanted = f'"{quantity}"' if isinstance(quantity, str) else str(quantity)
    lines = ["[[caps]]", 'style = "tie-back"', 'size = "M"', f"quantity = {wanted}"]
    return "\n".join([*lines, f'edge = "{edge}"', *more, ""])


JOBS = {
    "another grain": (
        CLOTH + caps(4, 'grain = { tie = "across" }') + caps(4) + LASER + "bed = { along = 700 }\n",
        8,
    ),
    "another binding": (
        CLOTH
        + caps(3, 'binding_grain = "bias"', edge="binding")
        + caps(3, edge="binding")
        + LASER
        + "bed = { along = 500 }\n",
        6,
    ),
    "bindings on a print": (
        CLOTH + "length = 700\nprint_repeat = { along = 320 }\n" + caps(1, edge="binding") + LASER,
        1,
    ),
}


@pytest.mark.parametrize("what", JOBS)
def test_lines_alike_in_name_only(what: str, job_file: WriteJob, tmp_path: Path) -> None:
    job, count = JOBS[what]
    run = cutfiles("make", job_file(job), "--out", tmp_path / "out", "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    table: Table = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    assert table["totals"]["caps"] == count
    if what == "another grain":
        angles = [
            piece["grain_deg"] % 180.0
            for lay in table["lays"]
            for piece in lay["pieces"]
            if piece["name"] == "tie"
        ]
        assert sorted(angles) == [0.0] * 8 + [90.0] * 8


def test_as_many_as_fit_beside_a_line_that_is_cut_in_full(
    job_file: WriteJob, tmp_path: Path
) -> None:
    job = CLOTH + "length = 1800\nplies = 2\n" + caps(3) + caps("as many as fit") + LASER
    run = cutfiles("make", job_file(job), "--out", tmp_path / "out", "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    table: Table = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    # of the first line 4 are cut, in two plies; all others are the second one's
    others = table["totals"]["caps"] - 4
    assert f"[[caps]] 2: as many as fit cloth 'kelp' in the time that was given: {others} caps" in (
        run.stderr
    )
