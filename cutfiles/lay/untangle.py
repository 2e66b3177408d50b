"""Pulling overlapping pieces apart on a grid, compiled for speed.

One piece after the other moves to the cell where it overlaps the others least, of all cells and
turns. Pairs that go on overlapping weigh more and more, until one of them gives way (guided
local search after J. Egeblad, B. K. Nielsen and A. Odgaard, "Fast neighborhood search for two-
and three-dimensional nesting problems", European Journal of Operational Research 183(3), 2007;
weights by the depth of each pair). All arithmetic that decides is of whole numbers or single
steps of single precision, and chance comes from a generator of its own: the same start and the
same number of moves give the same answer.
"""

from __future__ import annotations

from typing import Final

import numba
import numpy as np
import numpy.typing as npt

from cutfiles.chance import chance
from cutfiles.lay.depths import Depths
from cutfiles.lay.grid import BARRED, Cells

_RISE: Final = 1.2
_STEEPNESS: Final = 0.8
"""A pair's weight goes up by this factor each round, and by so much more for the deepest one."""

_FADING: Final = np.float32(0.95)
"""The weight of a pair that no longer overlaps fades by this factor each round, down to 1."""

_FADED: Final = np.float32(1.01)
_NOTHING: Final = np.float32(0.01)
_STEP: Final = np.float32(0.02)
"""A move must gain more than this: less is rounding."""

_NEVER: Final = np.float32(BARRED / 2)
"""A cell that costs as much is barred."""

_ADDED: Final = np.float32(1.0)
_TAKEN: Final = np.float32(-1.0)

_KIND, _X, _Y, _ORDER, _AMISS = range(5)
"""The rows of what is known of each piece: its kind and cell at the least overlap so far, the
order of the round, and how far it is barred from where it is."""

_PROGRESS: Final = 0.98
"""Less overlap than this part of the least before is progress."""


@numba.njit(cache=True, nogil=True)
def lay_over(
    cells: Depths,
    start: int,
    along: int,
    across: int,
    depths: Depths,
    blocks: Cells,
    one: int,
    other: int,
    x: int,
    y: int,
    factor: np.float32,
) -> None:
    """Add the depths that kind ``one`` at (x, y) has for kind ``other`` to the latter's cells."""
    x, y = x + blocks[one, other, 3], y + blocks[one, other, 4]
    wide = blocks[one, other, 2]
    first_row, last_row = max(0, -x), min(blocks[one, other, 1], along - x)
    first, last = max(0, -y), min(wide, across - y)
    if last <= first:
        return
    for row in range(first_row, last_row):
        to = start + (x + row) * across + y
        of = blocks[one, other, 0] + row * wide
        row_cells, row_depths = cells[to + first : to + last], depths[of + first : of + last]
        for column in range(len(row_cells)):
            row_cells[column] += factor * row_depths[column]


@numba.njit(cache=True, nogil=True, fastmath={"nnan", "nsz"})
def lowest_of(cells: Depths, across: int, along: int, lows: Depths) -> np.float32:
    """The lowest of cells in rows, and in ``lows`` that of each row: never above what is barred."""
    lowest = _NEVER
    for row in range(along):
        of_row = cells[row * across : (row + 1) * across]
        low = _NEVER
        for column in range(len(of_row)):
            low = min(low, of_row[column])
        lows[row] = low
        lowest = min(lowest, low)
    return lowest


@numba.njit(cache=True, nogil=True)
def depth_of(depths: Depths, blocks: Cells, one: int, other: int, dx: int, dy: int) -> int:
    """How deep kind ``other`` overlaps kind ``one`` from which it lies so many cells away."""
    row, column = dx - blocks[one, other, 3], dy - blocks[one, other, 4]
    wide = blocks[one, other, 2]
    if row < 0 or column < 0 or row >= blocks[one, other, 1] or column >= wide:
        return 0
    return int(depths[blocks[one, other, 0] + row * wide + column])


@numba.njit(cache=True, nogil=True)
def untangle(
    depths: Depths,
    blocks: Cells,
    extents: Cells,
    starts: Cells,
    barred: Depths,
    first: Cells,
    turns: Cells,
    kind: Cells,
    x: Cells,
    y: Cells,
    state: npt.NDArray[np.uint64],
    patience: int,
    moves_left: int,
    sums: Depths,
    work: Depths,
    lows: Depths,
    weights: Depths,
    overlaps: Cells,
    best: Cells,
) -> tuple[int, int]:
    """Move pieces until none overlaps, or no round has made progress for ``patience`` rounds, or
    the moves are used up.

    Parameters
    ----------
    depths, blocks
        The tables of the grid (`grid.DepthTables`).
    extents, starts, barred
        Cells along and across of every kind, where each kind's cells start, and what is barred.
    first, turns
        Piece i may be any of the kinds ``turns[first[i]:first[i + 1]]``.
    kind, x, y
        The pieces; changed in place to the arrangement of least overlap.
    state
        The generator's one number, never 0; changed in place.

    sums, work, lows, weights, overlaps, best
        Room to work in: a copy of ``barred``; as much as the kind of most cells; as much as the
        most cells along; ones for every pair; zeros for every pair; and five rows of a number for
        each piece. Whoever calls makes it: that takes a second off compiling.

    Returns the overlap left, in steps of depth, and the moves made.
    """
    count = len(kind)
    for k in range(len(extents)):
        for i in range(count):
            lay_over(
                sums, starts[k], extents[k, 0], extents[k, 1], depths, blocks,
                kind[i], k, x[i], y[i], _ADDED,
            )  # fmt: skip
    total = np.int64(0)
    for i in range(count):
        best[_AMISS, i] = barred[starts[kind[i]] + x[i] * extents[kind[i], 1] + y[i]]
        total += best[_AMISS, i]
        best[_ORDER, i] = i
        best[_KIND, i], best[_X, i], best[_Y, i] = kind[i], x[i], y[i]
        for j in range(i + 1, count):
            depth = depth_of(depths, blocks, kind[i], kind[j], x[j] - x[i], y[j] - y[i])
            overlaps[i, j] = depth
            overlaps[j, i] = depth
            total += depth
    least = total
    stale = 0
    moves = 0
    while least > 0 and stale <= patience and moves < moves_left:
        for i in range(count - 1, 0, -1):
            j = chance(state) % (i + 1)
            best[_ORDER, i], best[_ORDER, j] = best[_ORDER, j], best[_ORDER, i]
        for turn in range(count):
            i = int(best[_ORDER, turn])
            cost = np.float32(best[_AMISS, i])
            for j in range(count):
                cost += weights[i, j] * overlaps[i, j]
            if cost <= 0.0:
                continue
            moves += 1
            lowest = _NEVER
            chosen, cell, ties = -1, 0, 0
            for t in range(first[i], first[i + 1]):
                k = turns[t]
                along, across = extents[k, 0], extents[k, 1]
                size = along * across
                if size == 0:
                    continue
                of_kind = sums[starts[k] : starts[k] + size]
                for c in range(len(of_kind)):
                    work[c] = of_kind[c]
                lay_over(work, 0, along, across, depths, blocks, kind[i], k, x[i], y[i], _TAKEN)
                for j in range(count):
                    if j != i and weights[i, j] > 1.0:
                        lay_over(
                            work, 0, along, across, depths, blocks,
                            kind[j], k, x[j], y[j], weights[i, j] - np.float32(1.0),
                        )  # fmt: skip
                least_here = max(lowest_of(work, across, along, lows), _NOTHING)
                if least_here > lowest:
                    continue
                if least_here < lowest:
                    lowest, ties = least_here, 0
                for row in range(along):
                    if lows[row] > least_here:
                        continue
                    for c in range(row * across, (row + 1) * across):
                        if work[c] <= least_here:
                            ties += 1
                            if chance(state) % ties == 0:
                                chosen, cell = k, c
            if chosen < 0 or lowest >= cost - _STEP:
                continue
            to_x, to_y = cell // extents[chosen, 1], cell % extents[chosen, 1]
            for k in range(len(extents)):
                along, across = extents[k, 0], extents[k, 1]
                lay_over(
                    sums, starts[k], along, across, depths, blocks, kind[i], k, x[i], y[i], _TAKEN
                )
                lay_over(
                    sums, starts[k], along, across, depths, blocks, chosen, k, to_x, to_y, _ADDED
                )
            kind[i], x[i], y[i] = chosen, to_x, to_y
            total -= best[_AMISS, i]
            best[_AMISS, i] = barred[starts[chosen] + cell]
            total += best[_AMISS, i]
            for j in range(count):
                if j != i:
                    depth = depth_of(depths, blocks, chosen, kind[j], x[j] - to_x, y[j] - to_y)
                    total += depth - overlaps[i, j]
                    overlaps[i, j] = depth
                    overlaps[j, i] = depth
        stale = 0 if total < _PROGRESS * least else stale + 1
        if total < least:
            least = total
            for i in range(count):
                best[_KIND, i], best[_X, i], best[_Y, i] = kind[i], x[i], y[i]
        deepest = 1
        for i in range(count):
            for j in range(count):
                deepest = max(deepest, overlaps[i, j])
        for i in range(count):
            for j in range(count):
                if overlaps[i, j] > 0:
                    weights[i, j] *= np.float32(_RISE + _STEEPNESS * overlaps[i, j] / deepest)
                else:
                    weights[i, j] *= _FADING
                    if weights[i, j] < _FADED:
                        weights[i, j] = np.float32(1.0)
    for i in range(count):
        kind[i], x[i], y[i] = best[_KIND, i], best[_X, i], best[_Y, i]
    return int(least), moves


@numba.njit(cache=True, nogil=True)
def leftmost(
    depths: Depths,
    blocks: Cells,
    extents: Cells,
    starts: Cells,
    sums: Depths,
    ends: npt.NDArray[np.float64],
    step: float,
    first: Cells,
    turns: Cells,
    kind: Cells,
    x: Cells,
    y: Cells,
    cursor: Cells,
) -> int:
    """Place the pieces one after the other where they end furthest to the left, overlapping none.

    ``ends`` is how far a kind in its cell (0, 0) reaches along the strip, and ``cursor`` a zero for
    every kind; the rest is as for `untangle`. Fills ``kind``, ``x`` and ``y`` and returns how many
    pieces found a place.
    """
    # what was taken stays taken, so each kind's cells are looked through once
    for i in range(len(kind)):
        best, nearest = -1, np.inf
        for t in range(first[i], first[i + 1]):
            k = turns[t]
            size = extents[k, 0] * extents[k, 1]
            while cursor[k] < size and sums[starts[k] + cursor[k]] > 0:
                cursor[k] += 1
            if cursor[k] == size:
                continue
            end = ends[k] + step * (cursor[k] // extents[k, 1])
            if end < nearest:
                best, nearest = k, end
        if best < 0:
            return i
        kind[i] = best
        x[i], y[i] = cursor[best] // extents[best, 1], cursor[best] % extents[best, 1]
        for k in range(len(extents)):
            lay_over(
                sums, starts[k], extents[k, 0], extents[k, 1], depths, blocks,
                best, k, x[i], y[i], _ADDED,
            )  # fmt: skip
    return len(kind)
