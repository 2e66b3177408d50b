"""From stitch lines to a piece: the cut line with its corners, notches, grain and label.

Corners (common practice, no source): two edges of one kind meet in a mitre. Where one is folded
back and the other is not, the folded allowance is the mirror image of the piece inside the fold, so
that it lies flat on it when turned. A hem that meets a casing is turned first, straight through.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from cutfiles.geometry.offset import offset_to_right
from cutfiles.geometry.path import Path
from cutfiles.geometry.polygons import polygon_of
from cutfiles.geometry.roots import root_between
from cutfiles.geometry.segments import Line, Segment
from cutfiles.geometry.vector import Point, Vector, intersection, reflected
from cutfiles.pieces.clips import clip_marks
from cutfiles.pieces.piece import FOLDED, Edge, Notch, Piece
from cutfiles.pieces.spots import grain_line, label_spot
from cutfiles.tolerances import COINCIDENT_MM

Segments = tuple[Segment, ...]

NOTCH_DEPTH_MM = 3.0
"""2-3 mm into the allowance (teaching notes "Importance of Notches"), and never more than half
of it (common practice, no source)."""

_LONGEST_MITRE = 4.0
"""A mitre longer than this many allowances is cut off square (common practice, no source)."""


def sewn_piece(
    name: str,
    edges: Sequence[Edge],
    notches: Mapping[str, Sequence[float]],
    marks: Iterable[Path] = (),
) -> Piece:
    """A whole piece from its edges, counter-clockwise, x along the grain.

    ``notches`` gives, for an edge's name, the fractions of its arc length that are notched. Seam
    edges that curve inwards get clip marks, beside the ``marks`` given.

    Raises
    ------
    ValueError
        If the stitch lines do not join up into a simple counter-clockwise outline, or an
        allowance does not fit a curve or corner.
    """
    stitch = Path(tuple(segment for edge in edges for segment in edge.stitch.segments))
    inside = polygon_of(stitch)
    if not inside.exterior.is_ccw:
        raise ValueError(f"piece {name!r}: the outline must run counter-clockwise")
    cut = Path(_drop_specks(_cut_segments(name, edges)))
    polygon_of(cut)
    notched = tuple(
        _notch(edge, fraction) for edge in edges for fraction in notches.get(edge.name, ())
    )
    return Piece(
        name,
        tuple(edges),
        cut,
        notched,
        grain_line(inside),
        label_spot(inside),
        marks=(*clip_marks(edges, notched), *marks),
    )


def _notch(edge: Edge, fraction: float) -> Notch:
    along = edge.stitch.length() * fraction
    foot = edge.stitch.point_at(along)
    out = edge.stitch.tangent_at(along).right
    depth = min(NOTCH_DEPTH_MM, edge.allowance_mm / 2.0)
    return Notch(edge.name, fraction, foot, foot + out * edge.allowance_mm, depth)


def _cut_segments(name: str, edges: Sequence[Edge]) -> tuple[Segment, ...]:
    """The whole cut line: each edge's parallel, trimmed or led on to its neighbours'."""
    cuts = [_joined_up(offset_to_right(edge.stitch, edge.allowance_mm)) for edge in edges]
    joints: list[list[Point]] = []
    for index, edge in enumerate(edges):
        following = (index + 1) % len(edges)
        cuts[index], joint, cuts[following] = _joint(
            name, edge, cuts[index], edges[following], cuts[following]
        )
        joints.append(joint)
    segments: list[Segment] = []
    for index, cut in enumerate(cuts):
        segments.extend(cut)
        stops = [cut[-1].end, *joints[index], cuts[(index + 1) % len(cuts)][0].start]
        segments.extend(Line(a, b) for a, b in pairwise(stops))
    return tuple(segments)


def _joined_up(segments: Segments) -> Segments:
    """Mitre the parallels of neighbours inside one edge where they do not meet smoothly."""
    joined: list[Segment] = [segments[0]]
    for segment in segments[1:]:
        before = joined[-1]
        if before.end.distance(segment.start) > COINCIDENT_MM:
            tip = intersection(before.end, before.tangent(1.0), segment.start, segment.tangent(0.0))
            stops = [before.end, *([tip] if tip else []), segment.start]
            joined.extend(Line(a, b) for a, b in pairwise(stops))
        joined.append(segment)
    return tuple(joined)


def _joint(
    name: str, edge: Edge, cut: Segments, following: Edge, next_cut: Segments
) -> tuple[Segments, list[Point], Segments]:
    """Two neighbouring cut lines, trimmed where they must be, and the corner points between."""
    if cut[-1].end.distance(next_cut[0].start) <= COINCIDENT_MM:
        return cut, [], next_cut
    if cut[-1].tangent(1.0).cross(next_cut[0].tangent(0.0)) < -1e-9:
        raise ValueError(
            f"piece {name!r}: the corner between {edge.name!r} and {following.name!r} turns "
            "inwards, which an allowance cannot follow yet: give that corner a curve"
        )
    corner = edge.stitch.end
    folds, next_folds = edge.finish in FOLDED, following.finish in FOLDED
    if next_folds and not folds:
        return _mirrored(cut, corner, following.stitch.start_tangent, next_cut)
    if folds and not next_folds:
        seam, joint, turned = _mirrored(
            _turned_round(next_cut), corner, -edge.stitch.end_tangent, _turned_round(cut)
        )
        return _turned_round(turned), joint[::-1], _turned_round(seam)
    # a wide allowance at an obtuse corner reaches past its neighbour's cut line
    trimmed = _cut_off(cut, next_cut[0].start, next_cut[0].tangent(0.0))
    next_cut = _turned_round(_cut_off(_turned_round(next_cut), cut[-1].end, cut[-1].tangent(1.0)))
    tip = _met(
        trimmed[-1].end, trimmed[-1].tangent(1.0), next_cut[0].start, next_cut[0].tangent(0.0)
    )
    reach = _LONGEST_MITRE * max(edge.allowance_mm, following.allowance_mm)
    if tip is None or tip.distance(corner) > reach:
        return trimmed, [], next_cut
    return trimmed, [tip], next_cut


def _mirrored(
    seam: Segments, corner: Point, fold: Vector, turned: Segments
) -> tuple[Segments, list[Point], Segments]:
    """An edge's cut line up to a fold, then on along its mirror image to the turned edge.

    The cut line ``seam`` comes first in the direction of travel, and ``fold`` is the direction
    of the folded edge's stitch line, which starts at ``corner``.
    """
    seam = _cut_off(seam, corner, fold)
    on_fold = _met(seam[-1].end, seam[-1].tangent(1.0), corner, fold)
    if on_fold is None:
        return seam, [], turned
    back = reflected(-seam[-1].tangent(1.0), fold)
    turned = _turned_round(_cut_off(_turned_round(turned), on_fold, back))
    tip = _met(turned[0].start, turned[0].tangent(0.0), on_fold, back)
    return seam, [on_fold] if tip is None else [on_fold, tip], turned


def _met(end: Point, along: Vector, at: Point, other_along: Vector) -> Point | None:
    """Where a cut line led on straight meets another line: its own end, if that is there."""
    tip = intersection(end, along, at, other_along)
    return end if tip is not None and tip.distance(end) <= COINCIDENT_MM else tip


def _cut_off(segments: Segments, at: Point, along: Vector) -> Segments:
    """End a run of segments at the line through ``at``, if it crosses that line near its end."""

    def side(point: Point) -> float:
        return along.cross(point - at)

    kept_side = side(segments[len(segments) // 2].point(0.5))
    if kept_side * side(segments[-1].end) >= 0.0:
        return segments
    kept = list(segments)
    while kept_side * side(kept[-1].start) < 0.0:
        kept.pop()
    last = kept.pop()
    t = root_between(lambda t: side(last.point(t)), 0.0, 1.0, within=1e-13)
    return (*kept, last.part(0.0, t))


def _turned_round(segments: Segments) -> Segments:
    return tuple(segment.reversed() for segment in reversed(segments))


def _drop_specks(segments: tuple[Segment, ...]) -> tuple[Segment, ...]:
    """Leave out joints of no length."""
    return tuple(s for s in segments if s.length() > COINCIDENT_MM)
