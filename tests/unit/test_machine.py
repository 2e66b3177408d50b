"""Machines: what their tools reach, and how the keys of a job and of a machine's file are read."""

from __future__ import annotations

import pytest

from cutfiles.errors import JobError
from cutfiles.job.machine import DragKnife, Laser, Machine, NotchCut, RotaryBlade, Tabs
from cutfiles.job.read import read_job
from tests.conftest import ONE_CAP, ONE_CLOTH

SMALL = RotaryBlade(28.0, 0.5, 1.0)
LARGE = RotaryBlade(45.0, 0.5, 1.0)


def machine(text: str, file: str | None = None) -> Machine:
    job = f"{ONE_CLOTH}{ONE_CAP}[machine]\n{text}\n"
    said = None if file is None else ("our.toml", file.encode())
    return read_job(job.encode(), source="job.toml", machine_file=said).machine


def faults(text: str, file: str | None = None, cloth: str = "") -> list[str]:
    job = f"{ONE_CLOTH}{cloth}\n{ONE_CAP}[machine]\n{text}\n"
    said = None if file is None else ("our.toml", file.encode())
    with pytest.raises(JobError) as error:
        read_job(job.encode(), source="job.toml", machine_file=said)
    return [finding.text for finding in error.value.findings]


@pytest.mark.parametrize(
    ("blade", "stack", "top", "bottom", "over"),
    [
        # derived: c(x) = sqrt(2 r x - x2), by hand
        (LARGE, 2.5, 11.225, 4.717, 6.508),
        (SMALL, 2.5, 8.660, 3.708, 4.952),
    ],
)
def test_the_reach_of_a_round_blade(
    blade: RotaryBlade, stack: float, top: float, bottom: float, over: float
) -> None:
    assert blade.reach_mm(stack) == pytest.approx(top, abs=1e-3)
    assert blade.reach_mm(0.0) == pytest.approx(bottom, abs=1e-3)
    assert blade.overshoot_mm(stack) == pytest.approx(over, abs=1e-3)


def test_the_overshoot_in_one_ply() -> None:
    # derived, by hand: r = 14, t = 0.3
    assert SMALL.overshoot_mm(0.3) == pytest.approx(0.957, abs=1e-3)


def test_the_least_curve_of_a_round_blade() -> None:
    # derived, by hand: e = R - sqrt(R2 - c2) is 0.628 at R = 60 for c = 8.660 (stack 2.5, depth
    # 0.5), so that a blade of that scrub goes round just that
    assert RotaryBlade(28.0, 0.5, 0.628).least_curve_mm(2.5) == pytest.approx(60.0, abs=0.05)
    assert RotaryBlade(28.0, 0.5, 0.5).least_curve_mm(2.5) == pytest.approx(75.25, abs=1e-3)
    assert RotaryBlade(28.0, 0.5, 1.0).least_curve_mm(2.5) == pytest.approx(38.0, abs=1e-3)


@pytest.mark.parametrize(
    ("text", "layers", "thickness", "allowed"),
    [
        # a quarter of the blade (Vilumsone-Nemes, p. 107): 28 mm takes 7.0 mm, not 7.5
        ('kind = "rotary blade"', 7, "1 mm", True),
        ('kind = "rotary blade"', 3, "2.5 mm", False),
        # 45 mm: 11.25 mm, 37 plies of 0.30 (derived)
        ('kind = "rotary blade"\nblade_diameter = 45', 37, "0.3 mm", True),
        ('kind = "rotary blade"\nblade_diameter = 45', 38, "0.3 mm", False),
        # small hand-held shears: 10 mm (the same page), 33 plies of 0.30 (derived)
        ('kind = "drag knife"\nmost_stack = 10', 33, "0.3 mm", True),
        ('kind = "drag knife"\nmost_stack = 10', 34, "0.3 mm", False),
        ('kind = "laser"\nmost_plies = 3', 3, "0.3 mm", True),
        ('kind = "laser"\nmost_plies = 3', 4, "0.3 mm", False),
    ],
)
def test_how_high_a_stack_may_be(text: str, layers: int, thickness: str, *, allowed: bool) -> None:
    cloth = f'plies = {layers}\nthickness = "{thickness}"\n'
    job = f"{ONE_CLOTH}{cloth}{ONE_CAP}[machine]\n{text}\n"
    if allowed:
        assert read_job(job.encode(), source="job.toml").cloths[0].layers == layers
    else:
        (fault,) = faults(text, cloth=cloth)
        assert f"plies: {layers} layers" in fault


def test_every_key_of_a_laser() -> None:
    made = machine(
        'kind = "laser"\ncut_speed = "6 m/min"\ntravel_speed = 250\nacceleration = "1 m/s2"\n'
        'start_time = "200 ms"\nlead_in = "4 mm"\noverlap = 0.1\nmark_speed = 150\n'
        'tabs = { count = 3, width = "0.5 mm" }\nnotch = { shape = "V" }\nmarks = "none"\n'
        'settings = [{ plies = 1, note = "30 W" }]\nbed = { along = 900 }'
    )
    assert made.tool == Laser(4.0, 0.1, Tabs(3, 0.5))
    pace = made.pace
    assert (pace.cut_mm_s, pace.travel_mm_s, pace.acceleration_mm_s2) == (100.0, 250.0, 1000.0)
    assert (pace.start_stroke_s, pace.mark_mm_s) == (0.2, 150.0)
    assert made.notch == NotchCut("V", 3.0)
    assert (made.fittings.marks, made.fittings.settings[0].note) == ("none", "30 W")
    assert (made.bed_along_mm, made.bed_across_mm, made.kerf_mm) == (900.0, None, 0.2)


def test_a_machine_that_says_its_kind_only_is_the_usual_one() -> None:
    assert machine('kind = "laser"') == Machine("laser", 0.2, None, None)
    assert machine('kind = "rotary blade"').notch is None


def test_the_job_overrides_its_machine_file() -> None:
    file = 'kind = "drag knife"\nlength_unit = "in"\nblade_offset = 0.02\nbed = { along = 40 }'
    made = machine('file = "our.toml"\noverrun = 1\nbed = { along = 900 }', file)
    assert isinstance(made.tool, DragKnife)
    assert made.tool.offset_mm == pytest.approx(0.508)  # inches of its own unit (derived)
    assert (made.tool.overrun_mm, made.bed_along_mm) == (1.0, 900.0)


@pytest.mark.parametrize(
    ("file", "words"),
    [
        ("kind = = 3", "our.toml: not a TOML file"),
        ('kind = "lasr"', 'our.toml: kind: \'lasr\' must be one of "laser", "drag knife", '),
        ('kind = "lasr"', '(did you mean "laser"?)'),
        ('kind = "laser"\nkerff = 1', "our.toml: kerff: is no key of a machine's file; did you "),
        ('kind = "laser"\noverrun = 1', 'our.toml: overrun: goes with kind = "drag knife", not'),
        ("kerf = 0.2", "job.toml: [machine]: kind: is missing"),
        ('kind = "drag knife"\nnotch = { shape = "U" }', "our.toml: notch: shape: 'U': a drag"),
        ('kind = "drag knife"\nnotch = { shape = "v" }', '(did you mean "V"?)'),
        ('kind = "drag knife"\nlead_in = 0.9\nblade_offset = 0.5', "too short to turn a blade"),
        # where one of the two is that of every drag knife: 0.5 and 3 mm
        ('kind = "drag knife"\nlead_in = 0.9', "lead_in: 0.9 mm is too short to turn a"),
        ('kind = "drag knife"\nblade_offset = 1.6', "lead_in: 3 mm is too short to turn a blade"),
        # derived: a stack may be a quarter of the blade high, and its axle stays above that
        ('kind = "rotary blade"\nblade_diameter = 8\nbed_depth = 2.1', "bed_depth: 2.1 mm is more"),
        (
            'kind = "drag knife"\nmarks = "light pass"',
            "our.toml: marks: 'light pass': only a laser",
        ),
        ('kind = "laser"\nnotch = { shape = "slit", width = 3 }', "width: a slit has none"),
        ('kind = "laser"\ncut_speed = 0', "cut_speed: 0 is 0 mm/s, and must be more than 0"),
    ],
)
def test_what_is_wrong_in_a_machine_file_is_said_by_its_name(file: str, words: str) -> None:
    assert any(words in fault for fault in faults('file = "our.toml"', file)), words


def test_a_fault_in_each_of_two_files_comes_at_once() -> None:
    found = faults('file = "our.toml"\nkerff = 1', 'kind = "laser"\ntabs = 3')
    assert any(fault.startswith("job.toml: [machine]: kerff") for fault in found)
    assert any(fault.startswith("our.toml: tabs") for fault in found)
