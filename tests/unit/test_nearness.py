"""Whether two outlines are the same, against distances of all corners from all sides."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon

from cutfiles.verdict.nearness import are_near


def outline(seed: int) -> np.ndarray:
    """The corners of a star-shaped outline."""
    rng = np.random.default_rng(seed)
    angles = np.sort(rng.uniform(0.0, 2.0 * np.pi, rng.integers(5, 40)))
    reach = rng.uniform(20.0, 60.0, len(angles))
    return np.column_stack((reach * np.cos(angles), reach * np.sin(angles)))


def farthest(one: Polygon, other: Polygon) -> float:
    """Of the corners of both from the other's outline (reference: shapely, all with all)."""
    return max(
        float(shapely.distance(b.exterior, shapely.points(a.exterior.coords)).max())
        for a, b in ((one, other), (other, one))
    )


@pytest.mark.parametrize("seed", range(60))
def test_nearness_is_the_distance_of_the_farthest_corner(seed: int) -> None:
    rng = np.random.default_rng(1000 + seed)
    corners = outline(seed)
    moved = corners + rng.normal(0.0, 0.02, corners.shape)
    if seed % 3 == 0:  # one corner far off, or more corners on one side
        moved[rng.integers(len(moved))] *= 1.05
    if seed % 4 == 0:
        moved = np.insert(moved, 1, moved[:2].mean(axis=0), axis=0)
    # begun elsewhere, and the other way round
    moved = np.roll(moved, rng.integers(len(moved)), axis=0)[:: rng.choice([-1, 1])]
    one, other = Polygon(corners), Polygon(moved)
    far = farthest(one, other)
    assert are_near([one, other], [other, one], far * 1.0001).all()
    assert not are_near([one, other], [other, one], far * 0.9999).any()


def test_pairs_are_told_apart() -> None:
    # derived: each outline is itself to any tolerance; of another seed it is a millimetre off
    ones = [Polygon(outline(seed)) for seed in range(600)]
    others = [Polygon(outline(seed + (seed % 7 == 0))) for seed in range(600)]
    assert are_near(ones, others, 0.001).tolist() == [seed % 7 != 0 for seed in range(600)]
