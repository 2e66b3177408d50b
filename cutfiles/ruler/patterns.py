"""Patterns of strips: which blocks one strip across the cloth may give.

A *choice* is a kind of block lying one way. A *stack* is what a column holds, a *pattern* the
columns of a strip. After P. C. Gilmore and R. E. Gomory, "Multistage Cutting Stock Problems of
Two and More Dimensions", Operations Research 13 (1965): the stacks of a width are one knapsack,
the columns of a strip another. Values are whole numbers, so that bounds are exact.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from cutfiles.ruler.plan import ClothRules, Size

Integers = npt.NDArray[np.int64]

SCALE = 10**9
"""Units of value in one step of cloth."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A kind of block, by its place in the order, lying one way."""

    kind: int
    along: int
    across: int


Stack = tuple[Choice, ...]


@dataclass(frozen=True, slots=True)
class Pattern:
    """A strip: its width along the cloth, and its columns."""

    along: int
    columns: tuple[Stack, ...]

    def counts(self, kinds: int) -> tuple[int, ...]:
        """How many blocks of each kind it gives."""
        counts = [0] * kinds
        for stack in self.columns:
            for choice in stack:
                counts[choice.kind] += 1
        return tuple(counts)


class TooManyError(Exception):
    """There are more patterns than can be listed."""


class Patterns:
    """The strips that some kinds of block may be cut from, by the rules of a cloth."""

    def __init__(self, sizes: Sequence[tuple[Size, ...]], rules: ClothRules) -> None:
        self.rules = rules
        self.kinds = len(sizes)
        self.choices = tuple(
            Choice(kind, along, across)
            for kind, ways in enumerate(sizes)
            for along, across in dict.fromkeys(ways)
            if along <= rules.widest and across <= rules.width
        )
        self.columns: dict[int, list[Choice]] = {}
        for choice in self.choices:
            self.columns.setdefault(choice.across, []).append(choice)
        self.alongs = tuple(sorted({a for w in self.columns for a in self._reached(w)}))

    def _reached(self, across: int) -> Iterator[int]:
        """The widths of strip that stacks of one width fill exactly."""
        reached = 1
        for choice in self.columns[across]:
            if self.rules.stages == 2:
                yield choice.along
                continue
            for _ in range(self.rules.widest // choice.along):
                reached |= reached << choice.along
        mask = reached & ((1 << (self.rules.widest + 1)) - 1)
        yield from (a for a in range(1, self.rules.widest + 1) if mask >> a & 1)

    def plain(self) -> Iterator[Pattern]:
        """For every choice the strip that holds as many of it as it can, side by side."""
        for choice in self.choices:
            yield Pattern(choice.along, ((choice,),) * (self.rules.width // choice.across))

    def best(self, prices: Integers) -> list[tuple[int, Pattern]]:
        """For every width of strip a pattern of the highest value, and that value, whatever is
        wanted of each kind."""
        widths = list(self.columns)
        stacks = [self._stacks(width, prices) for width in widths]
        room = self.rules.width
        value = np.zeros((room + 1, len(self.alongs)), np.int64)
        taken = np.full(value.shape, -1, np.int64)
        for across in range(1, room + 1):
            value[across] = value[across - 1]
            for number, width in enumerate(widths):
                if width <= across:
                    with_it = value[across - width] + stacks[number][0]
                    better = with_it > value[across]
                    value[across][better] = with_it[better]
                    taken[across][better] = number
        return [
            (int(value[room, k]), self._traced(taken[:, k], k, widths, stacks))
            for k in range(len(self.alongs))
        ]

    def _traced(
        self,
        taken: Integers,
        k: int,
        widths: Sequence[int],
        stacks: Sequence[tuple[Integers, list[Stack]]],
    ) -> Pattern:
        columns: list[Stack] = []
        across = self.rules.width
        while across > 0:
            number = int(taken[across])
            if number < 0:
                across -= 1
                continue
            columns.append(stacks[number][1][k])
            across -= widths[number]
        return Pattern(self.alongs[k], tuple(columns))

    def _stacks(self, across: int, prices: Integers) -> tuple[Integers, list[Stack]]:
        """For every width of strip the best stack of one width of column, and its value."""
        choices = self.columns[across]
        if self.rules.stages == 2:
            best: list[tuple[int, Stack]] = [(0, ())] * (self.rules.widest + 1)
            for choice in choices:
                worth = int(prices[choice.kind])
                if worth > best[choice.along][0]:
                    best[choice.along] = worth, (choice,)
        else:
            best = [(0, ())]
            for along in range(1, self.rules.widest + 1):
                top = best[along - 1]
                for choice in choices:
                    if choice.along <= along:
                        value, stack = best[along - choice.along]
                        if value + prices[choice.kind] > top[0]:
                            top = int(value + prices[choice.kind]), (*stack, choice)
                best.append(top)
        at = [best[along] for along in self.alongs]
        return np.array([value for value, _ in at], np.int64), [stack for _, stack in at]

    def listed(
        self, prices: Integers, wanted: Sequence[int], slack: int, most: int
    ) -> list[Pattern]:
        """Every strip that is worth at least its width less ``slack``, no more counted of a kind
        than is ``wanted``; strips that another of that width betters are left out.

        Raises
        ------
        TooManyError
            If there are more than ``most``, or too many to look through.
        """
        found: dict[tuple[int, ...], Pattern] = {}
        looks = [40 * most]
        for along in self.alongs:
            least = along * SCALE - slack
            search = _Listing(self, along, _Asked(prices, wanted, least, looks))
            for counts, pattern in search.patterns():
                if counts not in found:  # narrower strips come first
                    found[counts] = pattern
                    if len(found) > most:
                        raise TooManyError
        return list(found.values())

    def full_stacks(self, across: int, along: int, wanted: Sequence[int]) -> Iterator[Stack]:
        """The stacks of one width that fit a strip and take no further block."""
        choices = self.columns[across]
        if self.rules.stages == 2:
            yield from ((choice,) for choice in choices if choice.along == along)
            return

        def grow(first: int, left: int, stack: Stack) -> Iterator[Stack]:
            held = [choice.kind for choice in stack]
            fits = [c for c in choices if c.along <= left and held.count(c.kind) < wanted[c.kind]]
            if not fits and stack:
                yield stack
            for number in range(first, len(choices)):
                if choices[number] in fits:
                    next_left = left - choices[number].along
                    yield from grow(number, next_left, (*stack, choices[number]))

        yield from grow(0, along, ())


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a pattern must be worth, by which prices, and how many more may be looked at."""

    prices: Integers
    wanted: Sequence[int]
    least: int
    looks: list[int]


class _Listing:
    """All patterns of one width of strip that are worth enough."""

    def __init__(self, patterns: Patterns, along: int, asked: _Asked) -> None:
        wanted, prices = asked.wanted, asked.prices
        self._along, self._wanted, self._least = along, wanted, asked.least
        self._looks = asked.looks
        self._room = patterns.rules.width
        self._prices = [int(price) for price in prices]
        self._kinds = patterns.kinds
        self._stacks = [
            (across, stack)
            for across in sorted(patterns.columns, reverse=True)
            for stack in patterns.full_stacks(across, along, wanted)
        ]
        self._fills = [sum(c.along for c in stack) == along for _, stack in self._stacks]
        self._rest = self._best_of_the_rest()

    def _best_of_the_rest(self) -> list[list[int]]:
        """The most that the stacks from each on may add, by room left, whatever is wanted."""
        rest = [[0] * (self._room + 1)]
        for across, stack in reversed(self._stacks):
            worth = sum(self._prices[choice.kind] for choice in stack)
            row = list(rest[-1])
            for room in range(across, self._room + 1):
                row[room] = max(row[room], row[room - across] + worth)
            rest.append(row)
        return rest[::-1]

    def patterns(self) -> Iterator[tuple[tuple[int, ...], Pattern]]:
        """Counts, no higher than what is wanted, and the strip."""
        if self._stacks:
            yield from self._grow(0, self._room, (0,) * self._kinds, (), filled=False)

    def _grow(
        self,
        first: int,
        room: int,
        counts: tuple[int, ...],
        columns: tuple[Stack, ...],
        *,
        filled: bool,
    ) -> Iterator[tuple[tuple[int, ...], Pattern]]:
        self._looks[0] -= 1
        if self._looks[0] < 0:
            raise TooManyError
        worth = sum(price * count for price, count in zip(self._prices, counts, strict=True))
        if worth + self._rest[first][room] < self._least:
            return
        if first == len(self._stacks):
            full = not any(
                across <= room and self._adds(stack, counts) for across, stack in self._stacks
            )
            if filled and full:
                yield counts, Pattern(self._along, columns)
            return
        across, stack = self._stacks[first]
        if across <= room and self._adds(stack, counts):
            more = list(counts)
            for choice in stack:
                more[choice.kind] = min(more[choice.kind] + 1, self._wanted[choice.kind])
            yield from self._grow(
                first, room - across, tuple(more), (*columns, stack),
                filled=filled or self._fills[first],
            )  # fmt: skip
        yield from self._grow(first + 1, room, counts, columns, filled=filled)

    def _adds(self, stack: Stack, counts: Sequence[int]) -> bool:
        return any(counts[choice.kind] < self._wanted[choice.kind] for choice in stack)
