"""What ``pattern.json`` says of a pattern on paper, by a strict model of its own; and, with the
drawings that lie beside it, what its pages must show.

The list holds no lines. It says where every piece of a drawing lies on the sheet; the lines are
read out of the DXF file, which is judged for itself, and moved there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated

import numpy as np
import shapely
from pydantic import Field

from cutfiles.geometry.segments import Line
from cutfiles.geometry.vector import Motion, Point, Vector
from cutfiles.paper.sheet import PAPERS, MatchMark, PaperName, Tile, arrow_points
from cutfiles.tolerances import PRINTED_MM
from cutfiles.verdict.drawing import Array, ReadDrawing, ReadLine
from cutfiles.verdict.expected_paper import (
    ExpectedLabel,
    ExpectedLine,
    ExpectedPaper,
    cut_kind,
)
from cutfiles.verdict.rows import FileName, Place, Row

Count = Annotated[int, Field(ge=1, le=1000)]


class TileRow(Row):
    """One of ``tiles``."""

    row: Count
    column: Count
    left_mm: float
    bottom_mm: float


class MarkRow(Row):
    """One of ``marks``."""

    name: str
    at_mm: Place


class SheetPieceRow(Row):
    """One of ``pieces``: the motion from its drawing to the sheet."""

    id: str
    size: int | None
    turn_deg: float
    shift_mm: Place


class LabelRow(Row):
    """One of ``labels``; ``piece`` shows its grain line."""

    text: str
    piece: str
    middle_mm: Place
    angle_deg: float
    room_mm: float = Field(gt=0)
    height_mm: float = Field(gt=0)


class PaperRow(Row):
    """One of ``papers``."""

    file: FileName
    sha256: str
    paper: PaperName
    rows: Count
    columns: Count
    tiles: list[TileRow] = Field(min_length=1)
    marks: list[MarkRow]
    square_at_mm: Place
    sizes: list[str]
    pieces: list[SheetPieceRow] = Field(min_length=1)
    labels: list[LabelRow]


@dataclass(frozen=True, slots=True)
class DrawnThere:
    """A piece in a drawing that was read: the drawing, and where its centre and area are."""

    drawing: ReadDrawing
    centre: tuple[float, float]
    area_mm2: float


def paper_from(
    row: PaperRow, pieces: Mapping[str, DrawnThere], layers: Mapping[str, str]
) -> ExpectedPaper:
    """What the pages must show, by the list and the drawings.

    ``pieces`` are the pieces of the drawings by id, ``layers`` the layer of every role. Stitch
    lines and clip marks share a layer there, so either may stand for the other.

    Raises
    ------
    ValueError
        If the row names a piece or size that is not there, or a piece is not in its drawing.
    """
    lines: list[ExpectedLine] = []
    grain_of = {label.piece for label in row.labels}
    for piece in row.pieces:
        if piece.id not in pieces:
            raise ValueError(f"piece {piece.id!r} is in no drawing")
        if row.sizes and not 0 <= (piece.size or 0) < len(row.sizes):
            raise ValueError(f"piece {piece.id!r} is of size number {piece.size}, which is none")
        motion = Motion(piece.turn_deg, Vector(*piece.shift_mm))
        for role, line in _lines_in(pieces[piece.id], piece.id, layers):
            if role == "grain":
                if piece.id in grain_of:
                    lines.append(ExpectedLine("grain line", piece.id, _arrow(line, motion)))
                continue
            kind = {"notch": "notch", "stitch": "stitch line or clip mark"}.get(
                role, cut_kind(tuple(row.sizes), piece.size)
            )
            lines.append(ExpectedLine(kind, piece.id, _moved(line.points, motion)))
    return ExpectedPaper(
        paper=PAPERS[row.paper],
        rows=row.rows,
        columns=row.columns,
        tiles=tuple(Tile(t.row, t.column, t.left_mm, t.bottom_mm) for t in row.tiles),
        marks=tuple(MatchMark(mark.name, Point(*mark.at_mm)) for mark in row.marks),
        square_at=Point(*row.square_at_mm),
        sizes=tuple(row.sizes),
        lines=tuple(lines),
        labels=tuple(
            ExpectedLabel(
                label.text, label.middle_mm, label.angle_deg, label.room_mm, label.height_mm
            )
            for label in row.labels
        ),
    )


def _lines_in(
    piece: DrawnThere, name: str, layers: Mapping[str, str]
) -> Iterator[tuple[str, ReadLine]]:
    """The lines of one piece in its drawing, by role: its outline, and what lies within it."""
    drawing, centre = piece.drawing, shapely.Point(piece.centre)
    region = None
    for line in drawing.on(layers["outline"]):
        shape = shapely.Polygon(line.points) if len(line.points) >= 4 else shapely.Polygon()
        near = not shape.is_empty and shape.centroid.distance(centre) <= 2.0 * PRINTED_MM
        if near and abs(shape.area - piece.area_mm2) <= PRINTED_MM * shape.length:
            region = shape.buffer(PRINTED_MM)
            yield "outline", line
            break
    if region is None:
        raise ValueError(f"{drawing.name} has no outline of {name!r} in its place")
    for role in ("inner", "notch", "stitch", "grain"):
        for line in drawing.on(layers[role]):
            if region.covers(shapely.LineString(line.points)):
                yield role, line


def _moved(points: Array, motion: Motion) -> Array:
    a, b, d, e, x, y = motion.matrix
    return np.asarray(points @ [[a, d], [b, e]] + [x, y], dtype=np.float64)


def _arrow(line: ReadLine, motion: Motion) -> Array:
    """A grain line as it is printed; in the drawing its first step shows its direction."""
    tail, head = (motion.point(Point(float(x), float(y))) for x, y in line.points[:2])
    return np.array([(p.x, p.y) for p in arrow_points(Line(tail, head))])
