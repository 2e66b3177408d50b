"""What a machine makes of a whole cloth: what is said before nesting, and plans of whole lays."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
import shapely
from shapely.geometry import LineString, Polygon

from cutfiles.cuts.motion_time import marking_time_s
from cutfiles.cuts.plan import Stroke
from cutfiles.cuts.plan_cuts import cut_plan, tool_findings
from cutfiles.effort import Effort
from cutfiles.geometry.bulges import flattened
from cutfiles.job.job import CapLine, Cloth, Job
from cutfiles.job.machine import DEFAULT_FITTINGS, Machine, MachineKind, Pace, Setting
from cutfiles.job.sizes import size_named
from cutfiles.lay.arrange import arrange
from cutfiles.lay.lay import Lay
from cutfiles.lay.table import spacing_for
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.ordered import CutList

CLOTH = Cloth("kelp", 1117.6, 12.7, None, False, 1, 3.0, 2.0, "cotton")
KINDS: tuple[MachineKind, ...] = ("laser", "drag knife", "rotary blade")


def usual(kind: MachineKind, **other: Any) -> Machine:
    fittings = replace(DEFAULT_FITTINGS[kind], **other)
    return Machine(kind, 0.2 if kind == "laser" else 0.0, None, None, fittings)


def cuts_of(machine: Machine, plies: int = 1) -> CutList:
    caps = (CapLine("tie-back", size_named("M"), 2 * plies, "hem", "kelp"),)
    cloth = replace(CLOTH, plies=plies)
    return cut_list(Job("job.toml", "t", "mm", (cloth,), caps, machine), cloth)


def lay_of(machine: Machine, plies: int = 1) -> Lay:
    cuts = cuts_of(machine, plies)
    spacing = spacing_for(cuts.cloth, machine)
    (lay,) = arrange(cuts, machine, Effort(0.0, 1), unit="mm", source="job.toml", spacing=spacing)
    return lay


def said(machine: Machine, plies: int = 1) -> dict[str, str]:
    findings = tool_findings(cuts_of(machine, plies), machine, source="job.toml")
    return {finding.code: finding.text for finding in findings}


def test_the_setting_for_the_plies_is_shown() -> None:
    settings = (Setting(1, "30 W"), Setting(4, "60 W"))
    assert said(usual("laser", settings=settings))["settings"].endswith("kelp, 1 ply: 30 W")
    assert said(usual("laser", settings=settings), 3)["settings"].endswith("kelp, 3 plies: 60 W")
    missing = said(usual("laser", settings=settings), 6)["settings"]
    assert "none is given for 6 plies of kelp, only up to 4" in missing
    assert "settings" not in said(usual("laser"))


def test_what_a_machine_does_not_do_is_said() -> None:
    assert "drawn (pen) and snipped by hand" in said(usual("rotary blade"))["no-notches"]
    bare = said(usual("rotary blade", marks="none"))
    assert "snip them by hand where the files show them" in bare["no-notches"]
    assert "mark the pieces by hand" in bare["no-marks"]
    assert said(usual("laser")) == {}
    # derived: c(3.5) - c(0.5) = sqrt(28 x 3.5 - 12.25) - 3.708 = 5.552 in ten plies of 0.3 mm
    assert "lie 5.6 mm apart" in said(usual("rotary blade"), 10)["blade-gap"]


def test_drawing_takes_its_time_at_its_own_pace() -> None:
    line = Stroke("stitch", "p", ((30.0, 40.0), (330.0, 40.0)), closed=False)
    # derived: hop 50 mm at 1000 mm/s2: 2 sqrt(50 / 1000); 300 mm at 200 mm/s: 1.5 + 0.2
    time_s = marking_time_s([line], [], Pace(9.0, 500.0, 1000.0, 9.0, mark_mm_s=200.0))
    assert time_s == pytest.approx(0.4472 + 1.7, abs=1e-4)


@pytest.mark.parametrize("kind", KINDS)
def test_marks_count_only_where_they_are_drawn(kind: MachineKind) -> None:
    lay = lay_of(usual(kind))
    with_marks = cut_plan(lay, usual(kind), seed=1)
    without = cut_plan(lay, usual(kind, marks="none"), seed=1)
    assert with_marks.passes == without.passes
    assert with_marks.time_s > without.time_s


@pytest.mark.parametrize(("kind", "plies"), [("laser", 1), ("drag knife", 1), ("rotary blade", 8)])
def test_no_tool_cuts_into_another_piece(kind: MachineKind, plies: int) -> None:
    machine = usual(kind)
    lay = lay_of(machine, plies)
    plan = cut_plan(lay, machine, seed=1)
    assert not [finding for finding in plan.findings if finding.severity != "note"]
    pieces = {placed.ordered.id: placed.placed_outline for placed in lay.placed}
    assert {one.piece_id for one in plan.passes} == set(pieces)
    for one in plan.passes:
        line = flattened(one.points, one.bulges, closed=False, tolerance_mm=0.01)
        # the pivot of a blade goes ahead of its edge, by half a millimetre
        ahead = 0.5 if kind == "drag knife" else 0.0
        for name, outline in pieces.items():
            if name != one.piece_id:
                assert LineString(line).distance(outline) >= 0.1 - ahead


@pytest.mark.parametrize("kind", KINDS)
def test_notches_lie_within_half_of_their_allowance(kind: MachineKind) -> None:
    # common practice, no source: what is left of the allowance holds the seam
    for cap in cuts_of(usual(kind)).caps:
        for ordered in cap.pieces:
            for notch in ordered.piece.notches:
                allowance = ordered.piece.edge(notch.edge).allowance_mm
                assert 0.0 < notch.depth_mm <= allowance / 2.0


def test_a_round_blade_makes_no_notches_but_shows_them() -> None:
    lay = lay_of(usual("rotary blade"))
    plan = cut_plan(lay, usual("rotary blade"), seed=1)
    assert {one.role for one in plan.passes} == {"outline"}
    shown = [stroke for stroke in plan.strokes if stroke.role == "notch"]
    assert len(shown) == sum(len(placed.ordered.piece.notches) for placed in lay.placed)
    own_tool = usual("rotary blade", notch=DEFAULT_FITTINGS["laser"].notch)
    with_tool = cut_plan(lay, own_tool, seed=1)
    assert [one.role for one in with_tool.passes].count("notch") == len(shown)
    assert with_tool.cut_length_mm > plan.cut_length_mm


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_lay_gives_the_same_passes(kind: MachineKind) -> None:
    lay = lay_of(usual(kind))
    assert cut_plan(lay, usual(kind), seed=1) == cut_plan(lay, usual(kind), seed=1)


def test_what_is_cut_covers_every_outline() -> None:
    lay = lay_of(usual("laser"))
    plan = cut_plan(lay, usual("laser"), seed=1)
    for placed in lay.placed:
        lines = [
            LineString(flattened(one.points, one.bulges, closed=False, tolerance_mm=0.01))
            for one in plan.passes
            if (one.piece_id, one.role) == (placed.ordered.id, "outline")
        ]
        burnt = shapely.union_all(lines).buffer(0.1)
        # half a kerf inside of the burnt line lies the edge of the piece, to two flattenings
        edge = Polygon(placed.placed_outline).exterior
        assert burnt.buffer(0.05).covers(edge)
