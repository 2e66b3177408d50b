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
    Finish,
    Fit,
    Piece,
    PieceEdge,
    Seam,
    SewnCorner,
)
from cutfiles.pieces.standards import (
    CASING_MM,
    QUARTERS,
    SEAM_MM,
    binding_part,
    edge_allowance_mm,
    mirrored_back,
    solve_length,
)
from cutfiles.pieces.strips import TIE_LENGTH_MM, binding_length_mm, strip


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
    crown_back_mm: float = 161.0
    crown_corner_deg: float = 97.0
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
        crown_back_mm=0.285 * girth_mm,
    )


def draft_tie_back(
    size: Size,
    edge: EdgeFinish,
    measures: TieBack | None = None,
    *,
    longest_strip_mm: float = math.inf,
    binding_grain: StripGrain = "straight",
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
    crown_seam, ease_mm = solved_crown_seam(cap, top)
    crown, band = crown_piece(crown_seam), band_piece(cap, top, edge)
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
        parts=(
            CutPart(crown, 1),
            CutPart(band, 1),
            edge_part(cap, edge, longest_strip_mm, binding_grain),
        ),
        seams=(
            Seam(
                "crown to band",
                PieceEdge("crown", "crown seam"),
                PieceEdge("band", "crown seam"),
                ease_mm,
            ),
        ),
        corners=(
            SewnCorner(
                "right back",
                Corner("crown", "back edge", "crown seam"),
                Corner("band", "crown seam", "right end"),
            ),
            SewnCorner(
                "left back",
                Corner("crown", "crown seam", "back edge"),
                Corner("band", "left end", "crown seam"),
            ),
        ),
        fit=fit,
    )


def band_top(cap: TieBack) -> Path:
    """The band's upper stitch line, left end to right end over the centre front.

    In the band's frame: x up along the grain, y along the lower edge, its middle at y = 0. Two
    cubics, mirror images, level at the centre front.
    """
    lean = Vector.at_angle(cap.end_lean_deg)
    half = cap.lower_edge_mm / 2.0 + cap.end_height_mm * lean.y
    end = Point(cap.end_height_mm * lean.x, -half)
    front = Point(cap.front_height_mm, 0.0)
    slope = Vector.at_angle(90.0 - cap.band_end_slope_deg)
    left = Cubic(end, end + slope * (0.34 * half), front + Vector(0.0, -0.42 * half), front)
    return Path((left, mirrored_back(left)))


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
    return Path((side, nose, mirrored_back(nose), mirrored_back(side)))


def crown_piece(seam: Path, *, back: Finish = "casing") -> Piece:
    """The crown from its U; its back edge is turned over elastic or sewn to something."""
    edges = (
        Edge("crown seam", seam, SEAM_MM, "seam"),
        Edge("back edge", Path((Line(seam.end, seam.start),)), _allowance_mm(back), back),
    )
    notches = {"crown seam": QUARTERS, "back edge": QUARTERS if back == "seam" else ()}
    return sewn_piece("crown", edges, notches)


def band_piece(cap: TieBack, top: Path, edge: EdgeFinish, *, ends: Finish = "casing") -> Piece:
    """The band from its upper stitch line; its ends are turned over elastic or sewn."""
    half = cap.lower_edge_mm / 2.0
    # seen from outside, the wearer's right is on the left, where y is positive
    right, left = Point(0.0, half), Point(0.0, -half)
    edges = (
        Edge("lower edge", Path((Line(right, left),)), edge_allowance_mm(edge), edge),
        Edge("left end", Path((Line(left, top.start),)), _allowance_mm(ends), ends),
        Edge("crown seam", top, SEAM_MM, "seam"),
        Edge("right end", Path((Line(top.end, right),)), _allowance_mm(ends), ends),
    )
    on_ends = (0.5,) if ends == "seam" else ()
    notches = {"crown seam": QUARTERS, "left end": on_ends, "right end": on_ends}
    return sewn_piece("band", edges, notches)


def solved_crown_seam(cap: TieBack, top: Path) -> tuple[Path, float]:
    """The crown's U that is as long as the band's top plus the ease, and that ease in mm.

    Raises
    ------
    ValueError
        If no crown length makes the two seam lines meet.
    """
    ease_mm = top.length() * cap.ease_percent / 100.0
    seam_mm = top.length() + ease_mm
    length_mm = solve_length(
        lambda length: crown_curve(cap, length).length() - seam_mm,
        0.2 * cap.crown_width_mm,
        4.0 * cap.crown_width_mm,
        f"no crown of width {cap.crown_width_mm:.0f} mm has a seam of {seam_mm:.0f} mm: "
        "change the crown's width or the band's length",
    )
    return crown_curve(cap, length_mm), ease_mm


def edge_part(cap: TieBack, edge: EdgeFinish, longest_mm: float, grain: StripGrain) -> CutPart:
    """What finishes the lower edge: two ties, or a binding that runs on into them."""
    if edge == "hem":
        return CutPart(strip("tie", TIE_LENGTH_MM), 2)
    return binding_part(binding_length_mm(cap.lower_edge_mm), longest_mm, grain)


def _allowance_mm(finish: Finish) -> float:
    return CASING_MM if finish == "casing" else SEAM_MM
