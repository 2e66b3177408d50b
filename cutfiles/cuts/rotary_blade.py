"""The passes of a round blade: the line of its axle, lifted at every corner.

A blade of radius r that stands x deep cuts c(x) = sqrt(2 r x - x2) before and behind its axle. For
the lowest ply to be cut to a corner and no further, the axle stops c(p) short of it, p being the
depth in the mat; the top of a stack of height t is then cut c(t + p) - c(p) beyond. Round a
curve of radius R the ends of its cut stand R - sqrt(R2 - c2) off the line (all derived).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely.geometry import LineString

from cutfiles.cuts.plan import Pass, Stroke
from cutfiles.cuts.starts import corners_of
from cutfiles.cuts.stretch import as_pass, parted, region_of, stretch
from cutfiles.geometry.bulges import Span
from cutfiles.job.machine import RotaryBlade
from cutfiles.tolerances import LAY_MM

_INTO_MM: Final = 0.05
"""A cut into a piece shallower than this is rounding."""


@dataclass(frozen=True, slots=True)
class BladeWork:
    """What a blade does to one stroke: how many of its runs are shorter than its own cut, how deep
    it cuts into the stroke's own piece beyond corners, and the tightest curve in it."""

    short_runs: int
    into_mm: float
    tightest_mm: float


def runs_of(stroke: Stroke, blade: RotaryBlade, stack_mm: float) -> list[list[Span]]:
    """A stroke parted at the corners that the blade cannot turn in; none of a closed one without.
    What is left of an outline is parted at the ends of its sides."""
    if not stroke.closed:
        return [[span] for span in stroke.spans]
    return parted(
        stroke, corners_of(stroke, least_deg=math.degrees(blade.least_turn_rad(stack_mm)))
    )


def rotary_passes(number: int, stroke: Stroke, blade: RotaryBlade, stack_mm: float) -> list[Pass]:
    """The passes that make one outline, a part of one, or a cut-out. A run shorter than the blade's
    own cut is one plunge in its middle."""
    runs = runs_of(stroke, blade, stack_mm)
    if not runs:
        return [as_pass(number, stroke, stroke.spans)]
    short = blade.reach_mm(0.0)
    passes = []
    for run in runs:
        length = sum(span.length_mm for span in run)
        if length > 2.0 * short + LAY_MM:
            passes.append(as_pass(number, stroke, stretch(run, short, length - short)))
        else:
            middle = stretch(run, 0.0, length / 2.0)[-1].end
            passes.append(as_pass(number, stroke, [Span(middle, middle)]))
    return passes


def cuts_into_others(
    strokes: Sequence[Stroke], blade: RotaryBlade, stack_mm: float
) -> list[tuple[str, str, float]]:
    """Which pieces are cut into beyond whose corners, and how deep: pairs of pieces by id."""
    outlines = [stroke for stroke in strokes if stroke.role == "outline"]
    regions = [region_of(stroke).buffer(-_INTO_MM) for stroke in outlines]
    tree = shapely.STRtree(regions)
    found: dict[tuple[str, str], float] = {}
    for stroke in outlines:
        for over in overshoots(stroke, blade, stack_mm):
            for k in tree.query(over, predicate="intersects").tolist():
                pair = stroke.piece_id, outlines[k].piece_id
                if pair[0] != pair[1]:
                    deep = float(over.intersection(regions[k]).length)
                    found[pair] = max(found.get(pair, 0.0), deep)
    return [(*pair, deep) for pair, deep in sorted(found.items())]


def overshoots(stroke: Stroke, blade: RotaryBlade, stack_mm: float) -> Iterator[LineString]:
    """Where the top of the stack is cut beyond the corners of a closed stroke."""
    reach, short = blade.reach_mm(stack_mm), blade.reach_mm(0.0)
    for run in runs_of(stroke, blade, stack_mm):
        length = sum(span.length_mm for span in run)
        over = reach - min(short, length / 2.0)
        ends = ((run[0].start, run[0].directions_rad[0] + math.pi),
                (run[-1].end, run[-1].directions_rad[1]))  # fmt: skip
        for (x, y), way in ends:
            end = x + over * math.cos(way), y + over * math.sin(way)
            yield LineString([(x, y), end])


def work_on(stroke: Stroke, blade: RotaryBlade, stack_mm: float) -> BladeWork:
    """What a blade does to a closed stroke, before it has neighbours."""
    short = 2.0 * blade.reach_mm(0.0)
    runs = runs_of(stroke, blade, stack_mm)
    lengths = [sum(span.length_mm for span in run) for run in runs]
    region = region_of(stroke)
    # the piece lies within its outline, and round its cut-outs
    piece = region if stroke.role == "outline" else region.buffer(1e3).difference(region)
    kept = piece.buffer(-_INTO_MM)
    shapely.prepare(kept)
    into = [cut.intersection(kept).length for cut in overshoots(stroke, blade, stack_mm)]
    return BladeWork(
        short_runs=sum(length < short for length in lengths),
        into_mm=max(into, default=0.0),
        tightest_mm=min(_tightest_mm(run, closed=not runs) for run in runs or [list(stroke.spans)]),
    )


def _tightest_mm(run: Sequence[Span], *, closed: bool) -> float:
    """The least radius in a run: of its arcs, and of a flattened curve (l1 + l2) / 2 turn at each
    of its points (derived: equal for every two chords of a circle)."""
    arcs = [span.radius_mm for span in run if span.is_arc]
    points = np.array([span.start for span in run] + [run[-1].end])
    if closed:
        points = np.vstack((points, points[1:2]))
    steps = np.diff(points, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    ways = np.arctan2(steps[:, 1], steps[:, 0])
    turns = np.abs((np.diff(ways) + math.pi) % (2.0 * math.pi) - math.pi)
    if arcs or len(turns) == 0:
        return min(arcs, default=math.inf)
    radii = (lengths[:-1] + lengths[1:]) / (2.0 * np.maximum(turns, 1e-9))
    return float(radii.min())
