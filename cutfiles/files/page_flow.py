"""Pages that fill from the top: lines, paragraphs, tables and pictures, one under the other.

Nothing is drawn before all is laid out, so that every page can say how many there are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from cutfiles.files.pdf_pen import LineStyle, Pen, fitting, wrapped
from cutfiles.paper.sheet import Paper

TEXT_MM: Final = 3.2
_LEADING: Final = 1.35
_HEAD_MM: Final = 9.0
_FOOT_MM: Final = 8.0
_THIN: Final = LineStyle((120, 120, 120), 0.15)

Drawn = Callable[[Pen], None]


class Flow:
    """A document in the making. ``y`` falls from the top of the page's room as it fills."""

    def __init__(self, paper: Paper, title: str) -> None:
        self._paper = paper
        self._title = title
        self._pages: list[tuple[str, list[Drawn]]] = []
        self.y = 0.0

    @property
    def left(self) -> float:
        """Of the room for everything."""
        return self._paper.margin_mm

    @property
    def width(self) -> float:
        """Of the room for everything."""
        return self._paper.window_width_mm

    def new_page(self, heading: str) -> None:
        """Begin a page; those that follow of themselves have the same heading."""
        self._pages.append((heading, []))
        self.y = self._paper.height_mm - self._paper.margin_mm - _HEAD_MM

    def room(self, height_mm: float) -> None:
        """Go on to a new page where so much no longer fits."""
        if self.y - height_mm < self._paper.margin_mm + _FOOT_MM:
            self.new_page(self._pages[-1][0])

    def draw(self, drawn: Drawn) -> None:
        """Something of its own on this page."""
        self._pages[-1][1].append(drawn)

    def gap(self, height_mm: float) -> None:
        """Leave room."""
        self.y -= height_mm

    def paragraph(
        self, text: str, *, height_mm: float = TEXT_MM, bold: bool = False, indent_mm: float = 0.0
    ) -> None:
        """A text over as many lines as it takes."""
        # bold letters are up to a tenth wider
        room = (self.width - indent_mm) * (0.9 if bold else 1.0)
        for line in wrapped(text, height_mm, room):
            self.room(height_mm * _LEADING)
            self.gap(height_mm * _LEADING)
            self._write(line, self.left + indent_mm, height_mm, bold=bold)

    def heading(self, text: str) -> None:
        """A heading, never alone at the foot of a page."""
        self.room(14.0)
        self.gap(2.5)
        self.paragraph(text, height_mm=3.8, bold=True)
        self.gap(0.8)

    def table(self, shares: Sequence[float], rows: Sequence[Sequence[str]]) -> None:
        """Rows of cells, the first one bold; ``shares`` are the widths of its columns."""
        step = TEXT_MM * 1.5
        whole = sum(shares)
        for number, row in enumerate(rows):
            self.room(step)
            self.gap(step)
            x = self.left
            for share, cell in zip(shares, row, strict=True):
                room = self.width * share / whole
                bold = number == 0
                height = fitting(cell, TEXT_MM, room - 2.0, bold=bold)
                self._write(cell, x, height, bold=bold)
                x += room
            self._rule()

    def boxes(self, names: Sequence[str]) -> None:
        """Empty boxes in a row, to be filled in by hand, each with its name."""
        self.room(16.0)
        self.gap(15.0)
        width = self.width / len(names)
        for number, name in enumerate(names):
            x, y = self.left + number * width, self.y
            self.draw(_box(x, y, width, 14.0))
            self.draw(_text(name, x + 1.5, y + 10.0, 2.6))

    def finish(self) -> bytes:
        """The document."""
        paper = self._paper
        pen = Pen(paper.width_mm, paper.height_mm, title=self._title)
        top = paper.height_mm - paper.margin_mm
        for number, (heading, things) in enumerate(self._pages, 1):
            with pen.page():
                room = self.width - 2.0
                pen.text(heading, self.left, top - 4.0, fitting(heading, 3.0, room))
                pen.use(_THIN)
                pen.polyline([(self.left, top - 6.0), (self.left + self.width, top - 6.0)])
                for thing in things:
                    thing(pen)
                foot = f"page {number} of {len(self._pages)}"
                pen.text(foot, self.left, paper.margin_mm + 1.0, 3.0)
        return pen.finish()

    def _write(self, text: str, x: float, height_mm: float, *, bold: bool) -> None:
        self.draw(_text(text, x, self.y, height_mm, bold=bold))

    def _rule(self) -> None:
        y, x = self.y - 1.2, self.left

        def rule(pen: Pen) -> None:
            pen.use(_THIN)
            pen.polyline([(x, y), (x + self.width, y)])

        self.draw(rule)


def _text(text: str, x: float, y: float, height_mm: float, *, bold: bool = False) -> Drawn:
    return lambda pen: pen.text(text, x, y, height_mm, bold=bold)


def _box(x: float, y: float, width: float, height: float) -> Drawn:
    def box(pen: Pen) -> None:
        pen.use(_THIN)
        pen.rectangle(x, y, width, height)

    return box
