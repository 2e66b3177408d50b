"""Numbers as drawings have them, many at once.

Python takes a third of a microsecond to write a number, and a lay with drawn labels has 2,500,000
of them: numpy looks up four digits at a time for whole tables.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate, pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from cutfiles.geometry.bulges import Array
from cutfiles.tolerances import WRITE_DECIMALS

Rows = tuple[str, list[int]]
"""The text of some rows; where each begins in it, with its length at the end."""

_Letters = npt.NDArray[np.uint8]

_SCALE: Final = 10**WRITE_DECIMALS
_NEAR_HALF: Final = 1e-5
"""Of the last decimal: numbers this near to a half of it may be rounded to the wrong side by
multiplying them, for lengths of less than 10 km."""
_TOO_FAR_MM: Final = 1e7
_AT_ONCE: Final = 10_000
"""Points that are written in one table, of 3 MB with all its copies."""

_FOURS: Final = np.arange(10_000)
_DIGITS: Final = (_FOURS[:, None] // [1000, 100, 10, 1] % 10 + ord("0")).astype(np.uint8)
"""The four digits of every number below 10,000."""
_FROM_FIRST: Final = np.where(_FOURS[:, None] >= [1000, 100, 10, 1], _DIGITS, 0).astype(np.uint8)
"""The same without noughts before the first other digit."""
_TO_LAST: Final = np.where(_FOURS[:, None] % [10_000, 1000, 100, 10], _DIGITS, 0).astype(np.uint8)
"""The same without noughts behind the last other digit."""
_WIDTH: Final = 14
"""Of a number: its sign, eight digits, the point and four decimals."""


def rounded(numbers: Array) -> Array:
    """Each number at its last written decimal, as `round` gives it; no minus zero."""
    scaled = numbers * float(_SCALE)
    found = np.rint(scaled) / _SCALE
    for place in zip(*np.nonzero(np.abs(scaled % 1.0 - 0.5) < _NEAR_HALF), strict=True):
        found[place] = round(float(numbers[place]), WRITE_DECIMALS)
    return np.asarray(found + 0.0, dtype=np.float64)


def rows_of(
    lines: Iterable[Array],
    row: tuple[str, str, str],
    *,
    keeps_nought: bool,
    down_from_mm: float | None = None,
) -> Iterator[Rows]:
    """Of each line its points ``(n, 2)``, in mm, a row a point.

    Parameters
    ----------
    row
        What stands before, between and behind the two numbers of a row, in ASCII.
    keeps_nought
        Whether a whole number ends in ``.0``. No other decimal is written that is not needed.
    down_from_mm
        Where y counts down from, if it does.

    Raises
    ------
    ValueError
        If a number is 10 km or more, or none.
    """
    some: list[Array] = []
    count = 0
    for points in lines:
        some.append(points)
        count += len(points)
        if count >= _AT_ONCE:
            yield from _written(some, row, keeps_nought=keeps_nought, down_from_mm=down_from_mm)
            some, count = [], 0
    if some:
        yield from _written(some, row, keeps_nought=keeps_nought, down_from_mm=down_from_mm)


def _written(
    lines: Sequence[Array],
    row: tuple[str, str, str],
    *,
    keeps_nought: bool,
    down_from_mm: float | None,
) -> Iterator[Rows]:
    places = np.concatenate(lines, dtype=np.float64)
    if down_from_mm is not None:
        places[:, 1] = down_from_mm - places[:, 1]
    if not (np.abs(places) < _TOO_FAR_MM).all():
        raise ValueError("a place is too far off to be written")
    points = rounded(places)
    before, between, behind = (np.frombuffer(t.encode("ascii"), dtype=np.uint8) for t in row)
    x, y = len(before), len(before) + _WIDTH + len(between)
    # a letter a cell, and nothing where there is none
    cells = np.empty((len(points), y + _WIDTH + len(behind)), dtype=np.uint8)
    cells[:, :x] = before
    cells[:, x + _WIDTH : y] = between
    cells[:, y + _WIDTH :] = behind
    for axis, at in enumerate((x, y)):
        _fill(cells[:, at : at + _WIDTH], points[:, axis], keeps_nought=keeps_nought)
    text = cells.tobytes().translate(None, b"\0").decode("ascii")
    begins = [0, *np.cumsum(np.count_nonzero(cells, axis=1)).tolist()]
    for first, last in pairwise(accumulate(map(len, lines), initial=0)):
        start = begins[first]
        yield text[start : begins[last]], [at - start for at in begins[first : last + 1]]


def _fill(cells: _Letters, numbers: Array, *, keeps_nought: bool) -> None:
    """Fill in rows of `_WIDTH` cells with numbers at their last written decimal."""
    all_digits = np.rint(np.abs(numbers) * _SCALE).astype(np.uint64)
    whole = all_digits // _SCALE
    part = all_digits - whole * _SCALE
    high = whole // 10_000
    low = whole - high * 10_000
    cells[:, 0] = np.where(numbers < 0.0, ord("-"), 0)
    cells[:, 1:5] = _FROM_FIRST[high]
    cells[:, 5:9] = _FROM_FIRST[low]
    is_long = high > 0
    if is_long.any():
        cells[is_long, 5:9] = _DIGITS[low[is_long]]
    cells[:, 8] = np.maximum(cells[:, 8], ord("0"))  # the one of 0.5
    cells[:, 10:] = _TO_LAST[part]
    if keeps_nought:
        cells[:, 10] = np.maximum(cells[:, 10], ord("0"))
    cells[:, 9] = np.where(cells[:, 10], ord("."), 0)
