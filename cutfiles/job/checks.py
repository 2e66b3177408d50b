"""What no single field of a job file can know: whether its tables go together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import cast

from cutfiles.errors import Finding, did_you_mean
from cutfiles.job.cloth_checks import (
    cloth_checks,
    line_on_cloth_checks,
    match_checks,
    source_checks,
)
from cutfiles.job.document import CapsTable, JobDocument, PanelsTable, PinnedTable
from cutfiles.job.job import Style
from cutfiles.job.measures import read_measures


def cross_checks(document: JobDocument, source: str) -> Iterator[Finding]:
    """What no single field can know."""
    names = Counter(cloth.name for cloth in document.cloth)
    for number, cloth in enumerate(document.cloth, 1):
        yield from cloth_checks(document.cloth, cloth, f"{source}: [[cloth]] {number}")
    if not document.caps and not document.panels:
        text = f"{source}: caps: is missing: add [[caps]] or [[panels]]"
        yield Finding("missing-key", "error", text)
    for number, line in enumerate(document.caps, 1):
        where = f"{source}: [[caps]] {number}"
        yield from _measure_checks(line, where)
        yield from _binding_check(line, where)
        _, faults = read_measures(
            cast(Style, line.style), line.measures, default_unit=document.length_unit
        )
        for fault in faults:
            yield Finding("bad-value", "error", f"{where}: {fault}")
        yield from _cloth_check(line.cloth, names, where)
        for piece, source_cloth in line.sources.items():
            yield from _cloth_check(source_cloth, names, f"{where}: from", key=f"{piece}: ")
        yield from source_checks(document, line, where)
        yield from line_on_cloth_checks(document, line, where)
    for number, panel in enumerate(document.panels, 1):
        where = f"{source}: [[panels]] {number}"
        yield from _cloth_check(panel.cloth, names, where)
        yield from _count_checks(panel, where)
        if panel.match:
            yield from match_checks(document, panel.cloth, where)
    yield from _pinned_checks(document.pinned, source)


def _pinned_checks(pinned: Sequence[PinnedTable], source: str) -> Iterator[Finding]:
    """A piece is pinned once, in the only lay that its cloth makes then."""
    first: dict[str, int] = {}
    for number, pin in enumerate(pinned, 1):
        where = f"{source}: [[pinned]] {number}"
        if pin.piece in first:
            text = (
                f"{where}: piece: {pin.piece!r} is pinned by [[pinned]] {first[pin.piece]} before: "
                "leave one of them out"
            )
            yield Finding("bad-value", "error", text)
        first.setdefault(pin.piece, number)
        if pin.lay != 1:
            text = (
                f"{where}: lay: {pin.lay}: a cloth with pinned pieces makes one lay, and there is "
                "no other yet to pin them in: give 1, or leave it out"
            )
            yield Finding("bad-value", "error", text)


def _count_checks(panel: PanelsTable, where: str) -> Iterator[Finding]:
    """How many panels are wanted; only a DXF may be a pattern that says so itself."""
    if panel.quantity is not None and panel.sets is not None:
        text = f"{where}: give quantity or sets, not both: sets multiplies what a pattern says"
        yield Finding("bad-value", "error", text)
    if panel.file.lower().endswith(".dxf"):
        return
    if panel.quantity is None:
        text = f"{where}: quantity: is missing: give how many to cut"
        yield Finding("missing-key", "error", text)
    for key in ("sets", "size"):
        if getattr(panel, key) is not None:
            text = f"{where}: {key}: goes with a pattern for exchange (DXF) only: leave it out"
            yield Finding("bad-value", "error", text)


def _cloth_check(
    cloth: str | None, names: Mapping[str, int], where: str, *, key: str = "cloth: "
) -> Iterator[Finding]:
    """Whether a line of the order names a cloth that there is."""
    if cloth is None and len(names) > 1:
        text = f"{where}: cloth: is missing: name one of {_listed(names)}"
        yield Finding("missing-key", "error", text)
    elif cloth is not None and cloth not in names:
        hint = did_you_mean(cloth, names, f"known: {_listed(names)}", cutoff=0.3)
        text = f"{where}: {key}{cloth!r} is not among the [[cloth]] tables; {hint}"
        yield Finding("bad-value", "error", text)


def _measure_checks(line: CapsTable, where: str) -> Iterator[Finding]:
    """A line is for a size, a girth, or a head count, and for only one of them."""
    given = [key for key in ("size", "head_girth", "wearers") if getattr(line, key) is not None]
    if len(given) != 1:
        what = f"{' and '.join(given)} are given" if given else "none is given"
        text = f"{where}: give one of size, head_girth and wearers: {what}"
        yield Finding("bad-value", "error", text)
    elif given == ["wearers"]:
        if line.quantity is not None:
            text = f"{where}: quantity: {line.quantity}: leave it out: wearers says how many"
            yield Finding("bad-value", "error", text)
    else:
        if line.quantity is None:
            text = f"{where}: quantity: is missing: give how many caps to cut"
            yield Finding("missing-key", "error", text)
        if line.women is not None:
            text = f"{where}: women: goes with wearers only: leave it out, or give wearers"
            yield Finding("bad-value", "error", text)


def _binding_check(line: CapsTable, where: str) -> Iterator[Finding]:
    if line.binding_grain is not None and line.edge != "binding":
        text = f'{where}: binding_grain: goes with edge = "binding" only: leave it out'
        yield Finding("bad-value", "error", text)
    elif line.binding_grain == "bias" and line.style == "bouffant":
        text = f"{where}: binding_grain: a bouffant cap has a straight band: leave it out"
        yield Finding("bad-value", "error", text)
    if "binding" in line.grain:
        text = f"{where}: grain.binding: leave it out: binding_grain says how a binding is cut"
        yield Finding("bad-value", "error", text)


def _listed(names: Mapping[str, int]) -> str:
    return ", ".join(repr(name) for name in names)
