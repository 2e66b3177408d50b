"""How deep one shape overlaps another on a grid, by how many cells they are apart.

What was worked out is kept for as long as the program runs: the same shapes come again in other
numbers, beside bundles of others, and in the sections of a large order.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon

from cutfiles.lay.inside import depths_inside
from cutfiles.lay.keep_out import Array, Turned, overlap_of, widened

Depths = npt.NDArray[np.float32]

DEPTH_STEPS: Final = 64
"""Depths are whole numbers, so many to a step of the grid. They are held in single precision, which
adds up whole numbers to 2**24 exactly, since processors work on more of these at once."""

_KEPT: Final = 1024
"""So many pairs are kept, of some ten thousand bytes each; those asked for last."""

Pair = tuple[float, float]
"""What is meant along the strip, and across it."""


@lru_cache(maxsize=_KEPT)
def depths_between(
    one: Turned, other: Turned, gap: float, offset: Pair, steps: Pair
) -> tuple[Depths, tuple[int, int]]:
    """How deep the other overlaps the one, with the gap between them, in cells along and across.

    The first cell stands for so many steps along and across beyond the offset, which is a shift
    of the other; these numbers are returned too. Lengths are in the problem's unit.
    """
    region = widened(overlap_of(one, other), gap)
    bounds = np.array(region.bounds).reshape(2, 2)
    first = np.floor((bounds[0] - offset) / steps).astype(np.int64)
    last = np.ceil((bounds[1] - offset) / steps).astype(np.int64)
    along = offset[0] + steps[0] * np.arange(first[0], last[0] + 1)
    across = offset[1] + steps[1] * np.arange(first[1], last[1] + 1)
    depths = depth_in(region, along, across, steps)
    depths.flags.writeable = False
    return depths, (int(first[0]), int(first[1]))


def depth_in(region: Polygon, along: Array, across: Array, steps: Pair) -> Depths:
    """How deep in a region every cell is, 0 outside it; a row for each place along."""
    deep = np.empty((len(along), len(across)))
    depths_inside(shapely.get_coordinates(region.exterior), along, across, deep)
    return np.ceil(deep / min(steps) * DEPTH_STEPS).astype(np.float32)
