"""The blocks of an order: every piece's bounding rectangle, as its grain lets it lie."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from cutfiles.errors import Finding
from cutfiles.geometry.path import Path
from cutfiles.geometry.vector import Vector
from cutfiles.job.cloth import Grain, GrainRule
from cutfiles.job.job import Cloth, Job
from cutfiles.pieces.ordered import OrderedCap, OrderedPiece
from cutfiles.ruler.plan import BlockKind, BlockRow, Size
from cutfiles.tolerances import FLATTEN_MM
from cutfiles.units import format_steps, ruler_steps

REACH_MM: Final = 914.4
"""The widest strip that is cut where no block asks for more: a yard, what can be squared and held
on a table (common practice, no source)."""

_FINE_MM: Final = FLATTEN_MM / 100.0
"""How finely an outline is flattened to be boxed: nothing to a ruler."""


@dataclass(frozen=True, slots=True)
class PieceBox:
    """A piece of the order and its box on the cloth, along and across in mm, for each way that it
    may lie, the best on grain first."""

    name: str
    grain: Grain
    ways_mm: tuple[tuple[float, float], ...]


def piece_boxes(caps: Iterable[OrderedCap], *, one_way: bool) -> Iterator[PieceBox]:
    """Every piece of some caps with its box. A cap's pieces are named by its style, size and edge;
    a tilt off the grain is not used."""
    known: dict[tuple[int, GrainRule], tuple[tuple[float, float], ...]] = {}
    for cap in caps:
        for ordered in cap.pieces:
            key = id(ordered.piece), ordered.grain
            if key not in known:
                known[key] = _ways_mm(ordered, one_way=one_way)
            name = cap.title if cap.is_panel else f"{cap.kind}: {ordered.name}"
            yield PieceBox(name, ordered.grain.grain, known[key])


def _ways_mm(ordered: OrderedPiece, *, one_way: bool) -> tuple[tuple[float, float], ...]:
    turns = GrainRule(ordered.grain.grain).turns_deg(one_way=one_way)
    return tuple(dict.fromkeys(_box_mm(ordered.piece.cut, turn) for turn in turns))


def _box_mm(outline: Path, turn_deg: float) -> tuple[float, float]:
    """The box of an outline turned, along and across."""
    points = outline.flattened(_FINE_MM)
    along, across = Vector.at_angle(turn_deg), Vector.at_angle(turn_deg).left
    # a point turned by t is (x cos t - y sin t, x sin t + y cos t)
    x = points[:, 0] * along.x + points[:, 1] * across.x
    y = points[:, 0] * along.y + points[:, 1] * across.y
    return round(float(x.max() - x.min()), 6), round(float(y.max() - y.min()), 6)


def block_rows(boxes: Iterable[PieceBox], unit: str) -> tuple[BlockRow, ...]:
    """Blocks by piece, each measure rounded up to a whole step of the ruler."""
    counts = Counter(boxes)
    return tuple(
        BlockRow(
            box.name,
            box.grain,
            count,
            tuple(
                dict.fromkeys(
                    (ruler_steps(along, unit, up=True), ruler_steps(across, unit, up=True))
                    for along, across in box.ways_mm
                )
            ),
        )
        for box, count in counts.items()
    )


def block_kinds(rows: Iterable[BlockRow]) -> tuple[BlockKind, ...]:
    """Blocks by size, large ones first."""
    counts: dict[tuple[Size, ...], dict[str, int]] = {}
    for row in rows:
        names = counts.setdefault(row.sizes, {})
        names[row.name] = names.get(row.name, 0) + row.count
    kinds = [BlockKind(sizes, tuple(names.items())) for sizes, names in counts.items()]
    return tuple(sorted(kinds, key=lambda kind: (-kind.sizes[0][0] * kind.sizes[0][1], kind.sizes)))


def widest_strip(rows: Iterable[BlockRow], unit: str, on_hand: int | None) -> int:
    """The widest strip that is cut, in steps: `REACH_MM`, or a block that is longer by itself, and
    no more than the cloth on hand."""
    longest = max(min(along for along, _ in row.sizes) for row in rows)
    widest = max(ruler_steps(REACH_MM, unit, up=False), longest)
    return widest if on_hand is None else min(widest, on_hand)


def too_large(
    rows: Iterable[BlockRow], cloth: Cloth, width: int, on_hand: int | None, job: Job
) -> Iterator[Finding]:
    """An error for every block that does not lie on the cloth, whichever way it is turned.
    ``width`` and ``on_hand`` are what can be cut from, in steps."""
    for row in rows:
        if any((on_hand is None or a <= on_hand) and w <= width for a, w in row.sizes):
            continue
        along, across = (format_steps(steps, job.length_unit) for steps in row.sizes[0])
        have = format_steps(width, job.length_unit)
        length = "" if on_hand is None else f" and {format_steps(on_hand, job.length_unit)} along"
        folded = " as it is folded" if cloth.is_folded else ""
        yield Finding(
            "too-large",
            "error",
            f"{job.source}: {row.name}: its block is {across} across and {along} along, and cloth "
            f"{cloth.name!r}{folded} gives {have} across{length}: use larger cloth, "
            f"{'spread it single, ' if folded else ''}or order a smaller size",
        )


def unsuited(job: Job, cloth: Cloth) -> Iterator[Finding]:
    """An error for all that a job asks of a cloth and a ruler cannot give."""
    where = f"{job.source}: cloth {cloth.name!r}"
    lines = job.lines_for(cloth)
    panels = [panel for panel in job.panels if panel.cloth == cloth.name]
    if cloth.remnants:
        yield _unsuited(
            f"{where}: outline: a ruler cuts blocks off a length of cloth with a straight end: "
            "give width and length, and selvedge = 0 where there is none"
        )
    if cloth.rolls:
        names = " or ".join(repr(roll.roll) for roll in cloth.rolls)
        yield _unsuited(
            f"{where}: there are {len(cloth.rolls)} rolls of it, and blocks are cut from one "
            f"length: draw from one of them: roll = {names}"
        )
    if cloth.flaws:
        yield _unsuited(
            f"{where}: flaws: blocks are cut from whole cloth: cut the flawed stretch out and "
            "leave flaws out, or use cutfiles make"
        )
    if any(line.matched for line in lines) or any(panel.is_matched for panel in panels):
        yield _unsuited(
            f"{where}: match: blocks by ruler do not keep to a print: leave match out, or use "
            "cutfiles make"
        )
    for line in lines:
        if line.binding_grain == "bias":
            yield _unsuited(
                f"{job.source}: [[caps]] {line.number}: binding_grain: a bias binding is no block: "
                'give "straight", or cut the bias strips with cutfiles strips and order a hem'
            )
    if cloth.one_way and cloth.makes_pairs:
        turned = [name for line in lines for name, rule in line.grains if rule.grain != "along"]
        turned += [panel.name for panel in panels if panel.grain.grain != "along"]
        for name in dict.fromkeys(turned):
            yield _unsuited(
                f"{where}: one_way: {name} is not cut along the grain, and on cloth spread "
                f"{cloth.spread!r} the print of every other layer points the other way then: give "
                'its grain as "along", or spread = "single"'
            )


def _unsuited(text: str) -> Finding:
    return Finding("not-by-ruler", "error", text)
