"""Making pieces larger before cutting, so that they are right after the cloth has shrunk."""

from __future__ import annotations

from dataclasses import dataclass, replace

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Line
from cutfiles.geometry.vector import Point, Vector
from cutfiles.job.cloth import GrainRule
from cutfiles.job.job import Cloth
from cutfiles.pieces.piece import Edge, LabelSpot, Notch, Piece


@dataclass(frozen=True, slots=True)
class Growth:
    """What a piece's measures along and across its own grain line are multiplied by."""

    along: float
    across: float

    @classmethod
    def on(cls, cloth: Cloth, rule: GrainRule) -> Growth:
        """For a piece whose grain line lies on a cloth by a rule.

        Lying across, it shrinks along its grain as the cloth does across. Where a piece may lie
        either way, or lies on the bias, and the cloth shrinks unevenly, it grows by the larger of
        the two both ways, so that it comes out too small in no place.
        """
        along = growth_factor(cloth.shrinkage_along_percent)
        across = growth_factor(cloth.shrinkage_across_percent)
        if rule.grain == "along":
            return cls(along, across)
        if rule.grain == "across":
            return cls(across, along)
        return cls(max(along, across), max(along, across))

    def piece(self, piece: Piece) -> Piece:
        """A piece grown."""
        return grown_piece(piece, along=self.along, across=self.across)


def growth_factor(shrinkage_percent: float) -> float:
    """What a finished length is multiplied by: cut = finished / (1 - shrinkage / 100).

    AATCC TM135 and ISO 5077 state dimensional change, DC = 100 (after - before) / before, which
    is minus the shrinkage.
    """
    return 1.0 / (1.0 - shrinkage_percent / 100.0)


def grown_piece(piece: Piece, *, along: float, across: float) -> Piece:
    """A piece with its measures along and across the grain multiplied.

    Everything on the piece grows with the cloth but the depth of its notches, which is a matter
    of the allowance and the tool.
    """
    if along == 1.0 and across == 1.0:
        return piece
    (grain,) = piece.grain.stretched(along, across)

    def at(point: Point) -> Point:
        return Point(point.x * along, point.y * across)

    def edge(old: Edge) -> Edge:
        return replace(old, stitch=old.stitch.stretched(along, across))

    def notch(old: Notch) -> Notch:
        return replace(old, foot=at(old.foot), at=at(old.at))

    def label(old: LabelSpot) -> LabelSpot:
        reading = Vector.at_angle(old.angle_deg)
        stretch = Vector(reading.x * along, reading.y * across).length
        return replace(old, centre=at(old.centre), room_mm=old.room_mm * stretch)

    return Piece(
        name=piece.name,
        edges=tuple(edge(old) for old in piece.edges),
        cut=Path(piece.cut.stretched(along, across).segments),
        notches=tuple(notch(old) for old in piece.notches),
        grain=Line(grain.start, grain.end),
        label=label(piece.label),
        inner=tuple(path.stretched(along, across) for path in piece.inner),
        marks=tuple(path.stretched(along, across) for path in piece.marks),
    )
