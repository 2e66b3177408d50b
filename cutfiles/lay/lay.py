"""The lay: ordered pieces where they lie on the usable cloth.

The frame is the usable cloth's: millimetres, x along the cloth, y across it, the origin in its
lower left corner.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shapely.geometry import Polygon, box

from cutfiles.geometry.polygons import moved_polygon, polygon_of
from cutfiles.geometry.vector import Motion, Point
from cutfiles.job.cloth import PrintRepeat
from cutfiles.job.job import Cloth
from cutfiles.lay.rest import rest_of
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
    def lies_on_fold(self) -> bool:
        """Whether it is half a panel, its middle on the fold of the cloth."""
        return self.ordered.fold_turn_deg is not None

    @property
    def cloth_mm2(self) -> float:
        """How much cloth it is: of a half on the fold, what does not lie beyond it."""
        if not self.lies_on_fold:
            return self.outline.area
        placed = self.placed_outline
        x0, _, x1, y1 = placed.bounds
        return float(placed.intersection(box(x0, 0.0, x1, y1)).area)

    @property
    def match_place(self) -> Point | None:
        """Where the point lies that keeps to the print, if it does."""
        match = self.ordered.match
        return None if match is None else self.motion.point(match.at)

    @property
    def grain_deg(self) -> float:
        """From the cloth's along direction to the piece's grain line, in [0, 360)."""
        return self.motion.turn_deg % 360.0


@dataclass(frozen=True, slots=True)
class Lay:
    """One arrangement, cut through all its plies at once.

    ``width_mm`` is the usable width: of the cloth as it lies, or of the bed where that is narrower.
    ``starts_at_mm`` is how far along the cloth the lay begins: where the ones before it end.
    ``flaws`` are those of its cloth, ``remnant`` the outline where it is a remnant's; then
    width and length are those of its box, and ``remnant_number`` is the remnant's own.
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
    flaws: tuple[Polygon, ...] = ()
    remnant: Polygon | None = None
    remnant_number: int | None = None

    @property
    def pieces_area_mm2(self) -> float:
        """Net area of the pieces, one ply."""
        return sum(placed.cloth_mm2 for placed in self.placed)

    @property
    def efficiency(self) -> float:
        """Pieces' net area over usable width times length, 0 to 1; end losses are left out."""
        return self.pieces_area_mm2 / (self.width_mm * self.length_mm)

    @property
    def taken_mm(self) -> float:
        """The length of cloth that it takes, over all its plies; folded cloth as long as it
        lies."""
        return self.length_mm * self.cloth.plies

    @property
    def rest(self) -> Polygon | None:
        """What of its remnant stays cloth, in its frame; None where nothing does."""
        if self.remnant is None:
            return None
        return rest_of(self.remnant, [one.placed_outline for one in self.placed], self.gap_mm)

    @property
    def panel_count(self) -> int:
        """Panels cut by this lay, over all its layers; a half on the fold needs two for one."""
        panels = [placed for placed in self.placed if placed.ordered.cap_number is None]
        halves = sum(placed.lies_on_fold for placed in panels)
        return (len(panels) - halves) * self.cloth.layers + halves * self.cloth.plies


def caps_of(lays: Iterable[Lay]) -> int:
    """Caps cut by some lays, over all their layers: those of which no piece is missing. A cap
    may lie on several remnants, or come from several cloths."""
    missing: dict[int, int] = {}
    layers: dict[int, int] = {}
    for lay in lays:
        for placed in lay.placed:
            number = placed.ordered.cap_number
            if number is not None:
                missing[number] = missing.get(number, placed.ordered.cap_pieces) - 1
                layers[number] = lay.cloth.layers
    return sum(layers[number] for number, pieces in missing.items() if pieces <= 0)


def kept_place(repeat: PrintRepeat, starts_mm: tuple[float, float]) -> Point:
    """Where the points that keep to a print lie: in the middle of a repeat, and of all these
    middles in the first on the cloth. ``starts_mm`` is where one repeat begins, along and across,
    in the lay's frame; on an axis without a repeat the place is 0.
    """
    steps = repeat.along_mm, repeat.across_mm
    along, across = (
        (start + step / 2.0) % step if step else 0.0
        for start, step in zip(starts_mm, steps, strict=True)
    )
    return Point(along, across)


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
