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
from cutfiles.cuts.net import Ints, Net, Way, off, step

_GAIN: Final = 1e-9
"""Millimetres: a move must gain more, less is rounding."""

_LONGEST_MOVED: Final = 3
_WALK: Final = 3
"""Steps from neighbour to neighbour between the strokes of a kick."""

_SPAN: Final = 10
"""Longest stretch of a kick where strokes near each other will not do."""

_TURN, _SWAP, _DOOR = range(3)
"""Kinds of entries in the log of moves."""


@numba.njit(cache=True, nogil=True)
def _turned(net: Net, way: Way, node: int) -> int:
    """The door of a node in a stretch turned round."""
    door = way.door[node]
    return int(2 * net.first[node] + 1 - door) if net.turns[node] else int(door)


@numba.njit(cache=True, nogil=True)
def _wait(way: Way, node: int) -> None:
    if not way.waits[node]:
        size = len(way.ring)
        way.waits[node] = True
        way.ring[(way.counts[0] + way.counts[1]) % size] = node
        way.counts[1] += 1


@numba.njit(cache=True, nogil=True)
def _wait_round(way: Way, position: int) -> None:
    """The nodes on both sides of the step before a position."""
    if position < len(way.order):
        _wait(way, way.order[position])
    if position > 0:
        _wait(way, way.order[position - 1])


@numba.njit(cache=True, nogil=True)
def _note(way: Way, kind: int, one: int, two: int, three: int) -> None:
    row = way.counts[2]
    way.log[row, 0], way.log[row, 1], way.log[row, 2], way.log[row, 3] = kind, one, two, three
    way.counts[2] = row + 1


@numba.njit(cache=True, nogil=True)
def _turn(net: Net, way: Way, low: int, high: int) -> None:
    """Turn the stretch from low to high round, both included."""
    i, j = low, high
    while i <= j:
        one, other = way.order[i], way.order[j]
        way.order[i], way.order[j] = other, one
        way.at[one], way.at[other] = j, i
        if net.turns[one]:
            way.door[one] = _turned(net, way, one)
        if i != j and net.turns[other]:
            way.door[other] = _turned(net, way, other)
        i += 1
        j -= 1


@numba.njit(cache=True, nogil=True)
def _swap(way: Way, room: Ints, i: int, j: int, k: int) -> None:
    """Let the stretches [i, j) and [j, k) change places."""
    if j - i <= k - j:
        for position in range(i, j):
            room[position - i] = way.order[position]
        for position in range(j, k):
            way.order[position - j + i] = way.order[position]
        for position in range(j - i):
            way.order[k - j + i + position] = room[position]
    else:
        for position in range(j, k):
            room[position - j] = way.order[position]
        for position in range(j - 1, i - 1, -1):
            way.order[position + k - j] = way.order[position]
        for position in range(k - j):
            way.order[i + position] = room[position]
    for position in range(i, k):
        way.at[way.order[position]] = position


@numba.njit(cache=True, nogil=True)
def _may_turn(net: Net, way: Way, low: int, high: int) -> bool:
    """Whether no node of a stretch must come before another of it."""
    if len(net.after) == 0:
        return True
    for position in range(low, high):
        node = way.order[position]
        for k in range(net.after_first[node], net.after_first[node + 1]):
            if way.at[net.after[k]] <= high:
                return False
    return True


@numba.njit(cache=True, nogil=True)
def _may_swap(net: Net, way: Way, i: int, j: int, k: int) -> bool:
    """Whether no node of [i, j) must come before one of [j, k)."""
    if len(net.after) == 0:
        return True
    if j - i <= k - j:
        for position in range(i, j):
            node = way.order[position]
            for n in range(net.after_first[node], net.after_first[node + 1]):
                if j <= way.at[net.after[n]] < k:
                    return False
    else:
        for position in range(j, k):
            node = way.order[position]
            for n in range(net.before_first[node], net.before_first[node + 1]):
                if i <= way.at[net.before[n]] < j:
                    return False
    return True


@numba.njit(cache=True, nogil=True)
def _turn_gain(net: Net, way: Way, low: int, high: int) -> float:
    """What the steps within a stretch gain if it is turned round."""
    if net.is_even:
        return 0.0
    gain = 0.0
    for position in range(low, high):
        one, other = way.order[position], way.order[position + 1]
        gain += step(net, way.door[one], way.door[other])
        gain -= step(net, _turned(net, way, other), _turned(net, way, one))
    return gain


@numba.njit(cache=True, nogil=True)
def _change_door(net: Net, way: Way, node: int) -> float:
    """Let a node take its best door; returns what is gained."""
    first, last = net.first[node], net.first[node + 1]
    position = way.at[node]
    if last - first < 2 or position == 0:
        return 0.0
    before = way.door[way.order[position - 1]]
    after = way.door[way.order[position + 1]] if position + 1 < len(way.order) else -1
    now = step(net, before, way.door[node])
    if after >= 0:
        now += step(net, way.door[node], after)
    best, chosen = now - _GAIN, -1
    for door in range(first, last):
        length = step(net, before, door)
        if length < best and after >= 0:
            length += step(net, door, after)
        if length < best:
            best, chosen = length, door
    if chosen < 0:
        return 0.0
    _note(way, _DOOR, node, way.door[node], 0)
    way.door[node] = chosen
    _wait_round(way, position)
    _wait_round(way, position + 1)
    return float(now - best)


@numba.njit(cache=True, nogil=True)
def _turn_stretch(net: Net, way: Way, low: int, high: int, bar: float) -> float:
    """Turn a stretch round if that gains more than a bar; returns what is gained."""
    order = way.order
    if low < 1 or low >= high:
        return 0.0
    before = way.door[order[low - 1]]
    head, tail = order[low], order[high]
    gain = step(net, before, way.door[head]) - step(net, before, _turned(net, way, tail))
    if high + 1 < len(order):
        after = way.door[order[high + 1]]
        gain += step(net, way.door[tail], after) - step(net, _turned(net, way, head), after)
    if gain <= bar or not _may_turn(net, way, low, high):
        return 0.0
    gain += _turn_gain(net, way, low, high)
    if gain <= bar:
        return 0.0
    _turn(net, way, low, high)
    _note(way, _TURN, low, high, 0)
    _wait_round(way, low)
    _wait_round(way, high + 1)
    return float(gain)


@numba.njit(cache=True, nogil=True)
def _two_opt(net: Net, way: Way, node: int) -> float:
    """Turn a stretch round that brings a node next to a neighbour, if that gains."""
    order, last = way.order, len(way.order) - 1
    i = way.at[node]
    if i < last:  # replace the step after the node
        away = step(net, way.door[node], way.door[order[i + 1]])
        for k in range(net.near.shape[1]):
            other = net.near[node, k]
            if other < 0 or net.least[node, k] >= away:
                break
            j = way.at[other]
            gain = _turn_stretch(net, way, min(i, j) + 1, max(i, j), _GAIN)
            if gain > 0.0:
                return gain
    if i > 0:  # replace the step before the node
        away = step(net, way.door[order[i - 1]], way.door[node])
        for k in range(net.near.shape[1]):
            other = net.near[node, k]
            if other < 0 or net.least[node, k] >= away:
                break
            j = way.at[other]
            gain = _turn_stretch(net, way, min(i, j), max(i, j) - 1, _GAIN)
            if gain > 0.0:
                return gain
        return _turn_stretch(net, way, i, last, _GAIN)  # the way may end anywhere
    return 0.0


@numba.njit(cache=True, nogil=True)
def _put(
    net: Net,
    way: Way,
    room: Ints,
    low: int,
    high: int,
    gap: int,
    back: bool,
    freed: float,
    bar: float,
) -> float:
    """Move the stretch from low to high between the positions ``gap`` and ``gap + 1``, turned round
    if ``back``, if that gains more than a bar; its leaving frees so much. Returns what is gained.
    """
    order, last = way.order, len(way.order) - 1
    if low - 1 <= gap <= high:
        return 0.0
    prior = way.door[order[gap]]
    following = way.door[order[gap + 1]] if gap < last else -1
    head, tail = order[low], order[high]
    gain = freed
    if following >= 0:
        gain += step(net, prior, following)
    chosen = way.door[head]
    if low == high:
        best = gain - bar
        chosen = -1
        spare = (
            best
            + 2.0 * net.reaches[head]
            - off(net.middles, head, net.out_x[prior], net.out_y[prior])
        )
        if following >= 0:
            spare -= off(net.middles, head, net.in_x[following], net.in_y[following])
        else:
            spare -= net.reaches[head]
        if spare <= 0.0:
            return 0.0
        for door in range(net.first[head], net.first[head + 1]):
            added = step(net, prior, door)
            if added < best and following >= 0:
                added += step(net, door, following)
            if added < best:
                best, chosen = added, door
        if chosen < 0:
            return 0.0
        gain -= best
    elif back:
        gain -= step(net, prior, _turned(net, way, tail))
        if following >= 0:
            gain -= step(net, _turned(net, way, head), following)
        gain += _turn_gain(net, way, low, high)
    else:
        gain -= step(net, prior, way.door[head])
        if following >= 0:
            gain -= step(net, way.door[tail], following)
    if gain <= bar or (low < high and back and not _may_turn(net, way, low, high)):
        return 0.0
    for position in range(low, high + 1):
        node = order[position]
        if gap > high:
            for k in range(net.after_first[node], net.after_first[node + 1]):
                if high < way.at[net.after[k]] <= gap:
                    return 0.0
        else:
            for k in range(net.before_first[node], net.before_first[node + 1]):
                if gap < way.at[net.before[k]] < low:
                    return 0.0
    _wait_round(way, low)
    _wait_round(way, high + 1)
    _wait_round(way, gap + 1)
    if low == high and chosen != way.door[head]:
        _note(way, _DOOR, head, way.door[head], 0)
        way.door[head] = chosen
    if low < high and back:
        _turn(net, way, low, high)
        _note(way, _TURN, low, high, 0)
    if gap > high:
        _swap(way, room, low, high + 1, gap + 1)
        _note(way, _SWAP, low, high + 1, gap + 1)
    else:
        _swap(way, room, gap + 1, low, high + 1)
        _note(way, _SWAP, gap + 1, low, high + 1)
    return float(gain)


@numba.njit(cache=True, nogil=True)
def _or_opt(net: Net, way: Way, room: Ints, node: int) -> float:
    """Move one to three nodes, of which this is the first or last, next to a neighbour of it."""
    order, last = way.order, len(way.order) - 1
    for size in range(1, _LONGEST_MOVED + 1):
        for is_head in range(2 if size > 1 else 1):
            low = way.at[node] - (0 if is_head == 0 else size - 1)
            high = low + size - 1
            if low < 1 or high > last:
                continue
            before = way.door[order[low - 1]]
            freed = step(net, before, way.door[order[low]])
            if high < last:
                after = way.door[order[high + 1]]
                freed += step(net, way.door[order[high]], after) - step(net, before, after)
            if freed <= _GAIN:
                continue
            for k in range(net.near.shape[1]):
                other = net.near[node, k]
                if other < 0 or net.least[node, k] >= freed:
                    break
                j = way.at[other]
                # the node comes after the other, or before it
                gain = _put(net, way, room, low, high, j, is_head == 1, freed, _GAIN)
                if gain > 0.0:
                    return gain
                if j > 0:
                    gain = _put(net, way, room, low, high, j - 1, is_head == 0, freed, _GAIN)
                    if gain > 0.0:
                        return gain
    return 0.0


@numba.njit(cache=True, nogil=True)
def _improve(net: Net, way: Way, room: Ints, forget: bool) -> float:
    """Move until no node that waits can; returns what is gained. Without ``forget`` the log keeps
    every move, and it stops where that is full."""
    gained = 0.0
    full = len(way.log) - 4
    while way.counts[1] > 0:
        node = way.ring[way.counts[0]]
        way.counts[0] = (way.counts[0] + 1) % len(way.ring)
        way.counts[1] -= 1
        way.waits[node] = False
        if forget:
            way.counts[2] = 0
        elif way.counts[2] >= full:
            continue
        gain = _change_door(net, way, node)
        if gain == 0.0:
            gain = _or_opt(net, way, room, node)
        if gain == 0.0:
            gain = _two_opt(net, way, node)
        if gain > 0.0:
            gained += gain
            _wait(way, node)
    return gained


@numba.njit(cache=True, nogil=True)
def _take_back(net: Net, way: Way, room: Ints) -> None:
    """Undo every move of the log, the last one first."""
    for row in range(way.counts[2] - 1, -1, -1):
        kind, one, two, three = way.log[row, 0], way.log[row, 1], way.log[row, 2], way.log[row, 3]
        if kind == _TURN:
            _turn(net, way, one, two)
        elif kind == _SWAP:
            _swap(way, room, one, one + three - two, three)
        else:
            way.door[one] = two
    way.counts[2] = 0


@numba.njit(cache=True, nogil=True)
def descend(net: Net, way: Way, room: Ints) -> None:
    """Shorten a way from every node on until no move gains."""
    for position in range(len(way.order)):
        _wait(way, way.order[position])
    _improve(net, way, room, True)


@numba.njit(cache=True, nogil=True)
def _walked(net: Net, node: int, state: npt.NDArray[np.uint64]) -> int:
    """Where a walk from neighbour to neighbour ends."""
    for _ in range(_WALK):
        other = net.near[node, chance(state) % net.near.shape[1]]
        if other >= 0:
            node = other
    return int(node)


@numba.njit(cache=True, nogil=True)
def kicked(
    net: Net,
    way: Way,
    room: Ints,
    state: npt.NDArray[np.uint64],
    kicks: int,
    heat: float,
    cooling: float,
) -> None:
    """Kick a way so many times and mend it each time.

    A way that has become longer is kept the less often the longer it is, by ``heat`` mm, which
    ``cooling`` makes less at each kick (S. Kirkpatrick, C. D. Gelatt, M. P. Vecchi, "Optimization
    by Simulated Annealing", Science 220, 1983). The stretches that change places lie between
    strokes that are near each other (random walks: D. Applegate, W. Cook, A. Rohe, "Chained
    Lin-Kernighan for Large Traveling Salesman Problems", INFORMS Journal on Computing 15(1), 2003);
    where what must come before what bars that, they are short. The way has three nodes at least.
    """
    count = len(way.order)
    for _ in range(kicks):
        heat *= cooling
        node = chance(state) % count
        one, two = way.at[node], way.at[_walked(net, node, state)]
        three = way.at[_walked(net, node, state)]
        i, k = min(one, two, three) + 1, max(one, two, three) + 1
        j = one + two + three + 3 - i - k
        if j in (i, k) or not _may_swap(net, way, i, j, k):
            i = 1 + chance(state) % (count - 2)
            j = i + 1 + chance(state) % _SPAN
            k = j + 1 + chance(state) % _SPAN
            if k > count or not _may_swap(net, way, i, j, k):
                continue
        before, head, tail = way.order[i - 1], way.order[i], way.order[j - 1]
        second, end = way.order[j], way.order[k - 1]
        gain = step(net, way.door[before], way.door[head])
        gain += step(net, way.door[tail], way.door[second])
        gain -= step(net, way.door[before], way.door[second])
        gain -= step(net, way.door[end], way.door[head])
        if k < count:
            after = way.door[way.order[k]]
            gain += step(net, way.door[end], after) - step(net, way.door[tail], after)
        way.counts[2] = 0
        _swap(way, room, i, j, k)
        _note(way, _SWAP, i, j, k)
        _wait_round(way, i)
        _wait_round(way, i + k - j)
        _wait_round(way, k)
        gain += _improve(net, way, room, False)
        if gain < heat * np.log((chance(state) + 0.5) / 2147483648.0):
            _take_back(net, way, room)
