"""The bouffant cap: a full oval crown, gathered.

With ``edge = "hem"`` the oval's own edge is turned into a casing, and elastic goes all round. With
``edge = "binding"`` the oval is gathered onto a flat band, folded in half along its length, whose
back part is drawn in by elastic. Millimetres; the fullness is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Cubic, Line
from cutfiles.geometry.vector import Point
from cutfiles.job.job import EdgeFinish
from cutfiles.job.sizes import Size
from cutfiles.pieces.allowance import sewn_piece
from cutfiles.pieces.piece import CutPart, Draft, Edge, Fit, Piece, PieceEdge, Seam
from cutfiles.pieces.standards import QUARTERS, SEAM_MM, draft_of, solve_length

NARROW_CASING_MM = 15.875
"""Casing for 1/4 in elastic: 1/4 + 1/8 + 1/4 in to turn under (common practice, no source)."""

_QUARTER_ELLIPSE = 0.5522847498
"""Handle over half-axis of the cubic that is nearest to a quarter ellipse (0.03 % off)."""


@dataclass(frozen=True, slots=True)
class Bouffant:
    """The measures of one bouffant cap, all on stitch lines.

    ``fullness`` is the oval's edge over the head's girth; ``longer`` its length over its width.
    """

    girth_mm: float
    fullness: float = 2.4
    longer: float = 1.12
    snug_mm: float = 25.0
    elastic_stretch: float = 1.6
    elastic_anchor_mm: float = 12.0
    band_spare_mm: float = 24.0
    band_back_mm: float = 160.0
    band_back_relaxed_mm: float = 110.0
    band_height_mm: float = 24.0

    @property
    def edge_mm(self) -> float:
        """The oval's edge, flat."""
        return self.girth_mm * self.fullness

    @property
    def band_mm(self) -> float:
        """The flat band, all round."""
        return self.girth_mm + self.band_spare_mm


def draft_bouffant(size: Size, edge: EdgeFinish, measures: Bouffant | None = None) -> Draft:
    """Draft the cap for a size. The oval is solved for, so that its edge has the fullness.

    Raises
    ------
    ValueError
        If an outline fails.
    """
    cap = measures or Bouffant(size.girth_mm)
    oval = solved_oval(cap)
    if edge == "hem":
        parts: tuple[CutPart, ...] = (CutPart(_crown(oval, casing=True), 1),)
        seams: tuple[Seam, ...] = ()
        relaxed = cap.girth_mm - cap.snug_mm
        fit = Fit(
            0.0,
            oval.length(),
            relaxed,
            cap.elastic_stretch,
            cap.elastic_anchor_mm,
            ("snug", "elastic_stretch", "fullness"),
        )
    else:
        parts = (CutPart(_crown(oval, casing=False), 1), CutPart(_band(cap), 1))
        gathered = PieceEdge("crown", "edge")
        onto = PieceEdge("band", "upper side")
        seams = (Seam("crown to band", gathered, onto, oval.length() - cap.band_mm),)
        fit = Fit(
            cap.band_mm - cap.band_back_mm,
            cap.band_back_mm,
            cap.band_back_relaxed_mm,
            cap.elastic_stretch,
            cap.elastic_anchor_mm,
            ("band_back", "elastic_stretch"),
        )
    return draft_of("bouffant", size, parts=parts, seams=seams, fit=fit)


def solved_oval(cap: Bouffant) -> Path:
    """The crown's stitch line, counter-clockwise from the centre back; x from back to front."""
    half = solve_length(
        lambda half_width: oval_path(half_width * cap.longer, half_width).length() - cap.edge_mm,
        1.0,
        cap.edge_mm,
        f"no oval has an edge of {cap.edge_mm:.0f} mm: change fullness",
    )
    return oval_path(half * cap.longer, half)


def oval_path(half_length_mm: float, half_width_mm: float) -> Path:
    """An ellipse of four cubics, centred on the origin."""
    a, b = half_length_mm, half_width_mm
    stops = (Point(-a, 0.0), Point(0.0, -b), Point(a, 0.0), Point(0.0, b), Point(-a, 0.0))
    ways = ((0.0, -b), (a, 0.0), (0.0, b), (-a, 0.0), (0.0, -b))
    quarters = []
    for k in range(4):
        (out_x, out_y), (in_x, in_y) = ways[k], ways[k + 1]
        start, end = stops[k], stops[k + 1]
        kappa = _QUARTER_ELLIPSE
        quarters.append(
            Cubic(
                start,
                Point(start.x + kappa * out_x, start.y + kappa * out_y),
                Point(end.x - kappa * in_x, end.y - kappa * in_y),
                end,
            )
        )
    return Path(tuple(quarters))


def _crown(oval: Path, *, casing: bool) -> Piece:
    if casing:
        return sewn_piece("crown", (Edge("edge", oval, NARROW_CASING_MM, "casing"),), {})
    return sewn_piece("crown", (Edge("edge", oval, SEAM_MM, "seam"),), {"edge": QUARTERS})


def _band(cap: Bouffant) -> Piece:
    """The band, unfolded: its length along the grain, its ends sewn into a ring."""
    length, height = cap.band_mm, 2.0 * cap.band_height_mm
    corners = (Point(0.0, 0.0), Point(length, 0.0), Point(length, height), Point(0.0, height))
    names = ("lower side", "far end", "upper side", "near end")
    edges = tuple(
        Edge(names[i], Path((Line(corners[i], corners[(i + 1) % 4]),)), SEAM_MM, "seam")
        for i in range(4)
    )
    return sewn_piece("band", edges, {"upper side": QUARTERS, "lower side": QUARTERS})
