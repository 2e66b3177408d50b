"""Numbers as drawings have them, many at once."""

from __future__ import annotations

from typing import Final

import numpy as np

from cutfiles.geometry.bulges import Array
from cutfiles.tolerances import WRITE_DECIMALS

_SCALE: Final = 10.0**WRITE_DECIMALS
_NEAR_HALF: Final = 1e-5
"""Of the last decimal: numbers this near to a half of it may be rounded to the wrong side by
multiplying them, for lengths of less than 10 km."""


def rounded(numbers: Array) -> Array:
    """Each number at its last written decimal, as `round` gives it; no minus zero."""
    scaled = numbers * _SCALE
    found = np.rint(scaled) / _SCALE
    for place in zip(*np.nonzero(np.abs(scaled % 1.0 - 0.5) < _NEAR_HALF), strict=True):
        found[place] = round(float(numbers[place]), WRITE_DECIMALS)
    return np.asarray(found + 0.0, dtype=np.float64)
