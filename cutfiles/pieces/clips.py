"""Clip marks: where a seam edge curves inwards, its allowance is shorter than its stitch line.

When the seam is turned the allowance must open there: straight clips, a quarter to half an inch
apart, closer on sharper curves (G-W "Apparel: Design, Textiles & Construction", 2012, p. 452). The
marks are drawn and never cut: a clip is made with scissors, after sewing, and ends short of the
stitch line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Cubic, Line, Segment
from cutfiles.pieces.piece import Edge, Notch

WIDE_MM: Final = 12.7
CLOSE_MM: Final = 6.35
"""The distances between clips."""

_LEAST_STRETCH: Final = 0.015
"""How much shorter the cut edge is than the stitch line, as a share of it, where woven cloth needs
clips; and from twice as much on they stand close (common practice, no source)."""

_SHORT_OF_STITCHING_MM: Final = 1.5
_SHORT_OF_EDGE_MM: Final = 1.0
_CLEAR_OF_NOTCH_MM: Final = 6.0
_STEP_MM: Final = 1.0


def clip_marks(edges: Sequence[Edge], notches: Sequence[Notch]) -> tuple[Path, ...]:
    """The clips of all seam edges of a piece, each a line across the allowance."""
    return tuple(
        mark
        for edge in edges
        if edge.finish == "seam"
        and edge.allowance_mm > 2.0 * (_SHORT_OF_EDGE_MM + _SHORT_OF_STITCHING_MM)
        for mark in _edge_marks(edge, [n.fraction for n in notches if n.edge == edge.name])
    )


def _edge_marks(edge: Edge, notched: Sequence[float]) -> Iterator[Path]:
    length = edge.stitch.length()
    taken = [0.0, length, *(fraction * length for fraction in notched)]
    last = -WIDE_MM
    for along, segment, t in _walked(edge.stitch):
        # a counter-clockwise outline bends to the right where it curves inwards
        stretch = -segment.curvature(t) * edge.allowance_mm
        apart = CLOSE_MM if stretch >= 2.0 * _LEAST_STRETCH else WIDE_MM
        if (
            stretch < _LEAST_STRETCH
            or along - last < apart
            or min(abs(along - place) for place in taken) < _CLEAR_OF_NOTCH_MM
        ):
            continue
        last = along
        foot, out = segment.point(t), segment.tangent(t).right
        yield Path.through(
            (
                foot + out * (edge.allowance_mm - _SHORT_OF_EDGE_MM),
                foot + out * _SHORT_OF_STITCHING_MM,
            )
        )


def _walked(path: Path) -> Iterator[tuple[float, Segment, float]]:
    """Places about a millimetre apart on segments that may curve inwards: how far along, on which
    segment, at which parameter."""
    before = 0.0
    for segment in path.segments:
        if not _never_curves_inwards(segment):
            steps = max(2, int(segment.length() / _STEP_MM))
            walked, place = before, segment.start
            for step in range(1, steps):
                t = step / steps
                point = segment.point(t)
                walked += place.distance(point)
                place = point
                yield walked, segment, t
        before += segment.length()


def _never_curves_inwards(segment: Segment) -> bool:
    """Whether a segment bends to the left all along, or not at all; False where it is not known.

    The curvature of a cubic has the sign of a cubic polynomial; these are its coefficients in
    Bernstein's form (derived), and where none is negative it is nowhere negative.
    """
    if isinstance(segment, Line):
        return True
    if not isinstance(segment, Cubic):
        return False
    first = segment.handle - segment.start
    middle = segment.end_handle - segment.handle
    last = segment.end - segment.end_handle
    into, over, out = first.cross(middle), first.cross(last), middle.cross(last)
    return min(into, over + into, over + out, out) >= 0.0
