"""``bundle-tickets.pdf``: a ticket a bundle, to be cut apart and tied on, with a code to read.

The codes are QR codes (ISO/IEC 18004) of plain text, made by segno (BSD licence).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import segno

from cutfiles.files.pdf_pen import LineStyle, Pen, fitting, wrapped
from cutfiles.paper.sheet import Paper
from cutfiles.sheets.sheet import Bundle, CutFolder
from cutfiles.units import counted

_COLUMNS = 2
_LEAST_HEIGHT_MM = 62.0
_CODE_MM = 28.0
_QUIET = 4
"""Modules left white round a code (ISO/IEC 18004)."""

_INSET_MM = 4.0
_TEXT_MM = 2.9
_LEADING = 1.3
_HEAD_MM, _FOOT_MM = 13.0, 10.0
_MOST_RUNS = 12
_CUT_MARK = LineStyle((0, 0, 0), 0.15)
_BLANK = LineStyle((120, 120, 120), 0.15)
_ARM_MM = 3.0


def bundle_tickets(folder: CutFolder, bundles: Sequence[Bundle], paper: Paper) -> bytes:
    """Two tickets side by side, as many rows as the paper takes, with marks to cut along."""
    rows = int(paper.window_height_mm // _LEAST_HEIGHT_MM)
    width, height = paper.window_width_mm / _COLUMNS, paper.window_height_mm / rows
    each = rows * _COLUMNS
    pen = Pen(paper.width_mm, paper.height_mm, title=f"{folder.title}: bundle tickets")
    for first in range(0, len(bundles), each):
        with pen.page():
            _cut_marks(pen, paper, rows)
            for place, bundle in enumerate(bundles[first : first + each]):
                row, column = divmod(place, _COLUMNS)
                x = paper.margin_mm + column * width
                top = paper.height_mm - paper.margin_mm - row * height
                _ticket(pen, folder, bundle, (x, top - height, width, height))
    return pen.finish()


def _ticket_lines(folder: CutFolder, bundle: Bundle) -> tuple[str, ...]:
    """What a ticket says below its id, its count first."""
    pieces = ", ".join(f"{name} {count}" for name, count in bundle.counts)
    if bundle.caps:
        count = f"{counted(bundle.count, 'piece')} of {counted(bundle.caps, 'cap')}"
        lines = [count, pieces, f"{_numbers(bundle.numbers)}, order line {bundle.line}"]
    else:
        lines = [counted(bundle.count, "panel")]
    plies = counted(bundle.plies, "ply", "plies")
    lines.append(f"{bundle.lay}, {plies}, {bundle.cloth}")
    if bundle.elsewhere:
        lines.append(f"other pieces of these caps: {', '.join(bundle.elsewhere)}")
    lines.append(" ".join(part for part in (folder.title, folder.date) if part))
    return tuple(lines)


def _numbers(numbers: Sequence[int]) -> str:
    """``"cap numbers 1-3, 7"``; of many that do not follow each other the first and the last."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    if len(runs) > _MOST_RUNS:
        return f"{len(numbers)} of the cap numbers {numbers[0]}-{numbers[-1]}"
    return "cap numbers " + ", ".join(f"{a}-{b}" if b > a else f"{a}" for a, b in runs)


def _ticket(
    pen: Pen, folder: CutFolder, bundle: Bundle, box: tuple[float, float, float, float]
) -> None:
    x, bottom, width, height = box
    left, y = x + _INSET_MM, bottom + height - _INSET_MM
    room = width - 2.0 * _INSET_MM
    pen.text(bundle.id, left, y - 5.0, fitting(bundle.id, 6.0, room, bold=True), bold=True)
    pen.text(bundle.kind, left, y - 11.0, fitting(bundle.kind, 4.5, room, bold=True), bold=True)
    beside = room - _CODE_MM - 2.0
    at = y - _HEAD_MM
    _code(pen, bundle.code, left + room - _CODE_MM, at - _CODE_MM)
    texts = _ticket_lines(folder, bundle)
    size, lines = _TEXT_MM, _wrapped(texts, _TEXT_MM, beside)
    while len(lines) * size * _LEADING > height - 2.0 * _INSET_MM - _HEAD_MM - _FOOT_MM:
        size *= 0.95
        lines = _wrapped(texts, size, beside)
    for line in lines:
        at -= size * _LEADING
        pen.text(line, left, at, size)
    foot = bottom + _INSET_MM
    pen.text(bundle.code, left, foot + 6.5, fitting(bundle.code, 2.4, room))
    pen.use(_BLANK)
    for k, name in enumerate(("Bundled by", "Sewn by")):
        start = left + k * room / 2.0
        pen.text(name, start, foot, 2.4)
        pen.polyline([(start + 14.0, foot), (start + room / 2.0 - 2.0, foot)])


def _wrapped(texts: Sequence[str], size: float, room: float) -> list[str]:
    return [line for text in texts for line in wrapped(text, size, room)]


def _code(pen: Pen, text: str, x: float, y: float) -> None:
    """A code in a square of `_CODE_MM`, its quiet zone within."""
    code = segno.make_qr(text, error="m")
    side = _CODE_MM / (len(code.matrix) + 2 * _QUIET)
    pen.fill(
        (x + (_QUIET + start) * side, y + _CODE_MM - (_QUIET + row + 1) * side, count * side, side)
        for row, modules in enumerate(code.matrix)
        for start, count in _runs(modules)
    )


def _runs(modules: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Where dark modules begin, and how many stand in a row."""
    start: int | None = None
    for k, dark in enumerate((*modules, 0)):
        if dark and start is None:
            start = k
        elif not dark and start is not None:
            yield start, k - start
            start = None


def _cut_marks(pen: Pen, paper: Paper, rows: int) -> None:
    """A cross at every corner of a ticket."""
    pen.use(_CUT_MARK)
    for row in range(rows + 1):
        for column in range(_COLUMNS + 1):
            x = paper.margin_mm + column * paper.window_width_mm / _COLUMNS
            y = paper.margin_mm + row * paper.window_height_mm / rows
            pen.polyline([(x - _ARM_MM, y), (x + _ARM_MM, y)])
            pen.polyline([(x, y - _ARM_MM), (x, y + _ARM_MM)])
