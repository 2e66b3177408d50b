"""Half a piece, drawn with its middle on a fold, made whole: mirrored in its longest straight
edge, or along a line that the drawing has for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutfiles.geometry.affine import Affine
from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Line, Segment
from cutfiles.geometry.vector import Point, Vector

_ON_FOLD_MM = 0.01
"""How far from the fold a straight edge may lie and still be on it."""


@dataclass(frozen=True, slots=True)
class Fold:
    """The fold of an outline: its longest straight edge. ``rival`` is where another edge, equally
    long and in another line, begins."""

    start: Point
    end: Point
    rival: Point | None

    @property
    def mirror(self) -> Affine:
        """The mirror image in the fold."""
        return Affine.mirror(self.start, self.end - self.start)

    def off(self, point: Point) -> float:
        """How far a point lies to the left of the fold, in mm."""
        return (self.end - self.start).unit.cross(point - self.start)

    def has(self, segment: Segment) -> bool:
        """Whether a segment is a straight one on the fold."""
        return isinstance(segment, Line) and (
            max(abs(self.off(segment.start)), abs(self.off(segment.end))) <= _ON_FOLD_MM
        )


def fold_of(outline: Path) -> Fold | None:
    """The fold of a closed outline; None where it has no straight edge."""
    runs = sorted(_straight_runs(outline), key=lambda run: -run[0].distance(run[1]))
    if not runs:
        return None
    start, end = runs[0]
    fold = Fold(start, end, None)
    length = start.distance(end)
    for other_start, other_end in runs[1:]:
        same_length = other_start.distance(other_end) >= length - _ON_FOLD_MM
        if same_length and not fold.has(Line(other_start, other_end)):
            return Fold(start, end, other_start)
    return fold


def fold_along(outline: Path, start: Point, end: Point, within_mm: float) -> Fold | None:
    """The longest straight edge of a closed outline that lies within so much of the line through
    two points; None where there is none, or the points are one."""
    if start == end:
        return None
    line = Fold(start, end, None)
    near = [
        run
        for run in _straight_runs(outline)
        if max(abs(line.off(run[0])), abs(line.off(run[1]))) <= within_mm
    ]
    longest = max(near, key=lambda run: run[0].distance(run[1]), default=None)
    return None if longest is None else Fold(*longest, None)


def unfolded(outline: Path, fold: Fold) -> tuple[Path, ...]:
    """The loops that a closed outline and its mirror image make once the fold is opened: the
    whole outline, and a cut-out for every bay in the fold; the largest first.

    Raises
    ------
    ValueError
        If the outline lies on both sides of the fold, or nothing but the fold is there.
    """
    check_one_side(outline, fold)
    segments = outline.segments
    first = next(k for k, segment in enumerate(segments) if fold.has(segment))
    chains: list[list[Segment]] = [[]]
    for segment in segments[first:] + segments[:first]:
        if fold.has(segment):
            chains.append([])
        else:
            chains[-1].append(segment)
    loops = [_doubled(Path(tuple(chain)), fold) for chain in chains if chain]
    if not loops:
        raise ValueError("the outline is nothing but its fold")
    return tuple(sorted(loops, key=lambda loop: -loop.length()))


def check_one_side(outline: Path, fold: Fold) -> None:
    """Raise `ValueError` if an outline lies on both sides of a fold."""
    sides = [fold.off(segment.point(t)) for segment in outline.segments for t in (0.0, 0.5)]
    if min(sides) < -_ON_FOLD_MM and max(sides) > _ON_FOLD_MM:
        raise ValueError("the outline lies on both sides of its longest straight edge")


def _doubled(half: Path, fold: Fold) -> Path:
    """An open chain from fold to fold and back along its mirror image."""
    image = fold.mirror.path(half).reversed()
    segments: list[Segment] = []
    for part in (*half.segments, *image.segments, *half.segments[:1]):
        if segments and segments[-1].end != part.start:
            segments.append(Line(segments[-1].end, part.start))
        segments.append(part)
    return Path(tuple(segments[:-1]))


def _straight_runs(outline: Path) -> list[tuple[Point, Point]]:
    """Straight edges, each as long as it goes on in one line."""
    turned = _from_a_corner(outline.segments)
    runs: list[tuple[Point, Point]] = []
    ways: list[Vector] = []
    before: Segment | None = None
    for segment in turned:
        if isinstance(segment, Line):
            way = segment.tangent(0.0)
            if isinstance(before, Line) and _same_way(ways[-1], way):
                runs[-1] = (runs[-1][0], segment.end)
            else:
                runs.append((segment.start, segment.end))
                ways.append(way)
        before = segment
    return runs


def _from_a_corner(segments: Sequence[Segment]) -> Sequence[Segment]:
    """The same loop, not begun in the middle of a straight edge."""
    for k, segment in enumerate(segments):
        before = segments[k - 1]
        straight = isinstance(before, Line) and isinstance(segment, Line)
        if not (straight and _same_way(before.tangent(0.0), segment.tangent(0.0))):
            return (*segments[k:], *segments[:k])
    return segments


def _same_way(one: Vector, other: Vector) -> bool:
    return one.dot(other) > 0.0 and abs(one.cross(other)) < 1e-6
