"""Strips for ties and binding out of a rectangle of offcut: how many, their joins, what is left.

Lengths in mm. A join takes what its kind of end takes: strips on the bias have ends on the grain
(`bias.join_loss`), straight strips square ends, crossed and sewn on the diagonal: a strip's width.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from cutfiles.job.job import StripGrain
from cutfiles.pieces.bias import bias_strips, continuous_bias, join_loss

LEAST_WIDTHS: Final = 4.0
"""A strip shorter than so many of its widths would be mostly joins, and is left."""


@dataclass(frozen=True, slots=True)
class Offcut:
    """A rectangle of cloth."""

    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class StripPlan:
    """Strips cut of an offcut and joined; ``each_mm`` are their lengths, the longest first.

    ``spare_mm`` are strips that it gives besides. ``join_mm`` is what one join takes. ``rest`` is
    the rectangle that straight strips leave whole, None on the bias.
    """

    grain: StripGrain
    width_mm: float
    each_mm: tuple[float, ...]
    spare_mm: tuple[float, ...]
    join_mm: float
    rest: Offcut | None

    @property
    def joins(self) -> int:
        """Between the strips."""
        return max(0, len(self.each_mm) - 1)

    @property
    def joined_mm(self) -> float:
        """As long as the strips are together."""
        return _joined_mm(self.each_mm, self.join_mm)


def most_mm(offcut: Offcut, width_mm: float, grain: StripGrain, seam_mm: float) -> float:
    """The longest strip that an offcut gives, joined."""
    return max(_joined_mm(s, join) for s, join, _ in _ways(offcut, width_mm, grain, seam_mm))


def strip_plan(
    offcut: Offcut, width_mm: float, length_mm: float, grain: StripGrain, seam_mm: float
) -> StripPlan | None:
    """The fewest strips that make up a length, the longest taken first; None where the offcut does
    not give so much. ``seam_mm`` is the allowance of a join on the bias."""
    plans = []
    for strips, join_mm, side in _ways(offcut, width_mm, grain, seam_mm):
        count = 1
        while count < len(strips) and _joined_mm(strips[:count], join_mm) < length_mm - 1e-6:
            count += 1
        if not strips or _joined_mm(strips[:count], join_mm) < length_mm - 1e-6:
            continue
        rest = None
        if side is not None:
            rest = Offcut(side.width_mm, side.height_mm - count * width_mm)
        used, spare = tuple(strips[:count]), tuple(strips[count:])
        plans.append(StripPlan(grain, width_mm, used, spare, join_mm, rest))
    return min(plans, key=lambda plan: plan.joins, default=None)


def _ways(
    offcut: Offcut, width_mm: float, grain: StripGrain, seam_mm: float
) -> list[tuple[list[float], float, Offcut | None]]:
    """The strips that an offcut gives, what a join takes, and the offcut as it is turned."""
    if grain == "bias":
        return [(_on_the_bias(offcut, width_mm), join_loss(seam_mm), None)]
    turned = Offcut(offcut.height_mm, offcut.width_mm)
    return [
        ([one.width_mm] * int(one.height_mm / width_mm + 1e-9), width_mm, one)
        for one in (offcut, turned)
    ]


def _on_the_bias(offcut: Offcut, width_mm: float) -> list[float]:
    """The full strips from side to side, then those of both corners, longest first (derived).

    A line at 45 degrees that meets the long side c from its corner is as long within the rectangle
    as the shortest of c, W - c and H allow, times sqrt(2); a strip with parallel ends on the grain
    is as long as the shorter of its two sides.
    """
    full = bias_strips(offcut.width_mm, offcut.height_mm, width_mm)
    long = max(offcut.width_mm, offcut.height_mm)
    short = min(offcut.width_mm, offcut.height_mm)
    step = width_mm * math.sqrt(2.0)
    strips = [full.each] * full.count
    # lines are told by where they leave the lower side: from -short, over 0, to long
    after = full.count * step
    while long - (after + step) > 0.0:
        strips.append(math.sqrt(2.0) * min(short, long - (after + step)))
        after += step
    before = step
    while short - before > 0.0:
        strips.append(math.sqrt(2.0) * (short - before))
        before += step
    worth = [each for each in strips if each >= LEAST_WIDTHS * width_mm]
    return sorted(worth, reverse=True)


def continuous_mm(offcut: Offcut, width_mm: float) -> float:
    """What a tube cut in one continuous bias strip would give with nothing lost."""
    return continuous_bias(offcut.width_mm * offcut.height_mm, width_mm)


def _joined_mm(each_mm: Sequence[float], join_mm: float) -> float:
    return sum(each_mm) - max(0, len(each_mm) - 1) * join_mm
