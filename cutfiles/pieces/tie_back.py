"""The tie-back cap: a U-shaped crown, and a band sewn round its U.

::

        band (x is its grain, up)              crown (x is its grain, back to front)

         top _____---------_____                 |  back edge, on elastic
            /                   \\                 |.--------------.
           /   crown seam        \\                |                 \\
      end  \\                     / end            |      crown seam  )  front
            \\___________________/                 |                 /
                 lower edge                       |'--------------'

Sewn together, the band's ends and the crown's back edge make one straight edge, which is
turned over elastic; the band's lower edge is hemmed, or bound with a strip that runs on into
the ties. Measures are in millimetres; proportions of our own, chosen so that size M falls
near the usual 6 1/2 x 23 in and 8 x 10 in blocks (common practice, no source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from scipy.optimize import brentq

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Cubic, Line
from cutfiles.geometry.vector import Point, Vector
from cutfiles.job.job import EdgeFinish
from cutfiles.job.sizes import Size
from cutfiles.pieces.allowance import sewn_piece
from cutfiles.pieces.piece import (
    CutPart,
    Draft,
    Edge,
    Fit,
    Piece,
    PieceEdge,
    Seam,
    SewnCorner,
)
from cutfiles.pieces.strips import TIE_LENGTH_MM, binding_length_mm, joined_strips, strip

SEAM_MM: Final = 6.35
"""Seam allowance, 1/4 in (G-W "Apparel: Design, Textiles & Construction", 2012, p. 451)."""
HEM_MM: Final = 12.7
"""A 1/4 in double-rolled hem takes 1/2 in (common practice, no source)."""
CASING_MM: Final = 22.225
"""Casing for 1/2 in elastic: 1/2 + 1/8 + 1/4 in to turn under (common practice, no source)."""

NOTCH_FRACTIONS: Final = (0.25, 0.5, 0.75)
"""Centre front and the quarter points of the crown seam (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class TieBack:
    """The measures of one tie-back cap, all on stitch lines.

    ``girth_mm`` is the head; ``snug_mm`` how much smaller the open edge is with the elastic at
    rest; ``crown_corner_deg`` the crown's interior angle at its back corners and
    ``band_end_slope_deg`` how steeply the band's upper edge falls at its ends.
    """

    girth_mm: float
    snug_mm: float = 20.0
    elastic_relaxed_mm: float = 100.0
    elastic_stretch: float = 1.6
    elastic_anchor_mm: float = 12.0
    front_height_mm: float = 140.0
    end_height_mm: float = 72.0
    crown_width_mm: float = 176.0
    crown_back_mm: float = 155.0
    crown_corner_deg: float = 99.0
    band_end_slope_deg: float = 12.0
    ease_percent: float = 0.0

    @property
    def lower_edge_mm(self) -> float:
        """The band's lower edge: with the elastic at rest it closes to girth less snug."""
        return self.girth_mm - self.snug_mm - self.elastic_relaxed_mm

    @property
    def end_lean_deg(self) -> float:
        """How far the band's ends lean outwards at the top, so that band and crown are true.

        The band's upper corner is 90 + slope - lean; with the crown's corner it makes 180.
        """
        return self.band_end_slope_deg + self.crown_corner_deg - 90.0


def tie_back_for(girth_mm: float) -> TieBack:
    """The measures for a head: widths in proportion to the girth, heights nearly the same."""
    return TieBack(
        girth_mm=girth_mm,
        front_height_mm=140.0 + 0.10 * (girth_mm - 565.0),
        end_height_mm=72.0 + 0.04 * (girth_mm - 565.0),
        crown_width_mm=0.312 * girth_mm,
        crown_back_mm=0.275 * girth_mm,
    )


def draft_tie_back(
    size: Size,
    edge: EdgeFinish,
    measures: TieBack | None = None,
    *,
    longest_strip_mm: float = math.inf,
) -> Draft:
    """Draft the cap for a size; a binding longer than ``longest_strip_mm`` is joined from
    several strips.

    The crown's length is what is solved for: it is the one measure that no other check holds,
    and the crown's seam line must come out as long as the band's plus the ease.

    Raises
    ------
    ValueError
        If no crown length makes the two seam lines meet, or an outline fails.
    """
    cap = measures or tie_back_for(size.girth_mm)
    top = band_top(cap)
    ease_mm = top.length() * cap.ease_percent / 100.0
    crown_seam = crown_curve(cap, _solved_crown_length_mm(cap, top.length() + ease_mm))
    crown, band = _crown(crown_seam), _band(cap, top, edge)
    fit = Fit(
        plain_mm=cap.lower_edge_mm,
        gathered_flat_mm=cap.crown_back_mm + 2.0 * cap.end_height_mm,
        elastic_relaxed_mm=cap.elastic_relaxed_mm,
        elastic_stretch=cap.elastic_stretch,
        elastic_anchor_mm=cap.elastic_anchor_mm,
    )
    return Draft(
        title=f"tie-back {size.name}",
        girth_low_mm=size.girth_low_mm,
        girth_high_mm=size.girth_high_mm,
        parts=(CutPart(crown, 1), CutPart(band, 1), _edge_part(cap, edge, longest_strip_mm)),
        seams=(
            Seam(
                "crown to band",
                PieceEdge("crown", "crown seam"),
                PieceEdge("band", "crown seam"),
                ease_mm,
            ),
        ),
        corners=tuple(
            SewnCorner(
                f"{side} back",
                (PieceEdge("crown", "crown seam"), "back edge"),
                (PieceEdge("band", "crown seam"), f"{side} end"),
            )
            for side in ("right", "left")
        ),
        fit=fit,
    )


def band_top(cap: TieBack) -> Path:
    """The band's upper stitch line, right end to left end over the centre front.

    In the band's frame: x up along the grain, y along the lower edge, its middle at y = 0. Two
    cubics, mirror images, level at the centre front.
    """
    lean = Vector.at_angle(cap.end_lean_deg)
    half = cap.lower_edge_mm / 2.0 + cap.end_height_mm * lean.y
    end = Point(cap.end_height_mm * lean.x, -half)
    front = Point(cap.front_height_mm, 0.0)
    slope = Vector.at_angle(90.0 - cap.band_end_slope_deg)
    right = Cubic(end, end + slope * (0.34 * half), front + Vector(0.0, -0.42 * half), front)
    return Path((right, _mirrored_back(right)))


def crown_curve(cap: TieBack, length_mm: float) -> Path:
    """The crown's U on its stitch line, right back corner to left back corner.

    In the crown's frame: x from back to front along the centre line, y to the left. Four
    cubics in two mirrored pairs: back corner to widest place, widest place to centre front.
    """
    corner = Point(0.0, -cap.crown_back_mm / 2.0)
    widest = Point(0.5 * length_mm, -cap.crown_width_mm / 2.0)
    front = Point(length_mm, 0.0)
    outward = Vector.at_angle(90.0 - cap.crown_corner_deg)
    reach, depth = front.x - widest.x, -widest.y
    side = Cubic(
        corner,
        corner + outward * (0.40 * widest.x),
        widest + Vector(-0.34 * widest.x, 0.0),
        widest,
    )
    # 0.5523 is a quarter ellipse; a little more fills the corner, as a head does.
    nose = Cubic(
        widest, widest + Vector(0.58 * reach, 0.0), front + Vector(0.0, -0.56 * depth), front
    )
    return Path((side, nose, _mirrored_back(nose), _mirrored_back(side)))


def _solved_crown_length_mm(cap: TieBack, seam_mm: float) -> float:
    shortest, longest = 0.2 * cap.crown_width_mm, 4.0 * cap.crown_width_mm

    def excess(length_mm: float) -> float:
        return crown_curve(cap, length_mm).length() - seam_mm

    if excess(shortest) > 0 or excess(longest) < 0:
        raise ValueError(
            f"no crown of width {cap.crown_width_mm:.0f} mm has a seam of {seam_mm:.0f} mm: "
            "change the crown's width or the band's length"
        )
    return float(brentq(excess, shortest, longest, xtol=1e-9))


def _crown(seam: Path) -> Piece:
    edges = (
        Edge("crown seam", seam, SEAM_MM, "seam"),
        Edge("back edge", Path((Line(seam.end, seam.start),)), CASING_MM, "casing"),
    )
    return sewn_piece("crown", edges, {"crown seam": NOTCH_FRACTIONS})


def _band(cap: TieBack, top: Path, edge: EdgeFinish) -> Piece:
    half = cap.lower_edge_mm / 2.0
    left, right = Point(0.0, half), Point(0.0, -half)
    edges = (
        Edge("lower edge", Path((Line(left, right),)), HEM_MM if edge == "hem" else 0.0, edge),
        Edge("right end", Path((Line(right, top.start),)), CASING_MM, "casing"),
        Edge("crown seam", top, SEAM_MM, "seam"),
        Edge("left end", Path((Line(top.end, left),)), CASING_MM, "casing"),
    )
    return sewn_piece("band", edges, {"crown seam": NOTCH_FRACTIONS})


def _edge_part(cap: TieBack, edge: EdgeFinish, longest_mm: float) -> CutPart:
    if edge == "hem":
        return CutPart(strip("tie", TIE_LENGTH_MM), 2)
    count, each = joined_strips(binding_length_mm(cap.lower_edge_mm), longest_mm)
    return CutPart(strip("binding", each), count)


def _mirrored_back(curve: Cubic) -> Cubic:
    """Mirrored in the x axis and travelled back."""
    mirrored = (Point(p.x, -p.y) for p in (curve.end, curve.end_handle, curve.handle, curve.start))
    return Cubic(*mirrored)
