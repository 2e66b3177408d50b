"""The nouns of the pattern: edge, notch, piece, seam, sewn corner, fit, draft.

A piece lies in its own frame: millimetres, y up, **x along the grain**, pointing the way the
nap or print points; outlines run counter-clockwise. The *stitch line* is where it is sewn or
folded, the *cut line* where it is cut; they lie an allowance apart, its own on each edge.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Line
from cutfiles.geometry.vector import Point, Vector

Finish = Literal["seam", "hem", "casing", "binding", "raw"]
"""What becomes of an edge: sewn to another, turned twice, turned over elastic, encased, none."""

FOLDED: tuple[Finish, ...] = ("hem", "casing")
"""Finishes that fold the allowance back on the piece."""


@dataclass(frozen=True, slots=True)
class Edge:
    """One side of a piece: its stitch line, travelled counter-clockwise, and its allowance."""

    name: str
    stitch: Path
    allowance_mm: float
    finish: Finish

    def __post_init__(self) -> None:
        if not self.allowance_mm >= 0:
            raise ValueError(f"edge {self.name!r}: the allowance must not be negative")


@dataclass(frozen=True, slots=True)
class Notch:
    """A mark cut into an edge's allowance, square to the stitch line.

    ``foot`` is on the stitch line at ``fraction`` of its arc length (counter-clockwise), ``at``
    on the cut line; the notch is cut from ``at`` towards ``foot``, ``depth_mm`` deep.
    """

    edge: str
    fraction: float
    foot: Point
    at: Point
    depth_mm: float

    @property
    def inward(self) -> Vector:
        """Unit direction from the cut line towards the stitch line."""
        return (self.foot - self.at).unit


@dataclass(frozen=True, slots=True)
class LabelSpot:
    """Room for a label: its centre, reading direction and the straight room along and across."""

    centre: Point
    angle_deg: float
    room_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Piece:
    """One pattern piece. ``cut`` is the closed cut line; ``grain`` points along +x. ``inner`` are
    the closed cut lines of cut-outs, ``marks`` lines to mark beside the edges' stitch lines."""

    name: str
    edges: tuple[Edge, ...]
    cut: Path
    notches: tuple[Notch, ...]
    grain: Line
    label: LabelSpot
    inner: tuple[Path, ...] = ()
    marks: tuple[Path, ...] = ()

    @property
    def stitch_lines(self) -> tuple[Path, ...]:
        """What is drawn as stitching: stitch lines that are no cut lines, and the marks."""
        sewn = tuple(edge.stitch for edge in self.edges if edge.allowance_mm > 0.0)
        return (*sewn, *self.marks)

    @property
    def clips(self) -> tuple[Path, ...]:
        """The marks of a piece with seams: clip marks, which lie in its allowances. A piece read
        from a drawing has no seams, and its marks are stitching."""
        return self.marks if any(edge.finish == "seam" for edge in self.edges) else ()

    def edge(self, name: str) -> Edge:
        """The edge of that name; ``KeyError`` if there is none."""
        for edge in self.edges:
            if edge.name == name:
                return edge
        raise KeyError(f"piece {self.name!r} has no edge {name!r}")

    def notches_on(self, edge: str) -> tuple[Notch, ...]:
        """The notches of an edge, in order of their fractions."""
        found = (notch for notch in self.notches if notch.edge == edge)
        return tuple(sorted(found, key=lambda notch: notch.fraction))


@dataclass(frozen=True, slots=True)
class PieceEdge:
    """An edge named by piece and edge."""

    piece: str
    edge: str


@dataclass(frozen=True, slots=True)
class Seam:
    """Two edges sewn together, right sides facing: the second runs against the first.

    ``ease_mm`` is how much longer the first edge's stitch line is than the second's; it is
    shared out evenly along the seam. ``stitches`` are classes of ISO 4915, ``seam_class`` one
    of ISO 4916.
    """

    name: str
    first: PieceEdge
    second: PieceEdge
    ease_mm: float
    stitches: tuple[str, ...] = ("301", "504")
    seam_class: int = 1


@dataclass(frozen=True, slots=True)
class Corner:
    """The corner of a piece where one edge ends and the next, counter-clockwise, starts."""

    piece: str
    ending: str
    starting: str


@dataclass(frozen=True, slots=True)
class SewnCorner:
    """Two corners that meet at a seam's end and must make one straight edge together."""

    name: str
    first: Corner
    second: Corner


@dataclass(frozen=True, slots=True)
class Pleat:
    """A pleat in an edge: ``fold_mm`` is where the edge is folded and ``meet_mm`` where the fold is
    laid, both along its stitch line from its start, right side up."""

    piece: str
    edge: str
    fold_mm: float
    meet_mm: float

    @property
    def take_up_mm(self) -> float:
        """How much shorter the pleat makes the edge."""
        return abs(self.fold_mm - self.meet_mm)


@dataclass(frozen=True, slots=True)
class Fit:
    """The open edge of a cap: a plain stretch and one gathered on elastic, in mm.

    ``measures`` names the measures that an order can change it by.
    """

    plain_mm: float
    gathered_flat_mm: float
    elastic_relaxed_mm: float
    elastic_stretch: float
    elastic_anchor_mm: float
    measures: tuple[str, ...] = ()

    @property
    def smallest_girth_mm(self) -> float:
        """The open edge with the elastic at rest."""
        return self.plain_mm + self.elastic_relaxed_mm

    @property
    def largest_girth_mm(self) -> float:
        """The open edge with the elastic drawn out, but no further than the cloth lies flat."""
        drawn = min(self.gathered_flat_mm, self.elastic_relaxed_mm * self.elastic_stretch)
        return self.plain_mm + drawn

    @property
    def elastic_cut_mm(self) -> float:
        """Elastic to cut: its length at rest and what is sewn down at both ends."""
        return self.elastic_relaxed_mm + 2.0 * self.elastic_anchor_mm


@dataclass(frozen=True, slots=True)
class CutPart:
    """A piece and how many of it one cap takes."""

    piece: Piece
    count: int


@dataclass(frozen=True, slots=True)
class Draft:
    """Everything drafted for one style and size. Girths in mm."""

    title: str
    girth_low_mm: float
    girth_high_mm: float
    parts: tuple[CutPart, ...]
    seams: tuple[Seam, ...]
    corners: tuple[SewnCorner, ...]
    fit: Fit
    pleats: tuple[Pleat, ...] = ()

    def piece(self, name: str) -> Piece:
        """The piece of that name; ``KeyError`` if there is none."""
        return piece_named((part.piece for part in self.parts), name)


def piece_named(pieces: Iterable[Piece], name: str) -> Piece:
    """The piece of that name; ``KeyError`` if there is none."""
    for piece in pieces:
        if piece.name == name:
            return piece
    raise KeyError(f"there is no piece {name!r}")
