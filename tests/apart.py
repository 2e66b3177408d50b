"""How far lines are apart, by shapely: as its Hausdorff distance, with a tree for long lines."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString

Places = npt.NDArray[np.float64]


def farthest_mm(places: Places, line: LineString) -> float:
    """How far the farthest of some places, ``(n, 2)``, is from a line."""
    corners = shapely.get_coordinates(line)
    steps = np.stack((corners[:-1], corners[1:]), axis=1)
    sides = np.asarray(shapely.linestrings(steps), dtype=np.object_)
    _, away = shapely.STRtree(sides).query_nearest(
        shapely.points(places), return_distance=True, all_matches=False
    )
    return float(away.max())


def apart_mm(one: LineString, other: LineString) -> float:
    """How far any corner of two lines is from the other line."""
    return max(farthest_mm(shapely.get_coordinates(a), b) for a, b in ((one, other), (other, one)))
