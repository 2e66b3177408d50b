"""Clips into seam allowances: how far apart and how deep."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
import shapely

from cutfiles.geometry.path import Path
from cutfiles.geometry.polygons import polygon_of
from cutfiles.geometry.segments import Arc, Line
from cutfiles.geometry.vector import Point
from cutfiles.job.sizes import size_named
from cutfiles.pieces.allowance import sewn_piece
from cutfiles.pieces.clips import CLOSE_MM, WIDE_MM
from cutfiles.pieces.piece import Edge, Piece
from cutfiles.pieces.tie_back import draft_tie_back


def scooped(radius_mm: float) -> Piece:
    """
    ::

          .--.      .--.
          |   \\____/   |   a half circle scooped out of the upper edge
          |____________|
    """
    r, h = radius_mm, radius_mm + 60.0
    a, b, c, d = Point(-r - 40, 0), Point(r + 40, 0), Point(r + 40, h), Point(-r - 40, h)
    top = Path(
        (
            Line(c, Point(r, h)),
            Arc(Point(0, h), r, 0.0, -180.0),
            Line(Point(-r, h), d),
        )
    )
    edges = (
        Edge("lower", Path((Line(a, b),)), 6.35, "seam"),
        Edge("right", Path((Line(b, c),)), 6.35, "seam"),
        Edge("scoop", top, 6.35, "seam"),
        Edge("left", Path((Line(d, a),)), 6.35, "seam"),
    )
    return sewn_piece("yoke", edges, {"scoop": (0.5,)})


@pytest.mark.parametrize(("radius", "apart"), [(120.0, CLOSE_MM), (300.0, WIDE_MM)])
def test_clips_stand_a_quarter_to_half_an_inch_apart(radius: float, apart: float) -> None:
    # G-W "Apparel: Design, Textiles & Construction", 2012, p. 452: clip every 1/4 to 1/2 in,
    # closer on sharper curves, straight clips where a curve runs inwards
    piece = scooped(radius)
    feet = [math.degrees(math.atan2(m.end.y - radius - 60, m.end.x)) for m in piece.marks]
    steps = [math.radians(abs(b - a)) * radius for a, b in pairwise(feet)]
    assert len(piece.marks) > 0.8 * math.pi * radius / apart
    plain = [step for step in steps if step < 1.5 * apart]
    assert min(steps) >= apart - 0.05
    assert max(plain) <= apart + 1.2
    assert max(steps) <= apart + 12.0 + 1.2  # round the notch


def test_clips_stay_in_the_allowance_and_off_the_notch() -> None:
    piece = scooped(120.0)
    stitch = shapely.LineString(piece.edge("scoop").stitch.flattened(1e-3))
    cut = polygon_of(piece.cut)
    (notch,) = piece.notches
    for mark in piece.marks:
        line = shapely.LineString([(p.x, p.y) for p in (mark.start, mark.end)])
        assert cut.contains(line)
        assert line.distance(stitch) == pytest.approx(1.5, abs=0.01)
        assert cut.exterior.distance(line) == pytest.approx(1.0, abs=0.02)
        assert line.distance(shapely.Point(notch.at.x, notch.at.y)) > 5.0


def test_only_edges_that_curve_inwards_are_clipped() -> None:
    draft = draft_tie_back(size_named("M"), "hem")
    assert draft.piece("crown").marks == ()
    band = draft.piece("band")
    assert band.marks
    top = band.edge("crown seam").stitch
    front = top.point_at(top.length() / 2)
    assert all(abs(mark.end.y - front.y) > 100.0 for mark in band.marks)
