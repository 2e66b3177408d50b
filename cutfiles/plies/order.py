"""The nouns of a plan in plies: what is wanted of a cloth, on what terms, and the lays for it.

A *mix* says how many caps of each kind lie in a lay, in the order of the kinds.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from cutfiles.estimate.plies import drawn_mm

Mix: TypeAlias = tuple[int, ...]


def of_one(kind: int, kinds: int, count: int = 1) -> Mix:
    """The mix of so many caps of one of some kinds."""
    return tuple(count if number == kind else 0 for number in range(kinds))


@dataclass(frozen=True, slots=True)
class Wanted:
    """How many caps of one kind are to be cut: at least, and at most."""

    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Terms:
    """What bounds the lays of a cloth, and what one more of them is worth.

    Plies are spread ``step`` at a time (face to face: 2) and at most ``most_plies``, each of
    ``layers`` layers (folded: 2). ``longest_mm`` is the bed's; ``rolls_mm`` are the lengths on
    hand, the longest first: all plies of a lay come from one, and every lay loses ``lost_mm`` of
    it. Either is infinite where nothing limits it. ``lay_worth_mm`` is the length of cloth that it
    is worth to spread a lay less.
    """

    most_plies: int
    step: int = 1
    layers: int = 1
    longest_mm: float = math.inf
    rolls_mm: tuple[float, ...] = (math.inf,)
    lay_worth_mm: float = 0.0
    lost_mm: float = 0.0

    @property
    def at_once(self) -> int:
        """The fewest caps that come of one place in a lay."""
        return self.step * self.layers

    @property
    def longest_ply_mm(self) -> float:
        """The longest lay that bed and rolls take."""
        return min(self.longest_mm, self.rolls_mm[0])

    def plies_for(self, length_mm: float, roll: int = 0) -> int:
        """The most plies of a lay of some length on a roll, by its number from 0: whole steps, as
        far as it goes; 0 where there is none."""
        if length_mm > self.longest_mm:
            return 0
        most = float(self.most_plies)
        if math.isfinite(self.rolls_mm[roll]):
            most = min(most, (self.rolls_mm[roll] - self.lost_mm) / length_mm + 1e-9)
        return max(0, int(most)) // self.step * self.step


@dataclass(frozen=True, slots=True)
class ClothOrder:
    """What is wanted of a cloth, on what terms, and how long lays of some mixes are."""

    wanted: tuple[Wanted, ...]
    terms: Terms
    lengths_mm: Mapping[Mix, float]


Equal: TypeAlias = tuple[tuple[int, int], ...]
"""Kinds of which as many are cut of every cloth, since a cap has pieces of each: the number of the
cloth, and of the kind on it, from 0."""

Equals: TypeAlias = tuple[Equal, ...]


def together(cloths: int, equal: Sequence[Equal]) -> tuple[tuple[tuple[int, ...], Equals], ...]:
    """Cloths by their numbers, in groups of those that have equal kinds in common, each with these;
    the cloths' numbers in them count within the group."""
    groups = [{number} for number in range(cloths)]
    for kinds in equal:
        shared = {cloth for cloth, _ in kinds}
        joined = set[int]().union(shared, *(group for group in groups if group & shared))
        groups = [joined, *(group for group in groups if not group & shared)]
    found = []
    for group in sorted(sorted(group) for group in groups):
        own = tuple(
            tuple((group.index(cloth), kind) for cloth, kind in kinds)
            for kinds in equal
            if kinds[0][0] in group
        )
        found.append((tuple(group), own))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class SpreadLay:
    """A lay of so many caps of each kind, in how many plies it is spread, and from which roll."""

    mix: Mix
    plies: int
    length_mm: float
    roll: int = 0

    @property
    def drawn_mm(self) -> float:
        """The cloth that it takes from the bolt, the ends of its plies included."""
        return drawn_mm(self.length_mm, self.plies)


@dataclass(frozen=True, slots=True)
class LayPlan:
    """Lays that give what is wanted of a cloth. No plan of the same candidates costs less than
    ``bound_mm``, in cloth and the worth of its lays."""

    lays: tuple[SpreadLay, ...]
    lay_worth_mm: float
    bound_mm: float

    @property
    def cloth_mm(self) -> float:
        """All cloth that is drawn."""
        return sum(lay.drawn_mm for lay in self.lays)

    @property
    def cost_mm(self) -> float:
        """The cloth, and the worth of every lay."""
        return self.cloth_mm + self.lay_worth_mm * len(self.lays)

    @property
    def gap(self) -> float:
        """How far its cost may be above the least, as a part of it."""
        return max(0.0, (self.cost_mm - self.bound_mm) / self.cost_mm) if self.lays else 0.0

    def caps(self, layers: int) -> tuple[int, ...]:
        """How many caps of each kind it cuts, from plies of so many layers."""
        return tuple(
            sum(counts)
            for counts in zip(
                *([n * lay.plies * layers for n in lay.mix] for lay in self.lays), strict=True
            )
        )
