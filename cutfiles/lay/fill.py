"""As many caps as fit: the largest number of the first caps for which a nest is found."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Final

from cutfiles.lay.problem import StripLayout
from cutfiles.lay.tries import LIKELY_EFFICIENCY, Tries
from cutfiles.pieces.ordered import OrderedCap

_SHARE: Final = 0.25
"""Of the time that is left, for one try; a try that succeeds ends at once."""

LEAST_SECONDS: Final = 0.3
"""Of a try: a shorter one finds nothing."""


def most_that_fit(
    tries: Tries,
    caps: Sequence[OrderedCap],
    limit_mm: float,
    start_mm: float,
    *,
    least: int,
    seconds: float,
) -> tuple[int, StripLayout] | None:
    """How many of the first caps fit a length, and how they lie; None where not even the least
    number does.

    The first guess is by area; from there it goes up or down one cap at a time. That a number of
    caps fits is proved by their layout, that one more does not is only what was found in the time.
    """
    end = time.monotonic() + seconds
    room = limit_mm * tries.table.width_mm
    if tries.table.strip:
        room = min(room, sum(p.outline.area for p in tries.table.strip.remnants))

    def fits(count: int) -> bool:
        if tries.area_mm2(caps[:count]) > room:
            return False
        share = max(LEAST_SECONDS, _SHARE * (end - time.monotonic()))
        return tries.fits(caps[:count], limit_mm, start_mm, share)

    count = _guess(tries, caps, LIKELY_EFFICIENCY * room, least)
    if fits(count):
        while count < len(caps) and fits(count + 1):
            count += 1
    else:
        count -= 1
        while count >= least and not fits(count):
            count -= 1
    if count < least:
        return None
    return count, tries.known(caps[:count], start_mm)


def _guess(tries: Tries, caps: Sequence[OrderedCap], room: float, least: int) -> int:
    area = 0.0
    for count, cap in enumerate(caps):
        area += tries.area_mm2([cap])
        if area > room:
            return max(least, count)
    return len(caps)
