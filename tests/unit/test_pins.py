"""Pinned pieces: they stay, the rest goes round them, and what cannot stay is refused in words.

Derived: every place is where the job puts it, and every refusal follows from the cloth's measures.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.effort import Effort
from cutfiles.errors import JobError
from cutfiles.job.cloth import Flaw, PrintRepeat, Remnant
from cutfiles.job.job import CapLine, Cloth, Job, PinnedPiece
from cutfiles.job.machine import Machine
from cutfiles.job.sizes import size_named
from cutfiles.lay.arrange import arrange
from cutfiles.lay.kept import KeptLay, kept_text, problem_key, read_kept
from cutfiles.lay.lay import Lay
from cutfiles.lay.pins import pin_faults, unknown_pins
from cutfiles.lay.table import CLOSE, Table
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.ordered import CutList
from cutfiles.verdict.expected import expected_of
from tests.small_lay import LASER, LAYERS
from tests.unit.tampering import codes

CLOTH = Cloth("kelp", 800.0, 10.0, None, False, 1, 0.0, 0.0, "cotton")
CROWN = PinnedPiece(1, "cap-001-crown", (300.0, 300.0), 0.0)
BAND = PinnedPiece(2, "cap-002-band", (720.0, 320.0), 180.0)


def cuts_of(*pins: PinnedPiece, cloth: Cloth = CLOTH, line: CapLine | None = None) -> CutList:
    """Two caps on a cloth, some of their pieces pinned."""
    line = line or CapLine("tie-back", size_named("M"), 2, "hem", "kelp")
    job = Job("job.toml", "t", "mm", (cloth,), (line,), LASER, pinned=pins)
    return cut_list(job, cloth)


def laid(cuts: CutList, machine: Machine = LASER, seconds: float = 0.3) -> tuple[Lay, ...]:
    return arrange(cuts, machine, Effort(seconds, 1), unit="mm", source="job.toml")


def words(*pins: PinnedPiece, cloth: Cloth = CLOTH, machine: Machine = LASER) -> list[str]:
    return [f.text for f in pin_faults(cuts_of(*pins, cloth=cloth), machine, source="job.toml")]


def test_pinned_pieces_stay_and_keep_their_names() -> None:
    (lay,) = laid(cuts_of(CROWN, BAND))
    placed = {one.ordered.id: one.motion for one in lay.placed}
    assert len(placed) == 8
    for pin in (CROWN, BAND):
        motion = placed[pin.piece]
        assert (motion.shift.x, motion.shift.y, motion.turn_deg) == (*pin.at_mm, pin.turn_deg)


def test_a_lay_may_be_pinned_as_its_summary_gives_it() -> None:
    # derived: the summary's four decimals are at most 0.00005 mm off, each way
    (lay,) = laid(cuts_of())
    pins = tuple(
        PinnedPiece(
            number,
            one.ordered.id,
            (round(one.motion.shift.x, 4), round(one.motion.shift.y, 4)),
            one.motion.turn_deg,
        )
        for number, one in enumerate(lay.placed, 1)
    )
    (again,) = laid(cuts_of(*pins))
    assert again.length_mm == pytest.approx(lay.length_mm, abs=0.01)
    assert again.engine == "pinned"


WRONG = [
    ("off the left edge", replace(CROWN, at_mm=(5.0, 300.0)), "along, and there is usable cloth"),
    ("off the upper edge", replace(CROWN, at_mm=(300.0, 760.0)), "off each edge: move it"),
    ("against the grain", replace(CROWN, turn_deg=90.0),
     "turn_deg: 90: cap-001-crown then lies against its grain, which allows 0, 180 degrees"),
]  # fmt: skip


@pytest.mark.parametrize(("pin", "said"), [w[1:] for w in WRONG], ids=[w[0] for w in WRONG])
def test_what_cannot_stay_says_why(pin: PinnedPiece, said: str) -> None:
    assert any("[[pinned]] 1" in text and said in text for text in words(pin))


def test_the_mend_of_a_pin_off_the_cloth_mends_it() -> None:
    (text,) = words(replace(CROWN, at_mm=(20.0, 300.0)))
    by = float(text.split("move it ")[1].split(" mm right")[0])
    assert words(replace(CROWN, at_mm=(20.0 + by, 300.0))) == []
    assert words(replace(CROWN, at_mm=(20.0 + by - 0.1, 300.0))) != []


def test_pins_on_flaws_prints_and_each_other_are_refused_at_once() -> None:
    flawed = replace(CLOTH, flaws=(Flaw((300.0, 310.0), (5.0, 0.02)),))
    (text,) = words(CROWN, cloth=flawed)
    assert "0.00 mm from the flaw at (300.0, 300.0) mm of the lay, and must keep 0.01 mm" in text
    near = replace(BAND, piece="cap-002-crown", at_mm=(320.0, 300.0), turn_deg=90.0)
    both = words(CROWN, near, cloth=flawed)
    assert any("overlaps cap-002-crown by" in text for text in both)
    assert any("[[pinned]] 2: turn_deg: 90" in text for text in both)
    assert sum("from the flaw" in text for text in both) == 2


def test_pins_beyond_the_bed_are_refused() -> None:
    (text,) = words(CROWN, machine=replace(LASER, bed_along_mm=350.0))
    assert "usable cloth and bed from 0 to 350.00 mm" in text


def test_a_pin_off_its_print_says_how_far() -> None:
    cloth = replace(CLOTH, print_repeat=PrintRepeat(90.0))
    line = CapLine("tie-back", size_named("M"), 2, "hem", "kelp", matched=("crown",))
    (text,) = [
        f.text for f in pin_faults(cuts_of(CROWN, cloth=cloth, line=line), LASER, source="j")
    ]
    by = float(text.split("move it by ")[1].split(" mm")[0])
    mended = replace(CROWN, at_mm=(300.0 + by, 300.0))
    assert pin_faults(cuts_of(mended, cloth=cloth, line=line), LASER, source="j") == []


def test_where_nothing_can_be_pinned() -> None:
    scrap = Remnant(1, None, ((0.0, 0.0), (900.0, 0.0), (900.0, 700.0), (0.0, 700.0)))
    (text,) = words(CROWN, cloth=replace(CLOTH, selvedge_mm=0.0, remnants=(scrap,)))
    assert "is cut of remnants, 'kelp', where nothing can be pinned: leave it out" in text
    line = CapLine("tie-back", size_named("M"), 1, "hem", "kelp", as_many=True)
    cuts = cuts_of(CROWN, cloth=replace(CLOTH, length_mm=900.0), line=line)
    (finding,) = pin_faults(cuts, LASER, source="job.toml")
    assert "give quantity a number, or leave the pin out" in finding.text


def test_an_unknown_piece_offers_the_nearest() -> None:
    lost = replace(CROWN, piece="cap-01-crown")
    job = Job("job.toml", "t", "mm", (CLOTH,), (), LASER, pinned=(lost, BAND))
    (finding,) = unknown_pins(job, [cuts_of()])
    assert "[[pinned]] 1: piece: 'cap-01-crown' is no piece of this order" in finding.text
    assert "did you mean 'cap-001-crown'?" in finding.text


def test_pinned_pieces_make_one_lay_or_none() -> None:
    # derived: the eight pieces have more area than 320 by 780 mm
    assert sum(one.outline.area for one in laid(cuts_of())[0].placed) > 320.0 * 780.0
    with pytest.raises(JobError, match="a cloth with pinned pieces makes one lay") as caught:
        laid(cuts_of(replace(CROWN, at_mm=(30.0, 300.0))), replace(LASER, bed_along_mm=320.0))
    assert "the machine's bed gives 320 mm: search longer" in str(caught.value)


def test_what_is_pinned_is_part_of_a_kept_lay_s_name() -> None:
    cuts = cuts_of(CROWN)
    table = Table(CLOTH, LASER, CLOSE, cuts.pins)
    problem = table.problem(cuts.caps)
    pinned = tuple(table.pinned_spots(cuts.caps).values())
    moved = Table(CLOTH, LASER, CLOSE, (replace(CROWN, at_mm=(300.0, 301.0)),))
    others = tuple(moved.pinned_spots(cuts.caps).values())
    assert len({problem_key(problem), problem_key(problem, pinned), problem_key(problem, others)}) \
        == 3  # fmt: skip
    kept: dict[str, str] = {}
    effort = Effort(0.2, 1, recall=kept.get, keep=kept.__setitem__)
    (lay,) = arrange(cuts, LASER, effort, unit="mm", source="job.toml")
    (again,) = arrange(cuts, LASER, effort, unit="mm", source="job.toml")
    assert again.engine == "kept"
    assert [one.motion for one in again.placed] == [one.motion for one in lay.placed]
    # a text kept under the right name, in which the piece is elsewhere, is not taken
    (text,) = kept.values()
    read = read_kept(text, problem, pinned)
    assert read is not None
    assert read_kept(kept_text(KeptLay(read.layout, {})), problem, others) is None


def test_a_pinned_piece_that_has_moved_is_found(tmp_path: Path) -> None:
    # derived: the judge takes the place from the job, whatever the lay says
    (lay,) = laid(cuts_of(CROWN))
    plan = cut_plan(lay, LASER, seed=1)
    assert codes(plan, expected_of(lay, LASER, LAYERS, (CROWN,)), tmp_path) == set()
    elsewhere = replace(CROWN, at_mm=(300.1, 300.0))
    found = codes(plan, expected_of(lay, LASER, LAYERS, (elsewhere,)), tmp_path)
    assert {"wrong-outline", "missing"} <= found
