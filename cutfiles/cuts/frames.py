"""Frames along a lay that is longer than the bed: what is cut before the cloth is moved on.

The bed shows a window of the lay. Every piece is cut whole within one window, and the cloth only
moves on: the next window begins where the first piece begins that was not yet cut, so that there
are as few of them as can be (derived: that piece must lie in a window that begins no later).
"""

from __future__ import annotations

from collections.abc import Mapping

from cutfiles.tolerances import COINCIDENT_MM


def windows_of(
    extents_mm: Mapping[str, tuple[float, float]], bed_mm: float
) -> list[tuple[float, frozenset[str]]]:
    """Where each window begins along the lay, and the pieces cut in it; the first begins at 0.

    ``extents_mm`` says from where to where the cuts of each piece lie along the lay. A piece as
    long as the bed fits it, whatever rounding adds.

    Raises
    ------
    ValueError
        If a piece is longer than the bed.
    """
    longest = max(extents_mm, key=lambda name: extents_mm[name][1] - extents_mm[name][0])
    low, high = extents_mm[longest]
    if high - low > bed_mm + COINCIDENT_MM:
        raise ValueError(f"{longest} is {high - low:.1f} mm long and the bed {bed_mm:g} mm")
    windows = []
    waiting, start = dict(extents_mm), 0.0
    while waiting:
        # more than a piece may be too long by, so that the first always fits
        reach = start + bed_mm + 2.0 * COINCIDENT_MM
        here = frozenset(name for name, (_, end) in waiting.items() if end <= reach)
        if here:
            windows.append((start, here))
        waiting = {name: ends for name, ends in waiting.items() if name not in here}
        start = min((begin for begin, _ in waiting.values()), default=start)
    return windows
