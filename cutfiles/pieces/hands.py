"""Left and right: what comes of a piece on cloth of which every other layer lies face down.

Every position on such a spread gives the piece and its mirror image. That is right for a piece
that is its own mirror image, and for two pieces, as many of one as of the other, that are each
other's.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import MultiPoint, Polygon

from cutfiles.errors import Finding
from cutfiles.geometry.polygons import polygon_of
from cutfiles.geometry.vector import Vector
from cutfiles.job.cloth import GrainRule
from cutfiles.job.job import Cloth
from cutfiles.pieces.piece import Piece
from cutfiles.tolerances import MIRROR_MM

Array = npt.NDArray[np.float64]

Counted = tuple[Piece, GrainRule, int]
"""A piece, how it may lie, and how often it is wanted."""


def one_handed(wanted: Sequence[Counted], cloth: Cloth, *, what: str) -> Iterator[Finding]:
    """An error for every piece that cannot come from cloth that makes pairs.

    ``wanted`` is what is used together: the pieces of a cap, or the panels of a cloth. ``what``
    names the job, and whose pieces they are.
    """
    if not cloth.makes_pairs:
        return
    for piece, rule, count in wanted:
        partners = [
            other
            for other, its_rule, number in wanted
            if (number, its_rule) == (count, rule)
            and is_mirror_image(piece, other, rule, one_way=cloth.one_way)
        ]
        if not partners:
            yield Finding(
                "one-handed",
                "error",
                f"{what}: {piece.name} is neither its own mirror image nor one of a left and right "
                f"pair of equal number, and every position on cloth {cloth.name!r}, spread "
                f'{cloth.spread!r}, gives one of each hand: give spread = "single"',
            )


def is_mirror_image(piece: Piece, other: Piece, rule: GrainRule, *, one_way: bool) -> bool:
    """Whether a piece turned over, its grain line kept along itself, is another: outline, cut-outs
    and notches. On one-way cloth it must point the same way, or it may be turned by half; where
    its grain may lie either way, by a quarter."""
    turns = (0.0,) if one_way else (0.0, 180.0)
    if rule.grain == "either":
        turns = (*turns, 90.0) if one_way else (*turns, 90.0, 270.0)
    one, wanted = _Shown.of(piece), _Shown.of(other)
    if abs(one.region.area - wanted.region.area) > MIRROR_MM * one.region.length:
        return False
    over = np.diag([1.0, -1.0])
    return any(_alike(one.mapped(over @ _turn(turn)), wanted) for turn in turns)


@dataclass(frozen=True, slots=True)
class _Shown:
    """The region of a piece, and where its notches end, ``(n, 2)``."""

    region: Polygon
    ends: Array

    @classmethod
    def of(cls, piece: Piece) -> _Shown:
        holes = [polygon_of(path).exterior.coords for path in piece.inner]
        region = Polygon(polygon_of(piece.cut).exterior, holes)
        ends = [notch.at + notch.inward * notch.depth_mm for notch in piece.notches]
        return cls(region, np.array([(end.x, end.y) for end in ends]).reshape(-1, 2))

    def mapped(self, matrix: Array, shift: Array | None = None) -> _Shown:
        """Every point times a matrix, from the right, and shifted."""
        by = np.zeros(2) if shift is None else shift
        region = shapely.transform(self.region, lambda at: at @ matrix + by)
        return _Shown(region, self.ends @ matrix + by)


def _turn(turn_deg: float) -> Array:
    """The matrix, from the right, of a turn counter-clockwise."""
    way = Vector.at_angle(turn_deg)
    return np.array([[way.x, way.y], [-way.y, way.x]])


def _alike(one: _Shown, other: _Shown) -> bool:
    """Whether two pieces are the same, wherever they lie."""
    low, wanted_low = (np.array(shown.region.bounds[:2]) for shown in (one, other))
    placed = one.mapped(np.eye(2), wanted_low - low)
    if placed.region.hausdorff_distance(other.region) > MIRROR_MM:
        return False
    if len(placed.ends) != len(other.ends):
        return False
    ends, wanted = MultiPoint(placed.ends), MultiPoint(other.ends)
    return ends.is_empty or bool(ends.hausdorff_distance(wanted) <= MIRROR_MM)
