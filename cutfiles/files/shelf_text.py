"""A shelf's text after cloth was taken off it; everything else stays as it was written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import tomlkit

from cutfiles.units import format_like, parse_length_mm

LEAST_MM: Final = 50.0
"""A length shorter than this is thread, and goes off the shelf."""

LEFT_WITHIN_MM: Final = 1.0
"""What is left is written as much too short at most: metres and yards have three decimals."""


def shelf_text_after(content: bytes, taken: Mapping[int, float | None]) -> bytes:
    """The bytes of a shelf without what was taken: by the number of the table of stock, a length
    in mm, or None for a remnant as a whole.

    What is left of a length begins where the cut ended: its flaws move along with it, and those
    that were cut off go; a print that begins somewhere does so by as much earlier.

    Raises
    ------
    ValueError
        If a length is shorter than what was taken, or is none.
    """
    document = tomlkit.parse(content.decode("utf-8"))
    unit = str(document.get("length_unit", "mm"))
    stock: Any = document["stock"]
    for number in sorted(taken, reverse=True):
        table, length = stock[number - 1], taken[number]
        if length is None:
            del stock[number - 1]
            continue
        if "length" not in table:
            continue  # as much as it takes
        left = _mm(table["length"], unit) - length
        if left < -1.0:
            raise ValueError(f"[[stock]] {number}: is {-left:.0f} mm shorter than what was cut")
        if left < LEAST_MM:
            del stock[number - 1]
            continue
        table["length"] = format_like(_plain(table["length"]), left, default_unit=unit)
        if "flaws" in table:
            _move_flaws(table, length, unit)
        if "along" in table.get("print_starts", {}):
            _move_print(table, length, unit)
    return tomlkit.dumps(document).encode("utf-8")


def _move_flaws(table: Any, taken_mm: float, unit: str) -> None:
    """Flaws count from the new end; of one that was cut through, all that is left is kept clear
    of, the round ones as far as they reach."""
    flaws = table["flaws"]
    for index in reversed(range(len(flaws))):
        flaw = flaws[index]
        across = flaw["at"][1]
        at = _mm(flaw["at"][0], unit) - taken_mm
        if "diameter" in flaw:
            half = _mm(flaw["diameter"], unit) / 2.0
            if at - half < 0.0 < at + half:
                low = max(0.0, _mm(across, unit) - half)
                flaw["at"] = [0, format_like(_plain(across), low, default_unit=unit)]
                flaw["size"] = [f"{at + half:.3f} mm", f"{2.0 * half:.3f} mm"]
                del flaw["diameter"]
                continue
            gone = at <= 0.0
        else:
            far = at + _mm(flaw["size"][0], unit)
            gone = far <= 0.0
            if at < 0.0 < far:
                flaw["size"][0] = f"{far:.3f} mm"
                at = 0.0
        if gone:
            del flaws[index]
        else:
            flaw["at"][0] = format_like(_plain(flaw["at"][0]), at, default_unit=unit)


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
