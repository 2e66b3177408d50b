"""Pleats at the crown's back, folded, notched, drawn, sewn or refused."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
import shapely

from cutfiles.geometry.polygons import polygon_of
from cutfiles.job.job import CapLine
from cutfiles.job.measures import MEASURES, read_measures
from cutfiles.job.sizes import SIZES, Size, size_named
from cutfiles.pieces.cut_list import draft_line
from cutfiles.pieces.making_up import steps
from cutfiles.pieces.piece import Draft, Pleat
from cutfiles.pieces.pleats import pleats_in
from cutfiles.pieces.tie_back import draft_tie_back, tie_back_for, tie_back_with
from cutfiles.pieces.walk import check_draft

BOX, KNIFE = 1, 2


def pleated(count: int, size: Size | None = None, **measures: float) -> Draft:
    size = size or size_named("M")
    changed = {"pleat_depth_mm": 10.0, "pleats": float(count), **measures}
    return draft_tie_back(size, "hem", tie_back_with(size.girth_mm, changed))


def folded(pleats: tuple[Pleat, ...], length_mm: float) -> dict[float, float]:
    """Where places of a flat edge lie once it is folded.

    Like a paper strip: the edge turns back at every visible fold and at the hidden fold, halfway
    between the visible one and the line that it is laid on.
    """
    turns = {at for p in pleats for at in (p.fold_mm, (p.fold_mm + p.meet_mm) / 2.0)}
    stops = sorted({0.0, length_mm, *turns, *(p.meet_mm for p in pleats)})
    places, way = {0.0: 0.0}, 1.0
    for before, after in pairwise(stops):
        places[after] = places[before] + way * (after - before)
        if after in turns:
            way = -way
    return places


@pytest.mark.parametrize("count", [BOX, KNIFE])
def test_a_folded_strip_shows_where_the_pleats_come_to_lie(count: int) -> None:
    # derived, by folding; 40 mm are taken up by pleats 10 mm deep, one box or two knife pleats
    pleats = pleats_in("crown", "back edge", count, 10.0, 150.0)
    places = folded(pleats, 190.0)
    assert places[190.0] == pytest.approx(150.0)
    assert sum(pleat.take_up_mm for pleat in pleats) == pytest.approx(40.0)
    for pleat in pleats:
        assert places[pleat.fold_mm] == pytest.approx(places[pleat.meet_mm])
        hidden = places[(pleat.fold_mm + pleat.meet_mm) / 2.0]
        assert abs(hidden - places[pleat.fold_mm]) == pytest.approx(10.0)
        # nothing lies beyond the corners, where the seam's allowance is
        assert 6.35 <= hidden <= 150.0 - 6.35
        # a box pleat's hidden folds meet behind its middle, knife pleats' lie away from it
        assert abs(hidden - 75.0) == pytest.approx(0.0 if count == BOX else 75.0 / 2 + 10.0)
    left, right = (places[pleat.fold_mm] for pleat in pleats)
    assert left + right == pytest.approx(150.0)


@pytest.mark.parametrize("count", [BOX, KNIFE])
@pytest.mark.parametrize("size", SIZES, ids=lambda size: size.name)
def test_a_pleated_cap_is_sound_and_fits_as_a_gathered_one(size: Size, count: int) -> None:
    draft, plain = pleated(count, size), draft_tie_back(size, "hem")
    assert check_draft(draft) == ()
    assert draft.fit == plain.fit
    crown = draft.piece("crown")
    back = crown.edge("back edge").stitch
    assert back.length() == pytest.approx(tie_back_for(size.girth_mm).crown_back_mm + 40.0)
    # the band does not know of pleats
    assert draft.piece("band") == plain.piece("band")
    for segment in crown.edge("crown seam").stitch.segments:
        assert min(segment.curvature(t / 20) for t in range(21)) > 0.0


@pytest.mark.parametrize("count", [BOX, KNIFE])
def test_folds_and_meeting_lines_are_notched_and_drawn(count: int) -> None:
    draft = pleated(count)
    crown = draft.piece("crown")
    cut = polygon_of(crown.cut)
    length = crown.edge("back edge").stitch.length()
    notches = crown.notches_on("back edge")
    wanted = sorted(at for pleat in draft.pleats for at in (pleat.fold_mm, pleat.meet_mm))
    assert [notch.fraction * length for notch in notches] == pytest.approx(wanted)
    for notch in notches:
        assert cut.exterior.distance(shapely.Point(notch.at.x, notch.at.y)) < 0.02
        # its line is drawn on from the notch, across the casing
        line = next(m for m in crown.marks if abs(m.start.y - notch.at.y) < 1e-6)
        assert line.end.y == pytest.approx(notch.at.y)
        assert notch.at.x + notch.depth_mm < line.start.x < 0.0 < line.end.x
    assert len(crown.marks) == 6
    for mark in crown.marks:
        assert cut.contains(shapely.LineString(mark.flattened(0.01)))
    # the arrows run from the folds to where they are laid
    for pleat, arrow in zip(draft.pleats, crown.marks[2::3], strict=True):
        assert arrow.segments[0].start.y == pytest.approx(length / 2 - pleat.fold_mm)
        assert arrow.segments[0].end.y == pytest.approx(length / 2 - pleat.meet_mm)


def test_pleats_instead_of_gathers_leave_the_outline_as_it_is() -> None:
    # derived: what the pleats take up is what the elastic need not gather any more
    plain = draft_tie_back(size_named("M"), "hem")
    back = tie_back_for(565.0).crown_back_mm - 40.0
    draft = pleated(BOX, crown_back_mm=back)
    cut = polygon_of(draft.piece("crown").cut)
    assert cut.symmetric_difference(polygon_of(plain.piece("crown").cut)).area < 1e-3
    assert draft.fit.gathered_flat_mm == pytest.approx(plain.fit.gathered_flat_mm - 40.0)


@pytest.mark.parametrize(
    ("changed", "width", "back"),
    [
        ({}, 176.28, 161.025),
        ({"crown_back_mm": 200.0}, 215.255, 200.0),
        ({"crown_back_mm": 120.0}, 176.28, 120.0),
        ({"crown_width_mm": 150.0}, 150.0, 134.745),
        ({"crown_width_mm": 220.0}, 220.0, 161.025),
        ({"crown_width_mm": 190.0, "pleat_depth_mm": 10.0}, 190.0, 138.745),
        ({"crown_width_mm": 130.0, "pleat_depth_mm": 20.0}, 130.0, 100.0),
        ({"crown_width_mm": 150.0, "crown_back_mm": 140.0}, 150.0, 140.0),
    ],
)
def test_width_and_back_follow_each_other(
    changed: dict[str, float], width: float, back: float
) -> None:
    # by hand: size M has 0.312 and 0.285 of 565 mm, 15.255 mm apart, less a tenth of 40 mm
    cap = tie_back_with(565.0, changed)
    assert (cap.crown_width_mm, cap.crown_back_mm) == pytest.approx((width, back))
    assert cap.crown_back_mm >= MEASURES["tie-back"]["crown_back"].low


def test_without_pleats_the_back_is_gathered() -> None:
    draft = draft_tie_back(size_named("M"), "hem")
    assert draft.pleats == ()
    assert draft.piece("crown").notches_on("back edge") == ()
    assert not any("pleat" in step for step in steps(draft, "tie-back", "hem"))


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (BOX, "One box pleat: right side up, fold the crown's back edge at its two inner notches, "
              "10 mm (0.4) from the centre back, and lay each fold on the notch 20 mm (0.8) "
              "further from the centre back; both folds point away from each other."),
        (KNIFE, "Two knife pleats: right side up, fold the crown's back edge at its two outer "
                "notches, 60 mm (2.4) from the centre back, and lay each fold on the notch "
                "20 mm (0.8) nearer to the centre back; both folds point to the centre back."),
    ],
)  # fmt: skip
def test_the_pleats_are_folded_before_the_casing_is_turned(count: int, words: str) -> None:
    draft = pleated(count, crown_back_mm=160.0)
    said = steps(draft, "tie-back", "hem")
    (step,) = [number for number, text in enumerate(said) if words in text]
    assert "200 mm (7.9) become 160 mm (6.3)" in said[step]
    casing = next(number for number, text in enumerate(said) if "for the casing" in text)
    assert step < casing
    assert f"{draft.fit.gathered_flat_mm:.0f} mm" in said[casing]
    seam = next(text for text in said if text.startswith("Crown to band"))
    # clips are the band's: the lines of the pleats are none
    assert "Clip the allowance" in seam
    unclipped = replace(draft.piece("band"), edges=draft.piece("crown").edges, marks=())
    flat = replace(
        draft, parts=(draft.parts[0], replace(draft.parts[1], piece=unclipped)), seams=draft.seams
    )
    assert not any("Clip" in text for text in steps(flat, "tie-back", "hem"))


@pytest.mark.parametrize(
    ("measures", "words"),
    [
        ({"pleat_depth": 3},
         "pleat_depth: 3 mm is too shallow to fold: give at least 5 mm, or 0 mm"),
        ({"pleat_depth": 20, "pleats": 2, "crown_back": 100},
         "give pleat_depth at most 18.6 mm, crown_back at least 105.4 mm, or pleats = 1"),
        ({"pleat_depth": 10, "crown_width": "190 mm", "crown_back": 160},
         "pleat_depth: the crown's back edge, 160 mm and 40 mm that its pleats take up, is wider "
         "than its widest place, 190 mm, less 1 mm: give pleat_depth at most 7.2 mm, or "
         "crown_width at least 201 mm, or crown_back at most 149 mm"),
        ({"pleat_depth": 10, "crown_width": 170, "crown_back": 160},
         "give pleat_depth 0 mm for no pleats, or crown_width at least 201 mm, or "
         "crown_back at most 129 mm"),
        ({"crown_back": 200, "crown_width": 180}, "crown_back: the crown's back edge, 200 mm, is "
         "wider than its widest place, 180 mm, less 1 mm: give crown_width at least 201 mm, or "
         "crown_back at most 179 mm"),
    ],
)  # fmt: skip
def test_pleats_that_cannot_be_are_refused_with_a_mend(
    measures: dict[str, object], words: str
) -> None:
    values, faults = read_measures("tie-back", measures, default_unit="mm")
    assert faults == []
    line = CapLine("tie-back", size_named("M"), 1, "hem", "any", measures=tuple(values.items()))
    with pytest.raises(ValueError, match="tie-back M: cannot be drafted") as caught:
        draft_line(line)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("measures", "words"),
    [
        ({"pleats": 2}, "measures.pleats: 2 goes with pleat_depth only: give pleat_depth"),
        ({"pleats": 1, "pleat_depth": 0}, "goes with pleat_depth only"),
        ({"pleats": 1.5, "pleat_depth": 8}, "measures.pleats: 1.5 is not a whole number"),
        ({"pleats": 3, "pleat_depth": 8}, "must be 1 to 2 in number: it is 1 box pleat, or 2"),
        ({"pleats": "2", "pleat_depth": 8}, "is not a number"),
    ],
)
def test_what_is_wrong_with_the_measures_of_pleats(measures: dict[str, object], words: str) -> None:
    _, faults = read_measures("tie-back", measures, default_unit="mm")
    assert len(faults) == 1
    assert words in faults[0]


def test_a_hair_pocket_takes_no_pleats() -> None:
    _, faults = read_measures("long-hair", {"pleat_depth": 10}, default_unit="mm")
    assert "is no measure of the long-hair cap" in faults[0]
