"""What a plan counts of a cloth: the caps of a line of the order, or the panels of a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from cutfiles.errors import Finding, JobError
from cutfiles.job.job import CapLine, Cloth, Job, PanelLine
from cutfiles.pieces.cut_list import draft_line
from cutfiles.pieces.ordered import Panel
from cutfiles.plies.order import Equal, Terms, Wanted


@dataclass(frozen=True, slots=True)
class Kind:
    """Caps of a line, as far as they come from one cloth, or what a table of panels cuts.

    Of a table the ``panels`` are as many as one of its ``ordered`` has: the outlines of its
    drawing, or a set of its pattern. One of them takes ``uses`` layers: a half that stays on the
    fold takes both.
    """

    line: CapLine | PanelLine
    ordered: int
    panels: tuple[Panel, ...] = ()
    uses: int = 1

    @property
    def overcut(self) -> int:
        """How many too many may be cut."""
        return self.line.overcut if isinstance(self.line, CapLine) else 0

    @property
    def wanted(self) -> Wanted:
        """How many layers of it are to be cut."""
        return Wanted(self.uses * self.ordered, self.uses * (self.ordered + self.overcut))

    @property
    def where(self) -> str:
        """Its table in the job."""
        table = "caps" if isinstance(self.line, CapLine) else "panels"
        return f"[[{table}]] {self.line.number}"

    @property
    def name(self) -> str:
        """Its name in messages."""
        if isinstance(self.line, CapLine):
            return f"{self.line.style} {self.line.size.name}"
        return self.line.name

    @property
    def unit(self) -> str:
        """What one of it is called."""
        return "panel" if self.panels else "cap"

    def cut(self, layers: int) -> int:
        """How many of it so many layers are."""
        return layers // self.uses

    def caps(self, layers: int) -> tuple[CapLine, ...]:
        """Its line of caps for so many layers."""
        if isinstance(self.line, CapLine):
            return (replace(self.line, quantity=layers),)
        return ()

    def laid(self, layers: int) -> tuple[Panel, ...]:
        """Its panels for so many layers."""
        count = self.cut(layers)
        return tuple(replace(panel, quantity=panel.quantity * count) for panel in self.panels)


def kinds_on(job: Job, panels: Sequence[Panel], cloth: Cloth) -> tuple[Kind, ...]:
    """All that is ordered of a cloth, caps first.

    Raises
    ------
    JobError
        If a table of panels has some pieces on the fold and others not.
    """
    caps = [
        Kind(part, line.quantity)
        for line in job.lines_for(cloth)
        if (part := _part_on(line, cloth)) is not None
    ]
    wrong: list[Finding] = []
    tables = []
    for line in job.panels:
        here = tuple(panel for panel in panels if panel.line == line)
        if line.cloth != cloth.name or not here:
            continue
        folded = [panel for panel in here if panel.fold_turn_deg is not None]
        if folded and len(folded) < len(here):
            text = (
                f"{job.source}: [[panels]] {line.number}: some of its pieces stay on the fold and "
                "others do not: no plan is made with both: give each a table of its own, or "
                'spread = "single"'
            )
            wrong.append(Finding("not-planned", "error", text))
            continue
        ordered = line.quantity or line.sets or 1
        each = tuple(replace(panel, quantity=panel.quantity // ordered) for panel in here)
        layers_a_ply = cloth.layers // cloth.plies
        tables.append(Kind(line, ordered, each, layers_a_ply if folded else 1))
    if wrong:
        raise JobError(wrong)
    return (*caps, *tables)


def equal_kinds(cloths: Sequence[Sequence[Kind]]) -> tuple[Equal, ...]:
    """The kinds, by the numbers of their cloth and their own, of which as many are cut of every
    cloth: caps that come from several and may be cut too many."""
    found: dict[tuple[int, str], list[tuple[int, int]]] = {}
    for cloth, kinds in enumerate(cloths):
        for number, kind in enumerate(kinds):
            if isinstance(kind.line, CapLine) and kind.overcut:
                key = kind.line.number, kind.line.size.name
                found.setdefault(key, []).append((cloth, number))
    return tuple(tuple(places) for places in found.values() if len(places) > 1)


def odd_quantities(
    kinds: Sequence[Kind], cloth: Cloth, terms: Terms, source: str
) -> Iterator[Finding]:
    """What cannot be cut in the order's numbers, since layers are cut several at once."""
    for kind in kinds:
        least = kind.wanted.least
        over = -least % terms.at_once
        if over > kind.wanted.most - least:
            key = "sets" if isinstance(kind.line, PanelLine) and kind.line.sets else "quantity"
            more = kind.cut(least + over)
            fewer = kind.cut(least - least % terms.at_once)
            these = f"{fewer} or {more}: order one of these" if fewer else f"{more}: order that"
            allow = f", or allow overcut = {more - kind.ordered}" if not kind.panels else ""
            text = (
                f"{source}: {kind.where}: {key}: {kind.ordered}: cloth {cloth.name!r} is cut "
                f"{terms.at_once} layers at once, which gives {these}{allow}"
            )
            yield Finding("odd-quantity", "error", text)


def _part_on(line: CapLine, cloth: Cloth) -> CapLine | None:
    """A line with what of it is cut from a cloth, as if it were all; None where that is nothing."""
    if not line.sources:
        return line
    names = dict.fromkeys(part.piece.name for part in draft_line(line).parts)
    here = tuple(n for n in names if line.cuts(n) and line.cloth_of(n) == cloth.name)
    if not here:
        return None
    return replace(
        line,
        cloth=cloth.name,
        sources=(),
        pieces=here,
        grains=tuple((name, rule) for name, rule in line.grains if name in here),
        matched=tuple(name for name in line.matched if name in here),
    )
