"""Ways in from the waste: where a tool may come in to a closed line, and over how long a way.

A way in is a straight line in the waste that meets the cut line at a small angle: 45 degrees, or 15
where neighbours are near. It is made shorter where it has no room (2 to 5 mm, on the waste side:
common practice, no source; the angles are our own).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon

from cutfiles.cuts.plan import Stroke
from cutfiles.cuts.stretch import is_counter_clockwise, region_of
from cutfiles.geometry.bulges import Place

Array = npt.NDArray[np.float64]

_ANGLES_DEG: Final = (45.0, 15.0)
_SHARES: Final = (1.0, 0.7, 0.45, 0.3)
_LEAST_MM: Final = 0.5
"""A shorter way in is none."""
_APART_MM: Final = 0.2
"""What is left between the way in and another cut, beside the kerf."""


class LeadIns:
    """The ways in to the closed strokes of a lay.

    Parameters
    ----------
    strokes
        All of the lay; ways in to one of them are asked for by its number.
    sheet
        The cloth, which a way in does not leave.
    kerf_mm
        The width of a cut.
    longest_mm
        The way in that is wanted.
    """

    def __init__(
        self, strokes: Sequence[Stroke], sheet: Polygon, *, kerf_mm: float, longest_mm: float
    ) -> None:
        self._longest_mm = longest_mm
        self._keep_mm = kerf_mm + _APART_MM
        closed = [n for n, s in enumerate(strokes) if s.closed and s.role in ("outline", "inner")]
        regions = {n: region_of(strokes[n]) for n in closed}
        for region in regions.values():
            shapely.prepare(region)
        self._regions = regions
        self._is_inner = {n: strokes[n].role == "inner" for n in closed}
        self._piece = {n: strokes[n].piece_id for n in closed}
        self._left_is_in = {n: is_counter_clockwise(strokes[n].spans) for n in closed}
        self._outlines = [n for n in closed if not self._is_inner[n]]
        self._tree = shapely.STRtree([regions[n] for n in self._outlines])
        self._sheet = sheet
        shapely.prepare(self._sheet)

    def longest(
        self, numbers: Sequence[int], places: Array, directions_rad: Array
    ) -> tuple[Array, Array]:
        """The longest way in to each of some places ``(n, 2)``, on the strokes of some numbers,
        whose lines go on from there in some directions: its length, 0 where there is no room, and
        where it begins ``(n, 2)``."""
        lengths = np.zeros(len(numbers))
        begins = np.array(places, dtype=np.float64)
        tries = [(share * self._longest_mm, angle) for share in _SHARES for angle in _ANGLES_DEG]
        for length, angle in tries:
            left = [int(k) for k in np.flatnonzero(lengths == 0.0)]
            if not left or length < _LEAST_MM:
                break
            named = [numbers[k] for k in left]
            back = self._back_rad(named, directions_rad[left], angle)
            ways = places[left] + length * np.column_stack((np.cos(back), np.sin(back)))
            free = self._free(named, places[left], ways, angle)
            lengths[np.array(left)[free]] = length
            begins[np.array(left)[free]] = ways[free]
        return lengths, begins

    def _back_rad(self, numbers: Sequence[int], directions_rad: Array, angle_deg: float) -> Array:
        """The directions of ways in, seen from where they meet: back along the line, and at an
        angle to its waste, which is outside an outline and inside a cut-out."""
        to_left = np.array([self._left_is_in[n] == self._is_inner[n] for n in numbers])
        turn = np.where(to_left, -1.0, 1.0) * math.radians(angle_deg)
        return np.asarray(directions_rad + math.pi + turn, dtype=np.float64)

    def _free(
        self, numbers: Sequence[int], places: Array, begins: Array, angle_deg: float
    ) -> npt.NDArray[np.bool_]:
        """Which ways in keep off every other piece, the rest of their own and the cloth's edge."""
        steps = begins - places
        lengths = np.hypot(steps[:, 0], steps[:, 1])
        # a hair off the cut line, which flattening and rounding let it touch
        nearest = places + steps * 0.05
        ways = shapely.linestrings(np.stack((nearest, begins), axis=1))
        free = np.array(shapely.covers(self._sheet, ways), dtype=bool)
        which, near = self._tree.query(ways, predicate="dwithin", distance=self._keep_mm)
        for k, other in zip(which.tolist(), near.tolist(), strict=True):
            if self._piece[self._outlines[other]] != self._piece[numbers[k]]:
                free[k] = False
        own = np.array([self._regions[n] for n in numbers])
        inner = np.array([self._is_inner[n] for n in numbers])
        crosses = np.where(inner, ~shapely.contains(own, ways), shapely.intersects(own, ways))
        away = shapely.distance(shapely.boundary(own), shapely.points(begins))
        enough = away >= 0.7 * lengths * math.sin(math.radians(angle_deg))
        return np.asarray(free & ~crosses & enough, dtype=bool)

    def way_in(self, number: int, place: Place, direction_rad: float) -> Place | None:
        """Where the longest way in to a place on a stroke begins; None where there is no room."""
        lengths, begins = self.longest([number], np.array([place]), np.array([direction_rad]))
        return (float(begins[0, 0]), float(begins[0, 1])) if lengths[0] else None

    def straight_in(self, piece_id: str, place: Place, direction_rad: float) -> Place | None:
        """Where a way in begins that meets a place on the edge of a piece in the very direction
        in which its line goes on, out of the waste; None where there is no room."""
        for share in _SHARES:
            length = share * self._longest_mm
            back = (
                place[0] - length * math.cos(direction_rad),
                place[1] - length * math.sin(direction_rad),
            )
            way = shapely.LineString([place, back])
            near = self._tree.query(way, predicate="dwithin", distance=self._keep_mm).tolist()
            others = [k for k in near if self._piece[self._outlines[k]] != piece_id]
            if length >= _LEAST_MM and not others and shapely.covers(self._sheet, way):
                return back
        return None
