"""A short way through doors, against every order tried, bounds and published optima."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial.distance import cdist

from cutfiles.cuts.entries import Array, Doors
from cutfiles.cuts.tour import nearest_tour, short_tour


def spots(points: Array) -> list[Doors]:
    """Points to visit, each with one door."""
    return [Doors((0,), point[None, :], point[None, :]) for point in points]


def rings(count: int, doors: int, seed: int) -> list[Doors]:
    """Circles strewn about, each with some doors."""
    rng = np.random.default_rng(seed)
    angles = 2.0 * np.pi * np.arange(doors) / doors
    circle = np.column_stack([np.cos(angles), np.sin(angles)])
    found = []
    for middle, radius in zip(
        rng.random((count, 2)) * 1000, rng.uniform(5, 60, count), strict=True
    ):
        places = middle + radius * circle
        found.append(Doors(tuple(range(doors)), places, places))
    return found


def least_of_all(
    doors: list[Doors], pairs: list[tuple[int, int]], start: tuple[float, float]
) -> float:
    """Every order that heeds the pairs, every door: by dynamic programming over sets of strokes
    (M. Held, R. M. Karp, "A Dynamic Programming Approach to Sequencing Problems", 1962)."""
    count = len(doors)
    needs = [sum(1 << one for one, two in pairs if two == k) for k in range(count)]
    # for each set of strokes done, the least length to every last stroke and door
    best: dict[tuple[int, int, int], float] = {}
    for done in range(1, 1 << count):
        for last in (k for k in range(count) if done >> k & 1):
            rest = done ^ (1 << last)
            if needs[last] & ~rest:
                continue
            for d, entry in enumerate(doors[last].entries):
                if not rest:
                    best[done, last, d] = math.dist(start, entry)
                    continue
                ways = [
                    best[rest, k, e] + math.dist(exit_, entry)
                    for k in range(count)
                    if rest >> k & 1
                    for e, exit_ in enumerate(doors[k].exits)
                    if (rest, k, e) in best
                ]
                if ways:
                    best[done, last, d] = min(ways)
    return min(length for (done, _, _), length in best.items() if done == (1 << count) - 1)


def length_of(doors: list[Doors], order: tuple[int, ...], picks: tuple[int, ...]) -> float:
    place, total = np.zeros(2), 0.0
    for k, pick in zip(order, picks, strict=True):
        total += math.dist(place, doors[k].entries[pick])
        place = doors[k].exits[pick]
    return total


@pytest.mark.parametrize("count", [1, 2, 3, 5, 8])
@pytest.mark.parametrize("seed", range(3))
def test_few_points_are_visited_the_shortest_way(count: int, seed: int) -> None:
    # reference: every order tried
    points = np.random.default_rng(seed).random((count, 2)) * 100
    steps = cdist(np.vstack([[0.0, 0.0], points]), np.vstack([[0.0, 0.0], points]))
    shortest = min(
        sum(steps[a, b] for a, b in itertools.pairwise((0, *order)))
        for order in itertools.permutations(range(1, count + 1))
    )
    tour = short_tour(spots(points), [], (0.0, 0.0), seed=1, kicks=500)
    assert sorted(tour.order) == list(range(count))
    assert tour.length_mm == pytest.approx(shortest, rel=1e-9)


@pytest.mark.parametrize("pairs", [[], [(0, 1), (1, 2), (6, 3)], [(7, k) for k in range(7)]])
@pytest.mark.parametrize("seed", range(3))
def test_few_contours_are_visited_the_shortest_way(seed: int, pairs: list[tuple[int, int]]) -> None:
    # reference: every set, last stroke and door, in a program of its own
    doors = rings(8, 6, seed)
    tour = short_tour(doors, pairs, (0.0, 0.0), seed=1, kicks=3000)
    assert tour.length_mm == pytest.approx(least_of_all(doors, pairs, (0.0, 0.0)), rel=1e-9)
    assert tour.length_mm == pytest.approx(length_of(doors, tour.order, tour.picks), rel=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_ways_against_their_bounds(seed: int) -> None:
    # derived: never longer than its start, never shorter than the minimum spanning tree (scipy)
    points = np.random.default_rng(seed).random((60, 2)) * 1000
    doors = spots(points)
    for kicks in (0, 300):
        tour = short_tour(doors, [], (0.0, 0.0), seed=1, kicks=kicks)
        assert sorted(tour.order) == list(range(60))
        assert tour.length_mm <= nearest_tour(doors, [], (0.0, 0.0)).length_mm + 1e-9
        here = np.vstack([[0.0, 0.0], points])
        assert tour.length_mm >= minimum_spanning_tree(cdist(here, here)).sum()
        assert tour == short_tour(doors, [], (0.0, 0.0), seed=1, kicks=kicks)


BERLIN52 = (
    "565 575 25 185 345 750 945 685 845 655 880 660 25 230 525 1000 580 1175 650 1130 1605 "
    "620 1220 580 1465 200 1530 5 845 680 725 370 145 665 415 635 510 875 560 365 300 465 520 "
    "585 480 415 835 625 975 580 1215 245 1320 315 1250 400 660 180 410 250 420 555 575 665 "
    "1150 1160 700 580 685 595 685 610 770 610 795 645 720 635 760 650 475 960 95 260 875 920 "
    "700 500 555 815 830 485 1170 65 830 610 605 625 595 360 1340 725 1740 245"
)
EIL51 = (
    "37 52 49 49 52 64 20 26 40 30 21 47 17 63 31 62 52 33 51 21 42 41 31 32 5 25 12 42 36 16 "
    "52 41 27 23 17 33 13 13 57 58 62 42 42 57 16 57 8 52 7 38 27 68 30 48 43 67 58 48 58 27 "
    "37 69 38 46 46 10 61 33 62 63 63 69 32 22 45 35 59 15 5 6 10 17 21 10 5 64 30 15 39 10 "
    "32 39 25 32 25 55 48 28 56 37 30 40"
)


@pytest.mark.parametrize(("text", "optimum"), [(BERLIN52, 7542), (EIL51, 426)])
def test_closed_tours_of_published_optimum(text: str, optimum: int) -> None:
    # G. Reinelt, "TSPLIB - A Traveling Salesman Problem Library", ORSA Journal on Computing 3(4),
    # 1991: berlin52 and eil51, steps rounded to whole numbers. Coordinates and optima from memory.
    points = np.array(text.split(), dtype=np.float64).reshape(-1, 2)
    count = len(points)
    back = np.vstack([points[1:], points[:1]])  # the first point again, which comes last
    pairs = [(k, count - 1) for k in range(count - 1)]
    tour = short_tour(
        spots(back), pairs, (float(points[0, 0]), float(points[0, 1])), seed=1, kicks=5000
    )
    assert tour.order[-1] == count - 1
    steps = np.diff(np.vstack([points[:1], back[list(tour.order)]]), axis=0)
    rounded = int(np.floor(np.hypot(steps[:, 0], steps[:, 1]) + 0.5).sum())
    assert optimum <= rounded <= 1.01 * optimum
