"""The whole way on cloth of all kinds: grain, spreads, flaws, prints and remnants."""

from __future__ import annotations

import json
from pathlib import Path

from tests.cli.program import Table, WriteJob, cutfiles
from tests.conftest import LASER, ONE_CLOTH, SMALL_JOB


def made(text: str, job_file: WriteJob, out: Path, seconds: str = "0.5") -> Table:
    """The summary of a job that is made, and checked once more."""
    run = cutfiles("make", job_file(text), "--out", out, "--seconds", seconds)
    assert run.returncode == 0, run.stderr
    again = cutfiles("check", out)
    assert again.returncode == 0, again.stderr
    table: Table = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    return table


def angles(table: Table, name: str) -> set[float]:
    """How the pieces of a name lie."""
    return {p["grain_deg"] for lay in table["lays"] for p in lay["pieces"] if p["name"] == name}


def test_grain_and_tilt_of_every_piece(job_file: WriteJob, tmp_path: Path) -> None:
    text = SMALL_JOB.replace(
        "quantity = 1", 'quantity = 2\ngrain = { tie = "across" }\ntilt = { band = 1.5 }'
    )
    table = made(text, job_file, tmp_path / "out")
    assert angles(table, "crown") <= {0.0, 180.0}
    assert angles(table, "tie") <= {90.0, 270.0}
    assert angles(table, "band") <= {0.0, 1.5, 358.5, 180.0, 178.5, 181.5}


def test_a_panel_on_the_bias(job_file: WriteJob, tmp_path: Path) -> None:
    (tmp_path / "patch.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="60mm" viewBox="0 0 90 60">'
        '<path d="M 5 5 H 85 V 55 H 5 Z"/></svg>'
    )
    panels = '[[panels]]\nfile = "patch.svg"\nquantity = 3\ngrain_deg = 0\ngrain = "bias"\n'
    table = made(ONE_CLOTH + panels + LASER, job_file, tmp_path / "out")
    assert angles(table, "panel") <= {45.0, 135.0, 225.0, 315.0}
