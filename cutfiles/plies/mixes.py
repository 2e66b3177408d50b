"""Which mixes of kinds a plan may choose from."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import Final

from cutfiles.plies.order import Mix, Terms, Wanted, of_one

MOST_CAPS: Final = 24
"""In one lay: with more of them lays get hardly shorter, and nests take long."""

_MOST_MIXES: Final = 300
"""So many of few caps are tried; each takes about a hundredth of a second to measure."""


def candidate_mixes(wanted: Sequence[Wanted], terms: Terms) -> tuple[Mix, ...]:
    """All mixes of up to as many caps as give no more than some hundreds of mixes, and larger ones
    in the proportions of the order: what is cut in 1, 2, 3 … plies at once, or in equal parts of
    that."""
    most = tuple(one.most // terms.at_once for one in wanted)
    found = dict.fromkeys(_small(most))
    for parts in _plies_and_parts(wanted, terms):
        for whole in (math.floor, math.ceil):
            mix = tuple(
                min(limit, whole(one.least / parts))
                for one, limit in zip(wanted, most, strict=True)
            )
            if 0 < sum(mix) <= MOST_CAPS:
                found.setdefault(mix)
    for kind, limit in enumerate(most):
        for count in range(1, min(limit, MOST_CAPS) + 1):
            found.setdefault(of_one(kind, len(most), count))
    return tuple(found)


def one_kind_lays(
    kind: int, kinds: int, wanted: Wanted, terms: Terms, most_caps: int
) -> tuple[tuple[Mix, int], ...]:
    """The mixes and plies of the lays of one kind alone, cut in order: as many caps in a lay as
    there are to cut in the most plies, and then a lay of the rest."""
    places = -(-wanted.least // terms.at_once)
    steps = terms.most_plies // terms.step
    lays: list[tuple[Mix, int]] = []
    while places:
        count = min(max(1, places // steps), most_caps)
        plies = min(steps, places // count)
        lays.append((of_one(kind, kinds, count), plies * terms.step))
        places -= count * plies
    return tuple(lays)


def _small(most: Sequence[int]) -> Iterator[Mix]:
    kinds, caps = len(most), 1
    while caps < MOST_CAPS and math.comb(kinds + caps + 1, kinds) - 1 <= _MOST_MIXES:
        caps += 1
    for total in range(1, caps + 1):
        for chosen in itertools.combinations_with_replacement(range(kinds), total):
            mix = tuple(chosen.count(kind) for kind in range(kinds))
            if all(n <= limit for n, limit in zip(mix, most, strict=True)):
                yield mix


def _plies_and_parts(wanted: Sequence[Wanted], terms: Terms) -> Iterator[int]:
    """By how much the order is divided."""
    total = sum(one.least for one in wanted)
    first = max(1, total // (MOST_CAPS + len(wanted)))
    yield from range(first, first + 60)
    for plies in range(terms.step, terms.most_plies + 1, terms.step):
        yield plies * terms.layers
