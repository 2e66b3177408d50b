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
from dataclasses import dataclass, replace

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
    Fit,
    Piece,
    PieceEdge,
    Seam,
    SewnCorner,
)
from cutfiles.pieces.standards import CASING_MM, QUARTERS, SEAM_MM, mirrored_back
from cutfiles.pieces.tie_back import (
    TieBack,
    band_piece,
    band_top,
    crown_piece,
    edge_part,
    solved_crown_seam,
    tie_back_for,
)


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
    return LongHair(replace(tie_back_for(girth_mm), elastic_relaxed_mm=100.0))


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
    top = band_top(cap)
    crown_seam, ease_mm = solved_crown_seam(cap, top)
    crown = crown_piece(crown_seam, back="seam")
    band = band_piece(cap, top, edge, ends="seam")
    pocket = pocket_piece(hair)
    pocket_top_mm = pocket.edge("top").stitch.length()
    return Draft(
        title=f"long-hair {size.name}",
        girth_low_mm=size.girth_low_mm,
        girth_high_mm=size.girth_high_mm,
        parts=(
            CutPart(crown, 1),
            CutPart(band, 1),
            CutPart(pocket, 1),
            edge_part(cap, edge, longest_strip_mm, binding_grain),
        ),
        seams=(
            Seam(
                "crown to band",
                PieceEdge("crown", "crown seam"),
                PieceEdge("band", "crown seam"),
                ease_mm,
            ),
            Seam(
                "pocket to crown",
                PieceEdge("hair pocket", "top"),
                PieceEdge("crown", "back edge"),
                pocket_top_mm - cap.crown_back_mm,
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
        fit=Fit(
            plain_mm=cap.lower_edge_mm,
            gathered_flat_mm=pocket.edge("lower edge").stitch.length(),
            elastic_relaxed_mm=cap.elastic_relaxed_mm,
            elastic_stretch=cap.elastic_stretch,
            elastic_anchor_mm=cap.elastic_anchor_mm,
        ),
    )


def pocket_piece(hair: LongHair) -> Piece:
    """The hair pocket: x up, y across; seen from behind, the wearer's left is at positive y."""
    lean = Vector.at_angle(90.0 - hair.lower_corner_deg)
    half_top = hair.cap.crown_back_mm * hair.top_width / 2.0
    half_low = half_top + hair.side_mm * lean.y
    height = hair.side_mm * lean.x
    left, right = Point(0.0, half_low), Point(0.0, -half_low)
    top_left, top_right = Point(height, half_top), Point(height, -half_top)
    peak = Point(height + hair.fullness_mm, 0.0)
    rising = Cubic(
        top_right,
        top_right + Vector(0.55 * hair.fullness_mm, 0.30 * half_top),
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
