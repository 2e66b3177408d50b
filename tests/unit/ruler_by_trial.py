"""The shortest ruler plan of a small order by trying every way: slow, and nothing in common with
the program's own search."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from functools import cache

Size = tuple[int, int]


def shortest_by_trial(
    kinds: Sequence[tuple[Size, ...]], wanted: Sequence[int], width: int, widest: int, stages: int
) -> int | None:
    """The least length of cloth; None where a block does not lie on it. ``kinds`` gives the ways
    that each kind of block may lie, along and across."""

    @cache
    def least(left: tuple[int, ...]) -> int | None:
        if not any(left):
            return 0
        first = next(kind for kind, count in enumerate(left) if count)
        best: int | None = None
        for some in itertools.product(*(range(count + 1) for count in left)):
            if not some[first]:
                continue
            along = narrowest(some)
            if along is None:
                continue
            rest = least(tuple(a - b for a, b in zip(left, some, strict=True)))
            if rest is not None and (best is None or along + rest < best):
                best = along + rest
        return best

    @cache
    def narrowest(some: tuple[int, ...]) -> int | None:
        """The width of the narrowest strip that holds some blocks."""
        found = (_narrowest(blocks, width, widest, stages) for blocks in _turned(kinds, some))
        return min((along for along in found if along is not None), default=None)

    return least(tuple(wanted))


def _turned(kinds: Sequence[tuple[Size, ...]], some: Sequence[int]) -> Iterator[list[Size]]:
    """Some blocks, each of them in each of its ways."""
    choices = [
        list(itertools.combinations_with_replacement(dict.fromkeys(ways), count))
        for ways, count in zip(kinds, some, strict=True)
    ]
    for picked in itertools.product(*choices):
        yield [block for blocks in picked for block in blocks]


def _narrowest(blocks: list[Size], width: int, widest: int, stages: int) -> int | None:
    if stages == 2:
        alongs = {along for along, _ in blocks}
        fits = len(alongs) == 1 and sum(across for _, across in blocks) <= width
        along = max(alongs)
        return along if fits and along <= widest else None
    by_width: dict[int, list[int]] = {}
    for along, across in blocks:
        by_width.setdefault(across, []).append(along)
    for along in range(1, widest + 1):
        columns = [(w, _fewest_columns(tuple(sorted(a)), along)) for w, a in by_width.items()]
        if (
            all(n is not None for _, n in columns)
            and sum(w * (n or 0) for w, n in columns) <= width
        ):
            return along
    return None


@cache
def _fewest_columns(alongs: tuple[int, ...], room: int) -> int | None:
    """How few stacks of a length hold some blocks, by trying every first stack."""
    if not alongs:
        return 0
    if max(alongs) > room:
        return None
    best: int | None = None
    last, others = alongs[-1], alongs[:-1]
    for count in range(len(others) + 1):
        for picked in itertools.combinations(range(len(others)), count):
            if last + sum(others[k] for k in picked) > room:
                continue
            rest = tuple(a for k, a in enumerate(others) if k not in picked)
            more = _fewest_columns(rest, room)
            if more is not None and (best is None or more + 1 < best):
                best = more + 1
    return best
