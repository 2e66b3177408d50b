"""Allowances, notches and small shapes that all styles share. Millimetres."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, Protocol

from cutfiles.geometry.path import Path
from cutfiles.geometry.roots import root_between
from cutfiles.geometry.segments import Cubic, Line, Segment
from cutfiles.geometry.vector import Point
from cutfiles.job.job import EdgeFinish, StripGrain, Style
from cutfiles.job.sizes import Size
from cutfiles.pieces.piece import CutPart, Draft, Fit, Pleat, Seam, SewnCorner
from cutfiles.pieces.strips import joined_strips, strip

SEAM_MM: Final = 6.35
"""Seam allowance, 1/4 in (G-W "Apparel: Design, Textiles & Construction", 2012, p. 451)."""
HEM_MM: Final = 12.7
"""A 1/4 in double-rolled hem takes 1/2 in (common practice, no source)."""
CASING_MM: Final = 22.225
"""Casing for 1/2 in elastic: 1/2 + 1/8 + 1/4 in to turn under (common practice, no source)."""

QUARTERS: Final = (0.25, 0.5, 0.75)
"""A seam's middle and quarter points are notched first (common practice, no source)."""

_DOUBLE_APART_MM: Final = 6.0


def edge_allowance_mm(edge: EdgeFinish) -> float:
    """Of an edge that is hemmed or bound: a bound edge is encased as it is."""
    return HEM_MM if edge == "hem" else 0.0


def front_to_back_notches(length_mm: float) -> tuple[float, ...]:
    """Fractions for a seam that runs from front to back: both its edges take those of one length.

    Single notches at the middle and the front quarter, a double one, 6 mm apart, at the back
    quarter, so that an edge cannot be sewn end for end (common practice, no source).
    """
    return (0.25, 0.5, *_double(0.75, length_mm))


def back_to_back_notches(length_mm: float) -> tuple[float, ...]:
    """Fractions for a seam that runs from one back corner over the front to the other: both its
    edges take those of one length.

    A single notch at the centre front, double ones, 6 mm apart, at the two quarters nearest the
    back: single for the front, double for the back (common practice, no source).
    """
    return (*_double(0.25, length_mm), 0.5, *_double(0.75, length_mm))


def turned_round(fractions: Sequence[float]) -> tuple[float, ...]:
    """The same notches on an edge travelled the other way."""
    return tuple(1.0 - fraction for fraction in reversed(fractions))


def _double(fraction: float, length_mm: float) -> tuple[float, float]:
    half = _DOUBLE_APART_MM / 2.0 / length_mm
    return fraction - half, fraction + half


def binding_part(length_mm: float, longest_mm: float, grain: StripGrain) -> CutPart:
    """A binding of that length, joined from strips where one would be too long."""
    count, each = joined_strips(length_mm, longest_mm)
    return CutPart(strip("binding", each, grain=grain), count)


class OnElastic(Protocol):
    """A style's measures, as far as they are those of its elastic."""

    @property
    def elastic_relaxed_mm(self) -> float:
        """Finished, at rest."""

    @property
    def elastic_stretch(self) -> float:
        """How far it may be drawn out, as a multiple."""

    @property
    def elastic_anchor_mm(self) -> float:
        """What is sewn down at each end."""


def fit_of(
    cap: OnElastic, *, plain_mm: float, gathered_flat_mm: float, measures: tuple[str, ...]
) -> Fit:
    """The fit of a cap with one stretch of its open edge on elastic; ``measures`` names those that
    change it beside ``snug`` and the elastic's own."""
    return Fit(
        plain_mm,
        gathered_flat_mm,
        cap.elastic_relaxed_mm,
        cap.elastic_stretch,
        cap.elastic_anchor_mm,
        ("snug", "elastic_relaxed", "elastic_stretch", *measures),
    )


def draft_of(
    style: Style,
    size: Size,
    *,
    parts: Sequence[CutPart],
    seams: Sequence[Seam],
    fit: Fit,
    corners: Sequence[SewnCorner] = (),
    pleats: tuple[Pleat, ...] = (),
) -> Draft:
    """A draft of a style in a size, called after both."""
    return Draft(
        f"{style} {size.name}",
        size.girth_low_mm,
        size.girth_high_mm,
        tuple(parts),
        tuple(seams),
        tuple(corners),
        fit,
        pleats,
    )


def mirrored_path(path: Path) -> Path:
    """A path of cubics and lines mirrored in the x axis and travelled back."""
    segments: list[Segment] = []
    for segment in reversed(path.segments):
        if isinstance(segment, Cubic):
            segments.append(mirrored_back(segment))
        elif isinstance(segment, Line):
            segments.append(Line(_mirror(segment.end), _mirror(segment.start)))
        else:
            raise TypeError(f"no mirror image is known for {type(segment).__name__}")
    return Path(tuple(segments))


def mirrored_back(curve: Cubic) -> Cubic:
    """A cubic mirrored in the x axis and travelled back."""
    points = (curve.end, curve.end_handle, curve.handle, curve.start)
    return Cubic(*(_mirror(point) for point in points))


def _mirror(point: Point) -> Point:
    return Point(point.x, -point.y)


def solve_length(
    excess: Callable[[float], float], low: float, high: float, otherwise: str
) -> float:
    """Where a growing function of one measure is zero.

    Raises
    ------
    ValueError
        With the text ``otherwise``, if it is not zero between the bounds.
    """
    if excess(low) > 0.0 or excess(high) < 0.0:
        raise ValueError(otherwise)
    return root_between(excess, low, high, within=1e-9)
