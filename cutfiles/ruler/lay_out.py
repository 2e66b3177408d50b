"""From patterns to a plan: every block with its name and its place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cutfiles.ruler.patterns import Pattern
from cutfiles.ruler.plan import Block, BlockKind, ClothRules, Column, RulerPlan, RulerStrip
from cutfiles.ruler.solve import Cutting

ColumnShape = tuple[int, tuple[int, ...]]

SPARE = "(spare)"
"""Of a layer that no piece is wanted from: no panel is called so (`job.job.plain_name`)."""


def laid_out(
    cutting: Cutting,
    kinds: Sequence[BlockKind],
    rules: ClothRules,
    *,
    cloth: str,
    unit: str,
    layers: int,
    start_across: int,
    on_hand: int | None,
) -> RulerPlan:
    """The plan of a cutting: wide strips first, equal ones after each other, and of each the wide
    columns first. Blocks beyond what is wanted stay uncut."""
    names = [_names(kind, layers) for kind in kinds]
    ordered = sorted(cutting.strips, key=lambda one: -one[0].along)
    made = (_strip(pattern, names) for pattern, count in ordered for _ in range(count))
    strips = sorted((strip for strip in made if strip), key=strip_shape)
    return RulerPlan(
        cloth=cloth,
        unit=unit,
        rules=rules,
        layers=layers,
        start_across=start_across,
        strips=tuple(strips),
        bound=cutting.bound,
        on_hand=on_hand,
    )


def _names(kind: BlockKind, layers: int) -> Iterator[tuple[str, ...]]:
    """The names for each position, one a layer."""
    waiting = [name for name, count in kind.names for _ in range(count)]
    for first in range(0, len(waiting), layers):
        taken = waiting[first : first + layers]
        yield (*taken, *[SPARE] * (layers - len(taken)))


def _strip(pattern: Pattern, names: Sequence[Iterator[tuple[str, ...]]]) -> RulerStrip | None:
    """A strip with its names taken; None where nothing more is wanted of it."""
    columns = []
    for stack in pattern.columns:
        blocks = []
        for choice in sorted(stack, key=lambda one: (-one.along, one.kind)):
            name = next(names[choice.kind], None)
            if name is not None:
                blocks.append(Block(name, choice.along, choice.across))
        if blocks:
            columns.append(Column(stack[0].across, tuple(blocks)))
    if not columns:
        return None
    along = max(sum(block.along for block in column.blocks) for column in columns)
    return RulerStrip(along, tuple(sorted(columns, key=column_shape)))


def strip_shape(strip: RulerStrip) -> tuple[int, tuple[ColumnShape, ...]]:
    """What strips have in common that are cut up alike; wide ones sort first."""
    return -strip.along, tuple(column_shape(column) for column in strip.columns)


def column_shape(column: Column) -> ColumnShape:
    """What columns have in common that are trimmed alike; wide ones sort first."""
    return -column.across, tuple(-block.along for block in column.blocks)
