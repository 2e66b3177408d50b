"""Pinned pieces the whole way: from one run's summary into the next run's job."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from shapely.geometry import Point, Polygon

from cutfiles.verdict.read_dxf import read_dxf
from tests.cli.program import Table, WriteJob, cutfiles
from tests.conftest import LASER, ROOT, SMALL_JOB


def pieces(out: Path) -> dict[str, Table]:
    """The pieces of the only lay, by their ids."""
    (lay,) = json.loads((out / "summary.json").read_text(encoding="utf-8"))["lays"]
    return {piece["id"]: piece for piece in lay["pieces"]}


def test_pieces_are_pinned_as_a_summary_gives_them(job_file: WriteJob, tmp_path: Path) -> None:
    first, out = tmp_path / "first", tmp_path / "out"
    order = SMALL_JOB.replace("quantity = 1", "quantity = 2")
    assert cutfiles("make", job_file(order), "--out", first, "--seconds", "0.1").returncode == 0
    was = pieces(first)
    crown, band = was["cap-001-crown"], was["cap-002-band"]
    # a job in centimetres: the summary's figures are millimetres
    centimetres = order.replace("1117.6", '"1117.6 mm"').replace("12.7", '"12.7 mm"')
    centimetres = 'length_unit = "cm"\n' + centimetres.replace("kerf = 0.2", "kerf = 0.02")
    x, y = crown["at_mm"]
    pins = (
        f'[[pinned]]\npiece = "cap-001-crown"\nat = [{(x + 700) / 10}, {y / 10}]\n'
        f"turn_deg = {crown['turn_deg'] - 360}\n"
        f'[[pinned]]\npiece = "cap-002-band"\nat = ["{band["at_mm"][0]} mm", '
        f'"{band["at_mm"][1]} mm"]\nturn_deg = {band["turn_deg"]}\n'
    )
    run = cutfiles("make", job_file(centimetres + pins), "--out", out, "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    assert cutfiles("check", out).returncode == 0
    now = pieces(out)
    assert now["cap-002-band"]["centre_mm"] == pytest.approx(band["centre_mm"], abs=0.001)
    # derived: 700 mm further along, and nothing else
    cx, cy = crown["centre_mm"]
    assert now["cap-001-crown"]["centre_mm"] == pytest.approx([cx + 700, cy], abs=0.001)
    assert {key for key, piece in now.items() if piece.get("pinned")} == {
        "cap-001-crown",
        "cap-002-band",
    }
    drawing = read_dxf(out / "lay-01.dxf")
    regions = [Polygon(line.points) for line in drawing.on("piece-outlines")]
    assert sum(region.covers(Point(cx + 700, cy)) for region in regions) == 1


def test_the_guide_s_pins_hold(job_file: WriteJob, tmp_path: Path) -> None:
    guide = (ROOT / "docs" / "how-to" / "pin-pieces.md").read_text(encoding="utf-8")
    job = guide.split("```toml\n")[1].split("```")[0]
    out = tmp_path / "out"
    run = cutfiles("make", job_file(job + LASER), "--out", out, "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    held = {piece: row["at_mm"] for piece, row in pieces(out).items() if row.get("pinned")}
    assert held == {"cap-001-crown": [300.0, 450.0], "cap-002-crown": [300.0, 750.0]}
