"""Reading a paper pattern through PDFium, which draws the pages as a printer would.

Not one line of code in common with the writer. (pypdfium2, Apache-2.0 or BSD-3-Clause.)
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pypdfium2

from cutfiles.errors import Finding

Picture = npt.NDArray[np.uint8]

_MM_PER_PT = 25.4 / 72.0
_DOTS_PER_MM = 10.0
_SQUARE_DOTS_PER_MM = 300.0 / 25.4

_PLACE = re.compile(
    r"row (?P<row>\d+) of (?P<rows>\d+), column (?P<column>\d+) of (?P<columns>\d+)"
    r".*starts (?P<left>[\d.]+) mm from the left and (?P<bottom>[\d.]+) mm from the bottom"
)


@dataclass(frozen=True, slots=True)
class StatedPlace:
    """Where a page says it belongs: its row and column from 1, and its frame on the sheet."""

    row: int
    column: int
    left_mm: float
    bottom_mm: float


@dataclass(frozen=True, slots=True)
class ReadPage:
    """A page as read. ``picture`` is ``(height, width)``, from above, 0 where it is black:
    the lightest of the three colours of each dot, so that only black and dark grey are dark."""

    width_mm: float
    height_mm: float
    text: str
    place: StatedPlace | None
    picture: Picture


@dataclass(frozen=True, slots=True)
class ReadPaper:
    """A whole PDF as read. ``squares`` is the page with the test squares in colour,
    ``(height, width, 3)``, at 300 dots an inch, where there is one."""

    name: str
    pages: tuple[ReadPage, ...]
    squares: Picture | None
    findings: tuple[Finding, ...]


def read_pdf(path: Path) -> ReadPaper:
    """Read and draw every page of a PDF file. What cannot be read at all is a finding."""
    try:
        document = pypdfium2.PdfDocument(path)
    except pypdfium2.PdfiumError:
        text = f"{path.name}: is no PDF file that can be read (by PDFium): write or copy it again"
        return ReadPaper(path.name, (), None, (Finding("unreadable", "error", text),))
    pages = []
    squares: Picture | None = None
    try:
        for page in document:
            width, height = page.get_size()
            words = " ".join(page.get_textpage().get_text_range().split())
            place = _PLACE.search(words)
            stated = place and StatedPlace(
                int(place["row"]),
                int(place["column"]),
                float(place["left"]),
                float(place["bottom"]),
            )
            drawn = _drawn(page, _DOTS_PER_MM)
            picture = np.maximum(np.maximum(drawn[:, :, 0], drawn[:, :, 1]), drawn[:, :, 2])
            pages.append(ReadPage(width * _MM_PER_PT, height * _MM_PER_PT, words, stated, picture))
            if squares is None and stated and "100 mm by 100 mm" in words:
                squares = _drawn(page, _SQUARE_DOTS_PER_MM)
    finally:
        document.close()
    return ReadPaper(path.name, tuple(pages), squares, ())


def _drawn(page: pypdfium2.PdfPage, dots_per_mm: float) -> Picture:
    """The page as a picture ``(height, width, 3)``, red first."""
    bitmap = page.render(scale=dots_per_mm * _MM_PER_PT, rev_byteorder=True)
    return np.array(bitmap.to_numpy()[:, :, :3], dtype=np.uint8)
