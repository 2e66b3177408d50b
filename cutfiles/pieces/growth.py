"""Making pieces larger before cutting, so that they are right after the cloth has shrunk."""

from __future__ import annotations

from dataclasses import replace

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Line
from cutfiles.geometry.vector import Point, Vector
from cutfiles.pieces.piece import Edge, LabelSpot, Notch, Piece


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
