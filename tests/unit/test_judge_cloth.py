"""The judge on cloth: a sound lay is tampered with, one fault at a time.

Derived: what each change makes wrong, and that nothing else is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from shapely.geometry import Polygon

from cutfiles.cuts.plan import CutPlan, Stroke
from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.effort import Effort
from cutfiles.files.roles import INKS
from cutfiles.job.cloth import Flaw, PrintRepeat, Remnant
from cutfiles.job.job import Cloth, Job, PanelLine
from cutfiles.job.machine import Machine
from cutfiles.lay.arrange import arrange
from cutfiles.lay.lay import Lay
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.panel import read_panels
from cutfiles.verdict.expected import ExpectedLay, expected_of
from tests.unit.test_judge import changed, codes, shifted

PLAIN = Cloth("kelp", 400.0, 10.0, None, False, 1, 3.0, 2.0, "cotton")
LASER = Machine("laser", 0.2, None, None)
LAYERS = {role: ink.layer for role, ink in INKS.items()}
HALF = """<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="90mm" viewBox="0 0 200 90">
<g id="outline"><path d="M 10 80 H 170 V 40 Q 120 5 60 10 L 10 30 Z"/></g></svg>"""
LINE = PanelLine(1, "bib.svg", "bib", 1, "kelp", grain_deg=0.0)
FLAWED = replace(PLAIN, flaws=(Flaw((60.0, 60.0), (40.0, 30.0)), Flaw((20.0, 150.0), (20.0,) * 2)))
ROUND = replace(PLAIN, flaws=(Flaw((60.0, 30.0), (60.0, 60.0), is_round=True),))
FOLDED = replace(PLAIN, spread="folded")
PRINTED = replace(PLAIN, print_repeat=PrintRepeat(90.0, 70.0))
SCRAP = Remnant(1, None, ((0.0, 0.0), (260.0, 0.0), (220.0, 150.0), (0.0, 130.0)))
REMNANT = replace(PLAIN, selvedge_mm=0.0, width_mm=150.0, remnants=(SCRAP,))


def lay_on(cloth: Cloth, line: PanelLine = LINE) -> Lay:
    """One bib, nested on a cloth."""
    panels, _ = read_panels(HALF.encode(), line, source="job.toml")
    job = Job("job.toml", "t", "mm", (cloth,), (), LASER, (line,))
    cuts = cut_list(job, cloth, panels)
    (lay,) = arrange(cuts, LASER, Effort(0.1, 1), unit="mm", source="job.toml")
    return lay


def ready(lay: Lay) -> tuple[CutPlan, ExpectedLay]:
    return cut_plan(lay, LASER, seed=1), expected_of(lay, LASER, LAYERS)


def moved(lay: Lay, dx: float, dy: float) -> tuple[CutPlan, ExpectedLay]:
    """A lay that its own figures say is moved, pieces and all: only where it lies is wrong."""
    (placed,) = lay.placed
    shift = replace(placed.motion.shift, x=placed.motion.shift.x + dx, y=placed.motion.shift.y + dy)
    return ready(
        replace(lay, placed=(replace(placed, motion=replace(placed.motion, shift=shift)),))
    )


FOLD_LINE = replace(LINE, on_fold=True, stays_folded=True)
MATCHED = replace(LINE, is_matched=True)
CASES = {
    "flawed": (FLAWED, LINE),
    "round": (ROUND, LINE),
    "folded": (FOLDED, FOLD_LINE),
    "printed": (PRINTED, MATCHED),
    "remnant": (REMNANT, LINE),
}


@pytest.mark.parametrize("case", CASES)
def test_sound_cloth_has_no_findings(case: str, tmp_path: Path) -> None:
    lay = lay_on(*CASES[case])
    assert codes(*ready(lay), tmp_path) == set()


def middle(lay: Lay) -> tuple[float, float]:
    centre = lay.placed[0].placed_outline.centroid
    return centre.x, centre.y


def test_a_piece_on_a_flaw_is_found(tmp_path: Path) -> None:
    lay = lay_on(PLAIN)
    x, y = middle(lay)
    bad = replace(PLAIN, flaws=(Flaw((x, y + PLAIN.selvedge_mm), (3.0, 3.0)),))
    on_flaw = replace(lay, cloth=bad, flaws=(Polygon([(x, y), (x + 3, y), (x + 3, y + 3),
                                                      (x, y + 3)]),))  # fmt: skip
    assert codes(*ready(on_flaw), tmp_path) == {"flaw"}


def test_a_flaw_in_the_wrong_place_is_found(tmp_path: Path) -> None:
    plan, expected = ready(lay_on(FLAWED))
    assert len(plan.on_cloth) == 2
    assert codes(replace(plan, on_cloth=plan.on_cloth[1:]), expected, tmp_path) == {"cloth"}
    off = shifted(0.0, 0.1)(plan.on_cloth[0])
    assert codes(replace(plan, on_cloth=(off, *plan.on_cloth[1:])), expected, tmp_path) == {"cloth"}
    stray = (*plan.on_cloth, shifted(40.0, 3.0)(plan.on_cloth[0]))
    assert codes(replace(plan, on_cloth=stray), expected, tmp_path) == {"cloth"}


def test_flaws_are_measured_from_where_the_lay_begins(tmp_path: Path) -> None:
    lay = lay_on(FLAWED)
    later = replace(lay, starts_at_mm=7.0)
    plan, _ = ready(lay)
    assert codes(plan, ready(later)[1], tmp_path) == {"cloth"}


def test_a_half_off_the_fold_is_found(tmp_path: Path) -> None:
    lay = lay_on(FOLDED, FOLD_LINE)
    assert codes(*moved(lay, 0.0, 0.2), tmp_path) == {"fold"}
    assert codes(*moved(lay, 0.0, 40.0), tmp_path) == {"fold"}
    whole = replace(lay, cloth=replace(lay.cloth, spread="single"))
    plan, _ = ready(whole)
    assert codes(plan, expected_of(lay, LASER, LAYERS), tmp_path) == {"cloth"}


def test_a_piece_off_the_print_is_found(tmp_path: Path) -> None:
    lay = lay_on(PRINTED, MATCHED)
    room = replace(lay, length_mm=lay.length_mm + 90.0)
    assert codes(*moved(room, 90.0, 0.0), tmp_path) == set()
    assert codes(*moved(room, 45.0, 0.0), tmp_path) == {"print"}
    assert codes(*moved(room, 90.0, 0.1), tmp_path) == {"print"}
    plan, expected = ready(lay)
    (piece,) = expected.pieces
    assert piece.match is not None
    x, y = piece.match.at
    elsewhere = replace(piece, match=replace(piece.match, at=(x + 90.0, y)))
    assert codes(plan, replace(expected, pieces=(elsewhere,)), tmp_path) == {"print"}


def test_a_piece_off_its_remnant_is_found(tmp_path: Path) -> None:
    lay = lay_on(REMNANT)
    assert codes(*moved(lay, -3.0, 0.0), tmp_path) == {"outside"}
    assert codes(*moved(lay, 0.0, 70.0), tmp_path) == {"outside"}
    plan, expected = ready(lay)
    box = replace(plan, remnant=())
    assert codes(box, expected, tmp_path) == {"cloth"}


@pytest.mark.parametrize(
    "change", [lambda _: None, lambda s: replace(s, points=s.points[:1] + s.points[2:])]
)
def test_half_an_outline_is_no_outline(
    change: Callable[[Stroke], Stroke | None], tmp_path: Path
) -> None:
    plan, expected = ready(lay_on(FOLDED, FOLD_LINE))
    assert "missing" in codes(changed(plan, "outline", change), expected, tmp_path)
