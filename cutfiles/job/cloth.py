"""The nouns of cloth beside its measures: grain, spread, flaws, printed repeat and remnant.

Millimetres and degrees. Places on cloth count from its lower left corner, selvedge included,
along it and across it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

Grain = Literal["along", "across", "either", "bias"]
Spread = Literal["single", "folded", "face to face"]

_TURNS_DEG: Final[Mapping[Grain, tuple[float, ...]]] = {
    "along": (0.0, 180.0),
    "across": (90.0, 270.0),
    "either": (0.0, 90.0, 180.0, 270.0),
    "bias": (45.0, 135.0, 225.0, 315.0),
}


@dataclass(frozen=True, slots=True)
class GrainRule:
    """How a piece's grain line may lie on the cloth: along it, across it, either, or at 45 degrees
    to it, and up to ``tilt_deg`` off that, both ways."""

    grain: Grain = "along"
    tilt_deg: float = 0.0

    def turns_deg(self, *, one_way: bool) -> tuple[float, ...]:
        """The turns to place a piece in, the best on grain first. One-way cloth keeps one of each
        opposite pair: the one that turns by less than half."""
        bases = [turn for turn in _TURNS_DEG[self.grain] if not one_way or turn < 180.0]
        if not self.tilt_deg:
            return tuple(bases)
        tilts = (0.0, -self.tilt_deg, self.tilt_deg)
        return tuple((base + tilt) % 360.0 for tilt in tilts for base in bases)


@dataclass(frozen=True, slots=True)
class Flaw:
    """A place to keep clear of: its lower left corner and extent, along and across, or the box
    round a round one. ``is_hole`` matters to the grading of the cloth alone."""

    at: tuple[float, float]
    size: tuple[float, float]
    is_round: bool = False
    is_hole: bool = False

    @property
    def far(self) -> tuple[float, float]:
        """Its upper right corner."""
        return self.at[0] + self.size[0], self.at[1] + self.size[1]


@dataclass(frozen=True, slots=True)
class PrintRepeat:
    """After what lengths the print repeats, along and across; None where it does not matter.

    ``starts_along_mm`` and ``starts_across_mm`` say where the first whole repeat begins on the
    cloth; across, None is the inner edge of the selvedge.
    """

    along_mm: float | None = None
    across_mm: float | None = None
    starts_along_mm: float = 0.0
    starts_across_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Remnant:
    """One left-over piece of a cloth, whose corner of origin is the lower left one of its box.

    ``corners`` go once round, x along the cloth; they are empty as long as the drawing ``file``
    has not been read. ``number`` counts the job's tables of cloth from 1, those that a shelf fills
    in among them; ``table`` is what messages call its own.
    """

    number: int
    file: str | None = None
    corners: tuple[tuple[float, float], ...] = ()
    flaws: tuple[Flaw, ...] = ()
    table: str = "[[cloth]]"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Its box, along and across."""
        return max(x for x, _ in self.corners), max(y for _, y in self.corners)


def at_origin(corners: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
    """Corners with the lower left one of their box at the origin."""
    left, low = min(x for x, _ in corners), min(y for _, y in corners)
    return tuple((x - left, y - low) for x, y in corners)


LEAST_CLOTH_MM: Final = 50.0
"""Cloth that is shorter, or a remnant that is less along or across, is thread."""

ON_GRAIN: Final = GrainRule()
"""Along the cloth, not tilted: how every piece lies of which the job says nothing else."""
