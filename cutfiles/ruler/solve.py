"""The shortest way to cut so many blocks in strips, and how short any way can be.

Linear programmes over strip patterns, made as they are needed (Gilmore and Gomory 1965), give a
bound; every pattern that a shorter way could use is then listed by its reduced cost, and an integer
programme over these proves the shortest, or finds it. Bounded by counts, never by time.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from cutfiles.ruler.patterns import SCALE, Integers, Pattern, Patterns, TooManyError

_MOST_ROUNDS: Final = 300
_MOST_PATTERNS: Final = 1_500
_MOST_NODES: Final = 300
_MOST_PROOFS: Final = 4
_GREEDY_ROUNDS: Final = 4


@dataclass(frozen=True, slots=True)
class Cutting:
    """Patterns with how often each is cut; no way is shorter than ``bound``."""

    strips: tuple[tuple[Pattern, int], ...]
    bound: int

    @property
    def length(self) -> int:
        """The length of cloth that it takes."""
        return sum(pattern.along * count for pattern, count in self.strips)


@dataclass(frozen=True, slots=True)
class Relaxed:
    """What the linear programme says: no way is shorter than ``bound``; ``prices`` are what each
    kind of block is worth, and ``worth`` what all that are wanted are, in 1/`SCALE` of a step."""

    bound: int
    prices: Integers
    worth: int


class Solver:
    """Ways to cut the same kinds of block, in any number."""

    def __init__(self, patterns: Patterns) -> None:
        self.patterns = patterns
        self._pool: dict[tuple[int, ...], Pattern] = {}
        self._add(patterns.plain())

    def relaxed(self, wanted: Sequence[int]) -> Relaxed:
        """The bound by linear programmes over patterns."""
        prices = np.zeros(self.patterns.kinds, np.int64)
        best: list[tuple[int, Pattern]] = []
        for _ in range(_MOST_ROUNDS):
            prices = self._prices(wanted)
            best = self.patterns.best(prices, wanted)
            better = [p for value, p in best if value > p.along * SCALE + self.patterns.kinds]
            if not self._add(better):
                break
        # prices that no pattern beats give a bound, whatever rounding did
        value, pattern = max(best, key=lambda one: Fraction(one[0], one[1].along))
        limit = pattern.along * SCALE
        if value > limit:
            prices = np.array([int(p) * limit // value for p in prices], np.int64)
        worth = sum(int(p) * n for p, n in zip(prices, wanted, strict=True))
        return Relaxed(self._reached_from(-(-worth // SCALE)), prices, worth)

    def shortest(self, wanted: Sequence[int]) -> Cutting:
        """The shortest way, or the best that was found and a bound."""
        relaxed = self.relaxed(wanted)
        best = self._covered(wanted)
        if _length(best) > relaxed.bound:
            greedy = self._greedy(wanted, relaxed.prices)
            best = min(greedy, self._covered(wanted), best, key=_length)
        length = _length(best)
        bound = min(relaxed.bound, length)
        reach = length - 1
        proofs = 0
        while bound < length and proofs < _MOST_PROOFS:
            slack = reach * SCALE - relaxed.worth
            try:
                listed = self.patterns.listed(relaxed.prices, wanted, slack, _MOST_PATTERNS)
            except TooManyError:
                if reach == bound:
                    break
                reach = (bound + reach) // 2
                continue
            proofs += 1
            found, proved = _programme(listed, wanted, self.patterns.kinds, reach)
            if found is not None:
                best, length = found, _length(found)
                bound = max(bound, proved)
            else:
                bound = min(length, max(bound, proved))
                if proved <= reach:
                    break
            reach = length - 1
        return Cutting(tuple(best), bound)

    def _reached_from(self, length: int) -> int:
        """The shortest sum of widths of strip that is at least a length."""
        widths = [a for a in self.patterns.alongs if a <= length]
        if len(widths) < len(self.patterns.alongs):
            beyond = min(a for a in self.patterns.alongs if a > length)
        else:
            beyond = length + max(widths)
        reached = 1
        for width in widths:
            step = width
            while step <= beyond:
                reached |= reached << step
                step *= 2
        mask = reached & ((1 << (beyond + 1)) - 1)
        above = mask >> length
        first = (above & -above).bit_length() - 1
        return min(beyond, length + first) if above else beyond

    def _add(self, patterns: Iterable[Pattern]) -> bool:
        """Take patterns into the pool; whether any of them was new or narrower."""
        new = False
        for pattern in patterns:
            counts = pattern.counts(self.patterns.kinds)
            had = self._pool.get(counts)
            if had is None or had.along > pattern.along:
                self._pool[counts] = pattern
                new = True
        return new

    def _prices(self, wanted: Sequence[int]) -> Integers:
        pool = list(self._pool.values())
        solved = linprog(
            [p.along for p in pool],
            A_ub=-_counts(pool, self.patterns.kinds),
            b_ub=[-n for n in wanted],
            method="highs",
        )
        worths = np.maximum(-np.asarray(solved.ineqlin.marginals, float), 0.0)
        prices: Integers = np.floor(worths * SCALE).astype(np.int64)
        return prices

    def _covered(self, wanted: Sequence[int]) -> list[tuple[Pattern, int]]:
        """A good way with the patterns at hand."""
        plain = self._one_by_one(wanted)
        kinds = self.patterns.kinds
        found, _ = _programme(list(self._pool.values()), wanted, kinds, _length(plain))
        return plain if found is None else found

    def _greedy(self, wanted: Sequence[int], prices: Integers) -> list[tuple[Pattern, int]]:
        """A good way found strip by strip, each the one that is worth most for its width; its
        patterns go into the pool.

        Prices are corrected by what a kind cost in a round's strips (sequential value
        correction, after E. A. Mukhacheva and others, from memory).
        """
        kinds = self.patterns.kinds
        prices = np.maximum(prices, 1)
        best: list[tuple[Pattern, int]] = self._one_by_one(wanted)
        for _ in range(_GREEDY_ROUNDS):
            left = list(wanted)
            round_: list[tuple[Pattern, int]] = []
            paid = [0.0] * kinds
            while any(left):
                value, pattern = max(
                    self.patterns.good(prices, left), key=lambda one: one[0] / one[1].along
                )
                counts = pattern.counts(kinds)
                if not any(counts):
                    return best
                # a kind that may lie two ways may come twice as often as is wanted
                times = max(1, min(n // c for n, c in zip(left, counts, strict=True) if c))
                left = [max(0, n - c * times) for n, c in zip(left, counts, strict=True)]
                round_.append((pattern, times))
                dearer = pattern.along * SCALE / max(value, 1)
                for kind, count in enumerate(counts):
                    paid[kind] += int(prices[kind]) * dearer * count * times
            self._add(pattern for pattern, _ in round_)
            best = min(best, round_, key=_length)
            each = [p / max(n, 1) for p, n in zip(paid, wanted, strict=True)]
            prices = np.array(
                [int((int(p) + e) / 2.0) for p, e in zip(prices, each, strict=True)], np.int64
            )
        return best

    def _one_by_one(self, wanted: Sequence[int]) -> list[tuple[Pattern, int]]:
        """Every kind in strips of its own."""
        plain: dict[int, Pattern] = {}
        for pattern in self.patterns.plain():
            plain.setdefault(pattern.columns[0][0].kind, pattern)
        kinds = self.patterns.kinds
        return [
            (plain[kind], -(-count // plain[kind].counts(kinds)[kind]))
            for kind, count in enumerate(wanted)
            if count
        ]


def _length(cutting: Iterable[tuple[Pattern, int]]) -> int:
    return sum(pattern.along * count for pattern, count in cutting)


def _counts(patterns: Sequence[Pattern], kinds: int) -> npt.NDArray[np.float64]:
    return np.array([pattern.counts(kinds) for pattern in patterns], float).T.reshape(kinds, -1)


def _programme(
    patterns: Sequence[Pattern], wanted: Sequence[int], kinds: int, longest: int
) -> tuple[list[tuple[Pattern, int]] | None, int]:
    """The shortest way of some patterns that takes no more than ``longest``, None if none was
    found; and what no way of these goes below, ``longest + 1`` where there is none."""
    if not patterns:
        return None, longest + 1
    alongs = np.array([pattern.along for pattern in patterns], float)
    counts = _counts(patterns, kinds)
    solved = milp(
        alongs,
        integrality=np.ones(len(patterns), int),
        bounds=Bounds(0, np.inf),
        constraints=[
            LinearConstraint(counts, np.array(wanted, float), np.inf),
            LinearConstraint(alongs[np.newaxis, :], 0.0, float(longest)),
        ],
        options={"node_limit": _MOST_NODES, "mip_rel_gap": 0.0},
    )
    if solved.status == 2:
        return None, longest + 1
    bound = solved.mip_dual_bound
    proved = 0 if bound is None or not math.isfinite(bound) else math.ceil(bound - 1e-6)
    if solved.x is None:
        return None, min(proved, longest + 1)
    times = np.round(solved.x).astype(int)
    if any(counts @ times < wanted) or int(alongs @ times) > longest:
        return None, min(proved, longest)  # a solver's rounding: no way, and no proof either
    used = [(p, int(n)) for p, n in zip(patterns, times, strict=True) if n]
    return used, _length(used) if solved.status == 0 else min(proved, _length(used))
