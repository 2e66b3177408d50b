"""The size chart, by head girth (ISO 8559-1: the largest horizontal girth of the head).

Five sizes of 22 mm share out the range 510-620 mm, which holds the 1st to 99th percentile of
both sexes in the public ANSUR II survey (C. C. Gordon et al., NATICK/TR-15/007, 2014). Two child
sizes below them go on in the same steps.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

SMALLEST_GIRTH_MM: Final = 440.0
LARGEST_GIRTH_MM: Final = 660.0
"""Girths beyond these are taken for a slip of the pen (survey of adults: 500 to 635 mm; WHO: a
three-year-old girl two deviations below the median has 457 mm)."""

MADE_TO_MEASURE_MM: Final = 11.0
"""A cap made to one girth fits this much to either side: half a step of the chart."""


@dataclass(frozen=True, slots=True)
class Size:
    """A size by the girths it is for, in mm; the label names the body, not the garment
    (ISO 8559-2)."""

    name: str
    girth_low_mm: float
    girth_high_mm: float

    @property
    def girth_mm(self) -> float:
        """The girth it is drafted for: the middle of its range."""
        return (self.girth_low_mm + self.girth_high_mm) / 2.0


CHILD_SIZES: Final[tuple[Size, ...]] = (
    Size("C1", 466.0, 488.0),
    Size("C2", 488.0, 510.0),
)
ADULT_SIZES: Final[tuple[Size, ...]] = (
    Size("XS", 510.0, 532.0),
    Size("S", 532.0, 554.0),
    Size("M", 554.0, 576.0),
    Size("L", 576.0, 598.0),
    Size("XL", 598.0, 620.0),
)
SIZES: Final = CHILD_SIZES + ADULT_SIZES


def size_named(name: str) -> Size:
    """The size of that name; ``KeyError`` if the chart has none."""
    for size in SIZES:
        if size.name == name:
            return size
    raise KeyError(name)


def made_to_measure(girth_mm: float) -> Size:
    """A size of its own for one girth, taken to a tenth of a millimetre, so that its name tells
    it from every other."""
    girth = round(girth_mm, 1)
    return Size(f"{girth:g} mm", girth - MADE_TO_MEASURE_MM, girth + MADE_TO_MEASURE_MM)


def metric_hat_size(girth_mm: float) -> int:
    """The metric hat size: girth in whole centimetres, halves up (public hat-size charts)."""
    return math.floor(girth_mm / 10.0 + 0.5)


def us_hat_size(girth_mm: float) -> str:
    """The US hat size: girth in inches over pi, to the nearest eighth.

    Source: public hat-size charts, which agree on it.
    """
    eighths = round(girth_mm / 25.4 / 3.141592653589793 * 8)
    whole, rest = divmod(eighths, 8)
    if rest == 0:
        return str(whole)
    divisor = 4 if rest % 4 == 0 else 2 if rest % 2 == 0 else 1
    return f"{whole} {rest // divisor}/{8 // divisor}"
