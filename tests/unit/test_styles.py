"""Every style in every size and edge: sound, whole, and sewn as stated."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import get_args

import pytest
import shapely
from shapely.affinity import affine_transform
from shapely.geometry import Polygon

from cutfiles.geometry.polygons import polygon_of
from cutfiles.geometry.vector import Vector
from cutfiles.job.job import CapLine, EdgeFinish, Style
from cutfiles.job.sizes import SIZES, size_named
from cutfiles.pieces.bouffant import Bouffant, draft_bouffant, oval_path
from cutfiles.pieces.long_hair import draft_long_hair, long_hair_for
from cutfiles.pieces.piece import Draft, Edge, Piece
from cutfiles.pieces.styles import draft_style
from cutfiles.pieces.three_panel import draft_three_panel, three_panel_for
from cutfiles.pieces.walk import check_draft, sewn_angle_deg, walk_seam

ALL = [(style, size, edge) for style in get_args(Style) for size in SIZES
       for edge in get_args(EdgeFinish)]  # fmt: skip


@pytest.fixture(params=ALL, ids=[f"{a}-{b.name}-{c}" for a, b, c in ALL])
def draft(request: pytest.FixtureRequest) -> Draft:
    style, size, edge = request.param
    return draft_style(CapLine(style, size, 1, edge, "any"), longest_strip_mm=math.inf)


def test_every_style_size_and_edge_is_sound(draft: Draft) -> None:
    assert check_draft(draft) == ()
    for seam in draft.seams:
        assert walk_seam(draft, seam).worst_error_mm <= 0.1
    for corner in draft.corners:
        assert sewn_angle_deg(draft, corner) == pytest.approx(180.0, abs=1.0)


def test_every_piece_is_whole(draft: Draft) -> None:
    for part in draft.parts:
        cut = polygon_of(part.piece.cut)
        assert cut.exterior.is_ccw
        grain = part.piece.grain
        assert cut.contains(shapely.LineString([(p.x, p.y) for p in (grain.start, grain.end)]))
        spot = part.piece.label
        half = Vector.at_angle(spot.angle_deg) * (spot.room_mm / 2)
        ends = [spot.centre + half, spot.centre + -half]
        assert cut.contains(shapely.LineString([(p.x, p.y) for p in ends]))
        for notch in part.piece.notches:
            assert cut.exterior.distance(shapely.Point(notch.at.x, notch.at.y)) < 0.02
            assert notch.depth_mm <= part.piece.edge(notch.edge).allowance_mm / 2.0


def casings_turned_alone(draft: Draft) -> list[tuple[Piece, Edge]]:
    """The straight casings of pieces without a hem, which would be turned first, straight through
    the casings beside it."""
    return [
        (part.piece, edge)
        for part in draft.parts
        for edge in part.piece.edges
        if edge.finish == "casing" and len(edge.stitch.segments) == 1
        if all(other.finish != "hem" for other in part.piece.edges)
    ]


def hems_beside_casings(draft: Draft) -> list[tuple[Piece, Edge]]:
    return [
        (part.piece, edge)
        for part in draft.parts
        for edge in part.piece.edges
        if edge.finish == "hem" and any(e.finish == "casing" for e in part.piece.edges)
    ]


# which edges the two tests below try: derived from how each style is sewn
@pytest.mark.parametrize(
    ("style", "edge", "casings", "hems"),
    [
        ("tie-back", "hem", ["back edge"], ["lower edge"]),
        ("tie-back", "binding", ["back edge", "left end", "right end"], []),
        ("long-hair", "hem", ["lower edge"], []),
        ("long-hair", "binding", ["lower edge"], []),
        ("three-panel", "hem", [], ["front"]),
        ("three-panel", "binding", ["nape"], []),
        ("bouffant", "hem", [], []),  # its one casing runs round an oval
        ("bouffant", "binding", [], []),
    ],
)
def test_which_edges_have_straight_casings_and_hems(
    style: Style, edge: EdgeFinish, casings: list[str], hems: list[str]
) -> None:
    draft = draft_style(CapLine(style, size_named("M"), 1, edge, "any"), longest_strip_mm=math.inf)
    assert [tried.name for _, tried in casings_turned_alone(draft)] == casings
    assert [tried.name for _, tried in hems_beside_casings(draft)] == hems


def test_a_turned_casing_lies_on_the_piece(draft: Draft) -> None:
    """Fold every straight casing back: it must cover the piece to the very corners (derived)."""
    for piece, edge in casings_turned_alone(draft):
        cut = polygon_of(piece.cut)
        a, b = edge.stitch.start, edge.stitch.end
        along = (b - a).unit
        away = along.right * edge.allowance_mm
        far_a, far_b = a + along * -400.0, b + along * 400.0
        outside = Polygon([(p.x, p.y) for p in (far_a, far_a + away, far_b + away, far_b)])
        inside = Polygon([(p.x, p.y) for p in (far_a, far_a + -away, far_b + -away, far_b)])
        angle = 2.0 * math.radians(along.angle_deg)
        c, s = math.cos(angle), math.sin(angle)
        mirror = [c, s, s, -c, a.x - c * a.x - s * a.y, a.y - s * a.x + c * a.y]
        flap = affine_transform(cut.intersection(outside.buffer(1e-6)), mirror)
        covered = cut.intersection(inside)
        assert covered.area > 0.0
        assert covered.difference(flap).area < 0.01 * covered.area


def test_a_hem_runs_straight_through_the_casings_beside_it(draft: Draft) -> None:
    """The hem's cut line is one straight line from cut edge to cut edge, so that the casing's
    flap is hemmed with it and shows no raw edge (derived)."""
    for piece, edge in hems_beside_casings(draft):
        cut = polygon_of(piece.cut)
        a, b = edge.stitch.start, edge.stitch.end
        out = (b - a).unit.right * edge.allowance_mm
        line = shapely.LineString([((p + out).x, (p + out).y) for p in (a + (a - b), b + (b - a))])
        on_edge = cut.exterior.intersection(line.buffer(1e-3))
        assert on_edge.length >= edge.stitch.length() - 1e-3
        assert cut.intersection(line).length >= on_edge.length - 0.1


def test_the_seam_lines_are_equal_when_measured_by_shapely(draft: Draft) -> None:
    for seam in draft.seams:
        lengths = [
            shapely.LineString(draft.piece(at.piece).edge(at.edge).stitch.flattened(1e-3)).length
            for at in (seam.first, seam.second)
        ]
        assert lengths[0] - lengths[1] == pytest.approx(seam.ease_mm, abs=0.1)


def test_side_panels_are_mirror_images() -> None:
    draft = draft_three_panel(size_named("M"), "hem")
    left, right = (polygon_of(draft.piece(f"{side} side").cut) for side in ("left", "right"))
    mirrored = shapely.transform(left, lambda points: points * [1, -1])
    assert mirrored.symmetric_difference(right).area < 1e-6 * left.area
    # one lies on the other only when flipped: they are a pair
    assert len(draft.piece("left side").notches) == len(draft.piece("right side").notches) == 4


def test_front_and_back_cannot_be_confused() -> None:
    # single notch for the front, double for the back: common practice, no source
    draft = draft_three_panel(size_named("M"), "hem")
    strip = draft.piece("strip")
    for side in ("left seam", "right seam"):
        xs = sorted(notch.foot.x for notch in strip.notches_on(side))
        length = strip.edge("left seam").stitch.end.x
        assert xs[0] == pytest.approx(length / 4, rel=0.05)
        assert xs[3] - xs[2] == pytest.approx(6.0, abs=0.1)
        assert xs[2] > length / 2


def test_a_seam_with_ease_walks_between_its_double_notches() -> None:
    # both edges are divided by the same fractions, so ease is shared out in every span alike
    cap = replace(three_panel_for(565.0), ease_percent=4.0)
    draft = draft_three_panel(size_named("M"), "hem", cap)
    assert check_draft(draft) == ()
    for seam in draft.seams:
        assert walk_seam(draft, seam).worst_error_mm < 0.01


def test_an_oval_is_as_long_as_an_ellipse() -> None:
    # Ramanujan's second approximation of an ellipse's perimeter, from memory: relative error
    # below 1e-9 at this flatness; four cubics are off by 0.03 % at most
    a, b = 112.0, 100.0
    h = ((a - b) / (a + b)) ** 2
    perimeter = math.pi * (a + b) * (1 + 3 * h / (10 + math.sqrt(4 - 3 * h)))
    assert oval_path(a, b).length() == pytest.approx(perimeter, rel=3e-4)


def test_the_bouffant_has_the_stated_fullness() -> None:
    for edge in get_args(EdgeFinish):
        crown = draft_bouffant(size_named("L"), edge).piece("crown")
        assert crown.edge("edge").stitch.length() == pytest.approx(2.4 * 587.0, abs=1e-6)
    slack = draft_bouffant(size_named("L"), "hem", Bouffant(587.0, fullness=1.5))
    assert slack.piece("crown").edge("edge").stitch.length() == pytest.approx(1.5 * 587.0, abs=1e-6)


def test_the_hair_pocket_is_gathered_as_stated() -> None:
    draft = draft_long_hair(size_named("M"), "hem")
    hair = long_hair_for(565.0)
    band, pocket = draft.piece("band"), draft.piece("hair pocket")
    for side in ("left", "right"):
        ratio = (
            pocket.edge(f"{side} side").stitch.length() / band.edge(f"{side} end").stitch.length()
        )
        assert ratio == pytest.approx(hair.side_gather)
    assert draft.seams[1].ease_mm > 0
