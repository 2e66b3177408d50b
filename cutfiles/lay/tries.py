"""Nesting caps on one table, with what was nested before kept by what it was."""

from __future__ import annotations

import time
from collections.abc import Sequence

from cutfiles.effort import Effort, Progress
from cutfiles.lay.grid_engine import compile_engine
from cutfiles.lay.kept import nest_or_recall, problem_key, read_kept
from cutfiles.lay.nest import nest_strip
from cutfiles.lay.pinned import nest_round
from cutfiles.lay.problem import NoPlaceError, StripLayout, Watch
from cutfiles.lay.shown import shown
from cutfiles.lay.table import Kind, Table
from cutfiles.pieces.ordered import OrderedCap

LIKELY_EFFICIENCY = 0.80
"""What a first guess at the caps in a limited lay counts on; tries put it right."""

_SHORTEST_TRY_S = 0.3
"""Below this the strip engine finds nothing; the rows that it must beat are there at once."""

_LAST_TRY_S = 5.0
"""For the nest on which it hangs whether a job is refused, however short the search may be."""

_Key = tuple[float, tuple[tuple[Kind, ...], ...]]
"""Where a lay begins, if that matters, and what its caps and panels are to the nest."""


class Tries:
    """Nests caps on a table, and knows the best layout of each kind of lay."""

    def __init__(self, table: Table, effort: Effort) -> None:
        self.table, self.effort = table, effort
        self._nested: dict[_Key, StripLayout] = {}
        self._start = time.monotonic()

    def area_mm2(self, caps: Sequence[OrderedCap]) -> float:
        """The net area of some caps."""
        return sum(self.table.outlines(p)[0].area for cap in caps for p in cap.pieces)

    def seconds_left(self, until: float) -> float:
        """Of the time that was given from the beginning on."""
        return max(0.0, self._start + until - time.monotonic())

    def try_seconds(self) -> float:
        """A fifth of what is left of the time for trying, so that no number of tries overruns it
        by much."""
        left = self.seconds_left(self.effort.seconds / 2.0)
        return min(3.0, max(_SHORTEST_TRY_S, left / 5.0))

    def key(self, caps: Sequence[OrderedCap], start_mm: float = 0.0) -> _Key:
        """What lays have in common that are nested alike: flaws lie in one place only."""
        begins = start_mm if self.table.cloth.flaws else 0.0
        return begins, tuple(self.table.kinds(cap) for cap in caps)

    def known(self, caps: Sequence[OrderedCap], start_mm: float) -> StripLayout:
        """The best layout so far of caps that were nested; ``KeyError`` if they were not."""
        return self._nested[self.key(caps, start_mm)]

    def recalled(self, caps: Sequence[OrderedCap]) -> StripLayout | None:
        """A layout of all these caps in one lay that was kept before; None where there is none."""
        problem = self.table.problem(caps)
        text = self.effort.recall(problem_key(problem))
        kept = None if text is None else read_kept(text, problem)
        return None if kept is None else kept.layout

    def fits(
        self, caps: Sequence[OrderedCap], limit_mm: float, start_mm: float, seconds: float
    ) -> bool:
        """Try a nest of so many seconds that stops as soon as the limit is met."""
        known = self._nested.get(self.key(caps, start_mm))
        if known is not None:  # one try a kind of lay: a second would only cost time
            return known.length <= limit_mm
        return self._fits_now(caps, limit_mm, start_mm, seconds)

    def fits_at_last(
        self, caps: Sequence[OrderedCap], limit_mm: float, start_mm: float = 0.0
    ) -> bool:
        """Try once more what did not fit, for long enough that a busy machine is no reason."""
        return self._fits_now(caps, limit_mm, start_mm, max(_LAST_TRY_S, self.effort.seconds))

    def _fits_now(
        self, caps: Sequence[OrderedCap], limit_mm: float, start_mm: float, seconds: float
    ) -> bool:
        if self.effort.stop() or self.area_mm2(caps) > limit_mm * self.table.width_mm:
            return False
        try:
            return self.nest(caps, seconds, start_mm, enough=limit_mm).length <= limit_mm
        except NoPlaceError:
            return False

    def nest(
        self,
        caps: Sequence[OrderedCap],
        seconds: float,
        start_mm: float = 0.0,
        enough: float | None = None,
    ) -> StripLayout:
        """Nest some caps; a second nest of the same kinds of cap starts from the better one.

        Raises
        ------
        NoPlaceError
            If a piece may lie nowhere on the cloth.
        ValueError
            If pinned pieces break a rule; `pins.pin_faults` says so before.
        """
        problem = self.table.problem(caps, start_mm)
        pinned = tuple(self.table.pinned_spots(caps).values())
        key = self.key(caps, start_mm)

        def improved(layout: StripLayout, left: float) -> None:
            self.effort.report(
                Progress(
                    self.table.cloth.called,
                    sum(not cap.is_panel for cap in caps),
                    sum(cap.is_panel for cap in caps),
                    layout.length,
                    layout.efficiency(problem),
                    left,
                    lambda: tuple(map(shown, self.table.lays(1, caps, layout, start_mm))),
                )
            )

        def nest() -> tuple[StripLayout, float]:
            if seconds > 0.0:
                compile_engine()
            watch = Watch(seconds, stop=self.effort.stop, improved=improved, enough_length=enough)
            seed = self.effort.seed
            if pinned:
                layout = nest_round(problem, pinned, seed=seed, watch=watch)
            else:
                layout = nest_strip(problem, seed=seed, watch=watch)
            spent = seconds - watch.seconds_left if self.effort.stop() else seconds
            return layout, spent

        layout = (
            nest()[0]
            if enough is not None
            else nest_or_recall(
                problem,
                seed=self.effort.seed,
                seconds=seconds,
                recall=self.effort.recall,
                keep=self.effort.keep,
                nest=nest,
                pinned=pinned,
            )
        )
        known = self._nested.get(key)
        if known is None or layout.length < known.length:
            self._nested[key] = layout
        return self._nested[key]
