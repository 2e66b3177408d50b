"""The point of a piece that keeps to a print."""

from __future__ import annotations

from typing import Final

from cutfiles.geometry.polygons import polygon_of
from cutfiles.geometry.vector import Point
from cutfiles.pieces.ordered import MatchPoint
from cutfiles.pieces.piece import Piece

_ON_MIDDLE_MM: Final = 0.5


def match_point(piece: Piece) -> MatchPoint:
    """The foremost notch on the piece's middle line along the grain (of a crown or band, the
    notch at the centre front), where its slot ends; else the middle of its box."""
    x0, y0, x1, y1 = polygon_of(piece.cut).bounds
    middle = (y0 + y1) / 2.0
    ends = [notch.at + notch.inward * notch.depth_mm for notch in piece.notches]
    there = [end for end in ends if abs(end.y - middle) <= _ON_MIDDLE_MM]
    if there:
        return MatchPoint(max(there, key=lambda end: end.x), is_notch=True)
    return MatchPoint(Point((x0 + x1) / 2.0, middle), is_notch=False)
