"""What pinned pieces take of a strip, and what they leave to be laid."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from cutfiles.geometry.polygons import moved_polygon
from cutfiles.lay.problem import Obstacle, Spot, StripProblem


def of_counts(problem: StripProblem, counts: Mapping[int, int]) -> StripProblem | None:
    """The problem with so many of each shape; None for none at all."""
    shapes = tuple(
        replace(problem.shapes[k], count=count) for k, count in sorted(counts.items()) if count > 0
    )
    return replace(problem, shapes=shapes) if shapes else None


def end_of(problem: StripProblem, pinned: Sequence[Spot]) -> float:
    """How far along pinned pieces and their margin reach."""
    ends = (moved_polygon(problem.shapes[s.shape].outline, s.motion).bounds[2] for s in pinned)
    return max(ends, default=0.0) + problem.margin


def left_of(problem: StripProblem, pinned: Sequence[Spot]) -> dict[int, int]:
    """How many of each shape are not pinned; less than 0 where more are than there are."""
    counts = Counter(spot.shape for spot in pinned)
    return {k: shape.count - counts[k] for k, shape in enumerate(problem.shapes)}


def rest_of(problem: StripProblem, pinned: Sequence[Spot]) -> StripProblem | None:
    """What is not pinned, to be laid round what is; None for nothing."""
    rest = of_counts(problem, left_of(problem, pinned))
    if rest is None:
        return None
    obstacles = tuple(
        Obstacle(moved_polygon(problem.shapes[spot.shape].outline, spot.motion), problem.gap)
        for spot in pinned
    )
    return replace(rest, obstacles=problem.obstacles + obstacles)
