"""Arranging a cut list: which caps go into which lay, and each lay nested."""

from __future__ import annotations

import time
from collections.abc import Sequence

from cutfiles.effort import Effort, Progress
from cutfiles.errors import JobError
from cutfiles.job.job import Machine
from cutfiles.lay.lay import Lay
from cutfiles.lay.nest import nest_strip
from cutfiles.lay.problem import StripLayout, Watch
from cutfiles.lay.table import CLOSE, Spacing, Table
from cutfiles.pieces.ordered import CutList, OrderedCap
from cutfiles.units import format_length

_SHORTEST_TRY_S = 0.3
"""Below this the strip engine finds nothing; the rows that it must beat are there at once."""


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
    table = Table(cuts.cloth, machine, spacing)
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


def _kinds(caps: Sequence[OrderedCap]) -> list[OrderedCap]:
    """One cap of each kind."""
    return list({(cap.kind, cap.is_panel): cap for cap in reversed(caps)}.values())[::-1]


_Key = tuple[tuple[str, bool], ...]
"""The caps and panels of a lay, by kind: a panel may be called like a cap."""


class _Splitter:
    """Fills lays one after the other, each with as many caps as fit its length."""

    def __init__(self, table: Table, effort: Effort, unit: str, source: str) -> None:
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
