"""Polylines as few lines and arcs.

A line is walked from corner to corner. From where a span starts, the furthest point of the
polyline is sought that one line or arc reaches with all that lies between within the tolerance.
Of all arcs through two points those that keep to a point lie between two bulges (closed form: a
circle through both ends that touches a disc round the point), so the arcs that keep to all of them
are one interval, and its middle is tried. It holds if no point between is further off, and no
chord between cuts deeper: a connected line within the tolerance of an arc from its start to its end
passes all of it, so that the arc is no further from the line either.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

import numba
import numpy as np
import numpy.typing as npt

from cutfiles.geometry.bulges import Array, Place, places_of
from cutfiles.tolerances import COINCIDENT_MM, FLATTEN_MM, REFIT_MM

_CORNER_MM: Final = 2.0 * FLATTEN_MM
"""A curve that turns by an angle over a chord stands off it by the chord times an eighth of the
angle. A vertex from which both chords would stand off by more than this is no step of a curve."""

_SHARP_RAD: Final = math.pi / 3.0
"""A turn above this is a corner, however short the chords."""

_LEVEL_MM: Final = REFIT_MM / 20.0
"""An arc that stands off its chord by less is straight."""

_MORE: Final = 4
"""Points tried past the first that is out of reach: a further one may be within it again."""


def fitted(points: Sequence[Place], *, closed: bool) -> tuple[tuple[Place, ...], tuple[float, ...]]:
    """A polyline as points and bulges (see `cutfiles.geometry.bulges`), within `REFIT_MM` of it.

    A closed one does not repeat its first point, which stays the first. Corners stay where they
    are. Bulges are between -1 and 1, and none at all means straight spans throughout.
    """
    line = np.array(points, dtype=np.float64)
    steps = np.diff(line, axis=0, prepend=line[-1:] if closed else line[:1] - 1.0)
    line = line[np.hypot(steps[:, 0], steps[:, 1]) > COINCIDENT_MM]
    if len(line) < 3:
        return tuple(points), ()
    nodes = _with_middles(np.vstack((line, line[:1])) if closed else line)
    is_corner = np.zeros(len(nodes), dtype=np.bool_)
    is_corner[2:-1:2] = _corners(nodes[::2])
    ends = np.zeros(len(nodes), dtype=np.int64)
    bulges = np.zeros(len(nodes))
    count = int(_spans(nodes, is_corner, REFIT_MM, _LEVEL_MM, _MORE, ends, bulges))
    places = places_of(nodes[ends[:count]])
    bends = tuple(bulges[:count].tolist())
    if not closed:
        places = (*places, (float(line[-1, 0]), float(line[-1, 1])))
    return places, (bends if any(bends) else ())


def _with_middles(line: Array) -> Array:
    """The points of a line and the middles of its chords between them."""
    nodes = np.empty((2 * len(line) - 1, 2))
    nodes[::2] = line
    nodes[1::2] = (line[:-1] + line[1:]) / 2.0
    return nodes


def _corners(line: Array) -> npt.NDArray[np.bool_]:
    """Which inner points of a line are corners."""
    steps = np.diff(line, axis=0)
    chords = np.hypot(steps[:, 0], steps[:, 1])
    one, other = steps[:-1], steps[1:]
    cross = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    turns = np.abs(np.arctan2(cross, (one * other).sum(axis=1)))
    stand = np.minimum(chords[:-1], chords[1:]) * turns / 8.0
    return np.asarray((stand > _CORNER_MM) | (turns > _SHARP_RAD), dtype=np.bool_)


@numba.njit(cache=True, nogil=True)
def _bulge(nodes: npt.NDArray[Any], i: int, j: int, tol: float, level: float) -> float:
    """The bulge of a span from one node to another that keeps to all between, or NaN."""
    mx, my = (nodes[i, 0] + nodes[j, 0]) / 2.0, (nodes[i, 1] + nodes[j, 1]) / 2.0
    ux, uy = nodes[j, 0] - mx, nodes[j, 1] - my
    h = math.sqrt(ux * ux + uy * uy)
    if h < tol:
        return math.nan
    ux, uy = ux / h, uy / h
    # the height of the arc over its chord, to the left of travel
    low, high = -h, h
    reach = (h + tol) * (h + tol)
    for k in range(i + 1, j):
        dx, dy = nodes[k, 0] - mx, nodes[k, 1] - my
        x, y = dx * ux + dy * uy, dy * ux - dx * uy
        away = x * x + y * y
        if away > reach:
            return math.nan
        if min((abs(x) - h) * (abs(x) - h) + y * y, 4.0 * h * h) <= tol * tol:
            continue
        d = away - h * h - tol * tol
        root = math.sqrt(max(d * d + 4.0 * h * h * (y * y - tol * tol), 0.0))
        for side in (-1.0, 1.0):
            c = y + side * tol
            bound = root - d
            if bound <= 0.0:
                return math.nan
            bound = 2.0 * h * h * c / bound
            if side < 0.0:
                low = max(low, bound)
            else:
                high = min(high, bound)
        if low > high:
            return math.nan
    height = (low + high) / 2.0
    if abs(height) < level:
        height = 0.0
    # straight, or far enough from it that the circle can be told
    centre = (height * height - h * h) / (2.0 * height) if height != 0.0 else 0.0
    radius = (height * height + h * h) / (2.0 * abs(height)) if height != 0.0 else 0.0
    up = 1.0 if height >= 0.0 else -1.0
    px, py = -h, 0.0
    for k in range(i + 1, j + 1):
        dx, dy = nodes[k, 0] - mx, nodes[k, 1] - my
        x, y = dx * ux + dy * uy, dy * ux - dx * uy
        if height == 0.0:
            if abs(y) > tol or abs(x) > h + tol:
                return math.nan
        else:
            if k < j and abs(math.sqrt(x * x + (y - centre) * (y - centre)) - radius) > tol:
                return math.nan
            if y * up < -tol:
                return math.nan
            # where the chord comes nearest to the centre
            sx, sy = x - px, y - py
            long = sx * sx + sy * sy
            share = -(px * sx + (py - centre) * sy) / long if long > 0.0 else 0.0
            if 0.0 < share < 1.0:
                fx, fy = px + share * sx, py + share * sy - centre
                if radius - math.sqrt(fx * fx + fy * fy) > tol:
                    return math.nan
        px, py = x, y
    return -height / h  # counter-clockwise bulges to the right of its chord


@numba.njit(cache=True, nogil=True)
def _spans(
    nodes: npt.NDArray[Any],
    is_corner: npt.NDArray[Any],
    tol: float,
    level: float,
    more: int,
    ends: npt.NDArray[Any],
    bulges: npt.NDArray[Any],
) -> int:
    """Fill in where each span starts, and its bulge; the number of spans."""
    last = len(nodes) - 1
    count, i = 0, 0
    while i < last:
        corner = i + 1
        while corner < last and not is_corner[corner]:
            corner += 1
        # up to the next point of the polyline the chord itself always does
        best = min(i + 2 - i % 2, last)
        bulge = 0.0
        # double the stride until out of reach, then halve the gap
        step, out = best - i, corner + 1
        while best < corner:
            j = min(i + 2 * step, corner)
            found = _bulge(nodes, i, j, tol, level)
            if math.isnan(found):
                out = j
                break
            best, bulge, step = j, found, j - i
        while out - best > 1:
            j = (best + out) // 2
            found = _bulge(nodes, i, j, tol, level)
            if math.isnan(found):
                out = j
            else:
                best, bulge = j, found
        if best < corner:
            for j in range(min(best + more, corner), best, -1):
                found = _bulge(nodes, i, j, tol, level)
                if not math.isnan(found):
                    best, bulge = j, found
                    break
        ends[count], bulges[count] = i, bulge
        count += 1
        i = best
    return count
