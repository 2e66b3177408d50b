"""How many people have which head girth: adults by a public survey, children by growth standards.

Adults: percentiles of the ANSUR II data (C. C. Gordon et al., "2012 Anthropometric Survey of U.S.
Army Personnel", NATICK/TR-15/007, 2014; public domain; 1,986 women, 4,082 men). Soldiers are not
everybody: take the shares as a guide. Children: WHO Child Growth Standards, head circumference for
age, median and standard deviation (their L is 1, so normal).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from cutfiles.job.sizes import ADULT_SIZES, Size

Sex = Literal["women", "men"]

_PERCENTS: Final = (
    0.0, 0.1, 0.5, 1.0, 2.5, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0,
    65.0, 70.0, 75.0, 80.0, 85.0, 90.0, 95.0, 97.5, 99.0, 99.5, 99.9, 100.0,
)  # fmt: skip
_GIRTHS_MM: Final[dict[Sex, tuple[float, ...]]] = {
    "women": (
        500.0, 506.9, 517.9, 521.0, 526.6, 532.0, 538.0, 542.0, 545.0, 548.0, 550.0, 553.0, 555.0,
        557.0, 560.0, 562.0, 564.0, 567.0, 570.0, 573.0, 576.0, 580.0, 587.0, 597.0, 605.0, 611.0,
        619.0, 630.1, 635.0,
    ),
    "men": (
        516.0, 526.1, 535.0, 538.0, 545.0, 548.0, 554.0, 558.0, 561.0, 563.0, 566.0, 568.0, 570.0,
        573.0, 574.0, 576.0, 578.0, 580.0, 583.0, 585.0, 587.0, 590.0, 595.0, 601.0, 607.0, 614.2,
        617.6, 625.9, 633.0,
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ChildGirth:
    """Median and standard deviation at one age, in mm."""

    age_years: int
    sex: Literal["boys", "girls"]
    median_mm: float
    deviation_mm: float

    def girth_mm(self, z: float) -> float:
        """The girth at a z-score."""
        return self.median_mm + z * self.deviation_mm

    def share_between(self, low_mm: float, high_mm: float) -> float:
        """The share of children with a girth in a range, 0 to 1."""
        return self._share_below(high_mm) - self._share_below(low_mm)

    def _share_below(self, girth_mm: float) -> float:
        z = (girth_mm - self.median_mm) / self.deviation_mm
        return 0.5 * (1.0 + math.erf(z / math.sqrt(2.0)))


CHILDREN: Final = (
    ChildGirth(3, "girls", 485.11, 14.13),
    ChildGirth(3, "boys", 494.62, 14.20),
    ChildGirth(5, "girls", 499.23, 14.23),
    ChildGirth(5, "boys", 507.37, 14.94),
)
"""WHO file hcanthro.txt at 1096 and 1826 days, the last of the standard."""


def share_below(girth_mm: float, sex: Sex) -> float:
    """The share of adults with a smaller head, 0 to 1; straight between the percentiles."""
    girths = _GIRTHS_MM[sex]
    if girth_mm <= girths[0]:
        return 0.0
    for (g0, g1), (p0, p1) in zip(pairwise(girths), pairwise(_PERCENTS), strict=True):
        if girth_mm <= g1:
            return (p0 + (p1 - p0) * (girth_mm - g0) / (g1 - g0)) / 100.0
    return 1.0


def share_of_size(size: Size, sex: Sex) -> float:
    """The share of adults that a size fits, 0 to 1."""
    return share_below(size.girth_high_mm, sex) - share_below(size.girth_low_mm, sex)


def size_mix(wearers: int, women: float) -> tuple[tuple[Size, int], ...]:
    """How many caps of each size for a number of adults, ``women`` the share of women among them.

    Whoever lies beyond the chart gets its first or last size. Counts are rounded by largest
    remainder (Hamilton's method), so that they add up to the wearers; sizes of none are left out.
    """
    shares = [
        women * _share_served(index, "women") + (1.0 - women) * _share_served(index, "men")
        for index in range(len(ADULT_SIZES))
    ]
    counts = _by_largest_remainder(wearers, shares)
    return tuple((s, n) for s, n in zip(ADULT_SIZES, counts, strict=True) if n)


def _share_served(index: int, sex: Sex) -> float:
    size = ADULT_SIZES[index]
    low = share_below(size.girth_low_mm, sex) if index else 0.0
    high = share_below(size.girth_high_mm, sex) if index < len(ADULT_SIZES) - 1 else 1.0
    return high - low


def _by_largest_remainder(total: int, shares: Sequence[float]) -> list[int]:
    exact = [total * share / sum(shares) for share in shares]
    counts = [math.floor(value) for value in exact]
    by_remainder = sorted(range(len(exact)), key=lambda k: (counts[k] - exact[k], k))
    for index in by_remainder[: total - sum(counts)]:
        counts[index] += 1
    return counts
