"""The tie-back cap: its seams, corners, notches, fit and what is cut beside it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from cutfiles.geometry.polygons import polygon_of
from cutfiles.geometry.segments import Arc, Cubic
from cutfiles.geometry.vector import Point, Vector
from cutfiles.job.job import EdgeFinish
from cutfiles.job.sizes import SIZES, Size, size_named
from cutfiles.pieces.piece import Draft, Fit
from cutfiles.pieces.strips import binding_length_mm, finished_width_mm, joined_strips
from cutfiles.pieces.tie_back import draft_tie_back, tie_back_for
from cutfiles.pieces.walk import check_draft, corner_angle_deg, sewn_angle_deg, walk_seam

INCH = 25.4
EDGES: tuple[EdgeFinish, ...] = ("hem", "binding")
ALL = [(size, edge) for size in SIZES for edge in EDGES]
IDS = [f"{size.name}-{edge}" for size, edge in ALL]


@pytest.fixture(params=ALL, ids=IDS)
def draft(request: pytest.FixtureRequest) -> Draft:
    size, edge = request.param
    return draft_tie_back(size, edge)


def test_every_size_and_edge_is_sound(draft: Draft) -> None:
    assert check_draft(draft) == ()


def test_the_two_stitch_lines_are_equal_between_all_notches(draft: Draft) -> None:
    walked = walk_seam(draft, draft.seams[0])
    assert len(walked.spans) == 6
    assert max(abs(span.error_mm) for span in walked.spans) < 0.1
    # measured again on polylines, by shapely
    crown = shapely.LineString(draft.piece("crown").edge("crown seam").stitch.flattened(1e-3))
    band = shapely.LineString(draft.piece("band").edge("crown seam").stitch.flattened(1e-3))
    assert crown.length == pytest.approx(band.length, abs=0.1)


def test_the_sewn_back_edge_is_straight(draft: Draft) -> None:
    assert [sewn_angle_deg(draft, corner) for corner in draft.corners] == pytest.approx(
        [180.0, 180.0], abs=1.0
    )
    # laid against each other as sewn, the band's end and the crown's back edge are one line
    crown, band = draft.piece("crown"), draft.piece("band")
    seam = crown.edge("crown seam").stitch
    top = band.edge("crown seam").stitch
    turn = seam.end_tangent.angle_deg - (-top.start_tangent).angle_deg
    end = band.edge("left end").stitch
    away = Vector.at_angle((-end.start_tangent).angle_deg + turn + 180.0)
    back = crown.edge("back edge").stitch.start_tangent
    assert abs(away.cross(back)) < math.sin(math.radians(1.0))


def test_curves_are_true_curves(draft: Draft) -> None:
    for name in ("crown", "band"):
        segments = draft.piece(name).edge("crown seam").stitch.segments
        assert all(isinstance(segment, Cubic | Arc) for segment in segments)
        assert len(draft.piece(name).cut.segments) < 60


def test_the_band_is_highest_at_the_centre_front(draft: Draft) -> None:
    top = draft.piece("band").edge("crown seam").stitch
    middle = top.point_at(top.length() / 2)
    heights = [x for x, _ in top.flattened(0.01).tolist()]
    assert middle.x == pytest.approx(max(heights), abs=1e-6)
    assert abs(middle.y) < 1e-6


def test_the_crown_bulges_everywhere(draft: Draft) -> None:
    for segment in draft.piece("crown").edge("crown seam").stitch.segments:
        assert min(segment.curvature(t / 20) for t in range(21)) > 0.0


def test_every_edge_has_its_own_allowance(draft: Draft) -> None:
    crown, band = draft.piece("crown"), draft.piece("band")
    lower = band.edge("lower edge")
    assert crown.edge("crown seam").allowance_mm == pytest.approx(INCH / 4)
    # casing for 1/2 in elastic: 1/2 + 1/8 + 1/4 in = 22.2 mm (common practice, no source)
    assert crown.edge("back edge").allowance_mm == pytest.approx(22.225)
    assert band.edge("left end").allowance_mm == pytest.approx(22.225)
    # a 1/4 in rolled hem takes 1/2 in (common practice, no source); a bound edge takes none
    assert lower.allowance_mm == pytest.approx(12.7 if lower.finish == "hem" else 0.0)
    for piece in (crown, band):
        cut = polygon_of(piece.cut).exterior
        for edge in piece.edges:
            middle = edge.stitch.point_at(edge.stitch.length() / 2)
            assert cut.distance(shapely.Point(middle.x, middle.y)) == pytest.approx(
                edge.allowance_mm, abs=0.02
            )


def test_hem_and_binding_differ_in_what_else_is_cut() -> None:
    hem = {p.piece.name: p.count for p in draft_tie_back(size_named("M"), "hem").parts}
    bound = {p.piece.name: p.count for p in draft_tie_back(size_named("M"), "binding").parts}
    assert hem == {"crown": 1, "band": 1, "tie": 2}
    assert bound == {"crown": 1, "band": 1, "binding": 1}


def test_the_open_edge_goes_round_the_heads_of_its_size(draft: Draft) -> None:
    assert draft.fit.smallest_girth_mm <= draft.girth_low_mm
    assert draft.fit.largest_girth_mm >= draft.girth_high_mm
    # nobody's cap hangs loose: at rest it is at most a step of the chart below its size
    assert draft.girth_low_mm - draft.fit.smallest_girth_mm <= 22.0


def test_the_fit_of_a_worked_example() -> None:
    # derived: 600 mm open edge, 150 of it gathered on elastic finished at 100, which must
    # stretch 1.5 times: fits 550 to 600; elastic cut 100 + 2 * 12 anchored
    fit = Fit(450.0, 150.0, 100.0, 1.5, 12.0)
    assert (fit.smallest_girth_mm, fit.largest_girth_mm) == (550.0, 600.0)
    assert fit.elastic_cut_mm == 124.0


def test_single_notch_at_the_centre_front_double_ones_at_the_back_quarters(draft: Draft) -> None:
    # single for the front, double for the back: common practice, no source
    for name in ("crown", "band"):
        piece = draft.piece(name)
        notches = piece.notches_on("crown seam")
        length = piece.edge("crown seam").stitch.length()
        along = [notch.fraction * length for notch in notches]
        quarter = length / 4
        assert along == pytest.approx(
            [quarter - 3, quarter + 3, 2 * quarter, 3 * quarter - 3, 3 * quarter + 3], abs=0.01
        )
        # left and right are mirror images
        ys = [notch.at.y for notch in notches]
        assert ys == pytest.approx([-y for y in reversed(ys)], abs=1e-6)
        cut = polygon_of(piece.cut)
        for notch in notches:
            # at most half the allowance (common practice, no source), 2-3 mm (teaching notes)
            assert notch.depth_mm <= piece.edge("crown seam").allowance_mm / 2
            assert 2.0 <= notch.depth_mm <= 3.0
            assert cut.exterior.distance(shapely.Point(notch.at.x, notch.at.y)) < 0.02
            tip = notch.at + notch.inward * notch.depth_mm
            assert cut.contains(shapely.Point(tip.x, tip.y))


def test_grain_line_and_label_lie_inside_every_piece(draft: Draft) -> None:
    for part in draft.parts:
        cut = polygon_of(part.piece.cut)
        grain = part.piece.grain
        assert grain.start.y == grain.end.y
        assert grain.end.x > grain.start.x
        assert cut.contains(shapely.LineString([(p.x, p.y) for p in (grain.start, grain.end)]))
        spot = part.piece.label
        half = Vector.at_angle(spot.angle_deg) * (spot.room_mm / 2)
        ends = [spot.centre + half, spot.centre + -half]
        assert cut.contains(shapely.LineString([(p.x, p.y) for p in ends]))
        assert grain.start.distance(Point(spot.centre.x, spot.centre.y)) > spot.height_mm


@pytest.mark.parametrize(
    ("name", "along_in", "across_in"), [("band", 6.5, 23.0), ("crown", 10.0, 8.0)]
)
def test_size_m_is_near_the_usual_blocks(name: str, along_in: float, across_in: float) -> None:
    # blocks of 6 1/2 x 23 in and 8 x 10 in: common practice, no source; within 10 %
    cut = polygon_of(draft_tie_back(size_named("M"), "hem").piece(name).cut)
    x0, y0, x1, y1 = cut.bounds
    assert (x1 - x0) / INCH == pytest.approx(along_in, rel=0.10)
    assert (y1 - y0) / INCH == pytest.approx(across_in, rel=0.10)


def test_the_binding_is_about_46_inches() -> None:
    # common practice, no source: about 46 in; taken as within 10 %
    binding = draft_tie_back(size_named("M"), "binding").piece("binding")
    x0, y0, x1, y1 = polygon_of(binding.cut).bounds
    assert (x1 - x0) / INCH == pytest.approx(46.0, rel=0.10)
    assert (y1 - y0) / INCH == pytest.approx(1.5)
    assert binding_length_mm(445.0) == pytest.approx(445.0 + 2 * (304.8 + 12.7))


def test_a_strip_folded_in_four() -> None:
    # derived: 12 mm finished needs 48 mm cut; 38 mm cut gives 9.5 mm
    assert finished_width_mm(48.0) == 12.0
    assert finished_width_mm(38.0) == 9.5


def test_a_binding_is_joined_where_it_must_be() -> None:
    # derived: square ends crossed at right angles and sewn on the diagonal lose one strip width
    assert joined_strips(1080.0, 1080.0) == (1, 1080.0)
    count, each = joined_strips(1080.0, 700.0)
    assert count == 2
    assert each == pytest.approx((1080.0 + 38.1) / 2)
    assert count * each - (count - 1) * 38.1 == pytest.approx(1080.0)
    with pytest.raises(ValueError, match="cannot be joined"):
        joined_strips(1080.0, 120.0)


@pytest.mark.parametrize("percent", [1.5, 4.0])
def test_stated_ease_is_solved_for(percent: float) -> None:
    size = size_named("M")
    eased = draft_tie_back(size, "hem", replace(tie_back_for(565.0), ease_percent=percent))
    assert check_draft(eased) == ()
    crown = eased.piece("crown").edge("crown seam").stitch.length()
    band = eased.piece("band").edge("crown seam").stitch.length()
    assert (crown - band) / band * 100 == pytest.approx(percent, abs=0.02)


def test_measures_that_cannot_be_sewn_are_refused() -> None:
    wide = replace(tie_back_for(565.0), crown_width_mm=700.0)
    with pytest.raises(ValueError, match="no crown of width 700 mm"):
        draft_tie_back(size_named("M"), "hem", wide)


def test_a_corner_out_of_true_is_found() -> None:
    cap = replace(tie_back_for(565.0), crown_corner_deg=104.0)
    good = draft_tie_back(size_named("M"), "hem")
    other = draft_tie_back(size_named("M"), "hem", cap)
    mixed = replace(good, parts=(other.parts[0], *good.parts[1:]))
    # derived: a crown drawn for other corners has another seam length too
    assert {f.code for f in check_draft(mixed)} == {"walk", "true"}
    crown = mixed.piece("crown")
    assert corner_angle_deg(crown, mixed.corners[0].first) == pytest.approx(104.0)


def test_a_cap_made_to_measure_fits_that_head() -> None:
    draft = draft_tie_back(Size("581 mm", 570.0, 592.0), "hem")
    assert draft.fit.smallest_girth_mm <= 581.0 <= draft.fit.largest_girth_mm
