"""What a paper pattern must show: taken from the sheet before it is written, or from a list and
the drawings beside it later on.

The frame is the sheet's: millimetres, y up, the origin in its lower left corner.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from cutfiles.geometry.path import Path
from cutfiles.geometry.vector import Point
from cutfiles.paper.sheet import (
    DrawnPiece,
    MatchMark,
    Paper,
    PaperSheet,
    Tile,
    arrow_points,
    upright_deg,
)
from cutfiles.verdict.drawing import Array

_FLATTEN_MM = 0.005


@dataclass(frozen=True, slots=True)
class ExpectedLine:
    """One line: ``kind`` is what the key on the map calls it, ``what`` the piece it is of.

    A kind of two names with " or " between them may be drawn as either.
    """

    kind: str
    what: str
    points: Array


@dataclass(frozen=True, slots=True)
class ExpectedLabel:
    """One label: its middle, reading direction, and the length and height it must keep to."""

    text: str
    middle: tuple[float, float]
    angle_deg: float
    room_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class ExpectedPaper:
    """A whole pattern as pages. ``tiles`` are in page order, the first of them on page 2;
    ``sizes`` are the names of sizes that lie on each other, none where there is but one."""

    paper: Paper
    rows: int
    columns: int
    tiles: tuple[Tile, ...]
    marks: tuple[MatchMark, ...]
    square_at: Point
    sizes: tuple[str, ...]
    lines: tuple[ExpectedLine, ...]
    labels: tuple[ExpectedLabel, ...]


def expected_paper(sheet: PaperSheet) -> ExpectedPaper:
    """From the sheet itself."""
    several = sheet.sizes if len(sheet.sizes) > 1 else ()
    lines = [line for drawn in sheet.pieces for line in _lines_of(drawn, several)]
    for label in sheet.labels:
        steps = map(label.drawn.motion.point, arrow_points(label.drawn.piece.grain))
        points = np.array([(p.x, p.y) for p in steps])
        lines.append(ExpectedLine("grain line", label.drawn.piece.name, points))
    return ExpectedPaper(
        sheet.paper,
        sheet.rows,
        sheet.columns,
        sheet.tiles,
        sheet.marks,
        sheet.square_at,
        several,
        tuple(lines),
        tuple(_label(label.text, label.drawn) for label in sheet.labels),
    )


def cut_kind(sizes: tuple[str, ...], size_number: int | None) -> str:
    """What the key calls the cut line of a size; one for all sizes has the first one's."""
    return f"cut line, size {sizes[size_number or 0]}" if sizes else "cut line"


def _label(text: str, drawn: DrawnPiece) -> ExpectedLabel:
    spot = drawn.piece.label
    middle = drawn.motion.point(spot.centre)
    angle = upright_deg(spot.angle_deg + drawn.motion.turn_deg)
    place = (middle.x, middle.y)
    return ExpectedLabel(" ".join(text.split()), place, angle, spot.room_mm, spot.height_mm)


def _lines_of(drawn: DrawnPiece, sizes: tuple[str, ...]) -> Iterator[ExpectedLine]:
    piece = drawn.piece
    what = piece.name
    if sizes and drawn.size_number is not None:
        what += f", size {sizes[drawn.size_number]}"

    def line(kind: str, path: Path) -> ExpectedLine:
        return ExpectedLine(kind, what, path.moved(drawn.motion).flattened(_FLATTEN_MM))

    for path in (piece.cut, *piece.inner):
        yield line(cut_kind(sizes, drawn.size_number), path)
    clips = piece.clips
    for path in piece.stitch_lines:
        yield line("clip mark" if path in clips else "stitch line", path)
    for notch in piece.notches:
        slit = (notch.at, notch.at + notch.inward * notch.depth_mm)
        yield line("notch", Path.through(slit))
