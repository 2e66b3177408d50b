"""The long-hair cap: a tie-back cap with a gathered hair pocket between crown and band ends.

::

        hair pocket (x is its grain, up)

              .------ top ------.        the top is gathered onto the crown's back edge,
             /                   \\       the sides onto the band's ends;
            / sides               \\      the lower edge is turned over elastic
           '------ lower edge -----'

The band's lower corners and the pocket's make one straight edge. Millimetres; proportions of our
own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Cubic, Line
from cutfiles.geometry.vector import Point, Vector
from cutfiles.job.job import EdgeFinish, StripGrain
from cutfiles.job.sizes import Size
from cutfiles.pieces.allowance import sewn_piece
from cutfiles.pieces.piece import (
    Corner,
    CutPart,
    Draft,
    Edge,
    Piece,
    PieceEdge,
    Seam,
    SewnCorner,
)
from cutfiles.pieces.standards import (
    CASING_MM,
    QUARTERS,
    SEAM_MM,
    draft_of,
    fit_of,
    mirrored_back,
)
from cutfiles.pieces.tie_back import TieBack, crown_and_band, edge_part, tie_back_for

_CORNER_PULL: Final = 0.55
_PEAK_PULL: Final = 0.30
"""The pocket's top leaves its corners by these shares of its bulge and of its half width. Steeper
than the sides it would turn inwards there."""


@dataclass(frozen=True, slots=True)
class LongHair:
    """The measures of one long-hair cap: a tie-back cap's, and its pocket's.

    ``side_gather`` is the pocket's side over the band's end that it is sewn to; ``top_width`` the
    straight width of its top over the crown's back edge; ``fullness_mm`` how far the top bulges.
    """

    cap: TieBack
    side_gather: float = 1.5
    top_width: float = 1.3
    fullness_mm: float = 45.0

    @property
    def side_mm(self) -> float:
        """The pocket's side."""
        return self.cap.end_height_mm * self.side_gather

    @property
    def lower_corner_deg(self) -> float:
        """The pocket's lower corner: straight with the band's, which is 90 + lean."""
        return 90.0 - self.cap.end_lean_deg


def long_hair_for(girth_mm: float) -> LongHair:
    """The measures for a head."""
    return LongHair(tie_back_for(girth_mm))


def draft_long_hair(
    size: Size,
    edge: EdgeFinish,
    measures: LongHair | None = None,
    *,
    longest_strip_mm: float = math.inf,
    binding_grain: StripGrain = "straight",
) -> Draft:
    """Draft the cap for a size; crown and band are a tie-back cap's.

    Raises
    ------
    ValueError
        If the tie-back cap cannot be drafted, or an outline fails.
    """
    hair = measures or long_hair_for(size.girth_mm)
    cap = hair.cap
    crown, band, seam = crown_and_band(cap, edge, back="seam")
    pocket = pocket_piece(hair)
    return draft_of(
        "long-hair",
        size,
        parts=(
            CutPart(crown, 1),
            CutPart(band, 1),
            CutPart(pocket, 1),
            edge_part(cap, edge, longest_strip_mm, binding_grain),
        ),
        seams=(
            seam,
            Seam(
                "pocket to crown",
                PieceEdge("hair pocket", "top"),
                PieceEdge("crown", "back edge"),
                pocket.edge("top").stitch.length() - cap.crown_back_mm,
            ),
            *(
                Seam(
                    f"pocket to {side} end",
                    PieceEdge("hair pocket", f"{side} side"),
                    PieceEdge("band", f"{side} end"),
                    hair.side_mm - cap.end_height_mm,
                )
                for side in ("left", "right")
            ),
        ),
        corners=(
            SewnCorner(
                "left lower",
                Corner("hair pocket", "left side", "lower edge"),
                Corner("band", "lower edge", "left end"),
            ),
            SewnCorner(
                "right lower",
                Corner("hair pocket", "lower edge", "right side"),
                Corner("band", "right end", "lower edge"),
            ),
        ),
        fit=fit_of(
            cap,
            plain_mm=cap.lower_edge_mm,
            gathered_flat_mm=pocket.edge("lower edge").stitch.length(),
            measures=("crown_back", "top_width", "end_height", "side_gather"),
        ),
    )


def pocket_piece(hair: LongHair) -> Piece:
    """The hair pocket: x up, y across; seen from behind, the wearer's left is at positive y.

    Raises
    ------
    ValueError
        If its top bulges too far for its width, or the outline fails.
    """
    lean = Vector.at_angle(90.0 - hair.lower_corner_deg)
    half_top = hair.cap.crown_back_mm * hair.top_width / 2.0
    half_low = half_top + hair.side_mm * lean.y
    height = hair.side_mm * lean.x
    steepest = _PEAK_PULL * half_top * lean.x / (_CORNER_PULL * lean.y)
    if hair.fullness_mm > steepest:
        raise ValueError(
            f"fullness: a pocket's top that is {2.0 * half_top:.0f} mm wide cannot bulge by "
            f"{hair.fullness_mm:.0f} mm: give fullness at most {math.floor(steepest)} mm, or more "
            "top_width or crown_back"
        )
    left, right = Point(0.0, half_low), Point(0.0, -half_low)
    top_left, top_right = Point(height, half_top), Point(height, -half_top)
    peak = Point(height + hair.fullness_mm, 0.0)
    rising = Cubic(
        top_right,
        top_right + Vector(_CORNER_PULL * hair.fullness_mm, _PEAK_PULL * half_top),
        peak + Vector(0.0, -0.45 * half_top),
        peak,
    )
    edges = (
        Edge("lower edge", Path((Line(left, right),)), CASING_MM, "casing"),
        Edge("right side", Path((Line(right, top_right),)), SEAM_MM, "seam"),
        Edge("top", Path((rising, mirrored_back(rising))), SEAM_MM, "seam"),
        Edge("left side", Path((Line(top_left, left),)), SEAM_MM, "seam"),
    )
    notches = {"top": QUARTERS, "left side": (0.5,), "right side": (0.5,)}
    return sewn_piece("hair pocket", edges, notches)
