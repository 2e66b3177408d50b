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


@dataclass(frozen=True, slots=True)
class _Offer:
    """A column that may be taken once: its width, and for every width of strip its value and
    stack."""

    across: int
    values: Integers
    stacks: list[Stack]


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

    def best(self, prices: Integers, wanted: Sequence[int]) -> list[tuple[int, Pattern]]:
        """For every width of strip a pattern, and a value that no pattern of that width exceeds
        which gives no more of a kind than is wanted. Where several kinds share a width of column,
        the pattern may give more of them than that."""
        return self._filled([self._bounded(w, prices, wanted) for w in self.columns])

    def good(self, prices: Integers, wanted: Sequence[int]) -> list[tuple[int, Pattern]]:
        """For every width of strip a pattern of high value, and its value, that gives no more of
        any kind than is wanted."""
        return self._filled([self._greedy(w, prices, wanted) for w in self.columns])

    def _filled(self, offers: Sequence[list[_Offer]]) -> list[tuple[int, Pattern]]:
        """The best choice of offered columns for every width of strip, each taken once at most."""
        room = self.rules.width
        value = np.zeros((room + 1, len(self.alongs)), np.int64)
        listed = [offer for column in offers for offer in column]
        taken = []
        for offer in listed:
            across = offer.across
            better = np.zeros(value.shape, bool)
            with_it = value[: room + 1 - across] + offer.values
            better[across:] = with_it > value[across:]
            value[across:] = np.maximum(value[across:], with_it)
            taken.append(better)
        made = []
        for k, along in enumerate(self.alongs):
            left, columns = room, []
            for offer, better in zip(reversed(listed), reversed(taken), strict=True):
                if better[left, k]:
                    columns.append(offer.stacks[k])
                    left -= offer.across
            made.append((int(value[room, k]), Pattern(along, tuple(columns))))
        return made

    def _bounded(self, across: int, prices: Integers, wanted: Sequence[int]) -> list[_Offer]:
        """Columns of one width that together are worth as much as any that may be cut."""
        choices = [choice for choice in self.columns[across] if wanted[choice.kind]]
        most = self.rules.width // across
        if len(choices) == 1:
            return self._greedy(across, prices, wanted)
        if not choices:
            return []
        stacks = self._stacks(choices, prices, wanted)
        values = np.array([_worth(stack, prices) for stack in stacks], np.int64)
        return [_Offer(across, values, stacks)] * most

    def _greedy(self, across: int, prices: Integers, wanted: Sequence[int]) -> list[_Offer]:
        """Columns of one width, one after the other filled with what is worth most for its length,
        as long as any is wanted."""
        choices = sorted(
            (choice for choice in self.columns[across] if wanted[choice.kind]),
            key=lambda choice: (-int(prices[choice.kind]) / choice.along, choice.kind),
        )
        most = self.rules.width // across
        rows = [list(self._piled(along, choices, wanted, most)) for along in self.alongs]
        offers = []
        for number in range(max((len(row) for row in rows), default=0)):
            stacks = [row[number] if number < len(row) else () for row in rows]
            values = np.array([_worth(stack, prices) for stack in stacks], np.int64)
            offers.append(_Offer(across, values, stacks))
        return offers

    def _piled(
        self, along: int, choices: Sequence[Choice], wanted: Sequence[int], most: int
    ) -> Iterator[Stack]:
        left = {choice.kind: wanted[choice.kind] for choice in choices}
        for _ in range(most):
            stack: list[Choice] = []
            room = along
            for choice in choices:
                if self.rules.stages == 2:
                    count = int(choice.along == along and not stack and left[choice.kind] > 0)
                else:
                    count = min(room // choice.along, left[choice.kind])
                stack += [choice] * count
                room -= count * choice.along
                left[choice.kind] -= count
            if not stack:
                return
            yield tuple(stack)

    def _stacks(
        self, choices: Sequence[Choice], prices: Integers, wanted: Sequence[int]
    ) -> list[Stack]:
        """For every width of strip the best stack of one width of column, with no more of a kind
        than is wanted."""
        if self.rules.stages == 2:
            exact = [[c for c in choices if c.along == along] for along in self.alongs]
            dear = [max(some, key=lambda c: int(prices[c.kind]), default=None) for some in exact]
            return [(choice,) if choice else () for choice in dear]
        deepest = self.rules.widest
        value = np.zeros(deepest + 1, np.int64)
        taken: list[tuple[Choice, npt.NDArray[np.bool_]]] = []
        for choice in choices:
            for _ in range(min(wanted[choice.kind], deepest // choice.along)):
                better = np.zeros(deepest + 1, bool)
                with_it = value[: deepest + 1 - choice.along] + prices[choice.kind]
                better[choice.along :] = with_it > value[choice.along :]
                if not better.any():
                    break
                value[choice.along :] = np.maximum(value[choice.along :], with_it)
                taken.append((choice, better))
        return [_traced(taken, along) for along in self.alongs]

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


def _worth(stack: Stack, prices: Integers) -> int:
    return sum(int(prices[choice.kind]) for choice in stack)


def _traced(taken: Sequence[tuple[Choice, npt.NDArray[np.bool_]]], along: int) -> Stack:
    """The stack of a knapsack's best value for a length."""
    stack: list[Choice] = []
    for choice, better in reversed(taken):
        if better[along]:
            stack.append(choice)
            along -= choice.along
    return tuple(stack)


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
