"""What a machine must not cut, and what is said beside it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutfiles.job.cautions import cautions_for, check_safety
from cutfiles.job.job import Cloth, Job
from cutfiles.job.machine import Machine, MachineKind
from cutfiles.job.written import Written


def job(fibre: str | None, plies: int = 1, kind: MachineKind = "laser") -> Job:
    cloth = Cloth("any", 1100.0, 10.0, None, False, plies, 0.0, 0.0, fibre)
    return Job("job.toml", "t", "mm", (cloth,), (), Machine(kind, 0.2, None, None))


@pytest.mark.parametrize(
    "fibre",
    ["PVC", "vinyl", "cotton, PVC-coated", "chlorinated rubber", "unknown coating", "unknown",
     "PTFE membrane", "cotton with metal yarn", "modacrylic", "flame-retardant cotton",
     "p.v.c. backed cotton", "cotton, plastisol print", "cotton with PU", "PUL polyester",
     "faux leather, cotton back", "oilskin cotton", "vinly cotton", "cotton, teflón",
     "glass fibre / cotton", "100 %", "plain white cloth"],
)  # fmt: skip
def test_what_a_laser_must_not_cut_is_refused(fibre: str) -> None:
    # CMU IDeATe laser policy 2017 (PVC and all chlorine-bearing banned); the coatings and
    # metal: common practice, no source
    assert [(f.code, f.severity) for f in check_safety(job(fibre))] == [("laser-refused", "error")]
    assert check_safety(job(fibre, kind="drag knife")) == ()


def test_a_fibre_that_is_not_known_is_refused_on_a_laser() -> None:
    (finding,) = check_safety(job("gossamer"))
    assert finding.severity == "error"
    assert "gossamer" in finding.text


@pytest.mark.parametrize("fibre", ["polyester", "50/50 polycotton", "nylon ripstop", "Polyamide"])
def test_synthetic_plies_on_a_laser_warn(fibre: str) -> None:
    # I. Vilumsone-Nemes p. 95 for the heat; the rule is common practice, no source
    assert check_safety(job(fibre)) == ()
    assert [(f.code, f.severity) for f in check_safety(job(fibre, plies=4))] == [
        ("synthetic-plies", "warning")
    ]
    assert check_safety(job(fibre, plies=4, kind="rotary blade")) == ()


def test_a_name_that_says_vinyl_is_enough() -> None:
    plain = job(None)
    named = replace(plain, cloths=(replace(plain.cloths[0], name="clear vinyl"),))
    assert [(f.code, f.severity) for f in check_safety(named)] == [("laser-refused", "error")]
    (finding,) = check_safety(named)
    assert "name: 'clear vinyl' is refused" in finding.text


@pytest.mark.parametrize(
    "fibre",
    ["cotton", "Cotton poplin", "linen/cotton", "uncoated cotton", "100 % organic cotton, printed",
     "55% linen 45% viscose", "Quilting cotton 120 g/m2"],
)  # fmt: skip
def test_plain_natural_cloth_is_fine(fibre: str) -> None:
    assert check_safety(job(fibre, plies=6)) == ()


def test_no_fibre_named_warns() -> None:
    assert [(f.code, f.severity) for f in check_safety(job(None))] == [("fibre-unknown", "warning")]


@pytest.mark.parametrize("kind", ["laser", "drag knife", "rotary blade"])
def test_every_machine_has_its_cautions(kind: MachineKind) -> None:
    # common practice, no source: the safety text stands in every job sheet
    text = " ".join(cautions_for(kind))
    assert "not certified protective equipment" in text
    assert "trained staff" in text
    assert len(cautions_for(kind)) >= 3


@pytest.mark.parametrize(
    ("kind", "words"),
    [("laser", "fire, fume"), ("drag knife", "hands"), ("rotary blade", "hands")],
)
def test_motion_code_comes_with_a_warning(kind: MachineKind, words: str) -> None:
    plain = job("cotton", kind=kind)
    moving = replace(plain, machine=replace(plain.machine, written=Written(motion_code=True)))
    (finding,) = check_safety(moving)
    assert (finding.code, finding.severity) == ("motion-code", "warning")
    assert words in finding.text
    assert "run it first with the tool off" in finding.text
