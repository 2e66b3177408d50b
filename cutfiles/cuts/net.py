"""Strokes as nodes with doors, and what is found by looking at every one of them, compiled.

A way is an open path: it begins at node 0 and may end anywhere. Every node has doors, places where
the tool comes in and where it is when it is done, and one of them is in use. Nothing here checks
bounds.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numba
import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


NEAR: Final = 7
"""Neighbours of each node."""

FIRST, _, AFTER, _, BEFORE, _, NEIGHBOUR = range(7)
"""Columns of `Net.nodes`. From FIRST, AFTER and BEFORE on there are two: begin and end."""

MIDDLE_X, MIDDLE_Y, REACH, LEAST = range(4)
"""Columns of `Net.discs`."""

IN_X, IN_Y, OUT_X, OUT_Y = range(4)
"""Columns of `Net.places`."""

ORDER, RING, ROOM, AT, DOOR, WAITS, TURNS, EVEN, LEFT, RIGHT = range(10)
"""Rows of `Net.line`."""

NEXT, WAITING, LOGGED, ALL_EVEN = range(4)
"""Columns of the first row of `Net.log`."""

_ROUNDING_MM: Final = 1e-6
"""Of the distances by which a node is left out."""


class Net(NamedTuple):
    """Nodes, doors and a way through them, in few tables: a compiled function takes every table of
    its arguments apart and hands on its parts, which costs time at each call and in compiling.

    nodes
        A row a node. Its doors, from FIRST on; where in ``links`` the nodes stand that come AFTER
        and BEFORE it; and its NEIGHBOURs, nearest first, -1 where there are none.
    discs
        A row a node. No place of it is further than its REACH from its middle; and how near its
        neighbours are, at LEAST.
    places
        A row a door: where the tool comes in, and where it is when it is done.
    line
        Rows by position: the ORDER of the way, a RING of nodes that wait, and ROOM to work in. And
        rows by node, apart from each other since moves go through many of them: its position AT in
        the way, the DOOR in use, whether it WAITS to be looked at; whether its two doors are the
        ends of a line, so that it TURNS where a stretch is turned round; whether it is EVEN: its
        ways in and out are one place or turn with it, so that steps between such nodes are as long
        either way; and the nodes whose middles are next to its own in x, LEFT and RIGHT, -1 where
        there is none.
    links
        What must come after and before, group by group.
    log
        The moves made, from row 1 on. Row 0 holds which place of the ring is NEXT, how many are
        WAITING there, the last row that is LOGGED, and whether every node is EVEN: ALL_EVEN.
    """

    nodes: Ints
    discs: Floats
    places: Floats
    line: Ints
    links: Ints
    log: Ints


@numba.njit(cache=True, nogil=True)
def step(net: Net, one: int, other: int) -> float:
    """From the way out of one door to the way in of another."""
    x = net.places[other, IN_X] - net.places[one, OUT_X]
    y = net.places[other, IN_Y] - net.places[one, OUT_Y]
    return float(np.sqrt(x * x + y * y))


@numba.njit(cache=True, nogil=True)
def off(net: Net, node: int, x: float, y: float) -> float:
    """From a place to the middle of a node."""
    dx, dy = net.discs[node, MIDDLE_X] - x, net.discs[node, MIDDLE_Y] - y
    return float(np.sqrt(dx * dx + dy * dy))


@numba.njit(cache=True, nogil=True)
def best_doors(net: Net, cost: Floats, back: Ints) -> float:
    """Give every node of a way the door that makes the whole way shortest, its order held, by
    dynamic programming; returns its length. ``cost`` and ``back`` are room for every door."""
    count = len(net.nodes)
    cost[net.nodes[net.line[ORDER, 0], FIRST]] = 0.0
    for position in range(1, count):
        one, other = net.line[ORDER, position - 1], net.line[ORDER, position]
        for door in range(net.nodes[other, FIRST], net.nodes[other, FIRST + 1]):
            cost[door] = np.inf
            for came in range(net.nodes[one, FIRST], net.nodes[one, FIRST + 1]):
                length = cost[came] + step(net, came, door)
                if length < cost[door]:
                    cost[door], back[door] = length, came
    node = net.line[ORDER, count - 1]
    door = net.nodes[node, FIRST]
    for other in range(door, net.nodes[node, FIRST + 1]):
        if cost[other] < cost[door]:
            door = other
    least = float(cost[door])
    for position in range(count - 1, -1, -1):
        net.line[DOOR, net.line[ORDER, position]] = door
        door = back[door]
    return least


@numba.njit(cache=True, nogil=True)
def _left_out(net: Net, node: int) -> tuple[int, int]:
    """Take a node out of the chain in x; returns the ones on both sides of it."""
    left, right = net.line[LEFT, node], net.line[RIGHT, node]
    if left >= 0:
        net.line[RIGHT, left] = right
    if right >= 0:
        net.line[LEFT, right] = left
    return left, right


@numba.njit(cache=True, nogil=True)
def nearest_way(net: Net, widest: float) -> None:
    """Always on to the nearest door of a node for which nothing waits, beginning with node 0; of
    doors as near to the first. ``widest`` is the largest REACH of any node. Nodes are looked at to
    both sides in x, until none further on can be nearer; those of the way leave LEFT and RIGHT."""
    count = len(net.nodes)
    for node in range(count):
        net.line[WAITS, node] = 0
        net.line[ROOM, node] = net.nodes[node, BEFORE + 1] - net.nodes[node, BEFORE]
    here = 0
    net.line[ORDER, 0], net.line[AT, 0], net.line[DOOR, 0] = 0, 0, net.nodes[0, FIRST]
    for position in range(1, count):
        for k in range(net.nodes[here, AFTER], net.nodes[here, AFTER + 1]):
            net.line[ROOM, net.links[k]] -= 1
        left, right = _left_out(net, here)
        out = net.line[DOOR, here]
        x, y = net.places[out, OUT_X], net.places[out, OUT_Y]
        best, chosen, through = np.inf, -1, -1
        while left >= 0 or right >= 0:
            to_left = x - net.discs[left, MIDDLE_X] if left >= 0 else np.inf
            to_right = net.discs[right, MIDDLE_X] - x if right >= 0 else np.inf
            if min(to_left, to_right) > best + widest:
                break
            if to_left <= to_right:
                node, left = left, net.line[LEFT, left]
            else:
                node, right = right, net.line[RIGHT, right]
            if net.line[ROOM, node] > 0:
                continue
            if off(net, node, x, y) > best + net.discs[node, REACH] + _ROUNDING_MM:
                continue
            for door in range(net.nodes[node, FIRST], net.nodes[node, FIRST + 1]):
                length = step(net, out, door)
                if length < best or (length == best and node < chosen):
                    best, chosen, through = length, node, door
        here = chosen
        net.line[ORDER, position] = here
        net.line[AT, here], net.line[DOOR, here] = position, through


@numba.njit(cache=True, nogil=True)
def least_apart(net: Net) -> None:
    """Fill in the least step between each node and its neighbours, either way."""
    for node in range(len(net.nodes)):
        for k in range(NEAR):
            other = net.nodes[node, NEIGHBOUR + k]
            best = np.inf
            if other >= 0:
                for one in range(net.nodes[node, FIRST], net.nodes[node, FIRST + 1]):
                    for two in range(net.nodes[other, FIRST], net.nodes[other, FIRST + 1]):
                        best = min(best, step(net, one, two), step(net, two, one))
            net.discs[node, LEAST + k] = best
