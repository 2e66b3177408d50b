"""The verdict on a paper pattern: its pages drawn, put together again by what they say of
their places, and measured against the pieces."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from scipy import ndimage

from cutfiles.errors import Finding
from cutfiles.geometry.polygons import polygon_of
from cutfiles.paper.sheet import SQUARE_IN_MM, SQUARE_MM, DrawnPiece, Paper, PaperSheet
from cutfiles.tolerances import (
    FLATTEN_MM,
    PAGE_MM,
    PRINTED_AREA_SHARE,
    PRINTED_GAP_MM,
    SQUARE_ERROR_MM,
)
from cutfiles.verdict.read_pdf import Picture, ReadPage, ReadPaper

_DOT_MM = 0.1
_INK = 110
"""A dot darker than this is ink of a cut line: of what is printed in black."""

_STEP_MM = 0.5
_BESIDE_DOTS = 3
_BORDER_DOTS = 20
"""Two millimetres round a piece: less than lies between it and the next."""


def judge_paper(read: ReadPaper, sheet: PaperSheet) -> tuple[Finding, ...]:
    """Every finding on a PDF of a sheet; a sound file gives none."""
    if read.findings:
        return read.findings
    faults = [*_pages(read, sheet), *_squares(read, sheet), *_labels(read, sheet)]
    if not faults:
        whole = assembled(read.pages[1:], sheet.paper, sheet.width_mm, sheet.height_mm)
        for drawn in sheet.pieces:
            faults.extend(_outline(whole, drawn, sheet))
    return tuple(Finding(code, "error", f"{read.name}: {text}") for code, text in faults)


def _pages(read: ReadPaper, sheet: PaperSheet) -> Iterator[tuple[str, str]]:
    wanted = len(sheet.tiles) + 1
    if len(read.pages) != wanted:
        yield "pages", f"has {len(read.pages)} pages, not {wanted}"
        return
    paper = sheet.paper
    for number, page in enumerate(read.pages, start=1):
        off = max(abs(page.width_mm - paper.width_mm), abs(page.height_mm - paper.height_mm))
        if off > PAGE_MM:
            yield (
                "page-size",
                f"page {number} is {page.width_mm:.1f} x {page.height_mm:.1f} mm, not {paper.name}",
            )
    for number, (page, tile) in enumerate(zip(read.pages[1:], sheet.tiles, strict=True), start=2):
        place = page.place
        if place is None:
            yield "page-place", f"page {number} does not say where it belongs"
        elif (place.row, place.column) != (tile.row, tile.column) or max(
            abs(place.left_mm - tile.left_mm), abs(place.bottom_mm - tile.bottom_mm)
        ) > PAGE_MM:
            yield (
                "page-place",
                f"page {number} says row {place.row}, column {place.column} at "
                f"({place.left_mm:g}, {place.bottom_mm:g}) mm, and belongs in row {tile.row}, "
                f"column {tile.column} at ({tile.left_mm:g}, {tile.bottom_mm:g}) mm",
            )


def _squares(read: ReadPaper, sheet: PaperSheet) -> Iterator[tuple[str, str]]:
    if read.squares is None:
        yield "test-square", "no page has the test squares"
        return
    picture = read.squares
    per_mm = (picture.shape[1] / sheet.paper.width_mm, picture.shape[0] / sheet.paper.height_mm)
    for name, side_mm in (("blue", SQUARE_MM), ("orange", SQUARE_IN_MM)):
        for axis, measured in zip("xy", square_sides_mm(picture, name, per_mm), strict=True):
            if measured is None or abs(measured - side_mm) > SQUARE_ERROR_MM:
                found = "is not there" if measured is None else f"measures {measured:.2f} mm"
                yield (
                    "test-square",
                    f"the {name} test square {found} along {axis}, not {side_mm:g} mm",
                )


def square_sides_mm(
    picture: Picture, colour: str, dots_per_mm: tuple[float, float]
) -> tuple[float | None, float | None]:
    """Width and height of the ``blue`` or ``orange`` square in a page's picture, between the
    middles of its lines; None where there are no two."""
    red, green, blue = (picture[:, :, k].astype(np.int32) for k in range(3))
    wanted, other = (blue, red) if colour == "blue" else (red, blue)
    strength = np.clip(wanted - np.maximum(other, green), 0, None)
    sides: list[float | None] = []
    for axis, scale in zip((0, 1), dots_per_mm, strict=True):
        profile = strength.sum(axis=axis)
        runs, count = ndimage.label(profile > 0.4 * profile.max())
        if count < 2:
            sides.append(None)
            continue
        middles = ndimage.center_of_mass(profile, runs, [1, count])
        sides.append(float(middles[1][0] - middles[0][0]) / scale)
    return sides[0], sides[1]


def _labels(read: ReadPaper, sheet: PaperSheet) -> Iterator[tuple[str, str]]:
    for label in sheet.labels:
        words = " ".join(label.text.split())
        if not any(words in page.text for page in read.pages[1:]):
            yield "label", f"the label {label.text!r} is on no page"


def assembled(
    pages: tuple[ReadPage, ...], paper: Paper, width_mm: float, height_mm: float
) -> Picture:
    """The sheet, 10 dots a millimetre, from above: every page's window pasted where the page
    says. What two pages share must be white on both to be white."""
    whole = np.full((_dots(height_mm), _dots(width_mm)), 255, dtype=np.uint8)
    for page in pages:
        if page.place is None:
            continue
        rows, columns = page.picture.shape
        per_x, per_y = columns / page.width_mm, rows / page.height_mm
        # dot by dot, nearest: a page's picture is rounded up to whole dots
        x = np.arange(_dots(paper.window_width_mm))
        y = np.arange(_dots(paper.window_height_mm))
        from_x = ((paper.margin_mm + (x + 0.5) * _DOT_MM) * per_x).astype(np.int64)
        from_y = ((paper.margin_mm + (y + 0.5) * _DOT_MM) * per_y).astype(np.int64)
        window = page.picture[np.ix_(from_y, from_x)]
        left = _dots(page.place.left_mm)
        top = _dots(height_mm - page.place.bottom_mm - paper.window_height_mm)
        part = whole[top : top + len(y), left : left + len(x)]
        np.minimum(part, window[: part.shape[0], : part.shape[1]], out=part)
    return whole


def _outline(whole: Picture, drawn: DrawnPiece, sheet: PaperSheet) -> Iterator[tuple[str, str]]:
    name = drawn.piece.name
    if drawn.size_number is not None:
        name = f"{name}, size {sheet.sizes[drawn.size_number]}"
    gap = longest_gap_mm(whole, drawn, sheet.height_mm)
    if gap > PRINTED_GAP_MM:
        yield "outline", f"{name}: {gap:.1f} mm of its cut line are on no page"
    elif drawn.size_number is None:
        area, drafted = printed_area_mm2(whole, drawn, sheet.height_mm), polygon_of(drawn.piece.cut)
        if abs(area - drafted.area) > PRINTED_AREA_SHARE * drafted.area:
            yield (
                "outline",
                f"{name}: the printed cut line holds {area:.0f} mm2, not {drafted.area:.0f}",
            )


def longest_gap_mm(whole: Picture, drawn: DrawnPiece, height_mm: float) -> float:
    """The longest stretch of a piece's cut line without ink within 0.3 mm."""
    cut = drawn.piece.cut.moved(drawn.motion)
    count = max(int(cut.length() / _STEP_MM), 1)
    line = shapely.LineString(cut.flattened(FLATTEN_MM))
    steps = np.arange(count) / count
    points = shapely.get_coordinates(line.interpolate(steps, normalized=True))
    columns = np.floor(points[:, 0] / _DOT_MM).astype(np.int64)
    rows = np.floor((height_mm - points[:, 1]) / _DOT_MM).astype(np.int64)
    inked = np.zeros(len(points), dtype=bool)
    for down in range(-_BESIDE_DOTS, _BESIDE_DOTS + 1):
        for across in range(-_BESIDE_DOTS, _BESIDE_DOTS + 1):
            y = np.clip(rows + down, 0, whole.shape[0] - 1)
            x = np.clip(columns + across, 0, whole.shape[1] - 1)
            inked |= whole[y, x] < _INK
    if not inked.any():
        return cut.length()
    turned = np.roll(inked, -int(np.argmax(inked)))  # start on ink: the line is closed
    gaps = np.diff(np.flatnonzero(np.append(turned, True))) - 1
    return float(gaps.max(initial=0)) * cut.length() / count


def printed_area_mm2(whole: Picture, drawn: DrawnPiece, height_mm: float) -> float:
    """The area inside a printed cut line, to the middle of the line.

    The picture is flooded from outside; what the flood does not reach is the piece with its
    line, and the largest dry field in it, its islands filled, the piece without.
    """
    outline = polygon_of(drawn.piece.cut.moved(drawn.motion))
    x0, y0, x1, y1 = outline.bounds
    top, left = _dots(height_mm - y1) - _BORDER_DOTS, _dots(x0) - _BORDER_DOTS
    crop = whole[
        max(top, 0) : _dots(height_mm - y0) + _BORDER_DOTS,
        max(left, 0) : _dots(x1) + _BORDER_DOTS,
    ]
    inked = np.pad(crop < _INK, 1)
    fields, _ = ndimage.label(~inked)
    dry = fields != fields[0, 0]
    inside = outline.representative_point()
    row = min(max(_dots(height_mm - inside.y) - max(top, 0) + 1, 0), dry.shape[0] - 1)
    column = min(max(_dots(inside.x) - max(left, 0) + 1, 0), dry.shape[1] - 1)
    lumps, _ = ndimage.label(dry)
    if lumps[row, column] == 0:
        return 0.0
    with_line = lumps == lumps[row, column]
    rooms, count = ndimage.label(with_line & ~inked)
    if count == 0:
        return 0.0
    largest = int(np.argmax(np.bincount(rooms.ravel())[1:])) + 1
    without_line = ndimage.binary_fill_holes(rooms == largest)
    dots = (np.count_nonzero(with_line) + np.count_nonzero(without_line)) / 2.0
    return float(dots) * _DOT_MM**2


def _dots(length_mm: float) -> int:
    return round(length_mm / _DOT_MM)
