"""The verdict on a paper pattern: pages, test squares, every line and word of every page as the
file has them, and the ink of the cut lines on the pages as drawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from scipy import ndimage

from cutfiles.errors import Finding
from cutfiles.paper.sheet import SQUARE_IN_MM, SQUARE_MM, Paper
from cutfiles.tolerances import PAGE_MM, PRINTED_GAP_MM, SQUARE_ERROR_MM
from cutfiles.verdict.drawing import Array
from cutfiles.verdict.expected_paper import ExpectedPaper
from cutfiles.verdict.paper_lines import Fault, line_faults
from cutfiles.verdict.paper_words import word_faults
from cutfiles.verdict.read_pdf import Ink, Picture, ReadPage, ReadPaper

_STEP_MM = 0.5
_BESIDE_MM = 0.3


def judge_paper(read: ReadPaper, expected: ExpectedPaper) -> tuple[Finding, ...]:
    """Every finding on a PDF of a pattern; a sound file gives none."""
    if read.findings:
        return read.findings
    faults = [*_pages(read, expected), *square_faults(read, expected.paper)]
    if not any(code in ("pages", "page-size", "page-place") for code, _ in faults):
        faults.extend(line_faults(read.pages, expected))
        faults.extend(word_faults(read.pages, expected))
        faults.extend(_ink(read.pages[1:], expected))
    return tuple(
        Finding(code, "error", f"{read.name}: {text}") for code, text in dict.fromkeys(faults)
    )


def _pages(read: ReadPaper, expected: ExpectedPaper) -> Iterator[Fault]:
    wanted = len(expected.tiles) + 1
    if len(read.pages) != wanted:
        yield "pages", f"has {len(read.pages)} pages, not {wanted}"
        return
    yield from page_faults(read, expected.paper)
    for number, (page, tile) in enumerate(
        zip(read.pages[1:], expected.tiles, strict=True), start=2
    ):
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


def page_faults(read: ReadPaper, paper: Paper) -> Iterator[Fault]:
    """Pages of another size, and what is on them besides lines and words."""
    for number, page in enumerate(read.pages, start=1):
        off = max(abs(page.width_mm - paper.width_mm), abs(page.height_mm - paper.height_mm))
        if off > PAGE_MM:
            yield (
                "page-size",
                f"page {number} is {page.width_mm:.1f} x {page.height_mm:.1f} mm, not {paper.name}",
            )
        if page.others:
            yield (
                "stray-line",
                f"page {number} has {page.others} parts that are neither plain lines nor words",
            )


def square_faults(read: ReadPaper, paper: Paper) -> Iterator[Fault]:
    """Test squares that are not there, or not of their size on the page as drawn."""
    if read.squares is None:
        yield "test-square", "no page has the test squares"
        return
    picture = read.squares
    per_mm = (picture.shape[1] / paper.width_mm, picture.shape[0] / paper.height_mm)
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
    red, green, blue = (picture[:, :, k] for k in range(3))
    wanted, other = (blue, red) if colour == "blue" else (red, blue)
    rest = np.maximum(other, green)
    strength = np.maximum(wanted, rest) - rest
    sides: list[float | None] = []
    for axis, scale in zip((0, 1), dots_per_mm, strict=True):
        profile = strength.sum(axis=axis, dtype=np.int64)
        runs, count = ndimage.label(profile > 0.4 * profile.max())
        if count < 2:
            sides.append(None)
            continue
        middles = ndimage.center_of_mass(profile, runs, [1, count])
        sides.append(float(middles[1][0] - middles[0][0]) / scale)
    return sides[0], sides[1]


def _ink(pages: Sequence[ReadPage], expected: ExpectedPaper) -> Iterator[Fault]:
    """Cut lines that are in the file and do not come out black on the pages."""
    pictures = [page.ink for page in pages]
    for line in expected.lines:
        if line.kind.startswith("cut line"):
            gap = longest_gap_mm(pictures, pages, expected, line.points)
            if gap > PRINTED_GAP_MM:
                yield "outline", f"{line.what}: {gap:.1f} mm of its cut line are on no page"


def longest_gap_mm(
    pictures: Sequence[Ink], pages: Sequence[ReadPage], expected: ExpectedPaper, line: Array
) -> float:
    """The longest stretch of a closed line on the sheet without ink within 0.3 mm, on any page
    whose window it crosses; of its whole length where it is on no page."""
    path = shapely.LineString(line)
    count = max(int(path.length / _STEP_MM), 1)
    points = shapely.get_coordinates(path.interpolate(np.arange(count) / count, normalized=True))
    paper = expected.paper
    inked = np.ones(len(points), dtype=bool)
    printed = np.zeros(len(points), dtype=bool)
    for picture, page, tile in zip(pictures, pages, expected.tiles, strict=True):
        x, y = points[:, 0] - tile.left_mm, points[:, 1] - tile.bottom_mm
        here = (
            (x > _BESIDE_MM)
            & (y > _BESIDE_MM)
            & (x < paper.window_width_mm - _BESIDE_MM)
            & (y < paper.window_height_mm - _BESIDE_MM)
        )
        if not here.any():
            continue
        per_x, per_y = picture.shape[1] / page.width_mm, picture.shape[0] / page.height_mm
        columns = ((x[here] + paper.margin_mm) * per_x).astype(np.int64)
        rows = ((page.height_mm - y[here] - paper.margin_mm) * per_y).astype(np.int64)
        beside = round(_BESIDE_MM * per_x)
        found = np.zeros(len(rows), dtype=bool)
        for down in range(-beside, beside + 1):
            for across in range(-beside, beside + 1):
                found |= picture[rows + down, columns + across]
        inked[here] &= found
        printed |= here
    inked &= printed
    if not inked.any():
        return float(path.length)
    turned = np.roll(inked, -int(np.argmax(inked)))  # start on ink: the line is closed
    gaps = np.diff(np.flatnonzero(np.append(turned, True))) - 1
    return float(gaps.max(initial=0)) * float(path.length) / count
