"""A short way through strokes, each entered at one of its doors, some before others.

The way begins at a given place and may end anywhere. It starts as always on to the nearest door;
then in turns the search of `cutfiles.cuts.search` mends it, and dynamic programming finds the best
doors for its order. The same doors, seed and kicks give the same way: the search is bound by
iterations, never by time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from cutfiles.cuts.entries import Array, Doors
from cutfiles.cuts.net import (
    AFTER,
    ALL_EVEN,
    BEFORE,
    DOOR,
    EVEN,
    FIRST,
    IN_X,
    LEAST,
    LEFT,
    NEAR,
    NEIGHBOUR,
    ORDER,
    OUT_X,
    REACH,
    RIGHT,
    TURNS,
    Ints,
    Net,
    best_doors,
    least_apart,
    nearest_way,
)
from cutfiles.cuts.search import search

_THINNED = 8
"""Doors of each stroke by which its neighbours are found; how near these are is measured by all."""

_ROUNDS = 6
_HEAT = 0.3
"""Of the mean step: how much longer a kick may readily make the way at first."""

_COOLED = 0.05
"""What is left of that at the end. These figures were found by trying."""

_LOG = 4096
_AT_ONCE = 1000
"""Nodes whose neighbours are sought in one table."""


@dataclass(frozen=True, slots=True)
class Tour:
    """A way: the strokes in order, the door of each, and how far it is in mm."""

    order: tuple[int, ...]
    picks: tuple[int, ...]
    length_mm: float


def short_tour(
    doors: Sequence[Doors],
    pairs: Sequence[tuple[int, int]],
    start: tuple[float, float],
    *,
    seed: int,
    kicks: int,
) -> Tour:
    """A short way from a place through every stroke.

    ``pairs`` say which stroke comes before which. ``kicks`` bounds the search after the first
    local optimum; each costs a few microseconds.
    """
    net = _net(doors, pairs, start)
    nearest_way(net, float(net.discs[:, REACH].max()))
    length = _settled(net)
    count = len(net.nodes)
    best, order, door = length, _order(net), net.line[DOOR].copy()
    state = np.array([2 * seed + 1], dtype=np.uint64)
    heat = _HEAT * length / count
    cooling = _COOLED ** (1.0 / max(kicks, 1))
    for number in range(_ROUNDS + 1 if count > 3 else 1):
        each = kicks // _ROUNDS if number else 0
        search(net, state, each, heat, cooling)
        heat *= cooling**each
        length = _settled(net)
        if length < best:
            best, order, door = length, _order(net), net.line[DOOR].copy()
    return _tour(net, order, door, best)


def nearest_tour(
    doors: Sequence[Doors], pairs: Sequence[tuple[int, int]], start: tuple[float, float]
) -> Tour:
    """Always on to the nearest door of a stroke that may come next."""
    net = _net(doors, pairs, start)
    nearest_way(net, float(net.discs[:, REACH].max()))
    order, door = _order(net), net.line[DOOR]
    through = net.places[door[order]]
    steps = through[1:, IN_X : IN_X + 2] - through[:-1, OUT_X : OUT_X + 2]
    return _tour(net, order, door, float(np.hypot(*steps.T).sum()))


def _tour(net: Net, order: Ints, door: Ints, length_mm: float) -> Tour:
    nodes = order[1:]
    picks = door[nodes] - net.nodes[nodes, FIRST]
    return Tour(tuple((nodes - 1).tolist()), tuple(picks.tolist()), length_mm)


def _order(net: Net) -> Ints:
    return np.array(net.line[ORDER])


def _settled(net: Net) -> float:
    """The length of a way through its best doors, which it takes."""
    doors = len(net.places)
    return float(best_doors(net, np.zeros(doors), np.zeros(doors, dtype=np.int64)))


def _net(
    doors: Sequence[Doors], pairs: Sequence[tuple[int, int]], start: tuple[float, float]
) -> Net:
    """The strokes as nodes from 1 on; node 0 is the start."""
    here = np.array([start], dtype=np.float64)
    entries = np.vstack([here, *(door.entries for door in doors)])
    exits = np.vstack([here, *(door.exits for door in doors)])
    first = np.cumsum([0, 1, *(len(door.numbers) for door in doors)], dtype=np.int64)
    turns = np.array([False, *(door.turns for door in doors)])
    after_first, after = _grouped([(one + 1, two + 1) for one, two in pairs], len(doors) + 1)
    before_first, before = _grouped([(two + 1, one + 1) for one, two in pairs], len(doors) + 1)
    owner = np.repeat(np.arange(len(doors) + 1), np.diff(first))
    in_one_place = (entries == exits).all(axis=1)
    near = _near(entries, first)
    middles = np.add.reduceat(entries, first[:-1]) / np.diff(first)[:, None]
    off = [np.hypot(*(places - middles[owner]).T) for places in (entries, exits)]
    reaches = np.maximum.reduceat(np.maximum(*off), first[:-1])
    count = len(first) - 1
    nodes = np.zeros((count, NEIGHBOUR + NEAR), dtype=np.int64)
    groups = (FIRST, first), (AFTER, after_first), (BEFORE, before_first + len(after))
    for column, begins in groups:
        nodes[:, column], nodes[:, column + 1] = begins[:-1], begins[1:]
    nodes[:, NEIGHBOUR:] = near
    discs = np.column_stack((middles, reaches, np.zeros(near.shape)))
    places = np.ascontiguousarray(np.hstack((entries, exits)))
    line = np.zeros((RIGHT + 1, count), dtype=np.int64)
    line[TURNS] = turns
    line[EVEN] = turns | np.logical_and.reduceat(in_one_place, first[:-1])
    by_x = np.argsort(middles[:, 0], kind="stable")
    line[LEFT, by_x], line[RIGHT, by_x] = np.append(-1, by_x[:-1]), np.append(by_x[1:], -1)
    log = np.zeros((_LOG + 1, 4), dtype=np.int64)
    log[0, ALL_EVEN] = line[EVEN].all()
    net = Net(nodes, discs, places, line, np.concatenate((after, before)), log)
    least_apart(net)
    by_distance = np.argsort(discs[:, LEAST:], axis=1, kind="stable")
    nodes[:, NEIGHBOUR:] = np.take_along_axis(near, by_distance, axis=1)
    discs[:, LEAST:] = np.take_along_axis(discs[:, LEAST:], by_distance, axis=1)
    return net


def _grouped(pairs: list[tuple[int, int]], count: int) -> tuple[Ints, Ints]:
    """The second of each pair by the first: where each group begins, and the groups in one."""
    table = np.array(sorted(pairs), dtype=np.int64).reshape(-1, 2)
    first = np.searchsorted(table[:, 0], np.arange(count + 1)).astype(np.int64)
    return first, np.ascontiguousarray(table[:, 1])


def _near(entries: Array, first: Ints) -> Ints:
    """For each node the nodes with the doors nearest to any of its own, ``(n, k)``; -1 where there
    are fewer."""
    count = len(first) - 1
    sizes = np.diff(first)
    # every so many of a node's doors, each once
    thinned = np.arange(_THINNED) * sizes[:, None] // _THINNED
    is_kept = np.diff(thinned, axis=1, prepend=-1) > 0
    owner = np.nonzero(is_kept)[0]
    points = entries[(first[:-1, None] + thinned)[is_kept]]
    tree = cKDTree(points)
    near = np.full((count, NEAR), -1, dtype=np.int64)
    for low in range(0, count, _AT_ONCE):
        here = slice(*np.searchsorted(owner, (low, low + _AT_ONCE)).tolist())
        _fill_near(near, tree, points[here], owner[here], owner)
    return near


def _fill_near(near: Ints, tree: cKDTree, points: Array, owner: Ints, owners: Ints) -> None:
    """Fill in the neighbours of the nodes that own some points of a tree, whose points have these
    owners."""
    reach = min(_THINNED + 3 * NEAR, len(owners))
    away, found = (np.reshape(t, (len(points), reach)) for t in tree.query(points, k=reach))
    one, other, apart = np.repeat(owner, reach), owners[found].ravel(), away.ravel()
    apart, one, other = apart[one != other], one[one != other], other[one != other]
    by_pair = np.lexsort((apart, other, one))
    one, other, apart = one[by_pair], other[by_pair], apart[by_pair]
    fresh = np.ones(len(one), dtype=bool)
    fresh[1:] = (one[1:] != one[:-1]) | (other[1:] != other[:-1])
    one, other, apart = one[fresh], other[fresh], apart[fresh]
    nearest_first = np.lexsort((apart, one))
    one, other = one[nearest_first], other[nearest_first]
    rank = np.arange(len(one)) - np.searchsorted(one, one)
    within = rank < NEAR
    near[one[within], rank[within]] = other[within]
