"""Strokes as nodes with doors, and what is found by looking at every one of them, compiled.

A way is an open path: it begins at node 0 and may end anywhere. Every node has doors, places where
the tool comes in and where it is when it is done, and one of them is in use. Nothing here checks
bounds.
"""

from __future__ import annotations

from typing import NamedTuple

import numba
import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


class Net(NamedTuple):
    """What does not change in a search.

    Node i has the doors ``first[i]`` up to ``first[i + 1]``; through door d the tool comes in at
    ``(in_x[d], in_y[d])`` and is at ``(out_x[d], out_y[d])`` after it. ``turns[i]`` says that its
    two doors are the ends of a line, so that it is travelled the other way in a stretch turned
    round. ``near[i]`` are its neighbours and ``least[i]`` how near they are at least, nearest
    first, -1 where there are none. Node i comes before the nodes ``after[after_first[i]:
    after_first[i + 1]]`` and after those of ``before``. No place of a node is further than its
    ``reaches`` from its ``middles`` ``(n, 2)``. ``is_even`` says that every node's ways in
    and out are one place or turn with it, so that a stretch is as long either way.
    """

    first: Ints
    in_x: Floats
    in_y: Floats
    out_x: Floats
    out_y: Floats
    turns: npt.NDArray[np.bool_]
    near: Ints
    least: Floats
    after_first: Ints
    after: Ints
    before_first: Ints
    before: Ints
    middles: Floats
    reaches: Floats
    is_even: bool


class Way(NamedTuple):
    """What a search changes: the nodes in order, the position of each, the door in use of each,
    a ring of nodes that wait to be looked at and whether each waits, rows of a log, and counts:
    the first that waits, how many do, and the length of the log."""

    order: Ints
    at: Ints
    door: Ints
    ring: Ints
    waits: npt.NDArray[np.bool_]
    log: Ints
    counts: Ints


@numba.njit(cache=True, nogil=True)
def step(net: Net, one: int, other: int) -> float:
    """From the way out of one door to the way in of another."""
    x = net.in_x[other] - net.out_x[one]
    y = net.in_y[other] - net.out_y[one]
    return float(np.sqrt(x * x + y * y))


@numba.njit(cache=True, nogil=True)
def off(middles: Floats, node: int, x: float, y: float) -> float:
    """From a place to the middle of a node."""
    dx, dy = middles[node, 0] - x, middles[node, 1] - y
    return float(np.sqrt(dx * dx + dy * dy))


@numba.njit(cache=True, nogil=True)
def best_doors(net: Net, way: Way, cost: Floats, back: Ints) -> float:
    """Give every node of a way the door that makes the whole way shortest, its order held, by
    dynamic programming; returns its length. ``cost`` and ``back`` are room for every door."""
    count = len(way.order)
    cost[net.first[way.order[0]]] = 0.0
    for position in range(1, count):
        one, other = way.order[position - 1], way.order[position]
        for door in range(net.first[other], net.first[other + 1]):
            cost[door] = np.inf
            for came in range(net.first[one], net.first[one + 1]):
                length = cost[came] + step(net, came, door)
                if length < cost[door]:
                    cost[door], back[door] = length, came
    node = way.order[count - 1]
    door = net.first[node]
    for other in range(net.first[node], net.first[node + 1]):
        if cost[other] < cost[door]:
            door = other
    least = float(cost[door])
    for position in range(count - 1, -1, -1):
        way.door[way.order[position]] = door
        door = back[door]
    return least


@numba.njit(cache=True, nogil=True)
def nearest_way(net: Net, waiting: Ints, way: Way) -> None:
    """Always on to the nearest door of a node for which nothing waits, beginning with node 0.

    ``waiting`` counts the nodes that must come before each, and is used up.
    """
    count = len(way.order)
    waits = way.waits
    for node in range(count):
        waits[node] = node > 0
    here = 0
    way.order[0], way.at[0], way.door[0] = 0, 0, net.first[0]
    for position in range(1, count):
        for k in range(net.after_first[here], net.after_first[here + 1]):
            waiting[net.after[k]] -= 1
        x, y = net.out_x[way.door[here]], net.out_y[way.door[here]]
        best, chosen, through = np.inf, -1, -1
        for node in range(1, count):
            if not waits[node] or waiting[node] > 0:
                continue
            dx, dy = net.middles[node, 0] - x, net.middles[node, 1] - y
            far = best + net.reaches[node]
            if dx * dx + dy * dy >= far * far:
                continue
            for door in range(net.first[node], net.first[node + 1]):
                length = step(net, way.door[here], door)
                if length < best:
                    best, chosen, through = length, node, door
        waits[chosen] = False
        here = chosen
        way.order[position], way.at[here], way.door[here] = here, position, through


@numba.njit(cache=True, nogil=True)
def least_apart(net: Net, near: Ints, least: Floats) -> None:
    """Fill ``least`` with the least step between each node and its neighbours, either way."""
    for node in range(len(near)):
        for k in range(near.shape[1]):
            other = near[node, k]
            best = np.inf
            if other >= 0:
                for one in range(net.first[node], net.first[node + 1]):
                    for two in range(net.first[other], net.first[other + 1]):
                        best = min(best, step(net, one, two), step(net, two, one))
            least[node, k] = best
