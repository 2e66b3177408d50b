"""Loose drawn lines chained into loops.

An *end* is where an open line begins or stops. Two ends that meet are *joined*; where three or
more meet there is a *junction*, and nothing is joined there. A *chain* is what lies between two
ends that are not joined; one that comes back to its own start is a *loop*. Ends left over, and
no further apart than the gap tolerance, are brought together, the nearest first.

Every line ends up in one loop or one open chain: a loose line, wherever it is, costs no loop.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.spatial import cKDTree

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Segment
from cutfiles.geometry.vector import Point
from cutfiles.pieces.drawn import path_of
from cutfiles.pieces.meet import closed_up, joined_up
from cutfiles.tolerances import COINCIDENT_MM, DRAWN_JOIN_MM

_LEAST_LOOP: Final = 4.0


@dataclass(frozen=True, slots=True)
class Gap:
    """A gap that was closed: where it was, and how wide (mm)."""

    at: Point
    width_mm: float


@dataclass(frozen=True, slots=True)
class Loose:
    """A chain that does not close. ``nearest_mm`` is how far one of its ends is from the nearest
    other end; ``at_junction`` is whether it hangs on a place where three or more lines meet."""

    path: Path
    nearest_mm: float
    at_junction: bool


@dataclass(frozen=True, slots=True)
class Chained:
    """What became of some lines. Duplicates were left out before anything was joined."""

    loops: tuple[Path, ...]
    loose: tuple[Loose, ...]
    gaps: tuple[Gap, ...]
    duplicates: tuple[Point, ...]


def chained(lines: Sequence[Path], *, gap_mm: float) -> Chained:
    """Chain lines into loops; cost n log n.

    Parameters
    ----------
    lines
        Paths in mm, in any order and direction. Closed ones are loops already.
    gap_mm
        The widest gap to close.
    """
    loops = [path for path in lines if _is_loop(path)]
    # what is shorter than a thousandth is nothing, and would only make a junction of a corner
    opened, duplicates = _without_duplicates(
        [path for path in lines if not _is_loop(path) and path.length() > DRAWN_JOIN_MM]
    )
    ends = _Ends(opened)
    ends.join(gap_mm)
    loose: list[Loose] = []
    gaps: list[Gap] = []
    for path, closed, first, last in ends.walk():
        gaps.extend(closed)
        if path.start.distance(path.end) <= DRAWN_JOIN_MM and path.length() > DRAWN_JOIN_MM:
            loops.append(_closed(path))
        else:
            at_junction = bool(ends.junction & {first, last})
            loose.append(Loose(path, ends.nearest_mm(first, last), at_junction))
    return Chained(tuple(loops), tuple(loose), tuple(gaps), tuple(duplicates))


def _is_loop(path: Path) -> bool:
    return path.is_closed and path.length() > COINCIDENT_MM


def _closed(path: Path) -> Path:
    """With its last thousandth closed, if need be."""
    return Path(tuple(closed_up(path.segments)))


def _without_duplicates(paths: Sequence[Path]) -> tuple[list[Path], list[Point]]:
    """Each line once: equal are those with the same ends, middle and length, either way."""
    kept: list[Path] = []
    found: list[Point] = []
    seen: dict[tuple[int, int], list[tuple[Path, Point, float]]] = {}
    for path in paths:
        length = path.length()
        middle = _middle(path)
        cell = (round(middle.x), round(middle.y))
        near = [
            known
            for i in (-1, 0, 1)
            for j in (-1, 0, 1)
            for known in seen.get((cell[0] + i, cell[1] + j), ())
        ]
        if any(
            middle.distance(other_middle) <= DRAWN_JOIN_MM
            and abs(length - other_length) <= DRAWN_JOIN_MM
            and _same_ends(path, other)
            for other, other_middle, other_length in near
        ):
            found.append(middle)
            continue
        seen.setdefault(cell, []).append((path, middle, length))
        kept.append(path)
    return kept, found


def _middle(path: Path) -> Point:
    """A point that is the same from both ends: of the middle segment, or between the middle two."""
    half, odd = divmod(len(path.segments), 2)
    return path.segments[half].point(0.5 if odd else 0.0)


def _same_ends(one: Path, other: Path) -> bool:
    straight = max(one.start.distance(other.start), one.end.distance(other.end))
    crossed = max(one.start.distance(other.end), one.end.distance(other.start))
    return min(straight, crossed) <= DRAWN_JOIN_MM


def _note_gap(before: Sequence[Segment], place: Point, gaps: list[Gap]) -> None:
    if before and before[-1].end.distance(place) > DRAWN_JOIN_MM:
        gaps.append(Gap(place, before[-1].end.distance(place)))


class _Ends:
    """The ends of open lines, numbered 2 i (start) and 2 i + 1 (end), and who is joined to whom."""

    def __init__(self, paths: Sequence[Path]) -> None:
        self._paths = paths
        self.junction: set[int] = set()
        self._partner: dict[int, int] = {}
        places = [p for path in paths for p in (path.start, path.end)]
        self._places = np.array([(p.x, p.y) for p in places]).reshape(-1, 2)
        self._tree = cKDTree(self._places)

    def join(self, gap_mm: float) -> None:
        meeting: dict[int, set[int]] = {}
        for i, j in self._tree.query_pairs(DRAWN_JOIN_MM):
            meeting.setdefault(i, set()).add(j)
            meeting.setdefault(j, set()).add(i)
        for end, others in meeting.items():
            if len(others) > 1:
                self.junction.update({end, *others})
        for end, others in meeting.items():
            if end not in self.junction:
                (self._partner[end],) = others
        self._bring_together(gap_mm)

    def _bring_together(self, gap_mm: float) -> None:
        """Pair the ends that are left, the nearest first."""
        count = 2 * len(self._paths)
        free = [e for e in range(count) if e not in self._partner and e not in self.junction]
        if len(free) < 2:
            return
        pairs = cKDTree(self._places[free]).query_pairs(gap_mm)
        near = sorted((self._apart(free[i], free[j]), free[i], free[j]) for i, j in pairs)
        for apart, i, j in near:
            # a line hardly longer than the gap between its ends is no loop of its own
            short = i // 2 == j // 2 and self._paths[i // 2].length() <= _LEAST_LOOP * apart
            if not short and i not in self._partner and j not in self._partner:
                self._partner[i], self._partner[j] = j, i

    def walk(self) -> list[tuple[Path, list[Gap], int, int]]:
        """Every chain: its path, its gaps, and the numbers of its first and last end."""
        waiting = dict.fromkeys(range(len(self._paths)))
        free = [e for e in range(2 * len(self._paths)) if e not in self._partner]
        chains = []
        for first in free + [2 * i for i in range(len(self._paths))]:
            if first // 2 in waiting:
                chains.append(self._chain(first, waiting))
        return chains

    def nearest_mm(self, first: int, last: int) -> float:
        """How far the nearest end of another line is from either of two ends."""
        best = float("inf")
        near = min(3, len(self._places))
        for end in (first, last):
            away, who = self._tree.query(self._places[end : end + 1], k=range(1, near + 1))
            others = ~np.isin(who, (first, last))
            best = min(best, float(np.min(away, where=others, initial=np.inf)))
        between = self._apart(first, last)
        return min(best, between) if between > DRAWN_JOIN_MM else best

    def _chain(self, first: int, waiting: dict[int, None]) -> tuple[Path, list[Gap], int, int]:
        segments: list[Segment] = []
        gaps: list[Gap] = []
        end = first
        while True:
            line = end // 2
            del waiting[line]
            path = self._paths[line] if end % 2 == 0 else self._paths[line].reversed()
            _note_gap(segments, path.start, gaps)
            segments[-1:] = joined_up(segments[-1:], path.segments)
            end ^= 1
            following = self._partner.get(end)
            if following is None:
                break
            if following // 2 not in waiting:  # round and back at the first end
                _note_gap(segments, segments[0].start, gaps)
                segments = closed_up(segments)
                break
            end = following
        whole = path_of(segments)
        assert whole is not None
        return whole, gaps, first, end

    def _apart(self, i: int, j: int) -> float:
        return float(np.hypot(*(self._places[i] - self._places[j])))
