"""Walking seams: what fits, what does not, and what cannot be walked."""

from __future__ import annotations

import math

import pytest

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Arc, Line
from cutfiles.geometry.vector import Point
from cutfiles.pieces.allowance import sewn_piece
from cutfiles.pieces.piece import CutPart, Draft, Edge, Fit, Piece, PieceEdge, Seam
from cutfiles.pieces.walk import check_draft, walk_seam

INCH = 25.4
ANY_FIT = Fit(500.0, 100.0, 50.0, 1.5, 12.0)


def draft_of(one: Piece, two: Piece, ease_mm: float) -> Draft:
    seam = Seam("seam", PieceEdge(one.name, "seam"), PieceEdge(two.name, "seam"), ease_mm)
    return Draft("test", 560, 570, (CutPart(one, 1), CutPart(two, 1)), (seam,), (), ANY_FIT)


def straight(name: str, length_mm: float) -> Piece:
    """
    ::

          ______________
         |              |  50
         |______________|
              "seam"
    """
    a, b = Point(0, 0), Point(length_mm, 0)
    c, d = Point(length_mm, 50), Point(0, 50)
    edges = (
        Edge("seam", Path((Line(a, b),)), 6.35, "seam"),
        Edge("side", Path.through((b, c)), 6.35, "seam"),
        Edge("top", Path.through((c, d)), 6.35, "seam"),
        Edge("other side", Path.through((d, a)), 6.35, "seam"),
    )
    return sewn_piece(name, edges, {"seam": (0.25, 0.5, 0.75)})


def test_a_band_drafted_to_the_cut_edge_of_an_oval_crown_does_not_walk() -> None:
    # derived (Steiner): a closed convex curve loses 2 pi s = 39.898 mm at s = 6.35
    stitch = Path((Arc(Point(0, 0), 90.0, 0.0, 360.0),))
    crown = sewn_piece("crown", (Edge("seam", stitch, 6.35, "seam"),), {"seam": (0.25, 0.5, 0.75)})
    too_much = crown.cut.length() - stitch.length()
    assert too_much == pytest.approx(39.898, abs=1e-3)
    wrong = draft_of(crown, straight("band", crown.cut.length()), 0.0)
    assert [f.code for f in check_draft(wrong)] == ["walk"]
    assert walk_seam(wrong, wrong.seams[0]).worst_error_mm == pytest.approx(39.898, abs=1e-3)
    right = draft_of(crown, straight("band", stitch.length()), 0.0)
    assert check_draft(right) == ()


def test_ease_is_taken_on_seam_lines() -> None:
    # fitforartpatterns.com 2024-03-05: sleeve 24 in, armhole 23 in on the seam lines (cut
    # lines 24 3/4 and 22 3/8 in): the ease is 1 in, 4.35 % of 23
    sleeve, armhole = straight("sleeve", 24 * INCH), straight("armhole", 23 * INCH)
    assert check_draft(draft_of(sleeve, armhole, 1 * INCH)) == ()
    by_cut_lines = draft_of(sleeve, armhole, (24.75 - 22.375) * INCH)
    assert [f.code for f in check_draft(by_cut_lines)] == ["walk"]
    walked = walk_seam(by_cut_lines, by_cut_lines.seams[0])
    first = sum(span.first_mm for span in walked.spans)
    second = sum(span.second_mm for span in walked.spans)
    assert (first - second) / second * 100 == pytest.approx(4.35, abs=0.005)


def test_every_span_between_notches_is_walked() -> None:
    # the two totals agree, the notches do not
    one = straight("one", 400.0)
    two = straight("two", 400.0)
    moved = sewn_piece("two", two.edges, {"seam": (0.3, 0.5, 0.75)})
    assert check_draft(draft_of(one, two, 0.0)) == ()
    findings = check_draft(draft_of(one, moved, 0.0))
    assert [f.code for f in findings] == ["walk"]
    assert "20.00 mm" in findings[0].text


def test_edges_with_different_notches_cannot_be_walked() -> None:
    one = straight("one", 400.0)
    bare = sewn_piece("two", straight("two", 400.0).edges, {})
    draft = draft_of(one, bare, 0.0)
    with pytest.raises(ValueError, match="5 marks on one edge, 2 on the other"):
        walk_seam(draft, draft.seams[0])


def test_a_cap_too_small_for_its_size_is_found() -> None:
    one, two = straight("one", 400.0), straight("two", 400.0)
    seam = Seam("seam", PieceEdge("one", "seam"), PieceEdge("two", "seam"), 0.0)
    small = Draft("test", 700, 720, (CutPart(one, 1), CutPart(two, 1)), (seam,), (), ANY_FIT)
    assert [f.code for f in check_draft(small)] == ["fit"]


def test_a_closed_seam_line_has_no_corner_to_mitre() -> None:
    stitch = Path((Arc(Point(0, 0), 90.0, 0.0, 360.0),))
    piece = sewn_piece("crown", (Edge("seam", stitch, 6.35, "seam"),), {})
    assert piece.cut.length() == pytest.approx(2 * math.pi * 96.35, abs=1e-6)


def test_an_outline_that_runs_clockwise_is_refused() -> None:
    corners = (Point(0, 0), Point(0, 10), Point(10, 10), Point(10, 0), Point(0, 0))
    with pytest.raises(ValueError, match="counter-clockwise"):
        sewn_piece("square", (Edge("all", Path.through(corners), 0.0, "raw"),), {})
