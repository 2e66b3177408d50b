"""Cutting a convex part of free room out of the way of keep-out regions, compiled for speed.

A search closes hundreds of lays, each in several steps of some hundred pairs, beside other
searches: what is compiled does not make these wait.
"""

from __future__ import annotations

from typing import Final

import numba
import numpy as np
import numpy.typing as npt

from cutfiles.lay.keep_out import Array

Indices = npt.NDArray[np.intp]

# Lengths are in thousandths of the strip's width.

MOST_CUTS: Final = 12
"""Of one pair."""

_AHEAD: Final = 1e-6
"""What is no further ahead of a cut than this is cut off by it."""

_DEEP: Final = 0.5
"""An overlap of more than this may end on any side of the bay that the pieces meet in."""

_ENDS: Final = 1e-7
"""Nearer to a side's end than this part of it is no longer mid-side."""

_THERE: Final = 1e-6
"""What is no further from the origin than this is there."""


@numba.njit(cache=True, nogil=True)
def cut_out(
    starts: Array,
    ends: Array,
    first: Indices,
    counts: Indices,
    regions: Indices,
    shifts: Array,
    unit: float,
    window: float,
    sides: Array,
    pairs: Indices,
    normals: Array,
    bounds: Array,
) -> int:
    """Half-planes that keep pairs out of each other, as far as a window reaches.

    For every pair: straight cuts round the origin, away from the sides of its keep-out region,
    each touching the region where it comes nearest. Of a pair that overlaps, the first cut is the
    nearest way out.

    Parameters
    ----------
    starts, ends, first, counts
        Sides of all regions, counter-clockwise, ``(n, 2)`` in the problem's unit, and where among
        them each region's begin and how many these are.
    regions, shifts
        Each pair's region, and how far its second piece lies from the first.
    unit, window
        A thousandth of the strip's width, and how far along and across cuts must reach.
    sides
        Room to work in: four numbers a side of the largest region.
    pairs, normals, bounds
        To be filled: each cut's pair, and the half-plane ``normal . shift >= bound``; as long as
        there may be cuts, `MOST_CUTS` for every pair.

    Returns how many cuts there are.
    """
    found = 0
    for pair in range(len(regions)):
        region = regions[pair]
        overlaps = False
        count = 0
        for side in range(first[region], first[region] + counts[region]):
            ax, ay = (
                (starts[side, 0] - shifts[pair, 0]) / unit,
                (starts[side, 1] - shifts[pair, 1]) / unit,
            )
            bx, by = (
                (ends[side, 0] - shifts[pair, 0]) / unit,
                (ends[side, 1] - shifts[pair, 1]) / unit,
            )
            if (ay > 0.0) != (by > 0.0) and ax - ay * (bx - ax) / (by - ay) > 0.0:
                overlaps = not overlaps
            sides[count, 0], sides[count, 1], sides[count, 2], sides[count, 3] = ax, ay, bx, by
            count += 1
        if not overlaps:  # a side out of reach matters only to a pair that must get out first
            count = _within(sides, count, window)
        cuts = 0
        while count > 0 and cuts < MOST_CUTS:
            least, nearest, part = np.inf, 0, 0.0
            for side in range(count):
                ax, ay = sides[side, 0], sides[side, 1]
                dx, dy = sides[side, 2] - ax, sides[side, 3] - ay
                along = min(max(-(ax * dx + ay * dy) / max(dx * dx + dy * dy, 1e-18), 0.0), 1.0)
                x, y = ax + along * dx, ay + along * dy
                if x * x + y * y < least:
                    least, nearest, part = x * x + y * y, side, along
            ax, ay = sides[nearest, 0], sides[nearest, 1]
            dx, dy = sides[nearest, 2] - ax, sides[nearest, 3] - ay
            x, y = ax + part * dx, ay + part * dy
            length = np.sqrt(least)
            is_mid_side = cuts == 0 and part > _ENDS and part < 1.0 - _ENDS
            if is_mid_side or length < _THERE:
                long = np.sqrt(max(dx * dx + dy * dy, 1e-18))
                nx, ny = dy / long, -dx / long
            else:
                way = 1.0 if overlaps else -1.0
                nx, ny = way * x / max(length, 1e-9), way * y / max(length, 1e-9)
            bound = nx * x + ny * y
            pairs[found] = pair
            normals[found, 0], normals[found, 1] = nx, ny
            bounds[found] = bound
            found += 1
            cuts += 1
            if overlaps and bound > _DEEP:  # then the way out is all that counts
                break
            overlaps = False
            count = _ahead(sides, count, nx, ny, bound)
            count = _within(sides, count, window)
    return found


@numba.njit(cache=True, nogil=True)
def _within(sides: Array, count: int, window: float) -> int:
    """Keep the sides whose boxes reach into the window, and return how many these are."""
    kept = 0
    for side in range(count):
        ax, ay, bx, by = sides[side, 0], sides[side, 1], sides[side, 2], sides[side, 3]
        if min(ax, bx) > window or max(ax, bx) < -window:
            continue
        if min(ay, by) > window or max(ay, by) < -window:
            continue
        sides[kept, 0], sides[kept, 1], sides[kept, 2], sides[kept, 3] = ax, ay, bx, by
        kept += 1
    return kept


@numba.njit(cache=True, nogil=True)
def _ahead(sides: Array, count: int, nx: float, ny: float, bound: float) -> int:
    """Keep what of the sides lies ahead of a cut, and return how many these are."""
    kept = 0
    for side in range(count):
        ax, ay, bx, by = sides[side, 0], sides[side, 1], sides[side, 2], sides[side, 3]
        ahead_a, ahead_b = ax * nx + ay * ny - bound, bx * nx + by * ny - bound
        if ahead_a <= _AHEAD and ahead_b <= _AHEAD:
            continue
        if ahead_a != ahead_b:
            part = ahead_a / (ahead_a - ahead_b)
            x, y = ax + (bx - ax) * part, ay + (by - ay) * part
            if ahead_a < 0.0:
                ax, ay = x, y
            if ahead_b < 0.0:
                bx, by = x, y
        sides[kept, 0], sides[kept, 1], sides[kept, 2], sides[kept, 3] = ax, ay, bx, by
        kept += 1
    return kept
