"""Arranging a cut list: which caps go into which lay, and each lay nested."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, NoReturn

from cutfiles.effort import Effort
from cutfiles.errors import JobError
from cutfiles.job.job import Cloth
from cutfiles.job.machine import Machine
from cutfiles.lay.fill import LEAST_SECONDS, most_that_fit
from cutfiles.lay.lay import Lay
from cutfiles.lay.problem import NoPlaceError, StripLayout, StripProblem
from cutfiles.lay.table import CLOSE, Spacing, Table
from cutfiles.lay.tries import LIKELY_EFFICIENCY, Tries
from cutfiles.pieces.ordered import CutList, OrderedCap
from cutfiles.units import format_length

_LONGEST_MM: Final = 1e6
"""No lay is a kilometre long: files and their readers keep to that."""


@dataclass(frozen=True, slots=True)
class _Group:
    """The caps of one lay, how they lie, and where on the cloth the lay begins."""

    caps: Sequence[OrderedCap]
    layout: StripLayout
    start_mm: float


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

    A cap's pieces stay in one lay, but on remnants, which are a lay each. Lays of the same caps
    are nested once and repeated; not so on cloth with flaws, which is laid in order. Of the
    optional caps as many are placed as the cloth gives. Rolls are used up one after the other, the
    longest first. Where pieces are pinned there is one lay; whether they may stay is for
    `pins.pin_faults` to say beforehand.

    Raises
    ------
    JobError
        If a pinned piece cannot stay where it is, a piece is too large for the cloth or bed, one
        cap alone is longer than either, a limited cloth is too small for what must be cut, or an
        order without limits takes a lay that nobody could spread.
    """
    table = Table(cuts.cloth, machine, spacing, cuts.pins)
    too_large = table.too_large(cuts.caps, unit, source)
    if too_large:
        raise JobError(too_large)
    splitter = _Splitter(table, effort, unit, source)
    splitter.check_length(cuts.caps)
    lays: list[Lay] = []
    try:
        if cuts.cloth.rolls and not cuts.pins:
            tables = [Table(roll, machine, spacing) for roll in cuts.cloth.rolls]
            filled = _on_rolls(tables, cuts, splitter, effort)
        else:
            filled = [(table, splitter.groups(list(cuts.caps), cuts.optional))]
    except NoPlaceError as error:
        text = (
            f"{source}: cloth {cuts.cloth.name!r}: {error}: use cloth with fewer flaws or a print "
            f"of smaller repeat, leave out match, {'pin fewer pieces, ' if cuts.pins else ''}or "
            "order a smaller size"
        )
        raise JobError.of("no-place", text) from error
    for where, groups in filled:
        for group in groups:
            number = first_number + len(lays)
            lays.extend(where.lays(number, group.caps, group.layout, group.start_mm))
    return tuple(lays)


def _on_rolls(
    tables: Sequence[Table], cuts: CutList, whole: _Splitter, effort: Effort
) -> list[tuple[Table, list[_Group]]]:
    """The lays of each roll, one roll after the other: of all caps that wait, in their order, as
    many as it gives. Caps that are too large for a roll wait for the others.

    Raises
    ------
    JobError
        If all of them together give less than what must be cut.
    """
    filled: list[tuple[Table, list[_Group]]] = []
    fixed = {id(cap) for cap in cuts.fixed}
    waiting = list(cuts.caps)
    for table in tables:
        caps = table.with_room(waiting)
        if not caps:
            continue
        share = min(1.0, table.surface_mm2 / whole.area_mm2(waiting))
        splitter = whole.on(table, replace(effort, seconds=whole.seconds_left() * share))
        must = len(fixed & {id(cap) for cap in caps}) if table is tables[-1] else 0
        groups = splitter.filled(caps, must, is_open=cuts.optional > 0)
        placed = {id(cap) for group in groups for cap in group.caps}
        waiting = [cap for cap in waiting if id(cap) not in placed]
        filled.append((table, groups))
    done = len(cuts.caps) - len(waiting)
    if not done or any(id(cap) in fixed for cap in waiting):
        whole.refuse_short(cuts.caps, done, len(fixed))
    return filled


def strip_problem(
    caps: Sequence[OrderedCap], cloth: Cloth, machine: Machine, spacing: Spacing = CLOSE
) -> StripProblem:
    """What is nested for some caps in one lay on a cloth: their tool paths, and what they keep
    between them."""
    return Table(cloth, machine, spacing).problem(caps)


def _cut_up(caps: list[OrderedCap], counts: Sequence[int]) -> list[list[OrderedCap]]:
    """The caps in parts of so many each."""
    ends = list(itertools.accumulate(counts))
    return [caps[end - count : end] for end, count in zip(ends, counts, strict=True)]


class _Splitter:
    """Fills lays one after the other, each with as many caps as fit its length."""

    def __init__(self, table: Table, effort: Effort, unit: str, source: str) -> None:
        self._table, self._effort, self._unit, self._source = table, effort, unit, source
        self._tries = Tries(table, effort)

    def on(self, table: Table, effort: Effort) -> _Splitter:
        """The same on another table, with an effort of its own."""
        return _Splitter(table, effort, self._unit, self._source)

    def area_mm2(self, caps: Sequence[OrderedCap]) -> float:
        """The net area of some caps."""
        return self._tries.area_mm2(caps)

    def seconds_left(self) -> float:
        """Of the time that was given."""
        return self._tries.seconds_left(self._effort.seconds)

    def check_length(self, caps: Sequence[OrderedCap]) -> None:
        """Raise `JobError` for caps that are not cut up into lays and take too long a one."""
        least_mm = self._tries.area_mm2(caps) / self._table.width_mm
        if self._table.longest_mm == float("inf") and least_mm > _LONGEST_MM:
            least, most = (format_length(mm, self._unit) for mm in (least_mm, _LONGEST_MM))
            text = (
                f"{self._source}: cloth {self._table.cloth.name!r}: the order takes a lay of "
                f"{least} or more, and a lay has at most {most}: order less at once, or give the "
                "length of the cloth or of the machine's bed, which cuts it up into lays"
            )
            raise JobError.of("too-long", text)

    def groups(self, caps: list[OrderedCap], optional: int) -> list[_Group]:
        if self._table.pins:
            return self._round_pins(caps)
        if optional or self._table.strip:
            return self._all_that_fit(caps, len(caps) - optional)
        limit = self._table.longest_mm
        if limit == float("inf"):
            return [_Group(caps, self._tries.nest(caps, self._effort.seconds), 0.0)]
        if self._table.cloth.flaws:
            return self._in_order(caps, limit)
        kept = self._tries.recalled(caps)
        is_one = kept is not None and kept.length <= limit
        parts = [caps] if is_one else self._parts(caps, limit)
        different = {self._tries.key(part): part for part in parts}
        share = self._effort.seconds / 2.0 / len(different)
        nested = {key: self._tries.nest(part, share) for key, part in different.items()}
        return self._one_after_the_other([(part, nested[self._tries.key(part)]) for part in parts])

    def _parts(self, caps: list[OrderedCap], limit: float) -> list[list[OrderedCap]]:
        """The caps of each lay."""
        counts = []
        waiting = caps
        while waiting:
            count = self._fitting(waiting, limit, 0.0)
            counts.append(count)
            waiting = waiting[count:]
        return self._balanced(caps, len(counts), limit) or _cut_up(caps, counts)

    def _round_pins(self, caps: list[OrderedCap]) -> list[_Group]:
        """The one lay round pinned pieces, which must do for cloth and bed."""
        try:
            layout = self._tries.nest(caps, self._effort.seconds)
        except NoPlaceError:
            raise
        except ValueError as error:
            raise JobError.of("pinned", f"{self._source}: [[pinned]]: {error}") from error
        limit = self._table.longest_mm
        if layout.length > limit:
            have, most = (format_length(mm, self._unit) for mm in (layout.length, limit))
            raise JobError.of(
                "pinned-long",
                f"{self._source}: [[pinned]]: a cloth with pinned pieces makes one lay, which "
                f"takes {have} in the time that was given, and {self._table.length_limit()} gives "
                f"{most}: search longer, order less, or leave the pins out",
            )
        return [_Group(caps, layout, 0.0)]

    def _balanced(
        self, caps: list[OrderedCap], lays: int, limit: float
    ) -> list[list[OrderedCap]] | None:
        """The caps in as many lays, as even as can be; None where one of these does not fit."""
        even, more = divmod(len(caps), lays)
        parts = _cut_up(caps, [even + 1] * more + [even] * (lays - more))
        fit = all(self._fits(part, limit, 0.0) for part in parts)
        return parts if fit else None

    def _one_after_the_other(
        self, parts: Sequence[tuple[list[OrderedCap], StripLayout]]
    ) -> list[_Group]:
        groups = []
        start = 0.0
        for part, layout in parts:
            groups.append(_Group(part, layout, start))
            start += self._table.whole_repeats_mm(layout.length, up=True)
        return groups

    def _in_order(self, caps: list[OrderedCap], limit: float) -> list[_Group]:
        """Lays on flawed cloth: each is nested in full before it is known where the next begins."""
        groups: list[_Group] = []
        whole, start, waiting = self._tries.area_mm2(caps), 0.0, caps
        while waiting:
            count = self._count_fitting(waiting, limit, start)
            behind = None if count else self._table.behind_a_flaw(start)
            if behind is not None:  # a lay with no room before a flaw begins behind it
                start = behind
                continue
            count = count or self._one(waiting[0], limit, start)
            part, waiting = waiting[:count], waiting[count:]
            share = self._effort.seconds / 2.0 * self._tries.area_mm2(part) / whole
            groups.append(_Group(part, self._tries.nest(part, share, start), start))
            start += self._table.whole_repeats_mm(groups[-1].layout.length, up=True)
        return groups

    def filled(self, caps: list[OrderedCap], must: int, *, is_open: bool) -> list[_Group]:
        """The lays of a roll: as many of the first caps as it gives. If those are all, and the
        order has an end, the lays are searched for short ones."""
        groups = self._until_used_up(caps, must)
        if is_open or not groups or sum(len(group.caps) for group in groups) < len(caps):
            return groups
        share = self.seconds_left() / len(groups)
        shorter = [
            replace(one, layout=self._tries.nest(one.caps, share, one.start_mm)) for one in groups
        ]
        if self._table.cloth.flaws:  # each lay knows those of its own stretch
            return shorter
        return self._one_after_the_other([(list(one.caps), one.layout) for one in shorter])

    def _all_that_fit(self, caps: list[OrderedCap], must: int) -> list[_Group]:
        """Lays, or remnants, filled until the cloth on hand is used up, with what must be cut."""
        groups = self._until_used_up(caps, must)
        done = sum(len(group.caps) for group in groups)
        if done < max(must, 1):
            self.refuse_short(caps, done, must)
        return groups

    def _until_used_up(self, caps: list[OrderedCap], must: int) -> list[_Group]:
        """Lays, or remnants, filled until the cloth on hand is used up."""
        groups: list[_Group] = []
        whole, start, done = self._tries.area_mm2(caps), 0.0, 0
        while done < len(caps):
            left = self._table.whole_repeats_mm(self._table.cloth_mm - start)
            limit = min(self._table.longest_mm, left)
            waiting = caps[done:]
            least = 1 if self._table.strip is None else max(1, must)
            share = self._effort.seconds * self._tries.area_mm2(waiting) / whole
            found = most_that_fit(self._tries, waiting, limit, start, least=least, seconds=share)
            if found is None:
                behind = self._table.behind_a_flaw(start)
                if behind is not None:
                    start = behind
                    continue
                first = waiting[:least]
                if done >= max(must, 1) or not self._tries.fits_at_last(first, limit, start):
                    break
                found = least, self._tries.known(first, start)
            count, layout = found
            if self._table.strip and count == must == len(caps):
                layout = self._searched_on(waiting, start, layout)
            groups.append(_Group(waiting[:count], layout, start))
            done += count
            start += self._table.whole_repeats_mm(layout.length, up=True)
            if self._table.strip:
                break
        return groups

    def refuse_short(self, caps: Sequence[OrderedCap], done: int, must: int) -> NoReturn:
        """Say that there is too little cloth for what must be cut."""
        if self._effort.stop():
            raise KeyboardInterrupt
        raise JobError.of("cloth-short", self._short_text(caps, done, must))

    def _searched_on(
        self, caps: list[OrderedCap], start: float, layout: StripLayout
    ) -> StripLayout:
        """The shorter of a layout of a fixed order and of what is found in the time that is left:
        on remnants it takes less of the last of them, or fewer."""
        left = self._tries.seconds_left(self._effort.seconds)
        if left < LEAST_SECONDS or self._effort.stop():
            return layout
        try:
            return self._tries.nest(caps, left, start)
        except NoPlaceError:
            return layout

    def _short_text(self, caps: Sequence[OrderedCap], done: int, must: int) -> str:
        cloth = self._table.cloth.name
        if must == 0:
            return (
                f"{self._source}: {caps[0].kind}: not one fits what there is of cloth {cloth!r}: "
                "have more cloth, or a smaller size"
            )
        placed = "" if self._table.strip else f", {done} of which were placed"
        share = "share the caps out to the rolls by a plan, " if self._table.cloth.rolls else ""
        return (
            f"{self._source}: cloth {cloth!r}: there is not enough for the {must} caps and panels "
            f"ordered{placed}: have more cloth, order less, {share}or give "
            'quantity = "as many as fit"'
        )

    def _fitting(self, caps: list[OrderedCap], limit: float, start: float) -> int:
        """How many of the first caps fit one lay; at least one, or `JobError`."""
        return self._count_fitting(caps, limit, start) or self._one(caps[0], limit, start)

    def _one(self, cap: OrderedCap, limit: float, start: float) -> int:
        """1 where a longer search finds a lay of the cap, or `JobError`."""
        return 1 if self._tries.fits_at_last([cap], limit, start) else self._refuse(cap, limit)

    def _count_fitting(self, caps: list[OrderedCap], limit: float, start: float) -> int:
        """How many of the first caps fit one lay; 0 if not one does."""
        room = limit * self._table.width_mm * LIKELY_EFFICIENCY
        count, area = 0, 0.0
        for cap in caps:
            area += self._tries.area_mm2([cap])
            if count and area > room:
                break
            count += 1
        if self._fits(caps[:count], limit, start):
            while count < len(caps) and self._fits(caps[: count + 1], limit, start):
                count += 1
            return count
        while count > 1:
            count -= 1
            if self._fits(caps[:count], limit, start):
                return count
        return 0

    def _refuse(self, first: OrderedCap, limit: float) -> NoReturn:
        if self._effort.stop():
            raise KeyboardInterrupt
        what = "the pieces of one cap, which stay in one lay, do"
        if first.is_panel:
            what = "the panel does"
        raise JobError.of(
            "too-short",
            f"{self._source}: {first.kind}: {what} not fit {self._table.length_limit()} of "
            f"{format_length(limit, self._unit)} by "
            f"{format_length(self._table.width_mm, self._unit)}: {self._table.length_mend()}",
        )

    def _fits(self, caps: list[OrderedCap], limit: float, start: float) -> bool:
        return self._tries.fits(caps, limit, start, self._tries.try_seconds())
