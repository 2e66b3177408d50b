"""The moves of a way, compiled: to turn a stretch round and to let two change places, whether what
must come before what allows it, which nodes wait to be looked at, and the log by which moves are
taken back. Nothing here checks bounds.
"""

from __future__ import annotations

import numba

from cutfiles.cuts.net import (
    AFTER,
    AT,
    BEFORE,
    DOOR,
    FIRST,
    LOGGED,
    NEXT,
    ORDER,
    RING,
    ROOM,
    TURNS,
    WAITING,
    WAITS,
    Net,
)

TURN, SWAP, OTHER_DOOR = range(3)
"""Kinds of entries in the log of moves."""


@numba.njit(cache=True, nogil=True)
def turned(net: Net, node: int) -> int:
    """The door of a node in a stretch turned round."""
    door = net.line[DOOR, node]
    return int(2 * net.nodes[node, FIRST] + 1 - door) if net.line[TURNS, node] else int(door)


@numba.njit(cache=True, nogil=True)
def wait(net: Net, node: int) -> None:
    """Let a node wait to be looked at."""
    if not net.line[WAITS, node]:
        size = len(net.nodes)
        net.line[WAITS, node] = 1
        net.line[RING, (net.log[0, NEXT] + net.log[0, WAITING]) % size] = node
        net.log[0, WAITING] += 1


@numba.njit(cache=True, nogil=True)
def wait_round(net: Net, position: int) -> None:
    """The nodes on both sides of the step before a position."""
    if position < len(net.nodes):
        wait(net, net.line[ORDER, position])
    if position > 0:
        wait(net, net.line[ORDER, position - 1])


@numba.njit(cache=True, nogil=True)
def note(net: Net, kind: int, one: int, two: int, three: int) -> None:
    """Log a move: of a stretch its ends, of two their bounds, of a node the door it had."""
    row = net.log[0, LOGGED] + 1
    net.log[row, 0], net.log[row, 1], net.log[row, 2], net.log[row, 3] = kind, one, two, three
    net.log[0, LOGGED] = row


@numba.njit(cache=True, nogil=True)
def turn(net: Net, low: int, high: int) -> None:
    """Turn the stretch from low to high round, both included."""
    i, j = low, high
    while i <= j:
        one, other = net.line[ORDER, i], net.line[ORDER, j]
        net.line[ORDER, i], net.line[ORDER, j] = other, one
        net.line[AT, one], net.line[AT, other] = j, i
        if net.line[TURNS, one]:
            net.line[DOOR, one] = turned(net, one)
        if i != j and net.line[TURNS, other]:
            net.line[DOOR, other] = turned(net, other)
        i += 1
        j -= 1


@numba.njit(cache=True, nogil=True)
def _place(net: Net, node: int, position: int) -> None:
    net.line[ORDER, position], net.line[AT, node] = node, position


@numba.njit(cache=True, nogil=True)
def swap(net: Net, i: int, j: int, k: int) -> None:
    """Let the stretches [i, j) and [j, k) change places."""
    if j - i <= k - j:
        for position in range(i, j):
            net.line[ROOM, position - i] = net.line[ORDER, position]
        for position in range(j, k):
            _place(net, net.line[ORDER, position], position - j + i)
        for position in range(j - i):
            _place(net, net.line[ROOM, position], k - j + i + position)
    else:
        for position in range(j, k):
            net.line[ROOM, position - j] = net.line[ORDER, position]
        for position in range(j - 1, i - 1, -1):
            _place(net, net.line[ORDER, position], position + k - j)
        for position in range(k - j):
            _place(net, net.line[ROOM, position], i + position)


@numba.njit(cache=True, nogil=True)
def may_turn(net: Net, low: int, high: int) -> bool:
    """Whether no node of a stretch must come before another of it."""
    if len(net.links) == 0:
        return True
    for position in range(low, high):
        node = net.line[ORDER, position]
        for k in range(net.nodes[node, AFTER], net.nodes[node, AFTER + 1]):
            if net.line[AT, net.links[k]] <= high:
                return False
    return True


@numba.njit(cache=True, nogil=True)
def may_swap(net: Net, i: int, j: int, k: int) -> bool:
    """Whether no node of [i, j) must come before one of [j, k)."""
    if len(net.links) == 0:
        return True
    if j - i <= k - j:
        for position in range(i, j):
            node = net.line[ORDER, position]
            for n in range(net.nodes[node, AFTER], net.nodes[node, AFTER + 1]):
                if j <= net.line[AT, net.links[n]] < k:
                    return False
    else:
        for position in range(j, k):
            node = net.line[ORDER, position]
            for n in range(net.nodes[node, BEFORE], net.nodes[node, BEFORE + 1]):
                if i <= net.line[AT, net.links[n]] < j:
                    return False
    return True


@numba.njit(cache=True, nogil=True)
def take_back(net: Net) -> None:
    """Undo every move of the log, the last one first."""
    for row in range(net.log[0, LOGGED], 0, -1):
        kind, one, two, three = net.log[row, 0], net.log[row, 1], net.log[row, 2], net.log[row, 3]
        if kind == TURN:
            turn(net, one, two)
        elif kind == SWAP:
            swap(net, one, one + three - two, three)
        else:
            net.line[DOOR, one] = two
    net.log[0, LOGGED] = 0
