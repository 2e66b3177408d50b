"""The nouns of the paper pattern: paper, tile, drawn piece, sheet.

A sheet is one large drawing at 1:1 that is printed in tiles. Its frame: millimetres, x to the
right, y up, the origin in its lower left corner. A tile's *window* is the part of the page
inside its margins; neighbouring windows share an *overlap strip*.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from cutfiles.errors import JobError
from cutfiles.geometry.segments import Line
from cutfiles.geometry.vector import Motion, Point
from cutfiles.pieces.piece import Piece

PaperName = Literal["A4", "Letter"]

OVERLAP_MM: Final = 10.0
"""Width of the strip that two neighbouring pages share (common practice, no source)."""

SQUARE_MM: Final = 100.0
SQUARE_IN_MM: Final = 101.6
"""Sides of the two test squares: 100 mm, and 4 in. They share their middle."""

MATCH_RADIUS_MM: Final = 2.0
MATCH_ARM_MM: Final = 3.5
"""A match mark: a circle, and a cross whose arms reach beyond it."""

MOST_TILES: Final = 100
"""Pages beyond which nobody glues a sheet together (common practice, no source)."""

_ARROW_MM: Final = 5.0
_ARROW_SPREAD: Final = 0.3


@dataclass(frozen=True, slots=True)
class Paper:
    """A page, upright, with the margin that printers need on all four sides; in mm."""

    name: PaperName
    width_mm: float
    height_mm: float
    margin_mm: float

    @property
    def window_width_mm(self) -> float:
        """Between the margins."""
        return self.width_mm - 2.0 * self.margin_mm

    @property
    def window_height_mm(self) -> float:
        """Between the margins."""
        return self.height_mm - 2.0 * self.margin_mm


PAPERS: Final[dict[PaperName, Paper]] = {
    "A4": Paper("A4", 210.0, 297.0, 10.0),
    "Letter": Paper("Letter", 215.9, 279.4, 12.7),
}
"""A4 by ISO 216; Letter, 8.5 x 11 in, by ANSI/ASME Y14.1. Margins: common practice, no source."""


def paper_named(name: str) -> Paper:
    """A paper of `PAPERS`, however its name is written.

    Raises
    ------
    JobError
        If it is not known.
    """
    for paper in PAPERS.values():
        if paper.name.lower() == name.lower():
            return paper
    text = f"--paper: {name!r} is not known: use {' or '.join(PAPERS)}"
    raise JobError.of("paper", text)


@dataclass(frozen=True, slots=True)
class Tile:
    """One page of the sheet. Rows count from the top, columns from the left, both from 1;
    ``left_mm`` and ``bottom_mm`` are the lower left corner of its window on the sheet."""

    row: int
    column: int
    left_mm: float
    bottom_mm: float


@dataclass(frozen=True, slots=True)
class DrawnPiece:
    """A piece where it lies on the sheet; ``id`` is its id in the cut list.

    ``size_number`` counts the sheet's sizes from 0; None stands for all of them, where they do
    not differ or there is but one.
    """

    id: str
    piece: Piece
    motion: Motion
    size_number: int | None


@dataclass(frozen=True, slots=True)
class SheetLabel:
    """What is written on a piece, or once on all sizes of it, at the place for it on ``drawn``,
    whose grain line stands for all of them too."""

    text: str
    drawn: DrawnPiece


@dataclass(frozen=True, slots=True)
class MatchMark:
    """A mark in the middle of an overlap strip, printed on both pages that share it."""

    name: str
    at: Point


@dataclass(frozen=True, slots=True)
class PaperSheet:
    """Everything that is printed for one pattern.

    ``sizes`` is empty where the pattern has none: of a panel. ``tiles`` are in page order, rows
    from the top; tiles on which nothing lies are left out. ``square_at`` is the middle of the test
    squares, which lie on the first tile. A sheet that ``is_lay`` shows pieces as they are cut, in
    place of a pattern.
    """

    name: str
    title: str
    paper: Paper
    width_mm: float
    height_mm: float
    rows: int
    columns: int
    tiles: tuple[Tile, ...]
    sizes: tuple[str, ...]
    pieces: tuple[DrawnPiece, ...]
    labels: tuple[SheetLabel, ...]
    marks: tuple[MatchMark, ...]
    square_at: Point
    is_lay: bool = False

    @property
    def first_tile_page(self) -> int:
        """Pages count from 1, and the first one is the map of all."""
        return 2


def arrow_points(line: Line) -> tuple[Point, ...]:
    """A grain line as it is printed: tail, head, and the two barbs at the head."""
    along = (line.end - line.start).unit
    barb = min(_ARROW_MM, line.length() / 3.0)
    back, aside = along * -barb, along.left * (_ARROW_SPREAD * barb)
    return (
        line.start,
        line.end,
        line.end + back + aside,
        line.end,
        line.end + back + aside * -1.0,
    )


def upright_deg(angle_deg: float) -> float:
    """The same line of text read the other way where it would stand on its head."""
    angle = angle_deg % 360.0
    return angle - 180.0 if 90.0 < angle <= 270.0 else angle
