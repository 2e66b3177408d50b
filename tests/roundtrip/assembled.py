"""A printed sheet put together again from the pictures of its pages: an outside check of what
the judge reads out of the file."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from cutfiles.geometry.polygons import polygon_of
from cutfiles.paper.sheet import DrawnPiece, Paper
from cutfiles.verdict.read_pdf import Ink, ReadPage

_DOT_MM = 0.2
_BORDER_DOTS = 10
"""Two millimetres round a piece: less than lies between it and the next."""


def assembled(pages: tuple[ReadPage, ...], paper: Paper, width_mm: float, height_mm: float) -> Ink:
    """The sheet, 5 dots a millimetre, from above: every page's window pasted where the page
    says. What is black on one of two pages that share it is black."""
    whole = np.zeros((_dots(height_mm), _dots(width_mm)), dtype=np.bool_)
    for page in pages:
        if page.place is None:
            continue
        picture = page.ink
        rows, columns = picture.shape
        per_x, per_y = columns / page.width_mm, rows / page.height_mm
        # dot by dot, nearest: a page's picture is rounded up to whole dots
        x = np.arange(_dots(paper.window_width_mm))
        y = np.arange(_dots(paper.window_height_mm))
        from_x = ((paper.margin_mm + (x + 0.5) * _DOT_MM) * per_x).astype(np.int64)
        from_y = ((paper.margin_mm + (y + 0.5) * _DOT_MM) * per_y).astype(np.int64)
        window = picture[np.ix_(from_y, from_x)]
        left = _dots(page.place.left_mm)
        top = _dots(height_mm - page.place.bottom_mm - paper.window_height_mm)
        part = whole[top : top + len(y), left : left + len(x)]
        part |= window[: part.shape[0], : part.shape[1]]
    return whole


def printed_area_mm2(whole: Ink, drawn: DrawnPiece, height_mm: float) -> float:
    """The area inside a printed cut line, to the middle of the line.

    The picture is flooded from outside; what the flood does not reach is the piece with its
    line, and the dry fields in it, their islands filled, are the piece without.
    """
    outline = polygon_of(drawn.piece.cut.moved(drawn.motion))
    x0, y0, x1, y1 = outline.bounds
    top, left = _dots(height_mm - y1) - _BORDER_DOTS, _dots(x0) - _BORDER_DOTS
    crop = whole[
        max(top, 0) : _dots(height_mm - y0) + _BORDER_DOTS,
        max(left, 0) : _dots(x1) + _BORDER_DOTS,
    ]
    inked = np.pad(crop, 1)
    fields, _ = ndimage.label(~inked)
    dry = fields != fields[0, 0]
    inside = outline.representative_point()
    row = min(max(_dots(height_mm - inside.y) - max(top, 0) + 1, 0), dry.shape[0] - 1)
    column = min(max(_dots(inside.x) - max(left, 0) + 1, 0), dry.shape[1] - 1)
    lumps, _ = ndimage.label(dry)
    if lumps[row, column] == 0:
        return 0.0
    with_line = lumps == lumps[row, column]
    holes, _ = ndimage.label(~(with_line & ~inked))
    without_line = holes != holes[0, 0]
    dots = (np.count_nonzero(with_line) + np.count_nonzero(without_line)) / 2.0
    return float(dots) * _DOT_MM**2


def _dots(length_mm: float) -> int:
    return round(length_mm / _DOT_MM)
