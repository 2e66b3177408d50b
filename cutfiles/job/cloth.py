"""The nouns of cloth beside its measures: grain, spread, flaws, printed repeat and remnant.

Millimetres and degrees. Places on cloth count from its lower left corner, selvedge included,
along it and across it.
"""

from __future__ import annotations

from collections.abc import Mapping
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


ON_GRAIN: Final = GrainRule()
"""Along the cloth, not tilted: how every piece lies of which the job says nothing else."""
