"""Cloth on the table: whole repeats, the ends of plies, limits of the spread."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutfiles.job.cloth import Flaw, PrintRepeat
from cutfiles.job.job import Cloth, Job
from cutfiles.job.machine import Machine
from cutfiles.lay.lay import Lay
from cutfiles.lay.table import CLOSE, Table
from cutfiles.pipeline.cloth_report import cloth_findings

CLOTH = Cloth("kelp", 1120.0, 10.0, None, False, 1, 0.0, 0.0, "cotton")
LASER = Machine("laser", 0.2, None, None)


def lay_of(cloth: Cloth, length_mm: float, starts_at_mm: float = 0.0) -> Lay:
    """An empty lay."""
    return Lay("lay-01", cloth, cloth.lay_width_mm, length_mm, starts_at_mm, 1.2, 0.11, (), "rows")


def said(cloth: Cloth, *lays: Lay) -> dict[str, str]:
    """The findings on a cloth by their codes."""
    job = Job("job.toml", "t", "m", (cloth,), (), LASER)
    return {finding.code: finding.text for finding in cloth_findings(job, cloth, lays)}


def test_a_lay_takes_whole_repeats() -> None:
    # derived on I. Vilumsone-Nemes, pp. 228 and 256: a marker of 1450 mm on a repeat
    # of 320 mm is made 1600 mm, and so is 10.34 % longer
    table = Table(replace(CLOTH, print_repeat=PrintRepeat(320.0)), LASER, CLOSE)
    marker_mm = table.whole_repeats_mm(1450.0, up=True)
    assert marker_mm == 1600.0
    assert (marker_mm / 1450.0 - 1.0) * 100.0 == pytest.approx(10.34, abs=0.01)
    assert table.whole_repeats_mm(1450.0) == 1280.0
    assert table.whole_repeats_mm(1600.0, up=True) == table.whole_repeats_mm(1600.0) == 1600.0
    assert Table(CLOTH, LASER, CLOSE).whole_repeats_mm(1450.0, up=True) == 1450.0


def test_the_ends_of_plies_take_cloth() -> None:
    # derived on I. Vilumsone-Nemes, p. 37: marker 3.000 m, 20 plies, 40 mm a ply -> 60.8 m
    # drawn, end loss 1.316 %
    cloth = replace(CLOTH, plies=20)
    text = said(cloth, lay_of(cloth, 3000.0))["end-loss"]
    assert "lays take 60.000 m" in text
    assert "have 60.800 m, 1.3 % of it end loss" in text
    assert said(CLOTH, lay_of(CLOTH, 3000.0)) == {}


def test_folded_cloth_is_half_as_wide_and_cut_twice() -> None:
    # derived: the fold is the middle between the selvedges
    folded = replace(CLOTH, spread="folded", plies=3, length_mm=3000.0)
    table = Table(folded, LASER, CLOSE)
    assert table.width_mm == pytest.approx((1120.0 - 20.0) / 2.0)
    assert table.longest_mm == pytest.approx(1000.0)
    assert folded.layers == 6
    assert lay_of(folded, 900.0).taken_mm == pytest.approx(2700.0)


def test_cloth_left_out_before_a_flaw_is_told() -> None:
    # derived: of 2000 mm, 400 to 630 are left out; a lay from 630 to 2130 ends 130 beyond
    cloth = replace(CLOTH, length_mm=2000.0, flaws=(Flaw((600.0, 0.0), (30.0, 1120.0)),))
    found = said(cloth, lay_of(cloth, 400.0), lay_of(cloth, 400.0, starts_at_mm=630.0))
    assert "0.230 m of cloth before its flaws are left out" in found["flaw-skipped"]
    assert "cloth-short" not in found
    beyond = said(cloth, lay_of(cloth, 400.0), lay_of(cloth, 1500.0, starts_at_mm=630.0))
    assert "have 0.130 m more" in beyond["cloth-short"]
