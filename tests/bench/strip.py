"""Nest one published strip instance through the function that `make` uses; print one JSON line.

``python tests/bench/strip.py INSTANCE.json --seconds S --seed N``. ``valid`` is a check of its
own: no two pieces overlap by more than 1e-6 of the strip's height in depth, none leaves the
strip, each is there as often as demanded and in an allowed turn.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter
from pathlib import Path
from typing import Any

import shapely
from shapely.affinity import rotate, translate
from shapely.geometry import Polygon

from cutfiles.lay.nest import nest_strip
from cutfiles.lay.problem import Shape, StripLayout, StripProblem, Watch

DEPTH_SHARE = 1e-6


def read_instance(path: Path) -> StripProblem:
    """An instance file as a strip problem in its own unit, without gap or margin."""
    table: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    shapes = tuple(
        Shape(str(item["id"]), Polygon(item["shape"]), turns_of(item), item["demand"])
        for item in table["items"]
    )
    return StripProblem(float(table["strip_height"]), 0.0, 0.0, shapes)


def turns_of(item: dict[str, Any]) -> tuple[float, ...]:
    """The allowed turns of an item."""
    return tuple(float(turn) for turn in item["allowed_orientations"])


def is_valid(problem: StripProblem, layout: StripLayout) -> bool:
    """Judge a layout by shapely's own motions and by erosion: independent of the nest."""
    depth = DEPTH_SHARE * problem.width
    if Counter(s.shape for s in layout.spots) != {
        k: shape.count for k, shape in enumerate(problem.shapes)
    }:
        return False
    placed = []
    for spot in layout.spots:
        shape = problem.shapes[spot.shape]
        if spot.motion.turn_deg not in shape.turns_deg:
            return False
        turned = rotate(shape.outline, spot.motion.turn_deg, origin=(0, 0))
        placed.append(translate(turned, spot.motion.shift.x, spot.motion.shift.y))
    strip = shapely.box(-depth, -depth, layout.length + depth, problem.width + depth)
    if not all(strip.covers(outline) for outline in placed):
        return False
    # two outlines eroded by half the depth still meet only if they overlap by more than it
    eroded = shapely.buffer(placed, -depth / 2.0, join_style="mitre")
    tree = shapely.STRtree(eroded)
    first, second = tree.query(eroded, predicate="intersects")
    return not any(
        i < j and shapely.intersection(eroded[i], eroded[j]).area > depth * depth
        for i, j in zip(first.tolist(), second.tolist(), strict=True)
    )


def main() -> None:
    """Run one instance."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("instance", type=Path)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    problem = read_instance(options.instance)
    start = time.monotonic()
    layout = nest_strip(
        problem,
        seed=options.seed,
        watch=Watch(options.seconds),
        tolerance=DEPTH_SHARE * problem.width,
    )
    seconds = time.monotonic() - start
    row = {
        "instance": options.instance.stem,
        "length": round(layout.length, 6),
        "density": round(layout.efficiency(problem), 6),
        "seconds": round(seconds, 2),
        "valid": is_valid(problem, layout),
    }
    print(json.dumps(row))


if __name__ == "__main__":
    main()
