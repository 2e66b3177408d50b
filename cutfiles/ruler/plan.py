"""The nouns of cutting by ruler: kinds of block, strips, columns, blocks, a plan.

A *block* is a rectangle of cloth that one piece is cut from, in every layer. Every measure is a
whole number of *steps* of the ruler (`units.RULER_STEP_MM`): 1/8 in or 1 mm. *Along* is along the
cloth, *across* from selvedge to selvedge.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from cutfiles.job.cloth import Grain

Stages = Literal[2, 3]
"""Two: strips across the cloth, then cross cuts. Three: then trims in what a cross cut gives."""

Size = tuple[int, int]
"""Of a block: along, across."""


@dataclass(frozen=True, slots=True)
class BlockRow:
    """The blocks wanted for one piece: how many, how its grain line lies in them, and the sizes
    that they may have, one for each way to lie, the best on grain first."""

    name: str
    grain: Grain
    count: int
    sizes: tuple[Size, ...]


@dataclass(frozen=True, slots=True)
class BlockKind:
    """Blocks of one size: how each may lie, the best on grain first, and for which pieces they are,
    as names with the number wanted of each."""

    sizes: tuple[Size, ...]
    names: tuple[tuple[str, int], ...]

    @property
    def wanted(self) -> int:
        """Blocks wanted, of all names."""
        return sum(count for _, count in self.names)


@dataclass(frozen=True, slots=True)
class ClothRules:
    """What every strip keeps to: the width of cloth to cut blocks from, the widest strip, and the
    stages."""

    width: int
    widest: int
    stages: Stages


@dataclass(frozen=True, slots=True)
class Block:
    """One block where it is cut; ``names`` says for which piece each layer is."""

    names: tuple[str, ...]
    along: int
    across: int


@dataclass(frozen=True, slots=True)
class Column:
    """What one cross cut takes off a strip: blocks of equal width, one after another along the
    cloth."""

    across: int
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class RulerStrip:
    """A strip across the cloth, and its columns from the lower edge up."""

    along: int
    columns: tuple[Column, ...]


@dataclass(frozen=True, slots=True)
class Rectangle:
    """Where something lies on the cloth, in steps."""

    x0: int
    y0: int
    x1: int
    y1: int


@dataclass(frozen=True, slots=True)
class PlacedBlock:
    """A block and where it lies."""

    block: Block
    at: Rectangle


@dataclass(frozen=True, slots=True)
class RulerCut:
    """One straight cut from end to end of what there is: ``stage`` 1 is across the cloth. ``strip``
    counts from 0; ``column`` does too, and is -1 before a strip is cut up."""

    stage: int
    strip: int
    column: int
    start: tuple[int, int]
    end: tuple[int, int]


@dataclass(frozen=True, slots=True)
class RulerPlan:
    """How blocks are cut from one cloth.

    ``start_across`` is what is trimmed off each strip's lower end: the fold, on folded cloth.
    ``bound`` is a length that no plan of these rules goes below; ``on_hand`` the length of cloth
    in a ply, None where it is not known.
    """

    cloth: str
    unit: str
    rules: ClothRules
    layers: int
    start_across: int
    strips: tuple[RulerStrip, ...]
    bound: int
    on_hand: int | None = None

    @property
    def length(self) -> int:
        """The length of cloth that it takes, from its squared end."""
        return sum(strip.along for strip in self.strips)

    @property
    def width(self) -> int:
        """The usable cloth as it lies."""
        return self.start_across + self.rules.width

    @property
    def drawn_length(self) -> int:
        """The cloth that a drawing shows: what is taken, and where there is more, some of that."""
        beyond = self.length + self.width // 8
        return beyond if self.on_hand is None else min(beyond, self.on_hand)

    @property
    def is_proved(self) -> bool:
        """Whether no plan of these rules takes less."""
        return self.length == self.bound

    def blocks(self) -> Iterator[PlacedBlock]:
        """Every block, strip by strip."""
        for _, x, strip in self._starts():
            y = self.start_across
            for column in strip.columns:
                low = x
                for block in column.blocks:
                    yield PlacedBlock(
                        block, Rectangle(low, y, low + block.along, y + column.across)
                    )
                    low += block.along
                y += column.across

    def cuts(self) -> Iterator[RulerCut]:
        """Every cut, in order: strips first, then each strip's cross cuts, then its trims."""
        yield from self._strip_cuts()
        yield from self._cross_cuts()
        yield from self._trims()

    def _starts(self) -> Iterator[tuple[int, int, RulerStrip]]:
        """Every strip with its number and where it begins along the cloth."""
        x = 0
        for number, strip in enumerate(self.strips):
            yield number, x, strip
            x += strip.along

    def _strip_cuts(self) -> Iterator[RulerCut]:
        for number, x, strip in self._starts():
            end = x + strip.along
            if end < self.drawn_length:
                yield RulerCut(1, number, -1, (end, 0), (end, self.width))

    def _cross_cuts(self) -> Iterator[RulerCut]:
        for number, x, strip in self._starts():
            y = self.start_across
            if y:
                yield RulerCut(2, number, -1, (x, y), (x + strip.along, y))
            for column in strip.columns:
                y += column.across
                if y < self.width:
                    yield RulerCut(2, number, -1, (x, y), (x + strip.along, y))

    def _trims(self) -> Iterator[RulerCut]:
        for number, x, strip in self._starts():
            y = self.start_across
            for place, column in enumerate(strip.columns):
                low = x
                for block in column.blocks:
                    low += block.along
                    if low < x + strip.along:
                        yield RulerCut(3, number, place, (low, y), (low, y + column.across))
                y += column.across
