"""Edges that two pieces share: cut with the first of them, and left out of the other's outline."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely

from cutfiles.cuts.plan import Frame, Stroke
from cutfiles.cuts.starts import corners_of
from cutfiles.cuts.stretch import parted
from cutfiles.geometry.bulges import Place, Span
from cutfiles.tolerances import COINCIDENT_MM, LAY_MM

Parts = Mapping[int, tuple[Stroke, ...]]
"""What is left to cut of some strokes, by number: open parts of the stroke in the order in which
they are cut; none where others have cut it all."""


def left_to_cut(strokes: Sequence[Stroke], frames: Sequence[Frame]) -> Parts:
    """What is left of the outlines that share whole straight sides with outlines before them.

    Parameters
    ----------
    strokes
        All of a lay in order, mm.
    frames
        Where each begins: what was cut before the cloth moved on is not left out.
    """
    sides = {
        number: parted(stroke, corners_of(stroke))
        for number, stroke in enumerate(strokes)
        if stroke.role == "outline"
    }
    straight = [
        (number, k, side[0].start, side[-1].end)
        for number, parted in sides.items()
        for k, side in enumerate(parted)
        if _is_straight(side)
    ]
    firsts = [frame.first_stroke for frame in frames]
    done: dict[int, set[int]] = {}
    for one, other in _meeting(straight):
        (first, _, *_), (then, k, *_) = sorted((straight[one], straight[other]))
        if bisect_right(firsts, first) == bisect_right(firsts, then):
            done.setdefault(then, set()).add(k)
    found: dict[int, tuple[Stroke, ...]] = {}
    place: Place = (0.0, 0.0)
    for number, stroke in enumerate(strokes):
        if number not in done:
            place = stroke.end
            continue
        runs = _runs(sides[number], done[number])
        parts = []
        while runs:
            near = min(runs, key=lambda run: min(math.dist(place, end) for end in _ends(run)))
            runs.remove(near)
            parts.append(_as_part(stroke, _from_near(near, place)))
            place = parts[-1].end
        found[number] = tuple(parts)
    return found


def with_parts(strokes: Sequence[Stroke], parts: Parts) -> list[tuple[int, Stroke]]:
    """Strokes with their numbers, and in place of some of them what is left to cut of these."""
    return [
        (number, part)
        for number, stroke in enumerate(strokes)
        for part in parts.get(number, (stroke,))
    ]


def _is_straight(side: Sequence[Span]) -> bool:
    length = sum(span.length_mm for span in side)
    return math.dist(side[0].start, side[-1].end) >= length - COINCIDENT_MM


def _meeting(straight: Sequence[tuple[int, int, Place, Place]]) -> list[tuple[int, int]]:
    """Pairs of sides that are one line, run along both ways."""
    if not straight:
        return []
    starts = np.array([start for _, _, start, _ in straight])
    ends = np.array([end for _, _, _, end in straight])
    middles = shapely.points((starts + ends) / 2.0)
    near = 2.0 * LAY_MM
    pairs = shapely.STRtree(middles).query(middles, predicate="dwithin", distance=near).T
    one, other = pairs[pairs[:, 0] < pairs[:, 1]].T
    meet = np.hypot(*(starts[one] - ends[other]).T) <= near
    meet &= np.hypot(*(ends[one] - starts[other]).T) <= near
    return [(int(i), int(j)) for i, j in zip(one[meet], other[meet], strict=True)]


def _runs(sides: Sequence[list[Span]], done: set[int]) -> list[list[Span]]:
    """What is left where some sides are done: runs of sides that follow each other."""
    begin = min(done)
    runs: list[list[Span]] = []
    last = begin
    for step in range(1, len(sides)):
        k = (begin + step) % len(sides)
        if k in done:
            continue
        if runs and last == (k - 1) % len(sides):
            runs[-1].extend(sides[k])
        else:
            runs.append(list(sides[k]))
        last = k
    return runs


def _ends(run: Sequence[Span]) -> tuple[Place, Place]:
    return run[0].start, run[-1].end


def _from_near(run: Sequence[Span], place: Place) -> list[Span]:
    """A run from the end that is nearer to where the tool is."""
    start, end = _ends(run)
    if math.dist(place, start) <= math.dist(place, end):
        return list(run)
    return [Span(span.end, span.start, -span.bulge) for span in reversed(run)]


def _as_part(stroke: Stroke, run: Sequence[Span]) -> Stroke:
    """A run of a stroke's spans as an open stroke; spans of one line as one."""
    spans = [run[0]]
    for before, span in pairwise(run):
        whole = math.dist(spans[-1].start, span.end)
        if not before.is_arc and not span.is_arc and _goes_on(spans[-1], span, whole):
            spans[-1] = Span(spans[-1].start, span.end)
        else:
            spans.append(span)
    points = (spans[0].start, *(span.end for span in spans))
    bulges = tuple(span.bulge for span in spans) if any(span.is_arc for span in spans) else ()
    return replace(stroke, points=points, bulges=bulges, closed=False)


def _goes_on(span: Span, after: Span, whole_mm: float) -> bool:
    return whole_mm >= span.length_mm + after.length_mm - COINCIDENT_MM
