"""Reading a paper pattern through PDFium: its lines and words as the file has them, and its pages
drawn as a printer would.

Not one line of code in common with the writer. (pypdfium2, Apache-2.0 or BSD-3-Clause.)
"""

from __future__ import annotations

import ctypes
import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pypdfium2
import pypdfium2.raw as pdfium

from cutfiles.errors import Finding
from cutfiles.geometry.segments import Cubic
from cutfiles.geometry.vector import Point
from cutfiles.verdict.drawing import Array

Picture = npt.NDArray[np.uint8]
Ink = npt.NDArray[np.bool_]
Box = tuple[float, float, float, float]

_MM_PER_PT = 25.4 / 72.0
_DOTS_PER_MM = 10.0
_SQUARE_DOTS_PER_MM = 300.0 / 25.4
_DARK = 110
"""A dot is ink where its lightest colour is darker than this: what is printed in black."""

_FLATTEN_MM = 0.005
_MOST_DASHES = 32

_PLACE = re.compile(
    r"row (?P<row>\d+) of (?P<rows>\d+), column (?P<column>\d+) of (?P<columns>\d+)"
    r".*starts (?P<left>[\d.]+) mm from the left and (?P<bottom>[\d.]+) mm from the bottom"
)


@dataclass(frozen=True, slots=True)
class StatedPlace:
    """Where a page says it belongs: its row and column from 1, of how many, and its frame on the
    sheet."""

    row: int
    rows: int
    column: int
    columns: int
    left_mm: float
    bottom_mm: float


@dataclass(frozen=True, slots=True)
class ReadInk:
    """What a line is drawn with: colour, width and dashes in mm, to 0.01 mm."""

    rgb: tuple[int, int, int]
    width_mm: float
    dashes_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class ReadStroke:
    """A line of a page, flattened: points ``(n, 2)`` in mm, y up from the page's lower left
    corner. Nothing outside ``seen`` (least x and y, largest x and y) is printed, where there is
    such a box."""

    ink: ReadInk
    points: Array
    seen: Box | None


@dataclass(frozen=True, slots=True)
class ReadWords:
    """A text of a page: the middle of its box and where its base line starts, in mm, which way it
    reads, how long and high its box is, and whether it is dark."""

    text: str
    middle: tuple[float, float]
    start: tuple[float, float]
    angle_deg: float
    length_mm: float
    height_mm: float
    is_dark: bool


@dataclass(frozen=True, slots=True)
class ReadPage:
    """A page as read. ``others`` counts what is neither a plain line nor a text.

    The picture of its black is kept packed, eight dots in a byte; `ink` unpacks it.
    """

    width_mm: float
    height_mm: float
    text: str
    place: StatedPlace | None
    strokes: tuple[ReadStroke, ...]
    words: tuple[ReadWords, ...]
    others: int
    shape: tuple[int, int]
    packed: Picture

    @property
    def ink(self) -> Ink:
        """``(height, width)``, from above, 10 dots a millimetre: where black is printed."""
        count = self.shape[0] * self.shape[1]
        return np.unpackbits(self.packed, count=count).reshape(self.shape).astype(np.bool_)


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
        return _unreadable(path)
    pages = []
    squares: Picture | None = None
    try:
        for page in document:
            read = _read_page(page)
            pages.append(read)
            if squares is None and read.place and "100 mm by 100 mm" in read.text:
                squares = _drawn(page, _SQUARE_DOTS_PER_MM)
    except pypdfium2.PdfiumError:
        return _unreadable(path)
    finally:
        document.close()
    return ReadPaper(path.name, tuple(pages), squares, ())


def _unreadable(path: Path) -> ReadPaper:
    text = f"{path.name}: is no PDF file that can be read: write or copy it again"
    return ReadPaper(path.name, (), None, (Finding("unreadable", "error", text),))


def _read_page(page: pypdfium2.PdfPage) -> ReadPage:
    width, height = page.get_size()
    texts = page.get_textpage()
    text = " ".join(texts.get_text_range().split())
    place = _PLACE.search(text)
    strokes: list[ReadStroke] = []
    words: list[ReadWords] = []
    others = 0
    for thing in page.get_objects(max_depth=1):
        if thing.type == pdfium.FPDF_PAGEOBJ_PATH and _is_plain_line(thing):
            strokes.extend(_strokes(thing))
        elif thing.type == pdfium.FPDF_PAGEOBJ_TEXT:
            words.append(_words(thing, texts))
        else:
            others += 1
    drawn = _drawn(page, _DOTS_PER_MM)
    # colour by colour: a reduction over so short an axis takes ten times as long
    dark = np.maximum(np.maximum(drawn[:, :, 0], drawn[:, :, 1]), drawn[:, :, 2]) < _DARK
    return ReadPage(
        width * _MM_PER_PT,
        height * _MM_PER_PT,
        text,
        place
        and StatedPlace(
            int(place["row"]),
            int(place["rows"]),
            int(place["column"]),
            int(place["columns"]),
            float(place["left"]),
            float(place["bottom"]),
        ),
        tuple(strokes),
        tuple(words),
        others,
        (dark.shape[0], dark.shape[1]),
        np.packbits(dark),
    )


def _is_plain_line(thing: pypdfium2.PdfObject) -> bool:
    """Stroked, not filled, and not to be seen through."""
    fill, stroke = ctypes.c_int(), ctypes.c_int()
    pdfium.FPDFPath_GetDrawMode(thing, fill, stroke)
    return (
        fill.value == pdfium.FPDF_FILLMODE_NONE
        and bool(stroke.value)
        and _colour(pdfium.FPDFPageObj_GetStrokeColor, thing)[3] == 255
    )


def _colour(get: Callable[..., object], thing: pypdfium2.PdfObject) -> tuple[int, int, int, int]:
    red, green, blue, alpha = (ctypes.c_uint() for _ in range(4))
    get(thing, red, green, blue, alpha)
    return red.value, green.value, blue.value, alpha.value


def _strokes(thing: pypdfium2.PdfObject) -> Iterator[ReadStroke]:
    """The lines of a path, one for each time the pen was set down."""
    matrix = thing.get_matrix()
    scale = math.sqrt(abs(matrix.a * matrix.d - matrix.b * matrix.c)) * _MM_PER_PT
    width = ctypes.c_float()
    pdfium.FPDFPageObj_GetStrokeWidth(thing, width)
    count = max(pdfium.FPDFPageObj_GetDashCount(thing), 0)
    dashes = (ctypes.c_float * max(count, 1))()
    pdfium.FPDFPageObj_GetDashArray(thing, dashes, count)
    ink = ReadInk(
        _colour(pdfium.FPDFPageObj_GetStrokeColor, thing)[:3],
        round(width.value * scale, 2),
        tuple(round(float(dash) * scale, 2) for dash in dashes[: min(count, _MOST_DASHES)]),
    )
    clip = pdfium.FPDFPageObj_GetClipPath(thing)
    seen = _clip_box(clip) if clip else None

    def place(segment: object) -> Point:
        x, y = _point(segment)
        x, y = matrix.on_point(x, y)
        return Point(x * _MM_PER_PT, y * _MM_PER_PT)

    line: list[tuple[float, float]] = []
    handles: list[Point] = []
    for k in range(pdfium.FPDFPath_CountSegments(thing)):
        segment = pdfium.FPDFPath_GetPathSegment(thing, k)
        at, kind = place(segment), pdfium.FPDFPathSegment_GetType(segment)
        if kind == pdfium.FPDF_SEGMENT_MOVETO:
            if len(line) > 1:
                yield ReadStroke(ink, np.array(line), seen)
            line = [(at.x, at.y)]
        elif kind == pdfium.FPDF_SEGMENT_BEZIERTO and len(handles) < 2:
            handles.append(at)
        elif kind == pdfium.FPDF_SEGMENT_BEZIERTO:
            curve = Cubic(Point(*line[-1]), handles[0], handles[1], at)
            line.extend((float(x), float(y)) for x, y in curve.flattened(_FLATTEN_MM)[1:])
            handles = []
        else:
            line.append((at.x, at.y))
        if pdfium.FPDFPathSegment_GetClose(segment) and line[-1] != line[0]:
            line.append(line[0])
    if len(line) > 1:
        yield ReadStroke(ink, np.array(line), seen)


def _clip_box(clip: object) -> Box | None:
    """What all boxes that a line is clipped to have in common; PDFium leaves those out that
    hold the whole line."""
    boxes = []
    for path in range(max(pdfium.FPDFClipPath_CountPaths(clip), 0)):
        points = [
            _point(pdfium.FPDFClipPath_GetPathSegment(clip, path, k))
            for k in range(pdfium.FPDFClipPath_CountPathSegments(clip, path))
        ]
        if points:
            low, high = np.min(points, axis=0), np.max(points, axis=0)
            boxes.append([*low, *high])
    if not boxes:
        return None
    x0, y0 = np.max(boxes, axis=0)[:2] * _MM_PER_PT
    x1, y1 = np.min(boxes, axis=0)[2:] * _MM_PER_PT
    return float(x0), float(y0), float(x1), float(y1)


def _point(segment: object) -> tuple[float, float]:
    x, y = ctypes.c_float(), ctypes.c_float()
    pdfium.FPDFPathSegment_GetPoint(segment, x, y)
    return x.value, y.value


def _words(thing: pypdfium2.PdfObject, texts: pypdfium2.PdfTextPage) -> ReadWords:
    size = pdfium.FPDFTextObj_GetText(thing, texts, None, 0)
    buffer = ctypes.create_string_buffer(max(size, 2))
    characters = ctypes.cast(buffer, ctypes.POINTER(ctypes.c_ushort))
    pdfium.FPDFTextObj_GetText(thing, texts, characters, size)
    text = buffer.raw[:size].decode("utf-16-le", errors="replace").rstrip("\0")
    matrix = thing.get_matrix()
    quad = pdfium.FS_QUADPOINTSF()
    pdfium.FPDFPageObj_GetRotatedBounds(thing, quad)
    corners = _MM_PER_PT * np.array(
        [[quad.x1, quad.y1], [quad.x2, quad.y2], [quad.x3, quad.y3], [quad.x4, quad.y4]]
    )
    angle = math.atan2(matrix.b, matrix.a)
    along = corners @ [math.cos(angle), math.sin(angle)]
    across = corners @ [-math.sin(angle), math.cos(angle)]
    middle = corners.mean(axis=0)
    return ReadWords(
        " ".join(text.split()),
        (float(middle[0]), float(middle[1])),
        (matrix.e * _MM_PER_PT, matrix.f * _MM_PER_PT),
        math.degrees(angle),
        float(np.ptp(along)),
        float(np.ptp(across)),
        max(_colour(pdfium.FPDFPageObj_GetFillColor, thing)[:3]) < _DARK,
    )


def _drawn(page: pypdfium2.PdfPage, dots_per_mm: float) -> Picture:
    """The page as a picture ``(height, width, 3)``, red first."""
    bitmap = page.render(scale=dots_per_mm * _MM_PER_PT, rev_byteorder=True)
    return np.array(bitmap.to_numpy()[:, :, :3], dtype=np.uint8)
