"""How deep the places of a grid lie inside an outline, compiled for speed."""

from __future__ import annotations

from typing import Final

import numba
import numpy as np

from cutfiles.lay.keep_out import Array

_FAR: Final = 1e300


@numba.njit(cache=True, nogil=True, fastmath={"nnan", "nsz"})
def depths_inside(ring: Array, along: Array, across: Array, depths: Array) -> None:
    """Fill in how far from the outline each place inside it is; 0 outside.

    ``ring`` holds the outline's corners, the first one again at the end. A place is inside if a
    line from it on across crosses the outline an odd number of times. ``depths`` has a row for
    each place along.
    """
    inside = np.empty(len(across), dtype=np.bool_)
    for row in range(len(along)):
        x = along[row]
        nearest = depths[row]
        for c in range(len(across)):
            nearest[c], inside[c] = _FAR, False
        for e in range(len(ring) - 1):
            ax, ay = ring[e]
            dx, dy = ring[e + 1, 0] - ax, ring[e + 1, 1] - ay
            square = dx * dx + dy * dy
            if square == 0.0:
                continue
            part = 1.0 / square
            px = x - ax
            for c in range(len(across)):
                py = across[c] - ay
                share = min(max((px * dx + py * dy) * part, 0.0), 1.0)
                off_x, off_y = px - share * dx, py - share * dy
                nearest[c] = min(nearest[c], off_x * off_x + off_y * off_y)
            if (ax > x) != (ring[e + 1, 0] > x):
                crossing = ay + px / dx * dy
                for c in range(len(across)):
                    inside[c] ^= across[c] < crossing
        for c in range(len(across)):
            nearest[c] = np.sqrt(nearest[c]) if inside[c] else 0.0
