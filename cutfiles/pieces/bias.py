"""Bias strips: how many a piece of cloth gives, how long they are joined, and what is lost.

Strips lie at 45 degrees to the grain. Lengths in any one unit, the same throughout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

SAFE_SHARE: Final = 0.80
"""Of the ideal length, what to plan on: charts for whole cloth widths give 0.75 to 0.88 of it
(fiber-images.com)."""


@dataclass(frozen=True, slots=True)
class BiasStrips:
    """Full strips cut from a rectangle of cloth, each as long as the other."""

    count: int
    each: float

    def joined(self, seam_allowance: float) -> float:
        """The length of all strips joined at ends cut on the grain; 0 if there is none."""
        joins = max(0, self.count - 1)
        return self.count * self.each - joins * join_loss(seam_allowance)


def join_loss(seam_allowance: float) -> float:
    """What one join of ends cut on the grain takes: 2 sqrt(2) s (derived)."""
    return 2.0 * math.sqrt(2.0) * seam_allowance


def bias_strips(width: float, height: float, strip_width: float) -> BiasStrips:
    """The full strips from corner to corner of a rectangle, ends cut on the grain (derived).

    Of a rectangle no longer than wide there are floor((W - H) / (w sqrt 2)), each H sqrt(2)
    long; the corner triangles give short strips only, and are left out.

    Raises
    ------
    ValueError
        If a measure is not positive.
    """
    if min(width, height, strip_width) <= 0:
        raise ValueError("cloth and strip need a width and height above 0")
    long, short = max(width, height), min(width, height)
    count = int((long - short) / (strip_width * math.sqrt(2.0)) + 1e-9)
    return BiasStrips(count, short * math.sqrt(2.0))


def continuous_bias(area: float, strip_width: float) -> float:
    """The length of a continuous strip from cloth of an area: an upper bound, nothing lost."""
    return area / strip_width


def square_for_bias(length: float, strip_width: float) -> float:
    """The side of the square that gives a continuous strip of that length, nothing lost."""
    return math.sqrt(length * strip_width)
