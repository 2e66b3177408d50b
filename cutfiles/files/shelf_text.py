"""A shelf's text after cloth was taken off it; everything else stays as it was written."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import tomlkit

from cutfiles.job.cloth import LEAST_CLOTH_MM
from cutfiles.tolerances import SLIVER_MM
from cutfiles.units import MM_PER_UNIT, format_like, parse_length_mm

LEFT_WITHIN_MM: Final = 1.0
"""What is left is written as much too short at most: metres and yards have three decimals."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What was taken off a table of stock: of a length so much; of a remnant all but a rest, whose
    corners are in the remnant's frame, if there is one. Millimetres."""

    length_mm: float | None = None
    rest_mm: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class ShelfAfter:
    """A shelf's new bytes, and by the number of the table of stock what is left of it, of how
    much, in words."""

    content: bytes
    left: Mapping[int, str]


def shelf_after(content: bytes, taken: Mapping[int, Taken]) -> ShelfAfter:
    """A shelf without what was taken, by the number of the table of stock.

    What is left of a length begins where the cut ended, what is left of a remnant at the lower left
    corner of its box: flaws move along with it, and those that were cut off go; a print that begins
    somewhere does so by as much earlier.

    Raises
    ------
    ValueError
        If a length is shorter than what was taken, or is none.
    """
    document = tomlkit.parse(content.decode("utf-8"))
    unit = str(document.get("length_unit", "mm"))
    stock: Any = document["stock"]
    words: dict[int, str] = {}
    for number in sorted(taken, reverse=True):
        table, length = stock[number - 1], taken[number].length_mm
        before = _size_words(table, unit)
        words[number] = f"nothing of {before}, since less than {LEAST_CLOTH_MM:g} mm goes"
        if length is None:
            if taken[number].rest_mm:
                _keep_rest(table, taken[number].rest_mm, unit)
                words[number] = f"{_size_words(table, unit)} of {before}"
            else:
                del stock[number - 1]
            continue
        if "length" not in table:
            words[number] = before
            continue
        left = _mm(table["length"], unit) - length
        if left < -1.0:
            raise ValueError(f"[[stock]] {number}: is {-left:.0f} mm shorter than what was cut")
        if left < LEAST_CLOTH_MM:
            del stock[number - 1]
            continue
        table["length"] = format_like(_plain(table["length"]), left, default_unit=unit)
        words[number] = f"{_size_words(table, unit)} of {before}"
        if "flaws" in table:
            _move_flaws(table, (length, 0.0), (math.inf, math.inf), unit)
        if "along" in table.get("print_starts", {}):
            _move_print(table, length, unit)
    return ShelfAfter(tomlkit.dumps(document).encode("utf-8"), words)


def _size_words(table: Any, unit: str) -> str:
    """How much cloth a table of stock has: its length, or the box of a remnant."""
    outline = _plain(table.get("outline"))
    if isinstance(outline, str):
        return repr(outline)
    if outline is not None:
        spans = [[_mm(corner[k], unit) for corner in outline] for k in (0, 1)]
        return " by ".join(f"{_number(max(span) - min(span), unit):g} {unit}" for span in spans)
    written = _plain(table.get("length", "as much as it takes"))
    return written if isinstance(written, str) else f"{written:g} {unit}"


def _number(length_mm: float, unit: str) -> float:
    """A length in a unit, to the nearest thousandth."""
    return round(length_mm / MM_PER_UNIT[unit], 3)


def _keep_rest(table: Any, rest: Sequence[tuple[float, float]], unit: str) -> None:
    """Make a remnant's table that of its rest."""
    left, low = min(x for x, _ in rest), min(y for _, y in rest)
    size = max(x for x, _ in rest) - left, max(y for _, y in rest) - low
    table["outline"] = [[_number(one, unit) for one in (x - left, y - low)] for x, y in rest]
    if "flaws" in table:
        _move_flaws(table, (left, low), size, unit)


def _move_flaws(
    table: Any, shift_mm: tuple[float, float], size_mm: tuple[float, float], unit: str
) -> None:
    """Flaws count from the new corner; of one that was cut through, all that is left is kept clear
    of, the round ones as far as they reach."""
    flaws = table["flaws"]
    for index in reversed(range(len(flaws))):
        flaw = flaws[index]
        at = [_mm(flaw["at"][axis], unit) - shift_mm[axis] for axis in (0, 1)]
        if "diameter" in flaw:
            half = _mm(flaw["diameter"], unit) / 2.0
            low, far = [one - half for one in at], [one + half for one in at]
        else:
            low = at
            far = [at[axis] + _mm(flaw["size"][axis], unit) for axis in (0, 1)]
        if any(min(far[k], size_mm[k]) - max(0.0, low[k]) < SLIVER_MM for k in (0, 1)):
            del flaws[index]
            continue
        through = [low[k] < 0.0 < far[k] or low[k] < size_mm[k] < far[k] for k in (0, 1)]
        if "diameter" in flaw and any(through):
            kept = [max(0.0, one) for one in low]
            ends = [min(far[k], size_mm[k]) for k in (0, 1)]
            flaw["at"] = [
                0 if not one else format_like(_plain(old), one, default_unit=unit)
                for old, one in zip(flaw["at"], kept, strict=True)
            ]
            flaw["size"] = [f"{ends[k] - kept[k]:.3f} mm" for k in (0, 1)]
            del flaw["diameter"]
            continue
        for axis in (0, 1):
            start = at[axis]
            if through[axis]:
                start = max(0.0, low[axis])
                flaw["size"][axis] = f"{min(far[axis], size_mm[axis]) - start:.3f} mm"
            if through[axis] or shift_mm[axis]:
                flaw["at"][axis] = format_like(_plain(flaw["at"][axis]), start, default_unit=unit)


def _move_print(table: Any, taken_mm: float, unit: str) -> None:
    starts, repeat = table["print_starts"], _mm(table["print_repeat"]["along"], unit)
    moved = (_mm(starts["along"], unit) - taken_mm) % repeat
    moved = 0.0 if repeat - moved < 0.01 else moved
    starts["along"] = format_like(_plain(starts["along"]), moved, default_unit=unit)


def _mm(value: Any, unit: str) -> float:
    return parse_length_mm(_plain(value), default_unit=unit)


def _plain(value: Any) -> Any:
    """A value without what remembers its formatting."""
    return value.unwrap() if hasattr(value, "unwrap") else value
