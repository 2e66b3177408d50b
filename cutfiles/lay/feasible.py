"""Whether a layout is allowed, by shapely: independent of every engine, and no score."""

from __future__ import annotations

from collections import Counter

import shapely

from cutfiles.lay.edge_to_edge import share_a_side
from cutfiles.lay.problem import StripLayout, StripProblem, placed_outlines


def layout_faults(problem: StripProblem, layout: StripLayout, *, tolerance: float) -> list[str]:
    """Everything that is wrong with a layout, in words; empty for a good one.

    Each shape is there as often as asked, in an allowed turn and in register, ``margin`` inside
    the strip, ``gap`` from its neighbours, or edge to edge where the problem lets it, and clear of
    every obstacle, all within the tolerance.
    n log n in the number of pieces.
    """
    faults = []
    counted = Counter(spot.shape for spot in layout.spots)
    for index, shape in enumerate(problem.shapes):
        if counted[index] != shape.count:
            faults.append(f"{shape.name}: {counted[index]} placed, {shape.count} asked for")
    for spot in layout.spots:
        if spot.motion.turn_deg not in problem.shapes[spot.shape].turns_deg:
            name = problem.shapes[spot.shape].name
            faults.append(f"{name}: turned by {spot.motion.turn_deg} degrees, which is not allowed")
        register = problem.shapes[spot.shape].register
        if register is not None and not register.is_kept(spot.motion, tolerance):
            faults.append(f"{problem.shapes[spot.shape].name}: out of register")
    outlines = placed_outlines(problem, layout)
    low, high = problem.margin - tolerance, problem.width - problem.margin + tolerance
    far = layout.length - problem.margin + tolerance
    for spot, outline in zip(layout.spots, outlines, strict=True):
        x0, y0, x1, y1 = outline.bounds
        shape = problem.shapes[spot.shape]
        if x0 < low or (y0 < low and not shape.is_on_fold) or y1 > high or x1 > far:
            faults.append(f"{shape.name}: not inside the strip's margins")
    for one, other in close_pairs(outlines, problem.gap - tolerance):
        if problem.edge_to_edge and share_a_side(outlines[one], outlines[other], tolerance):
            continue
        names = [problem.shapes[layout.spots[i].shape].name for i in (one, other)]
        faults.append(f"{names[0]} and {names[1]}: nearer than the gap")
    for index in sorted({index for index, _ in near_obstacles(problem, outlines, tolerance)}):
        faults.append(f"{problem.shapes[layout.spots[index].shape].name}: too near an obstacle")
    return faults


def near_obstacles(
    problem: StripProblem, outlines: list[shapely.Polygon], tolerance: float
) -> list[tuple[int, int]]:
    """Which outlines overlap which obstacle, or lie within its clearance, by more than the
    tolerance."""
    tree = shapely.STRtree(outlines)
    found: list[tuple[int, int]] = []
    for number, obstacle in enumerate(problem.obstacles):
        clearance = obstacle.clearance - tolerance
        if clearance > 0.0:
            near = tree.query(obstacle.outline, predicate="dwithin", distance=clearance)
        else:
            shrunk = obstacle.outline.buffer(clearance, join_style="mitre")
            near = tree.query(shrunk, predicate="intersects")
        found.extend((int(index), number) for index in near)
    return sorted(found)


def close_pairs(outlines: list[shapely.Polygon], gap: float) -> list[tuple[int, int]]:
    """Pairs of outlines nearer to each other than ``gap``; overlapping ones for a gap of 0 or
    less, where a depth of ``-gap`` is let pass."""
    if gap <= 0.0:
        shrunk = shapely.buffer(outlines, gap / 2.0, join_style="mitre")
        tree = shapely.STRtree(shrunk)
        first, second = tree.query(shrunk, predicate="intersects")
        return [
            (int(i), int(j))
            for i, j in zip(first, second, strict=True)
            if i < j and not shapely.touches(shrunk[i], shrunk[j])
        ]
    tree = shapely.STRtree(outlines)
    first, second = tree.query(outlines, predicate="dwithin", distance=gap)
    return [(int(i), int(j)) for i, j in zip(first, second, strict=True) if i < j]
