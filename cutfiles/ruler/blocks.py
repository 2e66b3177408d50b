"""The blocks of an order: every piece's bounding rectangle, as its grain lets it lie."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from cutfiles.errors import Finding
from cutfiles.geometry.path import Path
from cutfiles.geometry.vector import Vector
from cutfiles.job.cloth import GrainRule
from cutfiles.job.job import Cloth, Job
from cutfiles.pieces.ordered import OrderedCap, OrderedPiece
from cutfiles.ruler.plan import BlockKind, Size
from cutfiles.tolerances import FLATTEN_MM
from cutfiles.units import RULER_STEP_MM, format_length, ruler_steps

_FINE_MM = FLATTEN_MM / 100.0
"""How finely an outline is flattened to be boxed: nothing to a ruler."""


@dataclass(frozen=True, slots=True)
class PieceBox:
    """A piece of the order and its box on the cloth, along and across in mm, for each way that it
    may lie, the best on grain first."""

    name: str
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
            yield PieceBox(name, known[key])


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


def block_kinds(boxes: Iterable[PieceBox], unit: str) -> tuple[BlockKind, ...]:
    """Blocks by size, each measure rounded up to a whole step of the ruler; large ones first."""
    counts: dict[tuple[Size, ...], dict[str, int]] = {}
    for box in boxes:
        ways = tuple(
            dict.fromkeys(
                (ruler_steps(along, unit, up=True), ruler_steps(across, unit, up=True))
                for along, across in box.ways_mm
            )
        )
        names = counts.setdefault(ways, {})
        names[box.name] = names.get(box.name, 0) + 1
    kinds = [BlockKind(sizes, tuple(names.items())) for sizes, names in counts.items()]
    return tuple(sorted(kinds, key=lambda kind: (-kind.sizes[0][0] * kind.sizes[0][1], kind.sizes)))


def too_wide(boxes: Sequence[PieceBox], cloth: Cloth, room_mm: float, job: Job) -> list[Finding]:
    """An error for every kind of block that is wider than the cloth, whichever way it lies."""
    step = RULER_STEP_MM[job.length_unit]
    found = []
    for box in dict.fromkeys(boxes):
        across = min(
            ruler_steps(way[1], job.length_unit, up=True) * step for way in box.ways_mm
        )
        if across > room_mm + 1e-6:
            need, have = (format_length(mm, job.length_unit) for mm in (across, room_mm))
            folded = " as it is folded" if cloth.is_folded else ""
            found.append(
                Finding(
                    "too-wide",
                    "error",
                    f"{job.source}: {box.name}: its block is {need} across, and cloth "
                    f"{cloth.name!r}{folded} gives {have} between the selvedges: use wider cloth, "
                    f"{'spread it single, ' if folded else ''}or order a smaller size",
                )
            )
    return found


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
