"""Paths of SVG as polylines, against svgpathtools on random ones."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
import svgpathtools

from cutfiles.verdict.svg_path import polylines
from tests.apart import farthest_mm


def random_path(seed: int, *, arcs: bool) -> str:
    """One to four subpaths in the normal form, open and closed, some back at their start."""
    rng = np.random.default_rng(seed)
    parts = []
    for _ in range(rng.integers(1, 5)):
        places = rng.uniform(-50.0, 50.0, (rng.integers(2, 9), 2)).round(4)
        if rng.random() < 0.3:
            places = np.vstack((places, places[:1]))
        steps = [f"M{places[0, 0]},{places[0, 1]}"]
        for before, (x, y) in itertools.pairwise(places):
            chord = float(np.hypot(*(before - (x, y))))
            if arcs and chord > 0.0 and rng.random() < 0.5:
                # now and then too small for its chord, which SVG makes half of it
                radius = round(chord * rng.uniform(0.4, 3.0), 9)
                large, sweep = rng.integers(0, 2, 2)
                steps.append(f"A{radius},{radius} 0 {large} {sweep} {x},{y}")
            else:
                steps.append(f"L{x},{y}")
        parts.append(" ".join(steps) + (" Z" if rng.random() < 0.5 else ""))
    return " ".join(parts)


def subpaths(data: str) -> list[np.ndarray]:
    points, counts = polylines(data)
    return np.split(points, np.cumsum(counts)[:-1]) if counts else []


@pytest.mark.parametrize("arcs", [False, True])
@pytest.mark.parametrize("seed", range(20))
def test_paths_are_those_of_svgpathtools(seed: int, *, arcs: bool) -> None:
    # reference: svgpathtools, each of its segments at 1000 places
    data = random_path(seed, arcs=arcs)
    shares = np.linspace(0.0, 1.0, 1000)
    wanted = []
    for part in svgpathtools.parse_path(data).continuous_subpaths():
        places = np.concatenate([[segment.point(t) for t in shares] for segment in part])
        wanted.append(np.column_stack((places.real, places.imag)))
    found = subpaths(data)
    assert len(found) == len(wanted)
    for one, other in zip(found, wanted, strict=True):
        assert one[[0, -1]] == pytest.approx(other[[0, -1]], abs=1e-9)
        # derived: chords stand off by 0.002 at most; those of 1/999 of a circle of radius 424, the
        # largest here, by 424 (1 - cos(pi / 999)) = 0.0021
        line, reference = shapely.LineString(one), shapely.LineString(other)
        assert farthest_mm(other, line) < 0.0021
        assert farthest_mm(one, reference) < 0.0022


def test_what_is_not_in_the_normal_form_goes_to_the_library() -> None:
    # derived: a square by relative and one-way steps; a straight cubic
    (square,) = subpaths("m 10 10 h 5 v 5 h -5 z")
    assert shapely.Polygon(square).equals(shapely.box(10, 10, 15, 15))
    (cubic,) = subpaths("M0,0 C10,0 20,0 30,0")
    assert cubic[[0, -1]].tolist() == [[0.0, 0.0], [30.0, 0.0]]


def test_a_lone_point_is_no_line() -> None:
    assert subpaths("M5,5") == []
    assert len(subpaths("M5,5 M0,0 L1,1")) == 1


def test_numbers_may_follow_each_other() -> None:
    # SVG 2, 9.3.9: a number ends where the next character can be no part of it
    (line,) = subpaths("M1.5.5 L-1-2")
    assert line.tolist() == [[1.5, 0.5], [-1.0, -2.0]]


@pytest.mark.parametrize(
    "data",
    [
        "M1 L3 4 5",  # as many numbers as there should be, not where they should be
        "M1 L2 3 4L5 6",
        "M0,0 L9,0 % L9,9 L0,9 Z",
        "M0,0 L9,0 L9,9 # L0,9",
        "M0,0 L1e999,0",
        f"M0,0 L{'9' * 400},0",
    ],
)
def test_what_a_renderer_stops_at_is_no_path(data: str) -> None:
    # SVG 2, 9.5.4: a path is drawn up to its first error, and the rest of it is not
    with pytest.raises((ValueError, IndexError, AssertionError)):
        polylines(data)
