"""Arranging a cut list: which caps go into which lay, and each lay nested."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

from cutfiles.effort import Effort, Progress
from cutfiles.errors import Finding, JobError
from cutfiles.geometry.kerf import waste_side_path
from cutfiles.geometry.polygons import moved_polygon
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.job.job import Cloth, Machine
from cutfiles.lay.lay import Lay, PlacedPiece, guard_of, outline_of
from cutfiles.lay.nest import nest_strip
from cutfiles.lay.problem import Shape, StripLayout, StripProblem, Watch
from cutfiles.pieces.ordered import CutList, OrderedCap, OrderedPiece
from cutfiles.tolerances import LAY_MM
from cutfiles.units import format_length

_SHORTEST_TRY_S = 0.3
"""Below this the strip engine finds nothing; the rows that it must beat are there at once."""


@dataclass(frozen=True, slots=True)
class Spacing:
    """What is left between two kerfs, and between a kerf and the edge of the cloth."""

    clearance_mm: float
    margin_mm: float


CLOSE = Spacing(clearance_mm=1.0, margin_mm=LAY_MM)
"""For cutting: a shifted ply or a thread must not join two pieces (common practice, no source)."""

APART = Spacing(clearance_mm=15.0, margin_mm=15.0)
"""For patterns on paper, to be cut apart by hand."""

_LIKELY_EFFICIENCY = 0.80
"""What a first guess at the caps in a limited lay counts on; tries put it right."""


def arrange(
    cuts: CutList,
    machine: Machine,
    effort: Effort,
    *,
    unit: str,
    source: str,
    first_number: int = 1,
    spacing: Spacing = CLOSE,
) -> tuple[Lay, ...]:
    """Nest every cap of a cut list, in one lay or, where cloth or bed is limited, in several.

    A cap's pieces stay in one lay. Lays of the same caps are nested once and repeated.

    Raises
    ------
    JobError
        If a piece is too large for the cloth or bed, or one cap alone is longer than either.
    """
    table = _Table(cuts.cloth, machine, spacing)
    too_large = [f for cap in _kinds(cuts.caps) for f in table.too_large(cap, unit, source)]
    if too_large:
        raise JobError(too_large)
    groups = _Splitter(table, effort, unit, source).groups(list(cuts.caps))
    lays: list[Lay] = []
    start = 0.0
    for number, (caps, layout) in enumerate(groups, first_number):
        lays.append(table.lay(f"lay-{number:02d}", caps, layout, start))
        start += layout.length
    return tuple(lays)


def strip_problem(
    caps: Sequence[OrderedCap], cloth: Cloth, machine: Machine, spacing: Spacing = CLOSE
) -> StripProblem:
    """What is nested for some caps in one lay on a cloth: their tool paths, and what they keep
    between them."""
    return _Table(cloth, machine, spacing).problem(caps)


def _kinds(caps: Sequence[OrderedCap]) -> list[OrderedCap]:
    """One cap of each kind."""
    return list({(cap.kind, cap.is_panel): cap for cap in reversed(caps)}.values())[::-1]


class _Table:
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

    def shapes(self, caps: Sequence[OrderedCap]) -> dict[bytes, list[OrderedPiece]]:
        """The pieces of some caps by equal outline: ties of all sizes are one shape."""
        shapes: dict[bytes, list[OrderedPiece]] = {}
        for cap in caps:
            for ordered in cap.pieces:
                outline, _ = self.outlines(ordered)
                shapes.setdefault(outline.wkb, []).append(ordered)
        return shapes

    def problem(self, caps: Sequence[OrderedCap]) -> StripProblem:
        shapes = []
        for pieces in self.shapes(caps).values():
            _, path = self.outlines(pieces[0])
            turns = self.cloth.allowed_turns_deg
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
            for turn in self.cloth.allowed_turns_deg:
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


_Key = tuple[tuple[str, bool], ...]
"""The caps and panels of a lay, by kind: a panel may be called like a cap."""


class _Splitter:
    """Fills lays one after the other, each with as many caps as fit its length."""

    def __init__(self, table: _Table, effort: Effort, unit: str, source: str) -> None:
        self._table, self._effort, self._unit, self._source = table, effort, unit, source
        self._nested: dict[_Key, StripLayout] = {}
        self._start = time.monotonic()

    def groups(self, caps: list[OrderedCap]) -> list[tuple[list[OrderedCap], StripLayout]]:
        limit = self._table.longest_mm
        if limit == float("inf"):
            return [(caps, self._nest(caps, self._effort.seconds))]
        counts = []
        waiting = caps
        while waiting:
            count = self._fitting(waiting, limit)
            counts.append(count)
            waiting = waiting[count:]
        groups = []
        start = 0
        for count in counts:
            groups.append(caps[start : start + count])
            start += count
        different = {self._key(group): group for group in groups}
        share = self._effort.seconds / 2.0 / len(different)
        nested = {key: self._nest(group, share) for key, group in different.items()}
        return [(group, nested[self._key(group)]) for group in groups]

    def _fitting(self, caps: list[OrderedCap], limit: float) -> int:
        """How many of the first caps fit one lay."""
        room = limit * self._table.width_mm * _LIKELY_EFFICIENCY
        count, area = 0, 0.0
        for cap in caps:
            area += sum(self._table.outlines(p)[0].area for p in cap.pieces)
            if count and area > room:
                break
            count += 1
        if self._fits(caps[:count], limit):
            while count < len(caps) and self._fits(caps[: count + 1], limit):
                count += 1
            return count
        while count > 1:
            count -= 1
            if self._fits(caps[:count], limit):
                return count
        if self._effort.stop():
            raise KeyboardInterrupt
        first = caps[0]
        what = "the pieces of one cap, which stay in one lay, do"
        if first.is_panel:
            what = "the panel does"
        raise JobError.of(
            "too-short",
            f"{self._source}: {first.kind}: {what} not fit {self._table.length_limit()} of "
            f"{format_length(limit, self._unit)} by "
            f"{format_length(self._table.width_mm, self._unit)}: {self._table.length_mend()}",
        )

    def _fits(self, caps: list[OrderedCap], limit: float) -> bool:
        """Try a short nest that stops as soon as the limit is met."""
        area = sum(self._table.outlines(p)[0].area for cap in caps for p in cap.pieces)
        if area > limit * self._table.width_mm:
            return False
        known = self._nested.get(self._key(caps))
        if known is not None:  # one try a kind of lay: a second would only cost time
            return known.length <= limit
        return self._nest(caps, self._try_seconds(), enough=limit).length <= limit

    def _try_seconds(self) -> float:
        """A fifth of what is left of the time for trying, so that no number of tries overruns it
        by much."""
        left = self._start + self._effort.seconds / 2.0 - time.monotonic()
        return min(3.0, max(_SHORTEST_TRY_S, left / 5.0))

    def _nest(
        self, caps: list[OrderedCap], seconds: float, enough: float | None = None
    ) -> StripLayout:
        """Nest some caps; a second nest of the same kinds of cap starts from the better one."""
        problem = self._table.problem(caps)
        key = self._key(caps)

        def improved(layout: StripLayout, left: float) -> None:
            self._effort.report(
                Progress(
                    self._table.cloth.name,
                    sum(not cap.is_panel for cap in caps),
                    sum(cap.is_panel for cap in caps),
                    layout.length,
                    layout.efficiency(problem),
                    left,
                )
            )

        watch = Watch(seconds, stop=self._effort.stop, improved=improved, enough_length=enough)
        layout = nest_strip(problem, seed=self._effort.seed, watch=watch)
        known = self._nested.get(key)
        if known is None or layout.length < known.length:
            self._nested[key] = layout
        return self._nested[key]

    def _key(self, caps: Sequence[OrderedCap]) -> _Key:
        return tuple((cap.kind, cap.is_panel) for cap in caps)
