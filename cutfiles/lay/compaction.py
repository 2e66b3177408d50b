"""Compaction: every piece of a layout shifted at once, so that the lay becomes shorter.

No piece turns or jumps over another. Within convex parts of the room that neighbours leave each
other, a linear program finds the shortest lay; then the parts are found anew (after Z. Li and
V. Milenkovic, "Compaction and separation algorithms for non-convex polygons and their
applications", European Journal of Operational Research 84(3), 1995).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import optimize, sparse

from cutfiles.geometry.vector import Motion, Vector
from cutfiles.lay.convex_part import Indices
from cutfiles.lay.free_parts import Kind, Room
from cutfiles.lay.keep_out import Array
from cutfiles.lay.problem import Spot, StripLayout

_REACH: Final = 35.0
"""How far a piece may go in one step, in thousandths of the strip's width."""

_LEAST_GAIN: Final = 0.05
"""What is worth another step, in thousandths of the strip's width."""

_PROGRESS: Final = 0.9
_IN_VAIN: Final = 3
"""After so many steps that leave more than this part of the least overlap, it is given up."""

_OVERLAP_COST: Final = 64.0
"""What a millimetre of overlap costs, against one of the whole lay."""

_PULL: Final = 1e-4
"""What a millimetre of one piece to the right costs, against one of the whole lay."""


@dataclass(frozen=True, slots=True)
class Places:
    """Pieces by kind, and a row of x and y for each; ``length`` is that of the lay."""

    kinds: tuple[Kind, ...]
    at: Array
    length: float

    @classmethod
    def of(cls, layout: StripLayout) -> Places:
        """The places of a layout."""
        return cls(
            tuple((spot.shape, spot.motion.turn_deg) for spot in layout.spots),
            np.array([[spot.motion.shift.x, spot.motion.shift.y] for spot in layout.spots]),
            layout.length,
        )

    def layout(self, engine: str) -> StripLayout:
        """The layout of these places."""
        spots = tuple(
            Spot(shape, Motion(turn, Vector(float(x), float(y))))
            for (shape, turn), (x, y) in zip(self.kinds, self.at, strict=True)
        )
        return StripLayout(spots, self.length, engine)


def compacted(
    room: Room,
    places: Places,
    *,
    steps: int = 20,
    stop: Callable[[], bool] = lambda: False,
) -> Places | None:
    """Shift pieces, in at most so many steps, until the lay gets no shorter.

    None if pieces still overlap at the end, or when it is stopped.
    """
    length = least = np.inf
    free, in_vain = False, 0
    reach = _REACH * room.unit
    overlapping = stuck = np.zeros(0, dtype=np.intp)
    for _ in range(steps):
        if stop() or not room.is_ready(*room.with_obstacles(places.kinds, places.at), reach, stop):
            break
        moved = shifted(room, places, reach, _OVERLAP_COST, stuck)
        if moved is None:
            break
        places, overlap = moved.places, moved.overlap
        gain = length - places.length
        length = places.length
        free = overlap <= 0.0
        if free and gain < _LEAST_GAIN * room.unit:
            break
        # What one step frees this way and the next entangles again goes back and forth for ever.
        again = np.intersect1d(overlapping, moved.overlapping)
        overlapping = np.union1d(overlapping, moved.overlapping)
        stuck = np.union1d(stuck, again)
        in_vain = in_vain + 1 if overlap > _PROGRESS * least else 0
        least = min(least, overlap)
        if not free and in_vain >= _IN_VAIN:
            break
    return places if free else None


@dataclass(frozen=True, slots=True)
class _Step:
    """Where a step leads, the overlap that there was before or is left, and which pairs overlapped
    before, as `Cuts.overlapping` numbers them."""

    places: Places
    overlap: float
    overlapping: Indices


def shifted(
    room: Room, places: Places, reach: float, weight: float, stuck: Indices
) -> _Step | None:
    """One linear program: the shortest lay within reach; None if the program has no answer.

    ``weight`` is what a millimetre of overlap costs against a millimetre of the lay; ``stuck``
    pairs get out of each other along the strip.
    """
    problem = room.problem
    count = len(places.kinds)
    boxes = room.boxes(places.kinds)
    low, high = places.at + boxes[:, :2], places.at + boxes[:, 2:]
    kinds, all_at = room.with_obstacles(places.kinds, places.at)
    cuts = room.cuts(kinds, all_at, reach, stuck)
    rows = np.arange(len(cuts.bound))
    soft = np.flatnonzero(cuts.overlap)
    end = 2 * len(kinds)
    each = np.arange(count)
    x, y = cuts.normal.T
    entries = [
        (rows, 2 * cuts.second, -x),
        (rows, 2 * cuts.second + 1, -y),
        (rows, 2 * cuts.first, x),
        (rows, 2 * cuts.first + 1, y),
        (soft, end + 1 + np.arange(len(soft)), np.full(len(soft), -1.0)),
        (len(rows) + each, 2 * each, np.ones(count)),
        (len(rows) + each, np.full(count, end), np.full(count, -1.0)),
    ]
    row, column, value = (np.concatenate(part) for part in zip(*entries, strict=True))
    size = len(rows) + count, end + 1 + len(soft)
    ends = np.column_stack([np.full(count, np.inf), problem.width - problem.margin - high[:, 1]])
    least = np.minimum(np.maximum(problem.margin - low, -reach), reach)
    most = np.maximum(np.minimum(ends, reach), least)
    free = ~room.held(kinds)
    least, most = (np.resize(bound, (len(kinds), 2)) for bound in (least, most))
    least, most = np.where(free, least, 0.0).ravel(), np.where(free, most, 0.0).ravel()
    more = np.zeros(1 + len(soft))
    answer = optimize.milp(  # nothing in it is whole: a linear program, given sparse
        np.concatenate([np.tile([_PULL, 0.0], len(kinds)), [1.0], np.full(len(soft), weight)]),
        constraints=optimize.LinearConstraint(
            sparse.csr_array((value, (row, column)), shape=size),
            -np.inf,
            np.concatenate([-cuts.bound, -high[:, 0]]),
        ),
        bounds=optimize.Bounds(
            np.concatenate([least, more]), np.concatenate([most, more + np.inf])
        ),
    )
    if answer.x is None:
        return None
    at = places.at + answer.x[: 2 * count].reshape(count, 2)
    overlap = float(cuts.overlap.sum() + answer.x[end + 1 :].sum())
    moved = Places(places.kinds, at, float(answer.x[end]) + problem.margin)
    return _Step(moved, overlap, cuts.overlapping(len(kinds)))
