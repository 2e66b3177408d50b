"""Ways in from the waste: where a tool may come in to a closed line, and over how long a way.

A way in is a straight line in the waste that meets the cut line at a small angle: 45 degrees, or 15
where neighbours are near. It is made shorter where it has no room (2 to 5 mm, on the waste side:
common practice, no source; the angles are our own).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon

from cutfiles.cuts.plan import Stroke
from cutfiles.cuts.stretch import region_of
from cutfiles.geometry.bulges import Place, spans_of

Array = npt.NDArray[np.float64]

_ANGLES_DEG: Final = (45.0, 15.0)
_SHARES: Final = (1.0, 0.7, 0.45, 0.3)
_LEAST_MM: Final = 0.5
"""A shorter way in is none."""
_AT_ONCE: Final = 2000
"""Places that are tried together, to spare memory: what speeds up the search in an outline takes
several times as much as the outline."""
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
        self._strokes = {n: strokes[n] for n in closed}
        self._rank = {n: k for k, n in enumerate(closed)}
        self._regions = np.array([region_of(strokes[n]) for n in closed], dtype=object)
        self._edges = shapely.boundary(self._regions)
        self._is_inner = np.array([strokes[n].role == "inner" for n in closed], dtype=bool)
        turns_left = [region.exterior.is_ccw for region in self._regions]
        self._waste_is_right = np.array(turns_left, dtype=bool) != self._is_inner
        names = {name: k for k, name in enumerate({strokes[n].piece_id: None for n in closed})}
        self._names = names
        self._piece = np.array([names[strokes[n].piece_id] for n in closed], dtype=np.int64)
        self._outlines = np.flatnonzero(~self._is_inner)
        self._tree = shapely.STRtree(self._regions[self._outlines])
        self._sheet = sheet
        shapely.prepare(self._sheet)

    def longest(
        self, numbers: Sequence[int], places: Array, directions_rad: Array
    ) -> tuple[Array, Array]:
        """The longest way in to each of some places ``(n, 2)``, on the strokes of some numbers,
        whose lines go on from there in some directions: its length, 0 where there is no room, and
        where it begins ``(n, 2)``."""
        ranks = np.array([self._rank[n] for n in numbers], dtype=np.int64)
        lengths, begins = np.empty(len(ranks)), np.empty((len(ranks), 2))
        for start in range(0, len(ranks), _AT_ONCE):
            some = slice(start, start + _AT_ONCE)
            regions = self._regions[np.unique(ranks[some])]
            shapely.prepare(regions)
            lengths[some], begins[some] = self._longest(
                ranks[some], places[some], directions_rad[some]
            )
            shapely.destroy_prepared(regions)
        return lengths, begins

    def _longest(
        self, ranks: npt.NDArray[np.int64], places: Array, directions_rad: Array
    ) -> tuple[Array, Array]:
        """The same for strokes that are named by their ranks."""
        lengths = np.zeros(len(ranks))
        begins = np.array(places, dtype=np.float64)
        tries = [(share * self._longest_mm, angle) for share in _SHARES for angle in _ANGLES_DEG]
        for length, angle in tries:
            left = np.flatnonzero(lengths == 0.0)
            if not len(left) or length < _LEAST_MM:
                break
            named = ranks[left]
            # seen from where they meet: back along the line, and at an angle to its waste, which is
            # outside an outline and inside a cut-out
            turn = np.where(self._waste_is_right[named], 1.0, -1.0) * math.radians(angle)
            back = directions_rad[left] + math.pi + turn
            ways = places[left] + length * np.column_stack((np.cos(back), np.sin(back)))
            free = self._free(named, places[left], ways, angle)
            lengths[left[free]] = length
            begins[left[free]] = ways[free]
        return lengths, begins

    def _free(
        self, ranks: npt.NDArray[np.int64], places: Array, begins: Array, angle_deg: float
    ) -> npt.NDArray[np.bool_]:
        """Which ways in keep off every other piece, the rest of their own and the cloth's edge."""
        steps = begins - places
        lengths = np.hypot(steps[:, 0], steps[:, 1])
        # a hair off the cut line, which flattening and rounding let it touch
        nearest = places + steps * 0.05
        ways = np.asarray(shapely.linestrings(np.stack((nearest, begins), axis=1)))
        own, inner = self._regions[ranks], self._is_inner[ranks]
        free = np.asarray(shapely.covers(self._sheet, ways), dtype=bool)
        free[inner] &= shapely.contains(own[inner], ways[inner])
        free[~inner] &= ~shapely.intersects(own[~inner], ways[~inner])
        away = shapely.distance(self._edges[ranks], shapely.points(begins))
        free &= away >= 0.7 * lengths * math.sin(math.radians(angle_deg))
        left = np.flatnonzero(free)
        which, near = self._tree.query(ways[left], predicate="dwithin", distance=self._keep_mm)
        meets = self._piece[self._outlines[near]] != self._piece[ranks[left[which]]]
        free[left[which[meets]]] = False
        return free

    @cached_property
    def _to_starts(self) -> dict[int, Place]:
        """Where the longest ways in to the starts of all strokes begin, of those that have room:
        asked for at once, which is a hundred times quicker than one by one."""
        firsts = [
            next(iter(spans_of(s.points, s.bulges, closed=True))) for s in self._strokes.values()
        ]
        places = np.array([span.start for span in firsts]).reshape(-1, 2)
        directions = np.array([span.directions_rad[0] for span in firsts])
        lengths, begins = self.longest(list(self._strokes), places, directions)
        return {
            n: (x, y)
            for n, length, (x, y) in zip(
                self._strokes, lengths.tolist(), begins.tolist(), strict=True
            )
            if length
        }

    def way_in(self, number: int) -> Place | None:
        """Where the longest way in to the start of a closed stroke begins; None where there is no
        room."""
        return self._to_starts.get(number)

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
            near = self._tree.query(way, predicate="dwithin", distance=self._keep_mm)
            meets = self._piece[self._outlines[near]] != self._names.get(piece_id, -1)
            if length >= _LEAST_MM and not meets.any() and shapely.covers(self._sheet, way):
                return back
        return None
