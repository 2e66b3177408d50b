"""A pattern for exchange that we wrote comes in again as panels, like anybody's."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from cutfiles.geometry.polygons import polygon_of
from cutfiles.job.job import CapLine
from cutfiles.job.sizes import size_named
from cutfiles.pieces.styles import draft_style
from tests.cli.program import cutfiles
from tests.conftest import SMALL_JOB

JOB = """
[[cloth]]
name = "gull-grey cotton"
width = 1100
fibre = "cotton"
[[panels]]
file = "pattern-tie-back-M-hem.astm.dxf"
size = "M"
[machine]
kind = "laser"
"""


def test_a_pattern_for_exchange_is_cut_as_panels(tmp_path: Path) -> None:
    (tmp_path / "caps.toml").write_text(SMALL_JOB)
    assert cutfiles("draft", tmp_path / "caps.toml", "--out", tmp_path).returncode == 0
    job, out = tmp_path / "job.toml", tmp_path / "out"
    job.write_text(JOB)
    assert cutfiles("make", job, "--out", out, "--seconds", "0.1").returncode == 0
    assert cutfiles("check", out).returncode == 0
    table = json.loads((tmp_path / "out" / "summary.json").read_text(encoding="utf-8"))
    areas = sorted(piece["area_mm2"] for piece in table["lays"][0]["pieces"])
    draft = draft_style(
        CapLine("tie-back", size_named("M"), 1, "hem", "any"), longest_strip_mm=math.inf
    )
    # as many of each as the pattern's own text says
    parts = [part.piece for part in draft.parts for _ in range(part.count)]
    drafted = sorted(polygon_of(piece.cut).area for piece in parts)
    assert areas == pytest.approx(drafted, rel=1e-4)
    notches = sorted(len(piece["notch_ends_mm"]) for piece in table["lays"][0]["pieces"])
    assert notches == sorted(len(piece.notches) for piece in parts)
    assert {piece["cap"] for piece in table["lays"][0]["pieces"]} == {
        f"{part.piece.name} M" for part in draft.parts
    }
    assert {piece["grain_deg"] for piece in table["lays"][0]["pieces"]} <= {0.0, 180.0}
