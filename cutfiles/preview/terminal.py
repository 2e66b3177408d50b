"""A lay in letters and dots, for a terminal.

Outlines are drawn in dots of braille, two wide and four high in each cell; a letter in the middle
of each piece says in the legend what it is, so that it can be read without colour.
"""

from __future__ import annotations

import math
import string
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon

from cutfiles.units import format_length
from cutfiles.verdict.drawing import Array

Run = tuple[str, int | None]
"""Letters in one colour: what they are, and the number of the kind of piece; None has no colour."""

_BRAILLE: Final = 0x2800
_BITS: Final = np.array([[0x01, 0x02, 0x04, 0x40], [0x08, 0x10, 0x20, 0x80]])
"""Of the dots of a cell, by column and row (Unicode Standard, "Braille Patterns")."""
_LETTERS: Final = string.ascii_uppercase + string.ascii_lowercase + string.digits
_FLAW: Final = "!"
_MOST_ROWS: Final = 24
_LEAST_ROWS: Final = 16
"""Of a strip, in cells: a long lay is shown in several strips, one below the other."""


@dataclass(frozen=True, slots=True)
class TerminalLay:
    """What a terminal shows of a lay: the outlines of its pieces in mm, y up, and what each of them
    is; its flaws; and a line above that says what it is."""

    heading: str
    width_mm: float
    length_mm: float
    outlines: tuple[Polygon, ...]
    kinds: tuple[str, ...]
    flaws: tuple[Polygon, ...]
    is_folded: bool
    length_unit: str


def lay_lines(lay: TerminalLay, cells: int, *, plain: bool) -> list[list[Run]]:
    """The lay in lines of at most so many cells, 20 at least; its heading first and its legend
    last. With ``plain`` there are no letters beyond ASCII."""
    kinds = sorted(set(lay.kinds))
    numbers = {kind: number for number, kind in enumerate(kinds)}
    columns = max(cells, 20) - 2
    strips = math.ceil(lay.length_mm * 2.0 * _LEAST_ROWS / (lay.width_mm * columns))
    dot_mm = max(lay.width_mm / (4 * _MOST_ROWS), lay.length_mm / (2 * columns * strips))
    canvas = _Canvas(lay.length_mm, lay.width_mm, dot_mm)
    for outline, kind in zip(lay.outlines, lay.kinds, strict=True):
        canvas.draw(shapely.get_coordinates(outline.exterior), numbers[kind])
    for flaw in lay.flaws:
        canvas.draw(shapely.get_coordinates(flaw.exterior), None)
    for outline, kind in zip(lay.outlines, lay.kinds, strict=True):
        canvas.write(_letter(numbers[kind]), outline, numbers[kind])
    for flaw in lay.flaws:
        canvas.write(_FLAW, flaw, None)
    lines: list[list[Run]] = [[(_words(lay.heading, plain=plain), None)]]
    for first in range(0, canvas.columns, columns):
        lines.extend(_strip(canvas, first, min(columns, canvas.columns - first), lay, plain=plain))
    counts = Counter(lay.kinds)
    for kind, number in numbers.items():
        words = _words(f"{kind}: {counts[kind]}", plain=plain)
        lines.append([(f"{_letter(number)}  ", number), (words, None)])
    if lay.flaws:
        lines.append([(f"{_FLAW}  flaw: {len(lay.flaws)}", None)])
    return lines


def _letter(number: int) -> str:
    return _LETTERS[number] if number < len(_LETTERS) else "?"


def _words(text: str, *, plain: bool) -> str:
    """As a terminal may have them: what a file says may hold orders to it."""
    shown = "".join(letter if letter.isprintable() else "?" for letter in text)
    return shown.encode("ascii", "replace").decode() if plain else shown


class _Canvas:
    """Dots, letters and colours of a whole lay, the upper edge first."""

    def __init__(self, length_mm: float, width_mm: float, dot_mm: float) -> None:
        self._dot_mm = dot_mm
        self.column_mm = 2.0 * dot_mm
        self.columns = max(1, math.ceil(length_mm / self.column_mm - 1e-9))
        self.rows = max(1, math.ceil(width_mm / dot_mm / 4.0 - 1e-9))
        self._width_mm = width_mm
        self.dots: npt.NDArray[np.int64] = np.zeros((self.rows, self.columns), dtype=np.int64)
        self.colours: npt.NDArray[np.int64] = np.full((self.rows, self.columns), -1)
        self.letters: dict[tuple[int, int], str] = {}

    def _cells(self, points: Array) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
        """Columns and rows of dots, of points that lie on the cloth or a little off it."""
        x = np.floor(points[:, 0] / self._dot_mm).astype(np.int64)
        y = np.floor((self._width_mm - points[:, 1]) / self._dot_mm).astype(np.int64)
        return np.clip(x, 0, 2 * self.columns - 1), np.clip(y, 0, 4 * self.rows - 1)

    def draw(self, points: Array, kind: int | None) -> None:
        line = shapely.get_coordinates(shapely.LineString(points).segmentize(self._dot_mm / 2.0))
        x, y = self._cells(line)
        np.bitwise_or.at(self.dots, (y // 4, x // 2), _BITS[x % 2, y % 4])
        self.colours[y // 4, x // 2] = -1 if kind is None else kind

    def write(self, letter: str, region: Polygon, kind: int | None) -> None:
        x, y = self._cells(shapely.get_coordinates(region.point_on_surface()))
        place = int(y[0]) // 4, int(x[0]) // 2
        self.letters[place] = letter
        self.colours[place] = -1 if kind is None else kind

    def runs(self, row: int, columns: range, *, plain: bool) -> Iterable[Run]:
        """The cells of a row, those of one colour together."""
        text, colour = "", -1
        for column in columns:
            dots = int(self.dots[row, column])
            shown = "*" if plain else chr(_BRAILLE + dots)
            cell = self.letters.get((row, column), shown if dots else " ")
            own = int(self.colours[row, column]) if cell != " " else colour
            if own != colour and text:
                yield text, None if colour < 0 else colour
                text = ""
            text, colour = text + cell, own
        yield text, None if colour < 0 else colour


def _strip(
    canvas: _Canvas, first: int, count: int, lay: TerminalLay, *, plain: bool
) -> Iterable[list[Run]]:
    """A stretch of the lay between its edges, with where it begins and ends along the cloth; a fold
    is a double line."""
    flat, double, side = ("-", "=", "|") if plain else ("─", "═", "│")
    columns = first, first + count
    ends = [min(column * canvas.column_mm, lay.length_mm) for column in columns]
    words = [f" {format_length(end, lay.length_unit)} " for end in ends]
    room = count + 2 - sum(len(word) for word in words)
    edge = words[0] + flat * room + words[1] if room > 0 else flat * (count + 2)
    yield [(edge, None)]
    for row in range(canvas.rows):
        cells = canvas.runs(row, range(first, first + count), plain=plain)
        yield [(side, None), *cells, (side, None)]
    fold = " fold "
    if lay.is_folded and count + 2 > len(fold):
        yield [(fold.center(count + 2, double), None)]
    else:
        yield [(flat * (count + 2), None)]
