"""How far a lay reaches along the cloth, before it is nested: bounds, and what a good one takes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Fill:
    """How much smaller than its box a piece is for its neighbours, who fill its corners: the box's
    extents are taken times the part of it that the piece fills, to the power of these."""

    along: float
    across: float


WHOLE_BOXES: Final = Fill(0.0, 0.0)
"""Boxes as they are: what is laid so is allowed."""


@dataclass(frozen=True, slots=True)
class Reach:
    """What is known at once of the lay of some pieces on a strip. Millimetres along.

    ``full_mm`` is the length if the pieces took all of the width and nothing were lost, and no lay
    is shorter than ``least_mm``. ``boxes_mm`` is that of a lay of whole boxes, which is always
    possible, and ``filled_mm`` that of boxes made smaller by a `Fill`, which means nothing by
    itself; ``in_register_mm`` is that of the pieces that keep to a print alone, 0 without any.
    ``is_one_way`` tells whether no piece may be turned. ``sketched_mm`` is that of a sketch of the
    lay, if one was made and found a place for every piece.
    """

    pieces: int
    full_mm: float
    least_mm: float
    filled_mm: float
    boxes_mm: float
    in_register_mm: float = 0.0
    is_one_way: bool = False
    sketched_mm: float | None = None
