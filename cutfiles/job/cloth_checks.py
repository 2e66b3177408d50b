"""What is wrong with the tables of cloth, and with what is to be cut of them, taken together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from cutfiles.errors import Finding
from cutfiles.job.document import CapsTable, ClothTable, FlawTable, JobDocument
from cutfiles.job.fields import AS_MANY
from cutfiles.tolerances import SLIVER_MM

_ALIKE: Final = ("one_way", "shrinkage_percent", "fibre")
_ALIKE_ROLLS: Final = (
    *_ALIKE, "width", "selvedge", "thickness", "print_repeat", "plies", "spread", "price",
    "lay_worth",
)  # fmt: skip
"""What the remnants, or the rolls, of one cloth have in common."""


def cloth_checks(tables: Sequence[ClothTable], cloth: ClothTable, where: str) -> Iterator[Finding]:
    """One table of cloth among all."""
    yield from _name_checks(tables, cloth, where)
    if cloth.outline is None:
        yield from _length_checks(cloth, where)
    else:
        yield from _remnant_checks(cloth, where)
    if cloth.spread == "face to face" and cloth.plies % 2:
        yield _wrong(
            f"{where}: plies: {cloth.plies}: cloth laid face to face has an even number of plies: "
            f"give {cloth.plies + 1}"
        )
    if cloth.flaws and cloth.plies > 1:
        yield _wrong(
            f"{where}: flaws: with {cloth.plies} plies, where a flaw lies in the lower ones is not "
            "known: give plies = 1, or cut the flawed stretch out, and give what lies before and "
            "behind it as rolls"
        )
    for number, flaw in enumerate(cloth.flaws, 1):
        yield from _flaw_checks(cloth, flaw, f"{where}: flaws {number}")


def line_on_cloth_checks(document: JobDocument, line: CapsTable, where: str) -> Iterator[Finding]:
    """A line of caps against the cloth it is cut of."""
    tables = _tables_of(document, line.cloth)
    for cloth in sorted({line.sources.get(piece, line.cloth or "") for piece in line.match}):
        yield from match_checks(document, cloth or None, where)
    if line.quantity != AS_MANY or not tables:
        return
    if all(table.length is None and table.outline is None for table in tables):
        yield _wrong(
            f"{where}: quantity: {AS_MANY!r}: cloth {tables[0].name!r} has no end: give its "
            "length, or a number of caps"
        )
    others = [one for one in document.caps if one.quantity == AS_MANY and one is not line]
    if any(_tables_of(document, one.cloth) == tables for one in others):
        yield _wrong(
            f"{where}: quantity: {AS_MANY!r} is given for two lines of cloth {tables[0].name!r}: "
            "give one of them a number"
        )


def source_checks(document: JobDocument, line: CapsTable, where: str) -> Iterator[Finding]:
    """Pieces from other cloths: there are as many of each as of the rest."""
    for key, names in (("from", line.sources), ("match", line.match)):
        for piece in names if line.pieces else ():
            if piece not in line.pieces:
                yield _wrong(
                    f"{where}: {key}: {piece!r} is not cut, since pieces does not name it: leave "
                    f"it out of {key}, or add it to pieces"
                )
    if not line.sources:
        return
    if line.quantity == AS_MANY:
        yield _wrong(
            f"{where}: from: does not go with quantity {AS_MANY!r}: give a number; "
            "cutfiles estimate says how many caps each cloth gives"
        )
    main = _tables_of(document, line.cloth)
    for piece, cloth in line.sources.items():
        other = _tables_of(document, cloth)
        if main and other and _layers(main[0]) != _layers(other[0]):
            yield _wrong(
                f"{where}: from.{piece}: cloth {other[0].name!r} is cut in {_layers(other[0])} "
                f"layers at once and {main[0].name!r} in {_layers(main[0])}, and the pieces of a "
                "cap are cut in equal numbers: give both the same plies, folded cloth half of them"
            )


def _layers(table: ClothTable) -> int:
    return table.plies * (2 if table.spread == "folded" else 1)


def match_checks(document: JobDocument, cloth: str | None, where: str) -> Iterator[Finding]:
    """Pieces that keep to a print, against the cloth that has it."""
    tables = _tables_of(document, cloth)
    if not tables:
        return
    if tables[0].print_repeat.along is None and tables[0].print_repeat.across is None:
        yield _wrong(
            f"{where}: match: cloth {tables[0].name!r} has no print_repeat: give its print's "
            "repeat, or leave match out"
        )
    if tables[0].spread != "single":
        yield _wrong(
            f"{where}: match: cloth {tables[0].name!r} is spread {tables[0].spread!r}, and the "
            'print of the layers that lie face down is mirrored: give spread = "single"'
        )


def _tables_of(document: JobDocument, cloth: str | None) -> list[ClothTable]:
    """The tables of the cloth that a line names, or of the only one."""
    name = document.cloth[0].name if cloth is None else cloth
    return [table for table in document.cloth if table.name == name]


def _name_checks(tables: Sequence[ClothTable], cloth: ClothTable, where: str) -> Iterator[Finding]:
    same = [table for table in tables if table.name == cloth.name]
    if len(same) == 1:
        return
    kinds = {table.outline is None for table in same}
    if len(kinds) > 1:
        yield _wrong(
            f"{where}: name: {cloth.name!r} is the name of a length and of a remnant: give the "
            "remnants a name of their own"
        )
        return
    if cloth.outline is None:
        yield from _roll_checks(same, cloth, where)
    what, keys = ("remnant", _ALIKE) if cloth.outline else ("roll", _ALIKE_ROLLS)
    for key in keys:
        if getattr(cloth, key) != getattr(same[0], key):
            yield _wrong(
                f"{where}: {key}: differs from the first {what} of {cloth.name!r}: give all "
                f"{what}s of a cloth the same, or another name"
            )


def _roll_checks(same: Sequence[ClothTable], cloth: ClothTable, where: str) -> Iterator[Finding]:
    """Rolls of one cloth are told apart by their names, and have an end."""
    if cloth.roll is None or sum(table.roll == cloth.roll for table in same) > 1:
        said = "has no roll" if cloth.roll is None else f"roll {cloth.roll!r} is used twice"
        yield _wrong(
            f"{where}: name: {cloth.name!r} is used twice and {said}: give every cloth its own "
            'name, or each roll of one cloth a name of its own, such as roll = "A"'
        )
    elif cloth.length is None:
        yield _wrong(f"{where}: length: is missing: one of several rolls has a length: give it")


def _length_checks(cloth: ClothTable, where: str) -> Iterator[Finding]:
    """A length of cloth with two selvedges."""
    if cloth.width is None:
        text = f"{where}: width: is missing: add it"
        yield Finding("missing-key", "error", text)
        return
    if 2.0 * cloth.selvedge >= cloth.width:
        yield _wrong(
            f"{where}: selvedge: {cloth.selvedge:.6g} mm off each edge leaves nothing of "
            f"{cloth.width:.6g} mm of cloth: it must be less than half the width"
        )
    repeat = cloth.print_repeat.along
    if repeat is not None and cloth.length is not None and repeat > cloth.length / cloth.plies:
        yield _wrong(
            f"{where}: print_repeat.along: {repeat:.6g} mm is more than the "
            f"{cloth.length / cloth.plies:.6g} mm of cloth in a ply: a lay takes whole repeats"
        )
    yield from _start_checks(cloth, where)
    usable = cloth.width - 2.0 * cloth.selvedge
    if cloth.print_repeat.across is not None and cloth.print_repeat.across > usable > 0.0:
        yield _wrong(
            f"{where}: print_repeat.across: {cloth.print_repeat.across:.6g} mm is more than the "
            f"{usable:.6g} mm between the selvedges: leave it out, there is no whole repeat across"
        )


def _start_checks(cloth: ClothTable, where: str) -> Iterator[Finding]:
    """Where a print begins lies within its first repeat."""
    for axis in ("along", "across"):
        start, repeat = getattr(cloth.print_starts, axis), getattr(cloth.print_repeat, axis)
        if start is None:
            continue
        if repeat is None:
            yield _wrong(
                f"{where}: print_starts.{axis}: {start:.6g} mm: the print has no "
                f"print_repeat.{axis}: give the repeat, or leave this out"
            )
        elif start >= repeat:
            yield _wrong(
                f"{where}: print_starts.{axis}: {start:.6g} mm must be less than one repeat of "
                f"{repeat:.6g} mm: where the first whole one begins: give {start % repeat:.6g} mm"
            )


def _remnant_checks(cloth: ClothTable, where: str) -> Iterator[Finding]:
    """A remnant has an outline in place of everything that a length of cloth has."""
    given = [key for key in ("width", "length") if getattr(cloth, key) is not None]
    given += ["selvedge"] if cloth.selvedge else []
    given += ["roll"] if cloth.roll is not None else []
    given += ["plies"] if cloth.plies != 1 else []
    given += ["spread"] if cloth.spread != "single" else []
    given += ["price"] if cloth.price is not None else []
    has_print = cloth.print_repeat.along is not None or cloth.print_repeat.across is not None
    given += ["print_repeat"] if has_print else []
    has_start = cloth.print_starts.along is not None or cloth.print_starts.across is not None
    given += ["print_starts"] if has_start else []
    for key in given:
        yield _wrong(
            f"{where}: {key}: a remnant with an outline lies alone and has none: leave it out"
        )


def _flaw_checks(cloth: ClothTable, flaw: FlawTable, where: str) -> Iterator[Finding]:
    if (flaw.size is None) == (flaw.diameter is None):
        yield _wrong(f"{where}: give one of size and diameter: how large the flaw is")
        return
    least = min(flaw.size or (flaw.diameter or 0.0,))
    if least < SLIVER_MM:
        yield _wrong(
            f"{where}: the flaw is {least:.3g} mm wide, and less than {SLIVER_MM:g} mm cannot be "
            "drawn: give how wide it is, 0.1 mm for a thread"
        )
    if flaw.size is not None:
        low, far = flaw.at, (flaw.at[0] + flaw.size[0], flaw.at[1] + flaw.size[1])
    else:
        half = (flaw.diameter or 0.0) / 2.0
        low, far = (flaw.at[0] - half, flaw.at[1] - half), (flaw.at[0] + half, flaw.at[1] + half)
    for which, word, limit in ((0, "along", cloth.length), (1, "across", cloth.width)):
        beyond = limit is not None and far[which] > limit + 1e-6
        if low[which] < -1e-6 or beyond:
            end = f"{limit:.6g} mm" if limit is not None else "its end"
            yield _wrong(
                f"{where}: at: the flaw lies from {low[which]:.6g} to {far[which]:.6g} mm {word}, "
                f"and the cloth from 0 to {end}: measure it from the cloth's lower left corner, "
                "selvedge included"
            )


def _wrong(text: str) -> Finding:
    return Finding("bad-value", "error", text)
