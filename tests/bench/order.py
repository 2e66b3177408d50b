"""How short the way through strewn contours is, and how long the search for it takes.

Prints one JSON line for each case. Contours are ellipses of 24 corners in the cells of a grid, all
by seed; under precedence a third of the strokes are outlines, a third their cut-outs and a third
their notches, in that order backwards. The reference is the best of many searches in the seconds
given: the program's own with other seeds and ten times the kicks, and where nothing must come
before anything `fast-tsp` (O. Mella and others, a solver of points) in turns with a dynamic program
over the entries of its order. The bound is that of M. Held and R. M. Karp ("The Traveling-Salesman
Problem and Minimum Spanning Trees", Operations Research 18(6), 1970) by subgradient ascent on the
least distances between contours: as if a tool could leave a contour anywhere at no cost, so that it
stays far below what can be reached.

    python tests/bench/order.py [--seconds S] [--counts 200 1000] [--large 1000 5000]
"""

from __future__ import annotations

import argparse
import json
import math
import resource
import sys
import time
from pathlib import Path

import fast_tsp
import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree
from scipy.spatial.distance import cdist

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from cutfiles.cuts.entries import Doors, doors_of
from cutfiles.cuts.order import ordered_strokes, travel_mm
from cutfiles.cuts.plan import Stroke
from cutfiles.cuts.precedence import must_precede
from cutfiles.cuts.tour import nearest_tour, short_tour

Array = npt.NDArray[np.float64]
START = (0.0, 0.0)


def contours(count: int, *, precedence: bool, seed: int) -> list[Stroke]:
    """Strewn strokes: outlines alone, or outlines with a cut-out and a notch each."""
    rng = np.random.default_rng(seed)
    pieces = math.ceil(count / 3) if precedence else count
    grid = math.ceil(math.sqrt(pieces))
    angles = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    strokes = []
    for number, cell in enumerate(rng.permutation(grid * grid)[:pieces].tolist()):
        middle = 100.0 * (np.array([cell % grid, cell // grid]) + 0.5)
        radius, flat, turn = rng.uniform(10, 48), rng.uniform(0.3, 1), rng.uniform(0, np.pi)
        level = radius * np.column_stack([np.cos(angles), flat * np.sin(angles)])
        spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        ring = level @ spin
        name = f"piece-{number}"

        def line(points: Array, at: Array = middle) -> tuple[tuple[float, float], ...]:
            return tuple((float(x), float(y)) for x, y in points + at)

        strokes.append(Stroke("outline", name, line(ring), closed=True))
        if precedence:
            strokes.append(Stroke("inner", name, line(0.4 * ring), closed=True))
            strokes.append(Stroke("notch", name, line(ring[5] * [[1.0], [0.8]]), closed=False))
    return strokes[:count]


def reference(
    doors: list[Doors], pairs: list[tuple[int, int]], seconds: float
) -> tuple[float, float]:
    """The shortest way found in so many seconds by other seeds and more kicks, and by the other
    solver; infinite where that cannot be asked."""
    until = time.monotonic() + seconds
    own, other, seed = math.inf, math.inf, 2
    if not pairs:
        other = by_points(doors, seconds / 4.0)
    while time.monotonic() < until:
        tour = short_tour(doors, pairs, START, seed=seed, kicks=100 * len(doors))
        own, seed = min(own, tour.length_mm), seed + 1
    return own, other


def by_points(doors: list[Doors], seconds: float) -> float:
    """`fast-tsp` on one entry of each contour, then the best entries of its order, five times."""
    middles = np.array([door.entries.mean(axis=0) for door in doors])
    best = math.inf
    spots = middles
    for _ in range(5):
        places = np.vstack([[START], spots])
        apart = cdist(places, places)
        far = 60_000  # of 65,535 that the solver takes
        steps = np.rint(apart * (far / 2.0 / apart.max())).astype(np.int64)
        count = len(places)
        # one more node beside the start, as far from all others: the way may end anywhere
        table = np.full((count + 1, count + 1), far)
        table[:count, :count] = steps
        table[count, 0] = table[0, count] = table[count, count] = 0
        cycle = fast_tsp.find_tour(table.tolist(), duration_seconds=seconds / 5.0)
        turned = np.roll(cycle, -cycle.index(0)).tolist()
        if turned[1] == count:
            turned = [0, *turned[:1:-1], count]
        order = [node - 1 for node in turned[1:] if node not in (0, count)]
        length, spots = best_entries(doors, order, spots)
        best = min(best, length)
    return best


def best_entries(doors: list[Doors], order: list[int], spots: Array) -> tuple[float, Array]:
    """The shortest way through closed contours in an order, and the entries that it takes."""
    cost, exits = np.zeros(1), np.array([START])
    back = []
    for k in order:
        total = cost[:, None] + cdist(exits, doors[k].entries)
        back.append(np.argmin(total, axis=0))
        cost, exits = total.min(axis=0), doors[k].exits
    pick = int(np.argmin(cost))
    spots = spots.copy()
    for k, came in zip(reversed(order), reversed(back), strict=True):
        spots[k] = doors[k].entries[pick]
        pick = int(came[pick])
    return float(cost.min()), spots


def least_steps(doors: list[Doors]) -> Array:
    """The least distance between every two contours and the start, which comes first."""
    sets = [np.array([START]), *(np.vstack([d.entries, d.exits]) for d in doors)]
    trees = [cKDTree(points) for points in sets]
    everything = np.vstack(sets)
    first = np.cumsum([0, *(len(points) for points in sets[:-1])])
    return np.array([np.minimum.reduceat(tree.query(everything)[0], first) for tree in trees])


def held_karp(steps: Array, rounds: int = 300) -> float:
    """A bound from below on an open way from node 0 through all others: one node more is next to
    all others at no cost, and its tour is no longer than any such way."""
    count = len(steps)
    table = np.zeros((count + 1, count + 1))
    table[:count, :count] = steps
    weights = np.zeros(count + 1)
    best, size = 0.0, 2.0
    for number in range(rounds):
        priced = table + weights[:, None] + weights[None, :]
        degrees = np.zeros(count + 1, dtype=np.int64)
        # a spanning tree of all but the last node (Prim), and the two cheapest steps of that
        away, parent = priced[0, :count].copy(), np.zeros(count, dtype=np.int64)
        waiting = np.ones(count, dtype=bool)
        waiting[0] = False
        length = 0.0
        for _ in range(count - 1):
            node = int(np.argmin(np.where(waiting, away, np.inf)))
            length += away[node]
            degrees[node] += 1
            degrees[parent[node]] += 1
            waiting[node] = False
            nearer = priced[node, :count] < away
            away[nearer], parent[nearer] = priced[node, :count][nearer], node
        two = np.argsort(priced[count, :count], kind="stable")[:2]
        length += priced[count, two].sum()
        degrees[two] += 1
        degrees[count] = 2
        bound = length - 2.0 * weights.sum()
        best = max(best, bound)
        if (number + 1) % 30 == 0:
            size /= 1.6
        slope = degrees - 2
        if not slope.any():
            break
        weights += size * 0.02 * best / float((slope**2).sum()) * slope
    return best


def compared(count: int, *, precedence: bool, seconds: float) -> dict[str, object]:
    strokes = contours(count, precedence=precedence, seed=1)
    doors, pairs = doors_of(strokes), must_precede(strokes)
    found = travel_mm(ordered_strokes(strokes, seed=1))
    own, other = reference(doors, pairs, seconds)
    best = min(found, own, other)
    return {
        "contours": count,
        "precedence": precedence,
        "travel_mm": round(found, 1),
        "to_best": round(found / best, 4),
        "best_mm": round(best, 1),
        "by_points_mm": None if math.isinf(other) else round(other, 1),
        "nearest_mm": round(nearest_tour(doors, pairs, START).length_mm, 1),
        "as_nested_mm": round(travel_mm(strokes), 1),
        "bound_mm": round(held_karp(least_steps(doors)), 1),
        "reference_s": seconds,
    }


def timed(count: int) -> dict[str, object]:
    strokes = contours(count, precedence=False, seed=1)
    began, used = time.perf_counter(), time.process_time()
    ordered_strokes(strokes, seed=1)
    return {
        "contours": count,
        "seconds": round(time.perf_counter() - began, 2),
        "processor_s": round(time.process_time() - used, 2),
        "peak_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--counts", type=int, nargs="*", default=[200, 1000])
    parser.add_argument("--large", type=int, nargs="*", default=[1000, 5000])
    given = parser.parse_args()
    ordered_strokes(contours(30, precedence=True, seed=1), seed=1)  # loads what is compiled
    for count in given.large:
        print(json.dumps(timed(count)), flush=True)
    for count in given.counts:
        for precedence in (False, True):
            row = compared(count, precedence=precedence, seconds=given.seconds)
            print(json.dumps(row), flush=True)


if __name__ == "__main__":
    main()
