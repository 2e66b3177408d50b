"""One cloth on one machine: nesting problems from caps, and lays from layouts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

from cutfiles.errors import Finding
from cutfiles.geometry.kerf import waste_side_path
from cutfiles.geometry.polygons import moved_polygon
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.job.cloth import GrainRule
from cutfiles.job.job import Cloth, Machine
from cutfiles.lay.lay import Lay, PlacedPiece, guard_of, outline_of
from cutfiles.lay.problem import Shape, StripLayout, StripProblem
from cutfiles.pieces.ordered import OrderedCap, OrderedPiece
from cutfiles.tolerances import LAY_MM
from cutfiles.units import format_length


@dataclass(frozen=True, slots=True)
class Spacing:
    """What is left between two kerfs, and between a kerf and the edge of the cloth."""

    clearance_mm: float
    margin_mm: float


CLOSE = Spacing(clearance_mm=1.0, margin_mm=LAY_MM)
"""For cutting: a shifted ply or a thread must not join two pieces (common practice, no source)."""

APART = Spacing(clearance_mm=15.0, margin_mm=15.0)
"""For patterns on paper, to be cut apart by hand."""

_Kind = tuple[bytes, GrainRule]
"""What pieces have in common that are one shape: outline and grain."""


class Table:
    """One cloth on one machine: problems from caps, and lays from layouts.

    What is nested is the tool's path round each piece, so that the written outlines are the
    clearance apart and on the cloth, mitred corners included.
    """

    def __init__(self, cloth: Cloth, machine: Machine, spacing: Spacing) -> None:
        self.cloth, self.spacing = cloth, spacing
        self.kerf_mm = machine.kerf_mm
        bed_across = machine.bed_across_mm or float("inf")
        self.width_mm = min(cloth.usable_width_mm, bed_across)
        spread = cloth.length_mm / cloth.plies if cloth.length_mm else float("inf")
        bed = machine.bed_along_mm or float("inf")
        self.longest_mm = min(spread, bed)
        self.limited_by = "bed" if bed < spread else "cloth"
        self._outlines: dict[int, tuple[Polygon, Polygon]] = {}

    def outlines(self, ordered: OrderedPiece) -> tuple[Polygon, Polygon]:
        """The true outline and the tool's path, worked out once a drafted piece."""
        key = id(ordered.piece)
        if key not in self._outlines:
            outline = outline_of(ordered)
            self._outlines[key] = outline, waste_side_path(outline, self.kerf_mm)
        return self._outlines[key]

    def shapes(self, caps: Sequence[OrderedCap]) -> dict[_Kind, list[OrderedPiece]]:
        """The pieces of some caps by equal outline and grain: ties of all sizes are one shape."""
        shapes: dict[_Kind, list[OrderedPiece]] = {}
        for cap in caps:
            for ordered in cap.pieces:
                outline, _ = self.outlines(ordered)
                kind = outline.wkb, ordered.grain
                shapes.setdefault(kind, []).append(ordered)
        return shapes

    def turns_deg(self, ordered: OrderedPiece) -> tuple[float, ...]:
        """How a piece may lie."""
        return ordered.grain.turns_deg(one_way=self.cloth.one_way)

    def problem(self, caps: Sequence[OrderedCap]) -> StripProblem:
        """The pieces of some caps as shapes on the usable cloth."""
        shapes = []
        for pieces in self.shapes(caps).values():
            _, path = self.outlines(pieces[0])
            turns = self.turns_deg(pieces[0])
            shapes.append(Shape(pieces[0].name, path, turns, len(pieces), guard_of(path)))
        spacing = self.spacing
        return StripProblem(self.width_mm, spacing.clearance_mm, spacing.margin_mm, tuple(shapes))

    def lay(
        self, name: str, caps: Sequence[OrderedCap], layout: StripLayout, starts_at_mm: float
    ) -> Lay:
        """Give every spot of a layout its ordered piece, from left to right."""
        waiting = [iter(pieces) for pieces in self.shapes(caps).values()]
        spots = sorted(layout.spots, key=lambda s: (s.shape, s.motion.shift.x, s.motion.shift.y))
        placed = []
        for spot in spots:
            ordered = next(waiting[spot.shape])
            placed.append(PlacedPiece(ordered, self.outlines(ordered)[0], spot.motion))
        placed.sort(key=lambda p: p.ordered.id)
        return Lay(
            name,
            self.cloth,
            self.width_mm,
            layout.length,
            starts_at_mm,
            self.kerf_mm + self.spacing.clearance_mm,
            self.kerf_mm / 2.0 + self.spacing.margin_mm,
            tuple(placed),
            layout.engine,
        )

    def too_large(self, cap: OrderedCap, unit: str, source: str) -> list[Finding]:
        """The pieces of a cap that no allowed turn brings onto the cloth or bed."""
        findings = []
        width = self.width_mm - 2.0 * self.spacing.margin_mm
        length = self.longest_mm - 2.0 * self.spacing.margin_mm
        seen = set()
        for ordered in cap.pieces:
            if ordered.name in seen:
                continue
            seen.add(ordered.name)
            sizes = []
            for turn in self.turns_deg(ordered):
                turned = moved_polygon(self.outlines(ordered)[1], Motion(turn, Vector(0.0, 0.0)))
                x0, y0, x1, y1 = turned.bounds
                sizes.append((x1 - x0, y1 - y0))
            if any(along <= length and across <= width for along, across in sizes):
                continue
            along, across = min(sizes)
            wide = across > width
            have, limit = (across, width) if wide else (along, length)
            what = "wide" if wide else "long"
            by = self._width_limit() if wide else self.length_limit()
            smaller = "panel" if cap.is_panel else "size"
            findings.append(
                Finding(
                    "too-wide" if wide else "too-long",
                    "error",
                    f"{source}: {cap.kind}: the {ordered.name} is {format_length(have, unit)} "
                    f"{what} on its grain and {by} leaves {format_length(max(0.0, limit), unit)}: "
                    f"use {'wider' if wide else 'longer'} cloth or a larger bed, or a smaller "
                    f"{smaller}",
                )
            )
        return findings

    def _width_limit(self) -> str:
        bed = self.width_mm < self.cloth.usable_width_mm
        return "the machine's bed" if bed else f"cloth {self.cloth.name!r}"

    def length_limit(self) -> str:
        """What limits the length of a lay, in words."""
        return "the machine's bed" if self.limited_by == "bed" else f"cloth {self.cloth.name!r}"

    def length_mend(self) -> str:
        """What would make room along."""
        if self.limited_by == "bed":
            return "use a longer bed, or turn the cloth on it and swap along and across"
        return "use longer cloth or fewer plies"
