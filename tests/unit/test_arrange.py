"""Whole orders on limited cloth and beds: what must come of them is derived from the order."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutfiles.effort import Effort, Progress
from cutfiles.errors import JobError
from cutfiles.job.cloth import Flaw
from cutfiles.job.job import CapLine, Cloth, EdgeFinish, Job
from cutfiles.job.machine import Machine
from cutfiles.job.sizes import size_named
from cutfiles.lay.arrange import arrange
from cutfiles.lay.feasible import close_pairs
from cutfiles.lay.lay import Lay, caps_of
from cutfiles.pieces.cut_list import cut_list

CLOTH = Cloth("kelp", 1117.6, 12.7, None, False, 1, 0.0, 0.0, "cotton")
LASER = Machine("laser", 0.2, None, None)


def job_of(
    cloth: Cloth, machine: Machine, *lines: tuple[str, int], edge: EdgeFinish = "hem"
) -> Job:
    caps = tuple(CapLine("tie-back", size_named(s), n, edge, cloth.name) for s, n in lines)
    return Job("job.toml", "t", "mm", (cloth,), caps, machine)


def arranged(job: Job, effort: Effort | None = None) -> tuple[Lay, ...]:
    cuts = cut_list(job, job.cloths[0])
    return arrange(cuts, job.machine, effort or Effort(0.1, 1), unit="mm", source=job.source)


def assert_sound(lay: Lay) -> None:
    outlines = [placed.placed_outline for placed in lay.placed]
    assert close_pairs(outlines, lay.gap_mm - 0.01) == []
    for outline in outlines:
        x0, y0, x1, y1 = outline.bounds
        assert min(x0, y0) >= lay.margin_mm - 0.011
        assert x1 <= lay.length_mm - lay.margin_mm + 0.011
        assert y1 <= lay.width_mm - lay.margin_mm + 0.011


def test_every_ordered_piece_is_placed_once() -> None:
    job = job_of(CLOTH, LASER, ("S", 1), ("M", 2))
    (lay,) = arranged(job)
    wanted = sorted(p.id for cap in cut_list(job, CLOTH).caps for p in cap.pieces)
    assert sorted(p.ordered.id for p in lay.placed) == wanted
    assert len(set(wanted)) == 12
    assert caps_of([lay]) == 3
    assert_sound(lay)


def test_the_gap_is_the_kerf_and_a_clearance() -> None:
    (lay,) = arranged(job_of(CLOTH, replace(LASER, kerf_mm=0.5), ("M", 1)))
    assert lay.gap_mm == pytest.approx(1.5)
    assert lay.margin_mm >= 0.25


def test_one_way_cloth_turns_nothing() -> None:
    (lay,) = arranged(job_of(replace(CLOTH, one_way=True), LASER, ("M", 2)))
    assert {placed.grain_deg for placed in lay.placed} == {0.0}
    (both,) = arranged(job_of(CLOTH, LASER, ("M", 3)))
    assert {placed.grain_deg for placed in both.placed} <= {0.0, 180.0}


def test_a_limited_bed_gives_several_lays_that_all_fit_it() -> None:
    machine = replace(LASER, bed_along_mm=600.0, bed_across_mm=1000.0)
    lays = arranged(job_of(CLOTH, machine, ("M", 7)), Effort(0.5, 1))
    assert len(lays) >= 2
    assert caps_of(lays) == 7
    assert [lay.name for lay in lays] == [f"lay-{k:02d}" for k in range(1, len(lays) + 1)]
    for lay in lays:
        assert lay.length_mm <= 600.0
        assert max(p.placed_outline.bounds[3] for p in lay.placed) <= 1000.0
        assert len({p.ordered.cap_number for p in lay.placed}) * 4 == len(lay.placed)
        assert_sound(lay)


def test_limited_cloth_is_shared_by_its_plies() -> None:
    cloth = replace(CLOTH, length_mm=1200.0, plies=2)
    lays = arranged(job_of(cloth, LASER, ("M", 8)), Effort(0.5, 1))
    assert all(lay.length_mm <= 600.0 for lay in lays)
    assert caps_of(lays) == 8


def test_equal_lays_are_nested_once_and_repeated() -> None:
    machine = replace(LASER, bed_along_mm=400.0)
    news: list[Progress] = []
    lays = arranged(job_of(CLOTH, machine, ("M", 40)), Effort(1.0, 1, report=news.append))
    assert caps_of(lays) == 40
    first = [(p.motion, p.ordered.name) for p in lays[0].placed]
    assert [(p.motion, p.ordered.name) for p in lays[1].placed] == first
    assert len({p.ordered.id for lay in lays for p in lay.placed}) == 160
    assert news
    assert all(0.0 < item.efficiency <= 1.0 for item in news)


def test_plies_that_do_not_divide_the_order_say_so() -> None:
    cuts = cut_list(job_of(replace(CLOTH, plies=5), LASER, ("M", 12)), replace(CLOTH, plies=5))
    assert len(cuts.caps) == 3
    (finding,) = cuts.findings
    assert (finding.code, finding.severity) == ("over-cut", "warning")
    assert "15 are cut, 3 more than ordered" in finding.text


def test_bindings_longer_than_the_bed_are_joined() -> None:
    job = job_of(CLOTH, replace(LASER, bed_along_mm=700.0), ("M", 2), edge="binding")
    cuts = cut_list(job, CLOTH)
    assert [finding.code for finding in cuts.findings] == ["joined-binding"]
    lays = arrange(cuts, job.machine, Effort(0.1, 1), unit="mm", source="job.toml")
    strips = [p for lay in lays for p in lay.placed if p.ordered.name == "binding"]
    assert len(strips) == 4
    assert all(lay.length_mm <= 700.0 for lay in lays)


@pytest.mark.parametrize("flaws", [(), (Flaw((600.0, 500.0), (5.0, 5.0)),)])
def test_too_short_a_try_is_no_reason_to_refuse(
    flaws: tuple[Flaw, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("cutfiles.lay.tries._SHORTEST_TRY_S", 0.0)
    job = job_of(replace(CLOTH, flaws=flaws), replace(LASER, bed_along_mm=440.0), ("M", 1))
    job = replace(job, caps=(replace(job.caps[0], edge="binding", binding_grain="bias"),))
    # a longer nest finds 423 mm; what is there before any search is longer than the bed
    (lay,) = arranged(job, Effort(0.0, 1))
    assert lay.length_mm <= 440.0


@pytest.mark.usefixtures("short_last_try")
@pytest.mark.parametrize(
    ("cloth", "machine", "code", "words"),
    [
        (
            replace(CLOTH, width_mm=500.0),
            LASER,
            "too-wide",
            "mm wide on its grain and cloth 'kelp' leaves 475 mm",
        ),
        (CLOTH, replace(LASER, bed_across_mm=300.0), "too-wide", "the machine's bed leaves 300"),
        (CLOTH, replace(LASER, bed_along_mm=200.0), "too-long", "the machine's bed leaves 200"),
        (replace(CLOTH, length_mm=250.0), LASER, "too-long", "the tie is 305 mm long"),
        (
            replace(CLOTH, width_mm=600.0, length_mm=310.0),
            LASER,
            "too-short",
            "the pieces of one cap, which stay in one lay",
        ),
    ],
)
def test_what_cannot_lie_on_the_cloth_is_refused(
    cloth: Cloth, machine: Machine, code: str, words: str
) -> None:
    with pytest.raises(JobError) as caught:
        arranged(job_of(cloth, machine, ("M", 2)))
    assert {finding.code for finding in caught.value.findings} == {code}
    assert words in str(caught.value)


def test_an_order_that_takes_a_lay_of_a_kilometre_is_refused() -> None:
    # derived: the crown, band and two ties of a cap have some 0.13 m2, and the cloth is 1.09 m wide
    with pytest.raises(JobError, match=r"takes a lay of 1\d{6} mm or more.*order less at once"):
        arranged(job_of(CLOTH, LASER, ("M", 10_000)))
