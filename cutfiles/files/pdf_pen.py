"""A pen on PDF pages: millimetres, y up from the page's lower left corner, true curves.

Written with reportlab (BSD licence). The same strokes give the same bytes: no dates, and an
id that follows from the contents.
"""

from __future__ import annotations

import io
import math
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Arc, Cubic, Line, Segment

_PT_PER_MM = 72.0 / 25.4
"""A PDF's default unit is 1/72 in (ISO 32000-1)."""

_PLAIN, _BOLD = "Helvetica", "Helvetica-Bold"
"""Two of the fonts that every PDF reader has (ISO 32000-1, 9.6.2.2)."""

_SOFT_HYPHEN = "\N{SOFT HYPHEN}"


@dataclass(frozen=True, slots=True)
class LineStyle:
    """Colour, width and dashes (on, off, on ...; none: solid) of a line, in mm."""

    rgb: tuple[int, int, int]
    width_mm: float
    dashes_mm: tuple[float, ...] = ()


class Pen:
    """Draws one document, page after page."""

    def __init__(self, width_mm: float, height_mm: float, *, title: str) -> None:
        self._stream = io.BytesIO()
        self._canvas = Canvas(
            self._stream,
            pagesize=(width_mm * _PT_PER_MM, height_mm * _PT_PER_MM),
            invariant=1,
            pageCompression=1,
        )
        self._canvas.setTitle(title)
        self._canvas.setAuthor("cutfiles")
        self._seen: tuple[float, float, float, float] | None = None

    @contextmanager
    def page(self) -> Iterator[None]:
        """Draw the next page."""
        self._canvas.scale(_PT_PER_MM, _PT_PER_MM)
        yield
        self._canvas.showPage()

    def finish(self) -> bytes:
        """The whole document."""
        self._canvas.save()
        return self._stream.getvalue()

    @contextmanager
    def window(
        self, x: float, y: float, width: float, height: float, *, origin: tuple[float, float]
    ) -> Iterator[None]:
        """Draw through a window only, whose lower left corner lies at ``origin`` of the drawing.

        What lies outside it is left out altogether, so that no reader finds hidden words.
        """
        canvas = self._canvas
        canvas.saveState()
        frame = canvas.beginPath()
        frame.rect(x, y, width, height)
        canvas.clipPath(frame, stroke=0, fill=0)
        canvas.translate(x - origin[0], y - origin[1])
        self._seen = (origin[0], origin[1], origin[0] + width, origin[1] + height)
        yield
        self._seen = None
        canvas.restoreState()

    @contextmanager
    def scaled(self, x: float, y: float, factor: float) -> Iterator[None]:
        """Draw smaller or larger, with the drawing's origin at (x, y); line widths keep."""
        self._canvas.saveState()
        self._canvas.translate(x, y)
        self._canvas.scale(factor, factor)
        yield
        self._canvas.restoreState()

    def use(self, style: LineStyle) -> None:
        """Draw the next lines so."""
        self._canvas.setStrokeColorRGB(*(value / 255.0 for value in style.rgb))
        self._canvas.setLineWidth(style.width_mm)
        self._canvas.setLineJoin(1)
        self._canvas.setDash(list(style.dashes_mm))

    def path(self, path: Path) -> None:
        """A path, with its curves as cubics; a closed one is joined at its end."""
        points = path.flattened(1.0)
        if not self._sees([(float(x), float(y)) for x, y in points], beyond=2.0):
            return
        drawn = self._canvas.beginPath()
        drawn.moveTo(path.start.x, path.start.y)
        for segment in _lines_and_cubics(path.segments):
            if isinstance(segment, Cubic):
                a, b, c = segment.handle, segment.end_handle, segment.end
                drawn.curveTo(a.x, a.y, b.x, b.y, c.x, c.y)
            else:
                drawn.lineTo(segment.end.x, segment.end.y)
        if path.is_closed:
            drawn.close()
        self._canvas.drawPath(drawn, stroke=1, fill=0)

    def polyline(self, points: Sequence[tuple[float, float]]) -> None:
        """Straight lines from point to point."""
        if not self._sees(points):
            return
        drawn = self._canvas.beginPath()
        drawn.moveTo(*points[0])
        for point in points[1:]:
            drawn.lineTo(*point)
        self._canvas.drawPath(drawn, stroke=1, fill=0)

    def rectangle(self, x: float, y: float, width: float, height: float) -> None:
        """From its lower left corner."""
        self._canvas.rect(x, y, width, height, stroke=1, fill=0)

    def fill(self, boxes: Iterable[tuple[float, float, float, float]]) -> None:
        """Black boxes, each by its lower left corner, width and height, as one shape, so that
        neighbours show no seam."""
        drawn = self._canvas.beginPath()
        for box in boxes:
            drawn.rect(*box)
        self._canvas.setFillColorRGB(0, 0, 0)
        self._canvas.drawPath(drawn, stroke=0, fill=1)

    def circle(self, x: float, y: float, radius: float) -> None:
        """Round a centre."""
        if not self._sees([(x, y)], beyond=radius):
            return
        self._canvas.circle(x, y, radius, stroke=1, fill=0)

    def text(
        self,
        text: str,
        x: float,
        y: float,
        height_mm: float,
        *,
        rgb: tuple[int, int, int] = (0, 0, 0),
        angle_deg: float = 0.0,
        centred: bool = False,
        bold: bool = False,
    ) -> None:
        """A line of text from (x, y) on its base line, or with its middle there.

        Letters that the fonts lack come as question marks.
        """
        plain, font = _printable(text), _BOLD if bold else _PLAIN
        reach = text_width_mm(text, height_mm, bold=bold) * (0.5 if centred else 1.0)
        cos, sin = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
        ends = [(x + k * reach * cos, y + k * reach * sin) for k in (-1.0 if centred else 0.0, 1.0)]
        if not self._sees(ends, beyond=height_mm):
            return
        canvas = self._canvas
        canvas.saveState()
        canvas.translate(x, y)
        canvas.rotate(angle_deg)
        canvas.setFillColorRGB(*(value / 255.0 for value in rgb))
        canvas.setFont(font, height_mm)
        if centred:
            canvas.drawCentredString(0.0, -0.35 * height_mm, plain)
        else:
            canvas.drawString(0.0, 0.0, plain)
        canvas.restoreState()

    def _sees(self, points: Sequence[tuple[float, float]], *, beyond: float = 1.0) -> bool:
        """Whether the box round some points, that much larger, reaches into the window."""
        if self._seen is None:
            return True
        left, bottom, right, top = self._seen
        xs, ys = [x for x, _ in points], [y for _, y in points]
        return bool(
            min(xs) - beyond <= right
            and max(xs) + beyond >= left
            and min(ys) - beyond <= top
            and max(ys) + beyond >= bottom
        )


def text_width_mm(text: str, height_mm: float, *, bold: bool = False) -> float:
    """How long a line of text is."""
    return float(stringWidth(_printable(text), _BOLD if bold else _PLAIN, height_mm))


def wrapped(text: str, height_mm: float, room_mm: float) -> list[str]:
    """A text in lines of so much room, broken at spaces, and within a word that has no room."""
    lines = [""]
    for word in text.split():
        trial = f"{lines[-1]} {word}".lstrip()
        if text_width_mm(trial, height_mm) <= room_mm:
            lines[-1] = trial
            continue
        if lines[-1]:
            lines.append("")
        for letter in word:
            if lines[-1] and text_width_mm(lines[-1] + letter, height_mm) > room_mm:
                lines.append("")
            lines[-1] += letter
    return lines


def fitting(text: str, height_mm: float, room_mm: float, *, bold: bool = False) -> float:
    """The height at which a line of text fits its room."""
    width = text_width_mm(text, height_mm, bold=bold)
    return min(height_mm, height_mm * room_mm / max(width, 1e-6))


def _printable(text: str) -> str:
    """With the letters of the standard Latin encoding only, which the fonts hold; without line
    ends and other controls, which would be drawn as boxes."""
    plain = " ".join(text.replace(_SOFT_HYPHEN, "").split())
    plain = "".join("?" if unicodedata.category(c) == "Cc" else c for c in plain)
    return plain.encode("cp1252", errors="replace").decode("cp1252")


def _lines_and_cubics(segments: Sequence[Segment]) -> Iterator[Line | Cubic]:
    for segment in segments:
        if isinstance(segment, Line | Cubic):
            yield segment
        elif isinstance(segment, Arc):
            count = math.ceil(abs(segment.sweep_deg) / 30.0)
            for k in range(count):
                yield segment.part(k / count, (k + 1) / count).as_cubic()
        else:
            raise TypeError(f"no PDF curve is known for {type(segment).__name__}")
