"""One cloth on one machine: nesting problems from caps, and lays from layouts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from cutfiles.errors import Finding
from cutfiles.geometry.kerf import waste_side_path
from cutfiles.geometry.polygons import moved_polygon
from cutfiles.geometry.vector import Motion, Point, Vector
from cutfiles.job.cloth import GrainRule
from cutfiles.job.job import Cloth, PinnedPiece
from cutfiles.job.machine import Machine, RotaryBlade
from cutfiles.lay.lay import Lay, PlacedPiece, guard_of, kept_place, outline_of
from cutfiles.lay.obstacles import clipped, flaws_on_lay
from cutfiles.lay.problem import Obstacle, Register, Shape, Spot, StripLayout, StripProblem
from cutfiles.lay.remnants import RemnantStrip
from cutfiles.pieces.ordered import MatchPoint, OrderedCap, OrderedPiece
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


def spacing_for(cloth: Cloth, machine: Machine) -> Spacing:
    """What is left between cuts of a cloth on a machine: close, but as far apart as a round blade
    cuts the top of the stack beyond a corner, so that it cuts into no other piece."""
    if not isinstance(machine.tool, RotaryBlade):
        return CLOSE
    over = machine.tool.overshoot_mm(cloth.stack_mm)
    return Spacing(max(CLOSE.clearance_mm, over), max(CLOSE.margin_mm, over))


_TURN_DEG = 1e-6
"""A pinned piece's turn this near to an allowed one is that one."""

Kind = tuple[bytes, GrainRule, float | None, MatchPoint | None]
"""What pieces have in common that are one shape: outline, grain, fold and point on the print."""


class Table:
    """One cloth on one machine: problems from caps, and lays from layouts.

    What is nested is the tool's path round each piece, so that the written outlines are the
    clearance apart and on the cloth, mitred corners included.
    """

    def __init__(
        self,
        cloth: Cloth,
        machine: Machine,
        spacing: Spacing,
        pins: Sequence[PinnedPiece] = (),
    ) -> None:
        if pins:  # their one lay is spread from the longest roll
            cloth = cloth.each_roll[0]
        self.cloth, self.spacing = cloth, spacing
        self.pins = {pin.piece: pin for pin in pins}
        self.kerf_mm = machine.kerf_mm
        self._edge_to_edge = machine.shares_edges
        self.strip = RemnantStrip.of(cloth.remnants) if cloth.remnants else None
        bed = machine.longest_lay_mm or math.inf, machine.bed_across_mm or math.inf
        self.window_mm = machine.bed_along_mm or math.inf
        self.bed_mm = bed
        spread = cloth.length_mm / cloth.plies if cloth.length_mm else math.inf
        if self.strip:
            self.width_mm = self.strip.width
            self.cloth_mm = self.longest_mm = self.strip.length
        else:
            self.width_mm = min(cloth.lay_width_mm, bed[1])
            self.cloth_mm = spread
            self.longest_mm = cloth.longest_lay_mm(bed[0])
        by_bed = bed[0] < cloth.longest_ply_mm and not self.strip
        self.limited_by = "bed" if by_bed else "cloth"
        self._outlines: dict[int, tuple[Polygon, Polygon]] = {}
        self._names: dict[int, bytes] = {}

    @property
    def surface_mm2(self) -> float:
        """What of the cloth on hand can be laid out, in one layer; infinite where it has no end."""
        if self.strip:
            return sum(placed.outline.area for placed in self.strip.remnants)
        return self.cloth_mm * self.width_mm

    def outlines(self, ordered: OrderedPiece) -> tuple[Polygon, Polygon]:
        """The true outline and the tool's path, worked out once a drafted piece."""
        key = id(ordered.piece)
        if key not in self._outlines:
            outline = outline_of(ordered)
            self._outlines[key] = outline, waste_side_path(outline, self.kerf_mm)
        return self._outlines[key]

    def kinds(self, cap: OrderedCap) -> tuple[Kind, ...]:
        """What the pieces of a cap are to the nest: caps of equal kinds lie alike."""
        return tuple(self._kind(ordered) for ordered in cap.pieces)

    def _kind(self, ordered: OrderedPiece) -> Kind:
        key = id(ordered.piece)
        if key not in self._names:
            self._names[key] = self.outlines(ordered)[0].wkb
        return self._names[key], ordered.grain, ordered.fold_turn_deg, ordered.match

    def shapes(self, caps: Sequence[OrderedCap]) -> dict[Kind, list[OrderedPiece]]:
        """The pieces of some caps by equal outline and grain: ties of all sizes are one shape."""
        shapes: dict[Kind, list[OrderedPiece]] = {}
        for cap in caps:
            for ordered, kind in zip(cap.pieces, self.kinds(cap), strict=True):
                shapes.setdefault(kind, []).append(ordered)
        return shapes

    def whole_repeats_mm(self, length_mm: float, *, up: bool = False) -> float:
        """A length cut back, or made longer, to whole repeats of a print."""
        return self.cloth.whole_repeats_mm(length_mm, up=up)

    def behind_a_flaw(self, start_mm: float) -> float | None:
        """Where the next flaw ends, from a place along the cloth on; None where there is none
        ahead."""
        ends = [flaw.far[0] for flaw in self.cloth.flaws if flaw.far[0] > start_mm]
        return self.whole_repeats_mm(min(ends), up=True) if ends else None

    def turns_deg(self, ordered: OrderedPiece) -> tuple[float, ...]:
        """How a piece may lie; half a panel only with its fold along the cloth's."""
        if ordered.fold_turn_deg is not None:
            return (ordered.fold_turn_deg,)
        return ordered.grain.turns_deg(one_way=self.cloth.one_way)

    def nearest_turn_deg(self, ordered: OrderedPiece, turn_deg: float) -> float:
        """The turn that a piece may lie in nearest to another."""
        return min(self.turns_deg(ordered), key=lambda turn: _between_deg(turn, turn_deg))

    def problem(self, caps: Sequence[OrderedCap], starts_at_mm: float = 0.0) -> StripProblem:
        """The pieces of some caps as shapes on the usable cloth, from where a lay begins."""
        shapes = []
        for pieces in self.shapes(caps).values():
            first = pieces[0]
            _, path = self.outlines(first)
            turns = self.turns_deg(first)
            register = self._register(first)
            guard = guard_of(path)
            shapes.append(Shape(first.name, path, turns, len(pieces), guard, register))
        margin = self.spacing.margin_mm
        if self.strip:
            obstacles = self.strip.obstacles(margin)
        else:
            flaws = flaws_on_lay(self.cloth, starts_at_mm)
            obstacles = tuple(Obstacle(flaw, margin) for flaw in flaws)
        return StripProblem(
            self.width_mm,
            self.spacing.clearance_mm,
            margin,
            tuple(shapes),
            obstacles,
            self._edge_to_edge,
        )

    def _register(self, ordered: OrderedPiece) -> Register | None:
        """What a piece keeps to: the fold, or the print."""
        if ordered.fold_turn_deg is not None:
            origin = Point(0.0, 0.0)
            return Register(origin, origin, step_across=0.0)
        repeat = self.cloth.print_repeat
        if ordered.match is None or repeat is None:
            return None
        first = kept_place(repeat, self.cloth.print_starts_mm)
        return Register(ordered.match.at, first, repeat.along_mm, repeat.across_mm)

    def pinned_spots(self, caps: Sequence[OrderedCap]) -> dict[str, Spot]:
        """Where the pinned pieces of some caps stay, by their ids, in the order of the caps'
        shapes; in the turn that is allowed where the job's differs from it by a rounding."""
        if not self.pins:
            return {}
        found = {}
        for index, pieces in enumerate(self.shapes(caps).values()):
            for ordered in pieces:
                pin = self.pins.get(ordered.id)
                if pin is not None:
                    near = self.nearest_turn_deg(ordered, pin.turn_deg)
                    is_near = _between_deg(near, pin.turn_deg) <= _TURN_DEG
                    motion = Motion(near if is_near else pin.turn_deg, Vector(*pin.at_mm))
                    found[ordered.id] = Spot(index, motion)
        return found

    def lays(
        self, first_number: int, caps: Sequence[OrderedCap], layout: StripLayout, start: float
    ) -> list[Lay]:
        """The lay of a layout, or one for every remnant that it uses."""
        owners = self._owners(caps, layout)
        if self.strip is None:
            placed = [
                PlacedPiece(ordered, self.outlines(ordered)[0], spot.motion)
                for ordered, spot in zip(owners, layout.spots, strict=True)
            ]
            length = self.whole_repeats_mm(layout.length, up=True)
            flaws = clipped(flaws_on_lay(self.cloth, start), length, self.width_mm)
            size = length, self.width_mm
            lay = self._lay(first_number, placed, layout, size, starts_at_mm=start, flaws=flaws)
            return [lay]
        found = self.strip.shared_out(self.problem(caps), layout)
        lays: list[Lay] = []
        for home in sorted(found):
            remnant = self.strip.remnants[home]
            back = Vector(-remnant.starts_at, 0.0)
            placed = [
                PlacedPiece(
                    owners[number],
                    self.outlines(owners[number])[0],
                    replace(spot.motion, shift=spot.motion.shift + back),
                )
                for number, spot in found[home]
            ]
            size = remnant.remnant.size_mm
            number = first_number + len(lays)
            flaws = clipped(remnant.flaws, *size)
            lay = self._lay(number, placed, layout, size, flaws=flaws)
            own = remnant.remnant.number
            lays.append(replace(lay, remnant=remnant.outline, remnant_number=own))
        return lays

    def _owners(self, caps: Sequence[OrderedCap], layout: StripLayout) -> list[OrderedPiece]:
        """Every spot's ordered piece: a pinned one's own, the others given out from left to
        right."""
        owner: dict[int, OrderedPiece] = {}
        pinned = self.pinned_spots(caps)
        shapes = self.shapes(caps)
        for pieces in shapes.values():
            for ordered in pieces:
                if ordered.id in pinned:
                    owner[layout.spots.index(pinned[ordered.id])] = ordered
        waiting = [iter([p for p in pieces if p.id not in pinned]) for pieces in shapes.values()]
        order = sorted(
            (k for k in range(len(layout.spots)) if k not in owner),
            key=lambda k: (
                layout.spots[k].shape,
                layout.spots[k].motion.shift.x,
                layout.spots[k].motion.shift.y,
            ),
        )
        owner |= {k: next(waiting[layout.spots[k].shape]) for k in order}
        return [owner[k] for k in range(len(layout.spots))]

    def _lay(
        self,
        number: int,
        placed: Sequence[PlacedPiece],
        layout: StripLayout,
        size_mm: tuple[float, float],
        *,
        starts_at_mm: float = 0.0,
        flaws: tuple[Polygon, ...] = (),
    ) -> Lay:
        return Lay(
            f"lay-{number:02d}",
            self.cloth,
            size_mm[1],
            size_mm[0],
            starts_at_mm,
            self.kerf_mm + self.spacing.clearance_mm,
            self.kerf_mm / 2.0 + self.spacing.margin_mm,
            tuple(sorted(placed, key=lambda p: p.ordered.id)),
            layout.engine,
            flaws,
        )

    def too_large(self, caps: Sequence[OrderedCap], unit: str, source: str) -> list[Finding]:
        """The remnants that the bed does not take, and the pieces of some caps that no allowed turn
        brings onto the cloth or bed."""
        different = {self.kinds(cap): cap for cap in reversed(caps)}
        findings = self._too_large_for_bed(unit, source)
        for cap in reversed(different.values()):
            findings += self._pieces_too_large(cap, unit, source)
        return findings

    def with_room(self, caps: Sequence[OrderedCap]) -> list[OrderedCap]:
        """Those of some caps of which no piece is too large for the cloth or bed."""
        different = {self.kinds(cap): cap for cap in caps}
        fitting = {
            kinds for kinds, cap in different.items() if not self._pieces_too_large(cap, "mm", "")
        }
        return [cap for cap in caps if self.kinds(cap) in fitting]

    def _pieces_too_large(self, cap: OrderedCap, unit: str, source: str) -> list[Finding]:
        findings = []
        rooms = self._rooms()
        length, width = max(rooms)
        seen = set()
        for ordered in cap.pieces:
            if ordered.name in seen:
                continue
            seen.add(ordered.name)
            sizes = []
            for turn in self.turns_deg(ordered):
                turned = moved_polygon(self.outlines(ordered)[1], Motion(turn, Vector(0.0, 0.0)))
                x0, y0, x1, y1 = turned.bounds
                # what runs past the fold takes no cloth
                low = y0 if ordered.fold_turn_deg is None else max(y0, 0.0)
                sizes.append((x1 - x0, y1 - low))
            if any(a <= room[0] and b <= room[1] for a, b in sizes for room in rooms):
                continue
            along, across = min(sizes)
            wide = across > width
            have, limit = (across, width) if wide else (along, length)
            what = "wide" if wide else "long"
            by = self._width_limit() if wide else self._piece_limit(length)
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

    def _too_large_for_bed(self, unit: str, source: str) -> list[Finding]:
        """Each remnant lies on the bed as a whole."""
        findings = []
        for placed in self.strip.remnants if self.strip else ():
            size = placed.remnant.size_mm
            if any(have > most for have, most in zip(size, self.bed_mm, strict=True)):
                along, across = (format_length(have, unit) for have in size)
                text = (
                    f"{source}: {placed.remnant.table}: outline: the remnant is {along} "
                    f"by {across}, more than the machine's bed takes: cut it up, and give every "
                    "part its own outline"
                )
                findings.append(Finding("bed-narrow", "error", text))
        return findings

    def _rooms(self) -> list[tuple[float, float]]:
        """How large a piece may be, along and across: on each remnant, or on the cloth."""
        if self.strip:
            sizes = [placed.remnant.size_mm for placed in self.strip.remnants]
        else:
            sizes = [(self.longest_mm, self.width_mm)]
        off = 2.0 * self.spacing.margin_mm
        return [(min(along - off, self.window_mm), across - off) for along, across in sizes]

    def _piece_limit(self, length_mm: float) -> str:
        """What leaves a piece so much along, in words."""
        return "the machine's bed" if length_mm == self.window_mm else self.length_limit()

    def _width_limit(self) -> str:
        bed = self.strip is None and self.width_mm < self.cloth.lay_width_mm
        return "the machine's bed" if bed else f"cloth {self.cloth.name!r}"

    def length_limit(self) -> str:
        """What limits the length of a lay, in words."""
        return "the machine's bed" if self.limited_by == "bed" else f"cloth {self.cloth.name!r}"

    def length_mend(self) -> str:
        """What would make room along."""
        if self.limited_by == "bed":
            return "use a longer bed, or turn the cloth on it and swap along and across"
        return "use longer cloth or fewer plies"


def _between_deg(one: float, other: float) -> float:
    """The smaller angle between two turns."""
    return abs((one - other + 180.0) % 360.0 - 180.0)
