"""The most caps from a length of cloth: a cap counts when all its blocks are there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from cutfiles.ruler.solve import Cutting, Solver


@dataclass(frozen=True, slots=True)
class Filled:
    """How many caps there are beside what was ordered, how they are cut, and the number of caps
    that no plan of these rules goes above."""

    caps: int
    cutting: Cutting
    most: int


def positions(fixed: Sequence[int], each: Sequence[int], caps: int, layers: int) -> list[int]:
    """How often each kind of block is cut, through all layers, for what is ordered and caps."""
    return [-(-(had + caps * one) // layers) for had, one in zip(fixed, each, strict=True)]


def most_that_fit(
    solver: Solver,
    fixed: Sequence[int],
    each: Sequence[int],
    *,
    layers: int,
    length: int,
) -> Filled | None:
    """The most caps, of so many blocks ``each``, beside ``fixed`` ones on a length of cloth; None
    where not even the fixed ones and one cap are found to fit.

    Lengths in steps. More blocks never take less cloth, so the number is hedged in by the bound of
    the linear programme and then tried from above.
    """

    def bound(caps: int) -> int:
        return solver.relaxed(positions(fixed, each, caps, layers)).bound

    room = solver.patterns.rules.width * length * layers
    area = sum(n * min(a * w for a, w in _ways(solver, kind)) for kind, n in enumerate(each))
    low, high = 0, math.floor(room / area) + layers
    while low < high:
        middle = (low + high + 1) // 2
        if bound(middle) <= length:
            low = middle
        else:
            high = middle - 1
    most: int | None = None
    for caps in range(low, 0, -1):
        cutting = solver.shortest(positions(fixed, each, caps, layers))
        if most is None and cutting.bound <= length:
            most = caps
        if cutting.length <= length:
            return Filled(caps, cutting, most if most is not None else caps)
    return None


def _ways(solver: Solver, kind: int) -> list[tuple[int, int]]:
    return [(c.along, c.across) for c in solver.patterns.choices if c.kind == kind]
