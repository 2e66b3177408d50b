"""The way through strokes made shorter step by step, compiled for speed.

A way is an open path: it begins at node 0 and may end anywhere. Every node has doors, places where
the tool comes in and where it is when it is done, and one of them is in use. Some nodes must come
before others, which every move heeds. The moves: a stroke takes another door; up to three strokes
move next to a neighbour, either way round (I. Or, thesis, Northwestern University, 1976), a single
one through whichever door is best there; a stretch is turned round (G. A. Croes, "A Method for
Solving Traveling-Salesman Problems", Operations Research 6(6), 1958). Only neighbours and only
strokes beside a change are tried (J. L. Bentley, "Fast Algorithms for Geometric Traveling Salesman
Problems", ORSA Journal on Computing 4(4), 1992). Two stretches that follow each other change
places as a kick (O. Martin, S. W. Otto, E. W. Felten, "Large-Step Markov Chains for the Traveling
Salesman Problem", Complex Systems 5, 1991); what made the way too long is taken back move by move.

Nothing here checks bounds. The order of moves depends on the numbers alone: the same way and
kicks give the same answer.
"""

from __future__ import annotations

from typing import Final

import numba
import numpy as np
import numpy.typing as npt

from cutfiles.chance import chance
from cutfiles.cuts.moves import (
    OTHER_DOOR,
    SWAP,
    TURN,
    may_swap,
    may_turn,
    note,
    swap,
    take_back,
    turn,
    turned,
    wait,
    wait_round,
)
from cutfiles.cuts.net import (
    AFTER,
    ALL_EVEN,
    AT,
    BEFORE,
    DOOR,
    EVEN,
    FIRST,
    IN_X,
    IN_Y,
    LEAST,
    LOGGED,
    NEAR,
    NEIGHBOUR,
    NEXT,
    ORDER,
    OUT_X,
    OUT_Y,
    REACH,
    RING,
    WAITING,
    WAITS,
    Net,
    off,
    step,
)

_GAIN: Final = 1e-9
"""Millimetres: a move must gain more, less is rounding."""

_LONGEST_MOVED: Final = 3
_WALK: Final = 3
"""Steps from neighbour to neighbour between the strokes of a kick."""

_SPAN: Final = 10
"""Longest stretch of a kick where strokes near each other will not do."""


@numba.njit(cache=True, nogil=True)
def _turn_gain(net: Net, low: int, high: int) -> float:
    """What the steps within a stretch gain if it is turned round."""
    if net.log[0, ALL_EVEN]:
        return 0.0
    gain = 0.0
    other = net.line[ORDER, low]
    for position in range(low, high):
        one, other = other, net.line[ORDER, position + 1]
        if net.line[EVEN, one] and net.line[EVEN, other]:
            continue
        gain += step(net, net.line[DOOR, one], net.line[DOOR, other])
        gain -= step(net, turned(net, other), turned(net, one))
    return gain


@numba.njit(cache=True, nogil=True)
def _change_door(net: Net, node: int) -> float:
    """Let a node take its best door; returns what is gained."""
    first, last = net.nodes[node, FIRST], net.nodes[node, FIRST + 1]
    position = net.line[AT, node]
    if last - first < 2 or position == 0:
        return 0.0
    before = net.line[DOOR, net.line[ORDER, position - 1]]
    after = net.line[DOOR, net.line[ORDER, position + 1]] if position + 1 < len(net.nodes) else -1
    now = step(net, before, net.line[DOOR, node])
    if after >= 0:
        now += step(net, net.line[DOOR, node], after)
    best, chosen = now - _GAIN, -1
    for door in range(first, last):
        length = step(net, before, door)
        if length < best and after >= 0:
            length += step(net, door, after)
        if length < best:
            best, chosen = length, door
    if chosen < 0:
        return 0.0
    note(net, OTHER_DOOR, node, net.line[DOOR, node], 0)
    net.line[DOOR, node] = chosen
    wait_round(net, position)
    wait_round(net, position + 1)
    return float(now - best)


@numba.njit(cache=True, nogil=True)
def _turn_stretch(net: Net, low: int, high: int) -> float:
    """Turn a stretch round if that gains; returns what is gained."""
    if low < 1 or low >= high:
        return 0.0
    before = net.line[DOOR, net.line[ORDER, low - 1]]
    head, tail = net.line[ORDER, low], net.line[ORDER, high]
    gain = step(net, before, net.line[DOOR, head]) - step(net, before, turned(net, tail))
    if high + 1 < len(net.nodes):
        after = net.line[DOOR, net.line[ORDER, high + 1]]
        gain += step(net, net.line[DOOR, tail], after) - step(net, turned(net, head), after)
    if gain <= _GAIN or not may_turn(net, low, high):
        return 0.0
    gain += _turn_gain(net, low, high)
    if gain <= _GAIN:
        return 0.0
    turn(net, low, high)
    note(net, TURN, low, high, 0)
    wait_round(net, low)
    wait_round(net, high + 1)
    return float(gain)


@numba.njit(cache=True, nogil=True)
def _two_opt(net: Net, node: int) -> float:
    """Turn a stretch round that brings a node next to a neighbour, if that gains."""
    last = len(net.nodes) - 1
    i = net.line[AT, node]
    if i < last:  # replace the step after the node
        away = step(net, net.line[DOOR, node], net.line[DOOR, net.line[ORDER, i + 1]])
        for k in range(NEAR):
            other = net.nodes[node, NEIGHBOUR + k]
            if other < 0 or net.discs[node, LEAST + k] >= away:
                break
            j = net.line[AT, other]
            gain = _turn_stretch(net, min(i, j) + 1, max(i, j))
            if gain > 0.0:
                return gain
    if i > 0:  # replace the step before the node
        away = step(net, net.line[DOOR, net.line[ORDER, i - 1]], net.line[DOOR, node])
        for k in range(NEAR):
            other = net.nodes[node, NEIGHBOUR + k]
            if other < 0 or net.discs[node, LEAST + k] >= away:
                break
            j = net.line[AT, other]
            gain = _turn_stretch(net, min(i, j), max(i, j) - 1)
            if gain > 0.0:
                return gain
        return _turn_stretch(net, i, last)  # the way may end anywhere
    return 0.0


@numba.njit(cache=True, nogil=True)
def _put(
    net: Net,
    low: int,
    high: int,
    gap: int,
    back: bool,
    freed: float,
) -> float:
    """Move the stretch from low to high between the positions ``gap`` and ``gap + 1``, turned round
    if ``back``, if that gains; its leaving frees so much. Returns what is gained.
    """
    last = len(net.nodes) - 1
    if low - 1 <= gap <= high:
        return 0.0
    prior = net.line[DOOR, net.line[ORDER, gap]]
    following = net.line[DOOR, net.line[ORDER, gap + 1]] if gap < last else -1
    head, tail = net.line[ORDER, low], net.line[ORDER, high]
    gain = freed
    if following >= 0:
        gain += step(net, prior, following)
    chosen = net.line[DOOR, head]
    if low == high:
        best = gain - _GAIN
        chosen = -1
        spare = (
            best
            + 2.0 * net.discs[head, REACH]
            - off(net, head, net.places[prior, OUT_X], net.places[prior, OUT_Y])
        )
        if following >= 0:
            spare -= off(net, head, net.places[following, IN_X], net.places[following, IN_Y])
        else:
            spare -= net.discs[head, REACH]
        if spare <= 0.0:
            return 0.0
        for door in range(net.nodes[head, FIRST], net.nodes[head, FIRST + 1]):
            added = step(net, prior, door)
            if added < best and following >= 0:
                added += step(net, door, following)
            if added < best:
                best, chosen = added, door
        if chosen < 0:
            return 0.0
        gain -= best
    elif back:
        gain -= step(net, prior, turned(net, tail))
        if following >= 0:
            gain -= step(net, turned(net, head), following)
        gain += _turn_gain(net, low, high)
    else:
        gain -= step(net, prior, net.line[DOOR, head])
        if following >= 0:
            gain -= step(net, net.line[DOOR, tail], following)
    if gain <= _GAIN or (low < high and back and not may_turn(net, low, high)):
        return 0.0
    for position in range(low, high + 1):
        node = net.line[ORDER, position]
        if gap > high:
            for k in range(net.nodes[node, AFTER], net.nodes[node, AFTER + 1]):
                if high < net.line[AT, net.links[k]] <= gap:
                    return 0.0
        else:
            for k in range(net.nodes[node, BEFORE], net.nodes[node, BEFORE + 1]):
                if gap < net.line[AT, net.links[k]] < low:
                    return 0.0
    wait_round(net, low)
    wait_round(net, high + 1)
    wait_round(net, gap + 1)
    if low == high and chosen != net.line[DOOR, head]:
        note(net, OTHER_DOOR, head, net.line[DOOR, head], 0)
        net.line[DOOR, head] = chosen
    if low < high and back:
        turn(net, low, high)
        note(net, TURN, low, high, 0)
    if gap > high:
        swap(net, low, high + 1, gap + 1)
        note(net, SWAP, low, high + 1, gap + 1)
    else:
        swap(net, gap + 1, low, high + 1)
        note(net, SWAP, gap + 1, low, high + 1)
    return float(gain)


@numba.njit(cache=True, nogil=True)
def _or_opt(net: Net, node: int) -> float:
    """Move one to three nodes, of which this is the first or last, next to a neighbour of it."""
    last = len(net.nodes) - 1
    for size in range(1, _LONGEST_MOVED + 1):
        for is_head in range(2 if size > 1 else 1):
            low = net.line[AT, node] - (0 if is_head == 0 else size - 1)
            high = low + size - 1
            if low < 1 or high > last:
                continue
            before = net.line[DOOR, net.line[ORDER, low - 1]]
            freed = step(net, before, net.line[DOOR, net.line[ORDER, low]])
            if high < last:
                after = net.line[DOOR, net.line[ORDER, high + 1]]
                freed += step(net, net.line[DOOR, net.line[ORDER, high]], after) - step(
                    net, before, after
                )
            if freed <= _GAIN:
                continue
            for k in range(NEAR):
                other = net.nodes[node, NEIGHBOUR + k]
                if other < 0 or net.discs[node, LEAST + k] >= freed:
                    break
                j = net.line[AT, other]
                # the node comes after the other, or before it
                gain = _put(net, low, high, j, is_head == 1, freed)
                if gain > 0.0:
                    return gain
                if j > 0:
                    gain = _put(net, low, high, j - 1, is_head == 0, freed)
                    if gain > 0.0:
                        return gain
    return 0.0


@numba.njit(cache=True, nogil=True)
def _improve(net: Net, forget: bool) -> float:
    """Move until no node that waits can; returns what is gained. Without ``forget`` the log keeps
    every move, and it stops where that is full."""
    gained = 0.0
    full = len(net.log) - 5
    while net.log[0, WAITING] > 0:
        node = net.line[RING, net.log[0, NEXT]]
        net.log[0, NEXT] = (net.log[0, NEXT] + 1) % len(net.nodes)
        net.log[0, WAITING] -= 1
        net.line[WAITS, node] = 0
        if forget:
            net.log[0, LOGGED] = 0
        elif net.log[0, LOGGED] >= full:
            continue
        gain = _change_door(net, node)
        if gain == 0.0:
            gain = _or_opt(net, node)
        if gain == 0.0:
            gain = _two_opt(net, node)
        if gain > 0.0:
            gained += gain
            wait(net, node)
    return gained


@numba.njit(cache=True, nogil=True)
def _walked(net: Net, node: int, state: npt.NDArray[np.uint64]) -> int:
    """Where a walk from neighbour to neighbour ends."""
    for _ in range(_WALK):
        other = net.nodes[node, NEIGHBOUR + chance(state) % NEAR]
        if other >= 0:
            node = other
    return int(node)


@numba.njit(cache=True, nogil=True)
def search(
    net: Net,
    state: npt.NDArray[np.uint64],
    kicks: int,
    heat: float,
    cooling: float,
) -> None:
    """Kick a way so many times and mend it each time, then shorten it from every node on until no
    move gains.

    A way that has become longer is kept the less often the longer it is, by ``heat`` mm, which
    ``cooling`` makes less at each kick (S. Kirkpatrick, C. D. Gelatt, M. P. Vecchi, "Optimization
    by Simulated Annealing", Science 220, 1983). The stretches that change places lie between
    strokes that are near each other (random walks: D. Applegate, W. Cook, A. Rohe, "Chained
    Lin-Kernighan for Large Traveling Salesman Problems", INFORMS Journal on Computing 15(1), 2003);
    where what must come before what bars that, they are short. The way has three nodes at least.
    """
    count = len(net.nodes)
    for _ in range(kicks):
        heat *= cooling
        node = chance(state) % count
        one, two = net.line[AT, node], net.line[AT, _walked(net, node, state)]
        three = net.line[AT, _walked(net, node, state)]
        i, k = min(one, two, three) + 1, max(one, two, three) + 1
        j = one + two + three + 3 - i - k
        if j in (i, k) or not may_swap(net, i, j, k):
            i = 1 + chance(state) % (count - 2)
            j = i + 1 + chance(state) % _SPAN
            k = j + 1 + chance(state) % _SPAN
            if k > count or not may_swap(net, i, j, k):
                continue
        before, head, tail = net.line[ORDER, i - 1], net.line[ORDER, i], net.line[ORDER, j - 1]
        second, end = net.line[ORDER, j], net.line[ORDER, k - 1]
        gain = step(net, net.line[DOOR, before], net.line[DOOR, head])
        gain += step(net, net.line[DOOR, tail], net.line[DOOR, second])
        gain -= step(net, net.line[DOOR, before], net.line[DOOR, second])
        gain -= step(net, net.line[DOOR, end], net.line[DOOR, head])
        if k < count:
            after = net.line[DOOR, net.line[ORDER, k]]
            gain += step(net, net.line[DOOR, end], after) - step(net, net.line[DOOR, tail], after)
        net.log[0, LOGGED] = 0
        swap(net, i, j, k)
        note(net, SWAP, i, j, k)
        wait_round(net, i)
        wait_round(net, i + k - j)
        wait_round(net, k)
        gain += _improve(net, False)
        if gain < heat * np.log((chance(state) + 0.5) / 2147483648.0):
            take_back(net)
    for position in range(count):
        wait(net, net.line[ORDER, position])
    _improve(net, True)
