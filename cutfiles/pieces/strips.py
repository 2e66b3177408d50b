"""Straight strips: ties folded in four, and binding.

A strip folded in four finishes at a quarter of its cut width (double-fold tape; Wikipedia,
"Bias tape"). A 1 1/2 in tie strip is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from cutfiles.geometry.path import Path
from cutfiles.geometry.vector import Point, Vector
from cutfiles.job.job import StripGrain
from cutfiles.pieces.allowance import sewn_piece
from cutfiles.pieces.piece import Edge, LabelSpot, Piece

STRIP_WIDTH_MM: Final = 38.1
TIE_LENGTH_MM: Final = 304.8
TURN_IN_MM: Final = 12.7
"""Turned in at a free end before the strip is folded (common practice, no source)."""


def strip(
    name: str, length_mm: float, width_mm: float = STRIP_WIDTH_MM, *, grain: StripGrain = "straight"
) -> Piece:
    """A rectangle, its length along the grain or, on the bias, at 45 degrees to it. The measures
    are as cut: nothing is added."""
    lean = Vector.at_angle(45.0 if grain == "bias" else 0.0)
    near = Point(0.0, 0.0)
    far = near + lean * length_mm
    rise = lean.left * width_mm
    corners = (near, far, far + rise, near + rise)
    names = ("lower side", "far end", "upper side", "near end")
    edges = tuple(
        Edge(names[i], Path.through((corners[i], corners[(i + 1) % 4])), 0.0, "raw")
        for i in range(4)
    )
    piece = sewn_piece(name, edges, {})
    if grain == "straight":
        return piece
    # the grain arrow crosses the middle of the strip: the label goes beside it, along the strip
    spot = near.toward(far, 0.75) + rise * 0.5
    return replace(piece, label=LabelSpot(spot, 45.0, 0.4 * length_mm, 0.2 * width_mm))


def binding_length_mm(bound_edge_mm: float, tie_mm: float = TIE_LENGTH_MM) -> float:
    """Binding that runs on into a tie at both ends: the edge, two ties, two turned-in ends."""
    return bound_edge_mm + 2.0 * (tie_mm + TURN_IN_MM)


def joined_strips(length_mm: float, longest_mm: float) -> tuple[int, float]:
    """How many equal strips make up a length, and how long each is cut.

    Each join takes one strip width: square ends crossed at right angles and sewn on the diagonal
    (derived). ``longest_mm`` is the most that one strip may be.

    Raises
    ------
    ValueError
        If strips as short as that would be mostly joins.
    """
    count = 1
    each = length_mm
    while each > longest_mm:
        count += 1
        each = (length_mm + (count - 1) * STRIP_WIDTH_MM) / count
        if each < 4.0 * STRIP_WIDTH_MM:
            raise ValueError(
                f"a binding of {length_mm:.0f} mm cannot be joined from strips of "
                f"{longest_mm:.0f} mm: use longer cloth or a longer bed"
            )
    return count, each


def finished_width_mm(cut_width_mm: float) -> float:
    """Of a strip folded in four."""
    return cut_width_mm / 4.0
