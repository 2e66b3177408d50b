"""Ways through any strokes: everything once, nothing before what it must follow, no detour."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutfiles.cuts.entries import Doors
from cutfiles.cuts.tour import nearest_tour, short_tour


def some_doors(count: int, seed: int) -> list[Doors]:
    """Points, lines that go one way or either, and closed strokes; some in one place."""
    rng = np.random.default_rng(seed)
    doors = []
    for _ in range(count):
        places = np.round(rng.random((int(rng.integers(1, 6)), 2)) * 20) * 5
        kind = rng.integers(3)
        if kind == 0:  # one way
            doors.append(Doors((0,), places[:1], places[-1:]))
        elif kind == 1 and len(places) > 1:  # either way
            doors.append(Doors((0, len(places) - 1), places[[0, -1]], places[[-1, 0]]))
        else:
            doors.append(Doors(tuple(range(len(places))), places, places))
    return doors


@given(
    seed=st.integers(0, 10_000),
    count=st.integers(1, 40),
    links=st.lists(st.tuples(st.integers(0, 39), st.integers(0, 39)), max_size=60),
)
def test_a_way_visits_everything_once_in_turn_and_is_no_detour(
    seed: int, count: int, links: list[tuple[int, int]]
) -> None:
    # pairs that go up in number hold no ring; the numbers are shuffled, so that it does not show
    rank = np.random.default_rng(seed).permutation(count).tolist()
    pairs = sorted(
        {(rank[min(a, b)], rank[max(a, b)]) for a, b in links if a != b and max(a, b) < count}
    )
    doors = some_doors(count, seed)
    tour = short_tour(doors, pairs, (0.0, 0.0), seed=seed, kicks=200)
    assert sorted(tour.order) == list(range(count))
    at = {k: place for place, k in enumerate(tour.order)}
    assert all(at[one] < at[two] for one, two in pairs)
    place, length = (0.0, 0.0), 0.0
    for k, pick in zip(tour.order, tour.picks, strict=True):
        length += math.dist(place, doors[k].entries[pick])
        place = tuple(doors[k].exits[pick])
    assert tour.length_mm == pytest.approx(length, rel=1e-9, abs=1e-9)
    assert length <= nearest_tour(doors, pairs, (0.0, 0.0)).length_mm + 1e-6
