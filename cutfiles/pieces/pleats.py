"""Pleats in the crown's back edge: how much they take up, where they are folded and marked.

Seen from the right side, the back edge below. F is where the edge is folded, M where the fold is
laid::

        one box pleat                 two knife pleats

     |  <---|     |--->  |         |  |---->     <----|  |
     |  |   |     |   |  |         |  |    |     |    |  |
     '--M---F-----F---M--'         '--F----M-----M----F--'

Every pleat is as deep as from its fold to the fold that lies hidden under it. A knife pleat takes
up twice its depth; a box pleat is two of them, back to back: so both kinds take up four depths
(derived). All lengths are in millimetres.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from cutfiles.geometry.path import Path
from cutfiles.geometry.vector import Point
from cutfiles.pieces.piece import Pleat
from cutfiles.pieces.standards import CASING_MM, SEAM_MM

LEAST_DEPTH_MM: Final = 5.0
"""Shallower pleats do not stay folded, and their notches run into each other (common practice, no
source)."""

_LINE_MM: Final = 10.0
_SHORT_OF_EDGE_MM: Final = 4.0
_ARROW_AT_MM: Final = 5.0
_BARB_MM: Final = 2.5


def take_up_mm(depth_mm: float) -> float:
    """How much longer an edge is cut for its pleats, one box pleat or two knife pleats."""
    return 4.0 * depth_mm


def pleats_in(
    piece: str, edge: str, count: float, depth_mm: float, pleated_mm: float
) -> tuple[Pleat, ...]:
    """The pleats of a straight edge that is ``pleated_mm`` long when they are folded.

    ``count`` is 1 for a box pleat in the middle, its folds pointing away from it; 2 for knife
    pleats that face the middle, their folds halfway to the corners (common practice, no source).
    None where the depth is 0.

    Raises
    ------
    ValueError
        If the pleats are too shallow to fold, or too deep for the edge.
    """
    if depth_mm == 0.0:
        return ()
    if depth_mm < LEAST_DEPTH_MM:
        raise ValueError(
            f"pleat_depth: {depth_mm:g} mm is too shallow to fold: give at least "
            f"{LEAST_DEPTH_MM:g} mm, or 0 mm for no pleats"
        )
    fold, meet = (
        (depth_mm, 3.0 * depth_mm)
        if count == 1
        else (pleated_mm / 4.0 + 2.0 * depth_mm, pleated_mm / 4.0)
    )
    reach = depth_mm if count == 1 else pleated_mm / 4.0 + depth_mm
    if reach > pleated_mm / 2.0 - SEAM_MM:
        share = 2.0 if count == 1 else 4.0
        raise ValueError(
            f"pleat_depth: a pleat {depth_mm:g} mm deep runs into the corner of a crown whose "
            f"crown_back is {pleated_mm:.1f} mm: give pleat_depth at most "
            f"{pleated_mm / share - SEAM_MM:.1f} mm, crown_back at least "
            f"{share * (depth_mm + SEAM_MM):.1f} mm, or pleats = 1"
        )
    middle = (pleated_mm + take_up_mm(depth_mm)) / 2.0
    return tuple(
        Pleat(piece, edge, middle + side * fold, middle + side * meet) for side in (-1.0, 1.0)
    )


def pleat_notches(pleats: Sequence[Pleat], length_mm: float) -> tuple[float, ...]:
    """The fractions of an edge at which it is notched: every fold, and where it is laid."""
    return tuple(sorted(at / length_mm for p in pleats for at in (p.fold_mm, p.meet_mm)))


def pleat_marks(pleats: Sequence[Pleat], start: Point) -> Iterator[Path]:
    """Lines to draw, fold and meeting line across the casing and a little beyond, and an arrow
    from the one to the other; for an edge that runs from ``start`` towards smaller y."""
    for pleat in pleats:
        fold, meet = start.y - pleat.fold_mm, start.y - pleat.meet_mm
        for y in (fold, meet):
            outer = Point(start.x - CASING_MM + _SHORT_OF_EDGE_MM, y)
            yield Path.through((outer, Point(start.x + _LINE_MM, y)))
        back = _BARB_MM if fold > meet else -_BARB_MM
        tip = Point(start.x + _ARROW_AT_MM, meet)
        barb = Point(tip.x + _BARB_MM, meet + back)
        yield Path.through((Point(tip.x, fold), tip, barb))
