"""The judge on cloth: a sound lay is tampered with, one fault at a time.

Derived: what each change makes wrong, and that nothing else is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from shapely.geometry import Polygon

from cutfiles.cuts.plan import CutPlan, Stroke
from cutfiles.effort import Effort
from cutfiles.files.summary import summary_table
from cutfiles.files.whole_file import table_bytes
from cutfiles.job.cloth import Flaw, PrintRepeat, Remnant
from cutfiles.job.job import Cloth, Job, PanelLine
from cutfiles.job.machine import Machine
from cutfiles.lay.arrange import arrange
from cutfiles.lay.lay import Lay
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.panel import read_panels
from cutfiles.verdict.expected import ExpectedLay, expected_of
from cutfiles.verdict.read_summary import SummaryFile, expected_from
from tests.small_lay import LASER, LAYERS, planned
from tests.unit.tampering import changed, codes, shifted

PLAIN = Cloth("kelp", 400.0, 10.0, None, False, 1, 3.0, 2.0, "cotton")
HALF = """<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="90mm" viewBox="0 0 200 90">
<g id="outline"><path d="M 10 80 H 170 V 40 Q 120 5 60 10 L 10 30 Z"/></g></svg>"""
LINE = PanelLine(1, "bib.svg", "bib", 1, "kelp", grain_deg=0.0)
FLAWED = replace(PLAIN, flaws=(Flaw((60.0, 60.0), (40.0, 30.0)), Flaw((20.0, 150.0), (20.0,) * 2)))
ROUND = replace(PLAIN, flaws=(Flaw((60.0, 30.0), (60.0, 60.0), is_round=True),))
FOLDED = replace(PLAIN, spread="folded")
PRINTED = replace(PLAIN, print_repeat=PrintRepeat(90.0, 70.0))
SCRAP = Remnant(1, None, ((0.0, 0.0), (260.0, 0.0), (220.0, 150.0), (0.0, 130.0)))
REMNANT = replace(PLAIN, selvedge_mm=0.0, width_mm=150.0, remnants=(SCRAP,))
SPOT = Flaw((230.0, 5.0), (6.0, 4.0))
FOLDED_FLAWED = replace(
    FOLDED, flaws=(Flaw((20.0, 60.0), (30.0, 20.0)), Flaw((5.0, 195.0), (9.0,) * 2))
)
TWINS = replace(REMNANT, remnants=(SCRAP, replace(SCRAP, number=2, flaws=(SPOT,))))
SPOTTED = replace(REMNANT, remnants=(replace(SCRAP, flaws=(SPOT,)),))
PRINT_STARTS = replace(PLAIN, print_repeat=PrintRepeat(90.0, 70.0, 25.0, 4.0))
THREAD = replace(PLAIN, flaws=(Flaw((60.0, 0.0), (0.02, 400.0)),))


def lay_on(cloth: Cloth, line: PanelLine = LINE) -> Lay:
    """One bib, nested on a cloth."""
    panels, _ = read_panels(HALF.encode(), line, source="job.toml")
    job = Job("job.toml", "t", "mm", (cloth,), (), LASER, (line,))
    cuts = cut_list(job, cloth, panels)
    (lay,) = arrange(cuts, LASER, Effort(0.1, 1), unit="mm", source="job.toml")
    return lay


def ready(lay: Lay) -> tuple[CutPlan, ExpectedLay]:
    return planned(lay, LASER), expected_of(lay, LASER, LAYERS)


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
    "thin flaw": (THREAD, LINE),
    "flaws of both layers": (FOLDED_FLAWED, FOLD_LINE),
    "equal remnants": (TWINS, LINE),
    "flawed remnant": (SPOTTED, LINE),
    "print with a start": (PRINT_STARTS, MATCHED),
}


@pytest.mark.parametrize("case", CASES)
def test_sound_cloth_has_no_findings(case: str, tmp_path: Path) -> None:
    lay = lay_on(*CASES[case])
    plan, expected = ready(lay)
    assert codes(plan, expected, tmp_path) == set()
    assert codes(plan, by_summary(lay, plan), tmp_path) == set()


def by_summary(lay: Lay, plan: CutPlan, machine: Machine = LASER) -> ExpectedLay:
    """What a check expects later on, by the summary of the lay."""
    job = Job("job.toml", "t", "mm", (lay.cloth,), (), machine, (LINE,))
    contents = {"lay-01.dxf": b"", "lay-01.svg": b""}
    table = summary_table(job, [lay], [plan], [], seed=1, contents=contents, written=())
    summary = SummaryFile.model_validate_json(table_bytes(table))
    return expected_from(summary, summary.lays[0])


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


Change = Callable[[ExpectedLay], ExpectedLay]
DISPLACED: list[tuple[str, str, Change, set[str]]] = [
    # derived: 45 mm are half a repeat of 90; the lay would begin, end and lie off the print
    ("half a repeat later", "printed", lambda e: replace(e, starts_at_mm=45.0),
     {"print", "print-start"}),
    # derived: after a whole repeat all is as before
    ("a repeat later", "printed", lambda e: replace(e, starts_at_mm=90.0), set()),
    ("a lay that ends off the print", "printed",
     lambda e: replace(e, length_mm=e.length_mm + 1.0), {"print-start", "cloth"}),
    # derived: the print begins elsewhere, and the lay does not
    ("print starts along", "print with a start",
     lambda e: replace(e, print_starts_mm=(25.1, e.print_starts_mm[1])), {"print"}),
    ("print starts across", "print with a start",
     lambda e: replace(e, print_starts_mm=(25.0, e.print_starts_mm[1] + 35.0)), {"print"}),
    # derived: a bed that is shorter, or narrower, than the lay by more than a rounding
    ("bed too short", "flawed", lambda e: replace(e, bed_mm=(e.length_mm - 0.01, None)), {"bed"}),
    ("bed too narrow", "flawed", lambda e: replace(e, bed_mm=(None, e.width_mm - 0.01)), {"bed"}),
    ("bed just so", "flawed", lambda e: replace(e, bed_mm=(e.length_mm, e.width_mm)), set()),
    ("bed too short for a remnant", "remnant", lambda e: replace(e, bed_mm=(259.9, 200.0)),
     {"bed"}),
]  # fmt: skip


@pytest.mark.parametrize(
    ("case", "change", "found"), [d[1:] for d in DISPLACED], ids=[d[0] for d in DISPLACED]
)
def test_a_lay_in_the_wrong_place_is_found(
    case: str, change: Change, found: set[str], tmp_path: Path
) -> None:
    lay = lay_on(*CASES[case])
    plan, expected = ready(lay)
    assert codes(plan, change(expected), tmp_path) == found
    assert codes(plan, change(by_summary(lay, plan)), tmp_path) == found


def test_the_bed_of_the_summary_is_the_machine_s(tmp_path: Path) -> None:
    lay = lay_on(PLAIN)
    plan, _ = ready(lay)
    # derived: the lay is as wide as the usable cloth, 380 mm
    narrow = replace(LASER, bed_along_mm=900.0, bed_across_mm=379.0)
    assert codes(plan, expected_of(lay, narrow, LAYERS), tmp_path) == {"bed"}
    assert codes(plan, by_summary(lay, plan, narrow), tmp_path) == {"bed"}


def test_of_equal_remnants_the_one_is_judged_that_was_laid(tmp_path: Path) -> None:
    # derived: two remnants of one outline differ by their numbers, and here by a flaw
    lay = lay_on(TWINS)
    plan, _ = ready(lay)
    assert lay.remnant_number == 1
    assert codes(plan, ready(replace(lay, remnant_number=2))[1], tmp_path) == {"cloth"}
    flawed_first = tuple(replace(r, number=3 - r.number) for r in reversed(TWINS.remnants))
    other = replace(lay, cloth=replace(TWINS, remnants=flawed_first), remnant_number=2)
    assert codes(plan, ready(other)[1], tmp_path) == set()


@pytest.mark.parametrize(("dx", "dy"), [(0.02, 300.0), (0.001, 300.0), (300.0, 0.02), (0.02, 0.02)])
def test_a_piece_on_a_thin_flaw_is_found(dx: float, dy: float, tmp_path: Path) -> None:
    # derived: however thin, a flaw through the middle of a piece is in it
    lay = lay_on(PLAIN)
    x, y = middle(lay)
    at = max(0.0, x - dx / 2.0), max(10.0, y + 10.0 - dy / 2.0)
    flawed = replace(lay, cloth=replace(PLAIN, flaws=(Flaw(at, (dx, dy)),)))
    _, expected = ready(flawed)
    plan, _ = ready(replace(flawed, flaws=expected.flaws))
    assert codes(plan, expected, tmp_path) == {"flaw"}


def test_a_thin_flaw_beside_a_piece_is_let_pass(tmp_path: Path) -> None:
    # derived: an edge may overstep by the lay's tolerance of 0.01 mm, thin flaw or not
    lay = lay_on(PLAIN)
    edge = ready(lay)[1].pieces[0].outline
    assert edge is not None
    left = edge.bounds[0] - 0.1  # half a kerf outside
    for over, found in ((-0.02, set()), (0.05, {"flaw"})):
        flaw = Flaw((max(0.0, left + over - 0.02), 0.0), (0.02, 400.0))
        cloth = replace(PLAIN, flaws=(flaw,))
        _, expected = ready(replace(lay, cloth=cloth, starts_at_mm=-5.0))
        moved_on = replace(expected, flaws=tuple(
            shapely.affinity.translate(f, -5.0) for f in expected.flaws))  # fmt: skip
        plan, _ = ready(replace(lay, flaws=moved_on.flaws))
        assert codes(plan, moved_on, tmp_path) == found


@pytest.mark.parametrize("case", ["flawed", "round", "flaws of both layers", "flawed remnant"])
def test_a_displaced_flaw_is_found(case: str, tmp_path: Path) -> None:
    # derived: the flaw is drawn elsewhere, by half a per cent of its width where it is round
    plan, expected = ready(lay_on(*CASES[case]))
    # a flaw across the fold has a part in either layer, and the fold itself is drawn
    count = {"flawed": 2, "round": 1, "flaws of both layers": 4, "flawed remnant": 1}[case]
    assert len(plan.on_cloth) == count
    for number, stroke in enumerate(plan.on_cloth):
        off = 0.3 if case == "round" else 0.01
        for step in ((off, 0.0), (0.0, off)):
            tampered = list(plan.on_cloth)
            tampered[number] = shifted(*step)(stroke)
            bad = replace(plan, on_cloth=tuple(tampered))
            assert codes(bad, expected, tmp_path) == {"cloth"}
        left_out = plan.on_cloth[:number] + plan.on_cloth[number + 1 :]
        assert codes(replace(plan, on_cloth=left_out), expected, tmp_path) == {"cloth"}


def test_a_half_on_a_flaw_of_the_lower_layer_is_found(tmp_path: Path) -> None:
    # derived: the fold is the middle of 400 mm; a flaw 30 mm below it lies 30 mm above it, too
    lay = lay_on(FOLDED, FOLD_LINE)
    x, _ = middle(lay)
    for across in (165.0, 230.0):
        cloth = replace(FOLDED, flaws=(Flaw((x, across), (5.0, 5.0)),))
        _, expected = ready(replace(lay, cloth=cloth))
        assert [flaw.bounds[1:4:2] for flaw in expected.flaws] == [(30.0, 35.0)]
        plan, _ = ready(replace(lay, cloth=cloth, flaws=expected.flaws))
        assert codes(plan, expected, tmp_path) == {"flaw"}


def test_a_piece_on_a_flaw_of_its_remnant_is_found(tmp_path: Path) -> None:
    lay = lay_on(REMNANT)
    x, y = middle(lay)
    bad = replace(SCRAP, flaws=(Flaw((x, y), (3.0, 3.0)),))
    on_flaw = replace(lay, cloth=replace(REMNANT, remnants=(bad,)))
    _, expected = ready(on_flaw)
    plan, _ = ready(replace(on_flaw, flaws=expected.flaws))
    assert codes(plan, expected, tmp_path) == {"flaw"}


@pytest.mark.parametrize(
    "change",
    [
        lambda _: None,
        lambda s: replace(
            s, points=s.points[:1] + s.points[2:], bulges=s.bulges[:1] + s.bulges[2:]
        ),
    ],
)
def test_half_an_outline_is_no_outline(
    change: Callable[[Stroke], Stroke | None], tmp_path: Path
) -> None:
    plan, expected = ready(lay_on(FOLDED, FOLD_LINE))
    assert "missing" in codes(changed(plan, "outline", change), expected, tmp_path)
