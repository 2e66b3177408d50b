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
from collections.abc import Mapping
from dataclasses import dataclass, replace
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
    Finish,
    Piece,
    PieceEdge,
    Pleat,
    Seam,
    SewnCorner,
)
from cutfiles.pieces.pleats import (
    LEAST_DEPTH_MM,
    pleat_marks,
    pleat_notches,
    pleats_in,
    take_up_mm,
)
from cutfiles.pieces.standards import (
    CASING_MM,
    QUARTERS,
    SEAM_MM,
    back_to_back_notches,
    binding_part,
    draft_of,
    edge_allowance_mm,
    fit_of,
    mirrored_back,
    solve_length,
)
from cutfiles.pieces.strips import TIE_LENGTH_MM, binding_length_mm, strip


@dataclass(frozen=True, slots=True)
class TieBack:
    """The measures of one tie-back cap, all on stitch lines.

    ``girth_mm`` is the head; ``snug_mm`` how much smaller the open edge is with the elastic at
    rest; ``crown_corner_deg`` the crown's interior angle at its back corners and
    ``band_end_slope_deg`` how steeply the band's upper edge falls at its ends. ``crown_back_mm`` is
    the back edge with its pleats folded: one box pleat or two knife pleats, ``pleat_depth_mm``
    deep; without pleats (0) all its fullness is gathered on the elastic.
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
    pleat_depth_mm: float = 0.0
    pleats: float = 1.0

    @property
    def take_up_mm(self) -> float:
        """What the pleats take up of the crown's back edge."""
        return take_up_mm(self.pleat_depth_mm)

    @property
    def crown_back_flat_mm(self) -> float:
        """The crown's back edge as cut, before its pleats are folded."""
        return self.crown_back_mm + self.take_up_mm

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


_LEAST_WIDER_MM: Final = 1.0
"""How much wider than its back edge the crown is at its widest, at the least."""


_LEAST_BACK_MM: Final = 100.0
"""A back edge that follows from the crown's width is no narrower."""

_TAPER: Final = 0.1
"""The crown spread for pleats opens less at its widest than at its back edge, by this share of what
they take up (common practice, no source)."""


def tie_back_for(girth_mm: float) -> TieBack:
    """The measures for a head: widths in proportion to the girth, heights nearly the same."""
    return TieBack(
        girth_mm=girth_mm,
        front_height_mm=140.0 + 0.10 * (girth_mm - 565.0),
        end_height_mm=72.0 + 0.04 * (girth_mm - 565.0),
        crown_width_mm=0.312 * girth_mm,
        crown_back_mm=0.285 * girth_mm,
    )


def tie_back_with(girth_mm: float, changed: Mapping[str, float]) -> TieBack:
    """The measures for a head, some of them changed.

    Of the crown's width and its back edge the one that is not changed follows the other, so that
    the crown still widens from its back corners on: the width only ever grows by it, the back edge
    only shrinks.
    """
    plain = tie_back_for(girth_mm)
    cap = replace(plain, **changed)
    wider_mm = plain.crown_width_mm - plain.crown_back_mm - _TAPER * cap.take_up_mm
    if "crown_width_mm" not in changed:
        width_mm = cap.crown_back_flat_mm + wider_mm
        return replace(cap, crown_width_mm=max(plain.crown_width_mm, width_mm))
    if "crown_back_mm" not in changed:
        back_mm = max(cap.crown_width_mm - cap.take_up_mm - wider_mm, _LEAST_BACK_MM)
        return replace(cap, crown_back_mm=min(plain.crown_back_mm, back_mm))
    return cap


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
        If no crown length makes the two seam lines meet, pleats cannot be folded, or an outline
        fails.
    """
    cap = measures or tie_back_for(size.girth_mm)
    crown, band, seam = crown_and_band(cap, edge, back="casing")
    return draft_of(
        "tie-back",
        size,
        parts=(
            CutPart(crown, 1),
            CutPart(band, 1),
            edge_part(cap, edge, longest_strip_mm, binding_grain),
        ),
        seams=(seam,),
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
        fit=fit_of(
            cap,
            plain_mm=cap.lower_edge_mm,
            gathered_flat_mm=cap.crown_back_mm + 2.0 * cap.end_height_mm,
            measures=("crown_back", "end_height"),
        ),
        pleats=crown_pleats(cap),
    )


def crown_and_band(cap: TieBack, edge: EdgeFinish, *, back: Finish) -> tuple[Piece, Piece, Seam]:
    """Crown and band, and the seam between them; ``back`` finishes the crown's back edge and the
    band's ends.

    Raises
    ------
    ValueError
        If no crown length makes the two seam lines meet, the crown's back edge is too wide, or an
        outline fails.
    """
    top = band_top(cap)
    crown_seam, ease_mm = solved_crown_seam(cap, top)
    notched = back_to_back_notches(top.length())
    return (
        _crown_piece(cap, crown_seam, notched, back),
        _band_piece(cap, top, notched, edge, back),
        Seam(
            "crown to band",
            PieceEdge("crown", "crown seam"),
            PieceEdge("band", "crown seam"),
            ease_mm,
        ),
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
    corner = Point(0.0, -cap.crown_back_flat_mm / 2.0)
    widest = Point(0.5 * length_mm, -cap.crown_width_mm / 2.0)
    front = Point(length_mm, 0.0)
    outward = Vector.at_angle(90.0 - cap.crown_corner_deg)
    reach, depth = front.x - widest.x, -widest.y
    # no further out than the widest place, or the curve would come back in before it
    leaving = min(0.40 * widest.x, 0.8 * (corner.y - widest.y) / abs(outward.y))
    side = Cubic(
        corner,
        corner + outward * leaving,
        widest + Vector(-0.34 * widest.x, 0.0),
        widest,
    )
    # 0.5523 is a quarter ellipse; a little more fills the corner, as a head does.
    nose = Cubic(
        widest, widest + Vector(0.58 * reach, 0.0), front + Vector(0.0, -0.56 * depth), front
    )
    return Path((side, nose, mirrored_back(nose), mirrored_back(side)))


def crown_pleats(cap: TieBack) -> tuple[Pleat, ...]:
    """The pleats of the crown's back edge.

    Raises
    ------
    ValueError
        If they cannot be folded.
    """
    return pleats_in("crown", "back edge", cap.pleats, cap.pleat_depth_mm, cap.crown_back_mm)


def _crown_piece(cap: TieBack, seam: Path, notched: tuple[float, ...], back: Finish) -> Piece:
    """The crown from its U; its back edge is turned over elastic or sewn to something."""
    edges = (
        Edge("crown seam", seam, SEAM_MM, "seam"),
        Edge("back edge", Path((Line(seam.end, seam.start),)), _allowance_mm(back), back),
    )
    pleats = crown_pleats(cap)
    on_back = QUARTERS if back == "seam" else pleat_notches(pleats, cap.crown_back_flat_mm)
    notches = {"crown seam": notched, "back edge": on_back}
    try:
        return sewn_piece("crown", edges, notches, pleat_marks(pleats, seam.end))
    except ValueError as error:
        mend = "change crown_width, crown_back, front_height or end_height"
        raise ValueError(f"{error}; for a crown of these measures: {mend}") from error


def _band_piece(
    cap: TieBack, top: Path, notched: tuple[float, ...], edge: EdgeFinish, ends: Finish
) -> Piece:
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
    notches = {"crown seam": notched, "left end": on_ends, "right end": on_ends}
    return sewn_piece("band", edges, notches)


def solved_crown_seam(cap: TieBack, top: Path) -> tuple[Path, float]:
    """The crown's U that is as long as the band's top plus the ease, and that ease in mm.

    Raises
    ------
    ValueError
        If no crown length makes the two seam lines meet, or the back edge is too wide.
    """
    _check_back(cap)
    ease_mm = top.length() * cap.ease_percent / 100.0
    seam_mm = top.length() + ease_mm
    length_mm = solve_length(
        lambda length: crown_curve(cap, length).length() - seam_mm,
        0.2 * cap.crown_width_mm,
        4.0 * cap.crown_width_mm,
        f"no crown of width {cap.crown_width_mm:.0f} mm has a seam of {seam_mm:.0f} mm: "
        "change crown_width, front_height, end_height, snug or elastic_relaxed",
    )
    return crown_curve(cap, length_mm), ease_mm


def _check_back(cap: TieBack) -> None:
    """The crown must widen from its back corners on: it leaves them outwards."""
    widest_back_mm = cap.crown_width_mm - _LEAST_WIDER_MM
    flat_mm = cap.crown_back_flat_mm
    if flat_mm <= widest_back_mm:
        return
    mends = [f"crown_width at least {math.ceil(flat_mm + _LEAST_WIDER_MM)} mm"]
    if widest_back_mm - cap.take_up_mm >= _LEAST_BACK_MM:
        mends.append(f"crown_back at most {math.floor(widest_back_mm - cap.take_up_mm)} mm")
    what = f"crown_back: the crown's back edge, {flat_mm:.0f} mm,"
    if cap.take_up_mm:
        depth_mm = (widest_back_mm - cap.crown_back_mm) / take_up_mm(1.0)
        mends.insert(
            0,
            f"pleat_depth at most {math.floor(10.0 * depth_mm) / 10.0:.1f} mm"
            if depth_mm >= LEAST_DEPTH_MM
            else "pleat_depth 0 mm for no pleats",
        )
        what = (
            f"pleat_depth: the crown's back edge, {cap.crown_back_mm:.0f} mm and "
            f"{cap.take_up_mm:.0f} mm that its pleats take up,"
        )
    raise ValueError(
        f"{what} is wider than its widest place, {cap.crown_width_mm:.0f} mm, less "
        f"{_LEAST_WIDER_MM:g} mm: give {', or '.join(mends)}"
    )


def edge_part(cap: TieBack, edge: EdgeFinish, longest_mm: float, grain: StripGrain) -> CutPart:
    """What finishes the lower edge: two ties, or a binding that runs on into them."""
    if edge == "hem":
        return CutPart(strip("tie", TIE_LENGTH_MM), 2)
    return binding_part(binding_length_mm(cap.lower_edge_mm), longest_mm, grain)


def _allowance_mm(finish: Finish) -> float:
    return CASING_MM if finish == "casing" else SEAM_MM
