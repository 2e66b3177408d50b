"""A plan in words: numbered steps, and which step makes which cut."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from cutfiles.ruler.lay_out import SPARE, ColumnShape, column_shape, strip_shape
from cutfiles.ruler.plan import Column, RulerCut, RulerPlan, RulerStrip
from cutfiles.units import counted, format_steps


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the work. ``cuts`` are those it makes, by stage, strip and column."""

    text: str
    cuts: frozenset[tuple[int, int, int]]


@dataclass(frozen=True, slots=True)
class Edges:
    """What lies beside the usable cloth: how wide a selvedge is trimmed off, in words, None where
    there is none; whether the cloth is folded, and whether its print points one way."""

    selvedge: str | None
    is_folded: bool
    one_way: bool


def steps_of(plan: RulerPlan, edges: Edges) -> tuple[Step, ...]:
    """Every step in order: all strips, then all cross cuts, then all trims, equal strips together,
    so that the cloth and then the strips lie the same way throughout a stage."""
    words = _Words(plan, edges)
    return (
        words.square_off(),
        *words.strips(),
        *words.cross_cuts(),
        *words.trims(),
        *words.pieces(),
    )


def numbered_cuts(plan: RulerPlan, steps: Sequence[Step]) -> Iterator[tuple[int, RulerCut]]:
    """Every cut with the number of its step, from 1, in order of the steps."""
    number = {key: n for n, step in enumerate(steps, 1) for key in step.cuts}
    cuts = [(number[cut.stage, cut.strip, cut.column], cut) for cut in plan.cuts()]
    yield from sorted(cuts, key=lambda one: one[0])


class _Words:
    def __init__(self, plan: RulerPlan, edges: Edges) -> None:
        self._plan, self._edges = plan, edges
        numbered = enumerate(plan.strips)
        groups = itertools.groupby(numbered, key=lambda one: strip_shape(one[1]))
        self._groups = [list(group) for _, group in groups]

    def square_off(self) -> Step:
        where = "the cloth"
        if self._edges.is_folded:
            where = "the cloth, folded selvedge on selvedge,"
        text = (
            f"Square off the end: cut {where} straight across at right angles to its selvedges. "
            "All lengths of cloth count from this cut."
        )
        return Step(text, frozenset())

    def strips(self) -> Iterator[Step]:
        """One step for strips of equal width that follow each other."""
        across = "from fold to selvedges" if self._edges.is_folded else "from selvedge to selvedge"
        layers = {1: "", 2: ", through both layers"}.get(
            self._plan.layers, f", through all {self._plan.layers} layers"
        )
        numbered = enumerate(self._plan.strips)
        for along, group in itertools.groupby(numbered, key=lambda one: one[1].along):
            numbers = [number for number, _ in group]
            text = (
                f"Cut {counted(len(numbers), 'strip')} {self._in(along)} wide across the cloth, "
                f"{across}{layers}: {_strips(numbers)}."
            )
            yield Step(text, frozenset((1, number, -1) for number in numbers))

    def cross_cuts(self) -> Iterator[Step]:
        """One step for strips that are cut up alike."""
        for group in self._groups:
            numbers = [number for number, _ in group]
            strip = group[0][1]
            parts = []
            for (across, to_trim), alike in itertools.groupby(
                enumerate(strip.columns),
                key=lambda one: (one[1].across, self._is_cut_up(group[0][1], one[1])),
            ):
                places = [place for place, _ in alike]
                blocks = (b for _, one in group for p in places for b in one.columns[p].blocks)
                what = "to be trimmed" if to_trim else _named(block.names for block in blocks)
                parts.append(f"{len(places)} of {self._in(across)} ({what})")
            each = " from each" if len(numbers) > 1 else ""
            text = (
                f"{_strips(numbers).capitalize()}: {self._trimmed()}cut off{each} {_then(parts)}."
            )
            yield Step(text, frozenset((2, number, -1) for number in numbers))

    def trims(self) -> Iterator[Step]:
        """One step for columns of a group of strips that are trimmed alike."""
        for group in self._groups:
            strip = group[0][1]
            places: dict[ColumnShape, list[int]] = {}
            for place, column in enumerate(strip.columns):
                if self._is_cut_up(strip, column):
                    places.setdefault(column_shape(column), []).append(place)
            for where in places.values():
                numbers = [number for number, _ in group]
                columns = [one.columns[place] for _, one in group for place in where]
                parts = []
                for along, count in Counter(b.along for b in columns[0].blocks).items():
                    blocks = [b for c in columns for b in c.blocks if b.along == along]
                    names = _named(block.names for block in blocks)
                    parts.append(f"{count} of {self._in(along)} ({names})")
                number = len(columns)
                which = "the part" if number == 1 else f"each of the {number} parts"
                text = (
                    f"Trim {which} {self._in(columns[0].across)} wide of {_strips(numbers)}: cut "
                    f"off {_then(parts)}."
                )
                keys = ((3, number, place) for number in numbers for place in where)
                yield Step(text, frozenset(keys))

    def pieces(self) -> Iterator[Step]:
        if self._edges.one_way:
            text = (
                "Before a block is moved, mark on it which way the print points: every piece is to "
                "point the same way."
            )
            yield Step(text, frozenset())
        yield Step(
            "Lay each piece's pattern on its block, its grain line as the list of blocks says, and "
            "cut it out. Ties and straight bindings are their blocks.",
            frozenset(),
        )

    def _trimmed(self) -> str:
        if self._plan.start_across:
            return f"trim the fold off ({self._in(self._plan.start_across)}), then "
        if self._edges.selvedge:
            return f"trim the selvedge off one end ({self._edges.selvedge}), then "
        return ""

    def _in(self, steps: int) -> str:
        return format_steps(steps, self._plan.unit)

    def _is_cut_up(self, strip: RulerStrip, column: Column) -> bool:
        return len(column.blocks) > 1 or column.blocks[0].along < strip.along


def _named(blocks: Iterable[tuple[str, ...]]) -> str:
    """``"4 x tie-back M hem: band, 1 spare"``."""
    counts = Counter(name for names in blocks for name in names)
    spare = counts.pop(SPARE, 0)
    parts = [f"{count} x {name}" for name, count in counts.items()]
    return ", ".join([*parts, f"{spare} spare"] if spare else parts)


def _strips(numbers: Sequence[int]) -> str:
    """``"strip 3"``, ``"strips 1 to 3"``: they follow each other."""
    first, last = numbers[0] + 1, numbers[-1] + 1
    if first == last:
        return f"strip {first}"
    return f"strips {first} {'and' if last == first + 1 else 'to'} {last}"


def _then(parts: Sequence[str]) -> str:
    return ", then ".join(parts)
