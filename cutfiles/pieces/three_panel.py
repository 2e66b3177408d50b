"""The three-panel cap: a centre strip from forehead to nape between two side panels.

::

        centre strip (x is its grain, front to back)      side panel (x is its grain, up)

             right seam                                         .--------.
          .-------------------.                               /            \\
   front  |                   |  nape, on elastic       front |  seam       | back
          '-------------------'                               |             |
             left seam                                         '------------'
                                                                lower edge

Each side panel's curve is sewn to one long edge of the strip. The front end of the strip and the
lower edges of the panels make one straight edge, hemmed or bound; the nape end is turned over
elastic. The right panel is the mirror image of the left. Millimetres; proportions of our own.
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
    Piece,
    PieceEdge,
    Seam,
    SewnCorner,
)
from cutfiles.pieces.standards import (
    CASING_MM,
    SEAM_MM,
    binding_part,
    draft_of,
    edge_allowance_mm,
    fit_of,
    front_to_back_notches,
    mirrored_path,
    solve_length,
    turned_round,
)
from cutfiles.pieces.strips import TURN_IN_MM


@dataclass(frozen=True, slots=True)
class ThreePanel:
    """The measures of one three-panel cap, all on stitch lines.

    ``strip_corner_deg`` is the strip's interior angle at all four corners; the panels' corners
    make a straight line with it. ``belly_mm`` is how much wider the strip is in its middle.
    """

    girth_mm: float
    snug_mm: float = 20.0
    elastic_relaxed_mm: float = 70.0
    elastic_stretch: float = 1.6
    elastic_anchor_mm: float = 12.0
    front_width_mm: float = 112.0
    nape_width_mm: float = 112.0
    belly_mm: float = 18.0
    strip_corner_deg: float = 95.0
    side_height_mm: float = 150.0
    ease_percent: float = 0.0

    @property
    def plain_mm(self) -> float:
        """The open edge without the nape."""
        return self.girth_mm - self.snug_mm - self.elastic_relaxed_mm

    @property
    def side_width_mm(self) -> float:
        """A side panel's lower edge."""
        return (self.plain_mm - self.front_width_mm) / 2.0


def three_panel_for(girth_mm: float) -> ThreePanel:
    """The measures for a head: widths in proportion to the girth, the height nearly the same.

    The nape keeps its width: its elastic must bridge the same step of sizes on every head.
    """
    return ThreePanel(
        girth_mm=girth_mm,
        front_width_mm=0.198 * girth_mm,
        belly_mm=0.032 * girth_mm,
        side_height_mm=150.0 + 0.15 * (girth_mm - 565.0),
    )


def draft_three_panel(
    size: Size,
    edge: EdgeFinish,
    measures: ThreePanel | None = None,
    *,
    longest_strip_mm: float = math.inf,
    binding_grain: StripGrain = "straight",
) -> Draft:
    """Draft the cap for a size. The strip's length is what is solved for.

    Raises
    ------
    ValueError
        If no strip length makes the seam lines meet, or an outline fails.
    """
    cap = measures or three_panel_for(size.girth_mm)
    curve = side_curve(cap)
    seam_mm = curve.length()
    ease_mm = seam_mm * cap.ease_percent / 100.0
    length_mm = solve_length(
        lambda length: strip_edge(cap, length).length() - (seam_mm - ease_mm),
        0.3 * seam_mm,
        1.5 * seam_mm,
        f"no centre strip has an edge of {seam_mm:.0f} mm: change side_height, front_width or "
        "belly",
    )
    notched = front_to_back_notches(seam_mm)
    parts = [
        CutPart(_strip(cap, length_mm, edge, notched), 1),
        CutPart(_side("left side", curve, edge, turned_round(notched)), 1),
        CutPart(_side("right side", mirrored_path(curve), edge, notched), 1),
    ]
    if edge == "binding":
        parts.append(binding_part(cap.plain_mm + 2.0 * TURN_IN_MM, longest_strip_mm, binding_grain))
    return draft_of(
        "three-panel",
        size,
        parts=parts,
        seams=[
            Seam(
                f"{side} seam",
                PieceEdge(f"{side} side", "seam"),
                PieceEdge("strip", f"{side} seam"),
                ease_mm,
            )
            for side in ("left", "right")
        ],
        corners=(
            SewnCorner(
                "left front",
                Corner("left side", "seam", "lower edge"),
                Corner("strip", "front", "left seam"),
            ),
            SewnCorner(
                "right front",
                Corner("right side", "lower edge", "seam"),
                Corner("strip", "right seam", "front"),
            ),
            SewnCorner(
                "left nape",
                Corner("left side", "lower edge", "seam"),
                Corner("strip", "left seam", "nape"),
            ),
            SewnCorner(
                "right nape",
                Corner("right side", "seam", "lower edge"),
                Corner("strip", "nape", "right seam"),
            ),
        ),
        fit=fit_of(
            cap,
            plain_mm=cap.plain_mm,
            gathered_flat_mm=cap.nape_width_mm,
            measures=("nape_width",),
        ),
    )


def strip_edge(cap: ThreePanel, length_mm: float) -> Path:
    """The strip's left stitch line, front to nape: x along the strip, its middle at y = 0.

    Seen from outside, with x from front to nape, the wearer's left is where y is negative.
    """
    widest = (max(cap.front_width_mm, cap.nape_width_mm) + cap.belly_mm) / 2.0
    half = length_mm / 2.0
    front, nape = Point(0.0, -cap.front_width_mm / 2.0), Point(length_mm, -cap.nape_width_mm / 2.0)
    middle = Point(half, -widest)
    lean = cap.strip_corner_deg - 90.0
    out, back = Vector.at_angle(-lean), Vector.at_angle(180.0 + lean)
    return Path(
        (
            Cubic(front, front + out * (0.3 * half), middle + Vector(-0.36 * half, 0.0), middle),
            Cubic(middle, middle + Vector(0.36 * half, 0.0), nape + back * (0.3 * half), nape),
        )
    )


def side_curve(cap: ThreePanel) -> Path:
    """The left panel's stitch line over the head, from the back corner to the front corner.

    In the panel's frame: x up, y from back to front along the lower edge, which runs from
    ``side_width_mm`` back to 0.
    """
    width, top = cap.side_width_mm, cap.side_height_mm
    inward = cap.strip_corner_deg - 90.0
    back, front, peak = Point(0.0, 0.0), Point(0.0, width), Point(top, 0.52 * width)
    rising, coming_down = Vector.at_angle(inward), Vector.at_angle(-inward)
    return Path(
        (
            Cubic(back, back + rising * (0.62 * top), peak + Vector(0.0, -0.30 * width), peak),
            Cubic(
                peak, peak + Vector(0.0, 0.27 * width), front + coming_down * (0.62 * top), front
            ),
        )
    )


def _strip(
    cap: ThreePanel, length_mm: float, edge: EdgeFinish, notched: tuple[float, ...]
) -> Piece:
    left = strip_edge(cap, length_mm)
    right = mirrored_path(left)
    edges = (
        Edge("left seam", left, SEAM_MM, "seam"),
        Edge("nape", Path((Line(left.end, right.start),)), CASING_MM, "casing"),
        Edge("right seam", right, SEAM_MM, "seam"),
        Edge("front", Path((Line(right.end, left.start),)), edge_allowance_mm(edge), edge),
    )
    notches = {"left seam": notched, "right seam": turned_round(notched)}
    return sewn_piece("strip", edges, notches)


def _side(name: str, curve: Path, edge: EdgeFinish, notched: tuple[float, ...]) -> Piece:
    """A side panel from its curve, which runs from corner to corner counter-clockwise."""
    lower = Path((Line(curve.end, curve.start),))
    edges = (
        Edge("seam", curve, SEAM_MM, "seam"),
        Edge("lower edge", lower, edge_allowance_mm(edge), edge),
    )
    return sewn_piece(name, edges, {"seam": notched})
