"""Which pieces are tied together: by size within a lay, as a sewing room does (common practice, no
source)."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

from cutfiles.sheets.sheet import Bundle, CutLay, CutPiece
from cutfiles.units import counted

_PRINT_DIGITS = 8
"""Of a fingerprint: one in 4 thousand millions that two folders' tickets are alike."""


def bundles_of(lays: Sequence[CutLay]) -> tuple[Bundle, ...]:
    """The bundles of a folder, lay by lay, caps first, in the order's sequence.

    Their ids count within a lay, so that they are unique in the folder and the same whenever they
    are printed.
    """
    lies_in: defaultdict[int, list[str]] = defaultdict(list)
    for lay in lays:
        for number in sorted({p.cap_number for p in lay.pieces if p.cap_number is not None}):
            lies_in[number].append(lay.name)
    bundles: list[Bundle] = []
    for lay in lays:
        groups: defaultdict[tuple[bool, int, str], list[CutPiece]] = defaultdict(list)
        for piece in lay.pieces:
            groups[(piece.cap_number is None, piece.line, piece.kind)].append(piece)
        for number, key in enumerate(sorted(groups, key=lambda k: (k[:2], _first(groups[k]))), 1):
            name = f"{lay.name}-b{number:02d}"
            bundles.append(_bundle(name, lay, groups[key], lies_in))
    return tuple(bundles)


def _first(pieces: Sequence[CutPiece]) -> str:
    return min(piece.id for piece in pieces)


def _bundle(
    name: str, lay: CutLay, pieces: Sequence[CutPiece], lies_in: dict[int, list[str]]
) -> Bundle:
    counts: Counter[str] = Counter()
    for piece in sorted(pieces, key=lambda piece: piece.id):
        counts[piece.name] += piece.cut
    numbers = tuple(sorted({p.cap_number for p in pieces if p.cap_number is not None}))
    caps = len(numbers) * lay.plies
    words = counted(counts.total(), "piece")
    if caps:
        words += f" of {counted(caps, 'cap')}"
    others = {other for number in numbers for other in lies_in[number]} - {lay.name}
    return Bundle(
        id=name,
        lay=lay.name,
        cloth=lay.cloth,
        kind=pieces[0].kind,
        line=pieces[0].line,
        plies=lay.plies,
        caps=caps,
        numbers=numbers,
        counts=tuple(counts.items()),
        ids=frozenset(piece.id for piece in pieces),
        elsewhere=tuple(sorted(others)),
        code=f"{name}: {words}, cut file {lay.main_print[:_PRINT_DIGITS]}",
    )
