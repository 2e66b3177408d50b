"""The lay: ordered pieces where they lie on the usable cloth.

The frame is the usable cloth's: millimetres, x along the cloth, y across it, the origin in its
lower left corner.
"""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry import Polygon

from cutfiles.geometry.polygons import moved_polygon, polygon_of
from cutfiles.geometry.vector import Motion
from cutfiles.job.job import Cloth
from cutfiles.pieces.ordered import OrderedPiece


@dataclass(frozen=True, slots=True)
class PlacedPiece:
    """An ordered piece and the motion from its own frame to the cloth's.

    ``outline`` is its true cut line, flattened, in the piece's frame.
    """

    ordered: OrderedPiece
    outline: Polygon
    motion: Motion

    @property
    def placed_outline(self) -> Polygon:
        """The cut line on the cloth."""
        return moved_polygon(self.outline, self.motion)

    @property
    def grain_deg(self) -> float:
        """From the cloth's along direction to the piece's grain line, in [0, 360)."""
        return self.motion.turn_deg % 360.0


@dataclass(frozen=True, slots=True)
class Lay:
    """One arrangement, cut through all its plies at once.

    ``width_mm`` is the usable width: of the cloth, or of the bed where that is narrower.
    ``starts_at_mm`` is how far along the cloth the lay begins: where the ones before it end.
    """

    name: str
    cloth: Cloth
    width_mm: float
    length_mm: float
    starts_at_mm: float
    gap_mm: float
    margin_mm: float
    placed: tuple[PlacedPiece, ...]
    engine: str

    @property
    def pieces_area_mm2(self) -> float:
        """Net area of the pieces, one ply."""
        return sum(placed.outline.area for placed in self.placed)

    @property
    def efficiency(self) -> float:
        """Pieces' net area over usable width times length, 0 to 1; end losses are left out."""
        return self.pieces_area_mm2 / (self.width_mm * self.length_mm)

    @property
    def cap_count(self) -> int:
        """Caps cut by this lay, over all its plies."""
        numbers = {placed.ordered.cap_number for placed in self.placed}
        return len(numbers - {None}) * self.cloth.plies

    @property
    def panel_count(self) -> int:
        """Panels cut by this lay, over all its plies."""
        panels = [placed for placed in self.placed if placed.ordered.cap_number is None]
        return len(panels) * self.cloth.plies


def outline_of(ordered: OrderedPiece) -> Polygon:
    """The true cut line of an ordered piece, flattened."""
    return polygon_of(ordered.piece.cut)


def cut_outs_of(ordered: OrderedPiece) -> tuple[Polygon, ...]:
    """The true cut lines of an ordered piece's cut-outs, flattened, in the piece's frame."""
    return tuple(polygon_of(path) for path in ordered.piece.inner)


def guard_of(outline: Polygon, *, slack_mm: float = 0.2, few_points: int = 12) -> Polygon:
    """An outline of fewer points that contains the given one, nowhere further off than twice
    the slack (mitred corners apart). Outlines of few points come back as they are."""
    if len(outline.exterior.coords) <= few_points:
        return outline
    guard = outline.simplify(slack_mm).buffer(slack_mm, join_style="mitre")
    if not isinstance(guard, Polygon) or guard.interiors or not guard.covers(outline):
        return outline
    return guard
