"""Usable width, shrinkage, and the turns that grain, nap and tilt allow."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cutfiles.geometry.polygons import polygon_of
from cutfiles.job.cloth import Grain, GrainRule
from cutfiles.job.job import Cloth
from cutfiles.job.sizes import size_named
from cutfiles.pieces.growth import Growth, grown_piece, growth_factor
from cutfiles.pieces.strips import strip
from cutfiles.pieces.tie_back import draft_tie_back


def cloth(width: float, selvedge: float, *, one_way: bool = False) -> Cloth:
    return Cloth("any", width, selvedge, None, one_way, 1, 0.0, 0.0, "cotton")


def test_usable_width() -> None:
    # derived on I. Vilumsone-Nemes, p. 19: width 1120 mm, selvedges 10 mm each and 15 mm
    # more to lay the pieces out safely, 7.5 mm an edge -> 1085 mm, 3.1 % less
    usable = cloth(1120.0, 10.0 + 7.5).usable_width_mm
    assert usable == 1085.0
    assert (1120.0 - usable) / 1120.0 * 100 == pytest.approx(3.1, abs=0.05)


def test_pieces_grow_by_the_shrinkage_of_a_washed_swatch() -> None:
    # derived with the sign of AATCC TM135: A = 250, B = 242 -> -3.2 %; 600 -> 619.83 mm
    change_percent = 100.0 * (242.0 - 250.0) / 250.0
    assert change_percent == pytest.approx(-3.2)
    assert 600.0 * growth_factor(-change_percent) == pytest.approx(619.83, abs=0.01)


def test_pieces_grow_along_and_across_separately() -> None:
    grown = grown_piece(
        strip("tie", 300.0, 38.0), along=growth_factor(3.0), across=growth_factor(2.0)
    )
    x0, y0, x1, y1 = polygon_of(grown.cut).bounds
    assert (x1 - x0) * 0.97 == pytest.approx(300.0, abs=1e-9)
    assert (y1 - y0) * 0.98 == pytest.approx(38.0, abs=1e-9)


def test_a_grown_cap_shrinks_back_to_its_draft() -> None:
    crown = draft_tie_back(size_named("M"), "hem").piece("crown")
    grown = grown_piece(crown, along=growth_factor(4.0), across=growth_factor(2.5))
    back = grown_piece(grown, along=0.96, across=0.975)
    drafted = polygon_of(crown.cut)
    assert polygon_of(back.cut).hausdorff_distance(drafted) < 0.02
    assert polygon_of(grown.cut).area == pytest.approx(drafted.area / 0.96 / 0.975, rel=1e-4)
    assert [n.depth_mm for n in grown.notches] == [n.depth_mm for n in crown.notches]


def test_no_shrinkage_changes_nothing() -> None:
    piece = strip("tie", 300.0)
    assert grown_piece(piece, along=growth_factor(0.0), across=growth_factor(0.0)) is piece


@pytest.mark.parametrize(
    ("grain", "turns", "one_way"),
    [
        ("along", (0.0, 180.0), (0.0,)),
        ("across", (90.0, 270.0), (90.0,)),
        ("either", (0.0, 90.0, 180.0, 270.0), (0.0, 90.0)),
        ("bias", (45.0, 135.0, 225.0, 315.0), (45.0, 135.0)),
    ],
)
def test_turns_follow_the_grain_and_the_nap(
    grain: Grain, turns: tuple[float, ...], one_way: tuple[float, ...]
) -> None:
    # plain cloth allows half turns, nap or one-way print none (trade.md 3, common practice)
    assert GrainRule(grain).turns_deg(one_way=False) == turns
    assert GrainRule(grain).turns_deg(one_way=True) == one_way


def test_a_tilt_counts_both_ways() -> None:
    rule = GrainRule("across", 1.5)
    assert sorted(rule.turns_deg(one_way=True)) == [88.5, 90.0, 91.5]
    assert sorted(GrainRule(tilt_deg=2.0).turns_deg(one_way=False)) == [0, 2, 178, 180, 182, 358]


def test_a_piece_that_lies_across_grows_by_the_other_shrinkage() -> None:
    # derived: along its own grain it shrinks as the cloth does across
    uneven = replace(cloth(1000, 0), shrinkage_along_percent=4.0, shrinkage_across_percent=2.0)
    piece = strip("tie", 300.0, 38.0)
    x0, y0, x1, y1 = polygon_of(Growth.on(uneven, GrainRule("across")).piece(piece).cut).bounds
    assert (x1 - x0) * 0.98 == pytest.approx(300.0, abs=1e-9)
    assert (y1 - y0) * 0.96 == pytest.approx(38.0, abs=1e-9)
    # and where either may be, it comes out too small in no case
    x0, y0, x1, y1 = polygon_of(Growth.on(uneven, GrainRule("either")).piece(piece).cut).bounds
    assert (x1 - x0) * 0.96 == pytest.approx(300.0, abs=1e-9)
    assert (y1 - y0) * 0.96 == pytest.approx(38.0, abs=1e-9)
