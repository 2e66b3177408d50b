"""A short way through points: 2-opt and Or-opt to a local optimum, then seeded kicks.

The way is an open path that begins at a given place and may end anywhere. The same points and
seed give the same way: the search is bound by iterations, never by time. 2-opt is due to G. A.
Croes, "A Method for Solving Traveling-Salesman Problems", Operations Research 6(6), 1958; Or-opt
to I. Or, thesis, Northwestern University, 1976; the kicks are the double bridge of O. Martin,
S. W. Otto, E. W. Felten, "Large-Step Markov Chains for the Traveling Salesman Problem", Complex
Systems 5, 1991.
"""

from __future__ import annotations

import itertools
import math
import random

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

_NEIGHBOURS = 10
_LONGEST_MOVED = 3
_GAIN = 1e-9


def short_way(points: npt.NDArray[np.float64], *, seed: int, kicks: int) -> list[int]:
    """The order in which to visit points ``(n, 2)``, beginning with the first.

    ``kicks`` bounds the search after the first local optimum; each costs about n steps.
    """
    count = len(points)
    if count <= 3:
        return _best_of_few(points)
    walker = _Walker(points)
    best = walker.way[:]
    best_length = walker.length()
    rng = random.Random(seed)
    for _ in range(kicks if count >= 8 else 0):
        walker.kick(rng)
        length = walker.length()
        if length < best_length - _GAIN:
            best, best_length = walker.way[:], length
        else:
            walker.reset(best)
    return best


def way_length(points: npt.NDArray[np.float64], way: list[int]) -> float:
    """The length of a way through points."""
    steps = np.diff(points[way], axis=0)
    return float(np.hypot(steps[:, 0], steps[:, 1]).sum())


def nearest_neighbour_way(points: npt.NDArray[np.float64]) -> list[int]:
    """Always on to the nearest point not visited yet, beginning with the first."""
    waiting = np.ones(len(points), dtype=bool)
    way = [0]
    waiting[0] = False
    for _ in range(len(points) - 1):
        away = np.hypot(*(points - points[way[-1]]).T)
        away[~waiting] = np.inf
        way.append(int(np.argmin(away)))
        waiting[way[-1]] = False
    return way


def _best_of_few(points: npt.NDArray[np.float64]) -> list[int]:
    if len(points) < 3:
        return list(range(len(points)))
    return min(([0, 1, 2], [0, 2, 1]), key=lambda way: way_length(points, way))


class _Walker:
    """A way and its positions, improved in place until no move helps."""

    def __init__(self, points: npt.NDArray[np.float64]) -> None:
        self._x: list[float] = points[:, 0].tolist()
        self._y: list[float] = points[:, 1].tolist()
        count = len(points)
        _, near = cKDTree(points).query(points, k=min(_NEIGHBOURS + 1, count))
        self._near: list[list[int]] = [
            [int(j) for j in row if j != i] for i, row in enumerate(np.atleast_2d(near).tolist())
        ]
        self.way: list[int] = []
        self._at: list[int] = [0] * count
        self.reset(nearest_neighbour_way(points))
        self._improve(list(range(count)))

    def length(self) -> float:
        way = self.way
        return sum(self._apart(a, b) for a, b in itertools.pairwise(way))

    def reset(self, way: list[int]) -> None:
        self.way = way[:]
        for position, node in enumerate(self.way):
            self._at[node] = position

    def kick(self, rng: random.Random) -> None:
        """A double bridge over a short stretch, then mend what it broke."""
        count = len(self.way)
        span = min(count - 1, 50)
        start = rng.randrange(1, count - span + 1)
        a, b, c = sorted(rng.sample(range(start, start + span), 3)) if span >= 3 else (1, 2, 3)
        way = self.way
        self.reset(way[:a] + way[b:c] + way[a:b] + way[c:])
        touched = {a - 1, a, a + c - b - 1, a + c - b, c - 1, min(c, count - 1)}
        self._improve([self.way[position] for position in sorted(touched)])

    def _apart(self, a: int, b: int) -> float:
        return math.hypot(self._x[a] - self._x[b], self._y[a] - self._y[b])

    def _improve(self, queue: list[int]) -> None:
        waiting = queue[::-1]
        queued = set(waiting)
        while waiting:
            node = waiting.pop()
            queued.discard(node)
            touched = self._two_opt(node) or self._or_opt(node)
            for other in touched or ():
                if other not in queued:
                    queued.add(other)
                    waiting.append(other)

    def _two_opt(self, node: int) -> tuple[int, ...] | None:
        """Turn a stretch round, if that shortens the way."""
        way, at = self.way, self._at
        last = len(way) - 1
        i = at[node]
        if i < last:  # replace the step after the node
            after = way[i + 1]
            step = self._apart(node, after)
            for other in self._near[node]:
                near = self._apart(node, other)
                if near >= step:
                    break
                j = at[other]
                beyond = way[j + 1] if j < last else None
                gain = step - near
                if beyond is not None:
                    gain += self._apart(other, beyond) - self._apart(after, beyond)
                if gain > _GAIN:
                    self._turn_round(min(i, j) + 1, max(i, j))
                    return self._ends(node, after, other, beyond)
        if i > 0:  # replace the step before the node
            before = way[i - 1]
            step = self._apart(before, node)
            for other in self._near[node]:
                near = self._apart(node, other)
                if near >= step:
                    break
                j = at[other]
                if j == 0:
                    continue
                prior = way[j - 1]
                gain = step - near + self._apart(prior, other) - self._apart(before, prior)
                if gain > _GAIN:
                    self._turn_round(min(i, j), max(i, j) - 1)
                    return self._ends(node, before, other, prior)
            # the way may end anywhere: turning its tail round replaces this one step
            tail = way[last]
            if step - self._apart(before, tail) > _GAIN:
                self._turn_round(i, last)
                return self._ends(node, before, tail, None)
        return None

    def _or_opt(self, node: int) -> tuple[int, ...] | None:
        """Move one to three nodes, starting or ending with this one, next to a neighbour."""
        way, at = self.way, self._at
        last = len(way) - 1
        for size in range(1, _LONGEST_MOVED + 1):
            for low in {at[node], at[node] - size + 1}:
                high = low + size - 1
                if low < 1 or high > last:
                    continue
                head, tail = way[low], way[high]
                before = way[low - 1]
                after = way[high + 1] if high < last else None
                freed = self._apart(before, head)
                if after is not None:
                    freed += self._apart(tail, after) - self._apart(before, after)
                if freed <= _GAIN:
                    continue
                found = self._place_for(low, high, freed)
                if found is not None:
                    position, turned = found
                    self._move(low, high, position, turned=turned)
                    return self._ends(head, tail, before, after)
        return None

    def _place_for(self, low: int, high: int, freed: float) -> tuple[int, bool] | None:
        """The step (its first position) to put a stretch into, and whether to turn it round."""
        way, at = self.way, self._at
        last = len(way) - 1
        head, tail = way[low], way[high]
        for node, far, turned in ((head, tail, False), (tail, head, True)):
            for other in self._near[node]:
                if self._apart(node, other) >= freed:
                    break
                j = at[other]
                if low <= j <= high:
                    continue
                # after ``other``: other - node .. far - next
                if j != low - 1:
                    beyond = way[j + 1] if j < last else None
                    added = self._apart(other, node)
                    if beyond is not None:
                        added += self._apart(far, beyond) - self._apart(other, beyond)
                    if added < freed - _GAIN:
                        return j, turned
                # before ``other``: previous - far .. node - other
                if j > 0 and j - 1 != high:
                    prior = way[j - 1]
                    added = (
                        self._apart(node, other)
                        + self._apart(prior, far)
                        - self._apart(prior, other)
                    )
                    if added < freed - _GAIN:
                        return j - 1, not turned
        return None

    def _move(self, low: int, high: int, position: int, *, turned: bool) -> None:
        way = self.way
        stretch = way[low : high + 1]
        if turned:
            stretch = stretch[::-1]
        if position < low:
            changed = stretch + way[position + 1 : low]
            first = position + 1
        else:
            changed = way[high + 1 : position + 1] + stretch
            first = low
        way[first : first + len(changed)] = changed
        for offset, node in enumerate(changed):
            self._at[node] = first + offset

    def _turn_round(self, low: int, high: int) -> None:
        stretch = self.way[low : high + 1][::-1]
        self.way[low : high + 1] = stretch
        for offset, node in enumerate(stretch):
            self._at[node] = low + offset

    @staticmethod
    def _ends(*nodes: int | None) -> tuple[int, ...]:
        return tuple(node for node in nodes if node is not None)
