"""The verdict on the words of a printed page: labels, names of sizes and marks in their places,
neighbours named, and no word that does not belong there."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence

import shapely

from cutfiles.paper.sheet import SQUARE_MM, Tile
from cutfiles.verdict.expected import angle_between_deg
from cutfiles.verdict.expected_paper import ExpectedLabel, ExpectedPaper, cut_kind
from cutfiles.verdict.paper_lines import Fault
from cutfiles.verdict.read_pdf import ReadPage, ReadWords

_LABEL_MM = 0.5
_LABEL_SHARE = 0.25
"""How far the middle of a label's letters may lie off the middle of their line: what tails and
capitals make of it, as a share of their height, and a little."""

_ANGLE_DEG = 0.1
_MARK_NAME_MM = 6.0
_SIZE_NAME_MM = 4.0
_EDGE_MM = 1.0
"""Words that reach so little into a window, or fall so little short of it, may be there or not."""


def word_faults(pages: Sequence[ReadPage], expected: ExpectedPaper) -> Iterator[Fault]:
    """Every fault of the words of all pages; ``pages`` are as many as the map and the tiles."""
    lines: dict[str, list[shapely.LineString]] = defaultdict(list)
    for line in expected.lines:
        if line.kind.startswith("cut line"):
            lines[line.kind].append(shapely.LineString(line.points))
    cut = {kind: shapely.MultiLineString(parts) for kind, parts in lines.items()}
    numbers = {(t.row, t.column): number for number, t in enumerate(expected.tiles, start=2)}
    for number, (page, tile) in enumerate(zip(pages[1:], expected.tiles, strict=True), start=2):
        for code, text in (
            *_labels(page, tile, pages[1:], expected),
            *_marks(page, tile, expected),
            *_neighbours(page, tile, expected, numbers),
            *_strays(page, tile, expected, cut, numbers),
        ):
            yield code, f"page {number}: {text}"
    for kind in sorted(cut) if expected.sizes else ():
        size = kind.removeprefix("cut line, size ")
        named = (w for page in pages[1:] for w in page.words if w.text == size)
        if next(named, None) is None:
            yield "label", f"the name of size {size} is on no page"


def _labels(
    page: ReadPage, tile: Tile, pages: Sequence[ReadPage], expected: ExpectedPaper
) -> Iterator[Fault]:
    for label in expected.labels:
        alike = [words for each in pages for words in each.words if words.text == label.text]
        if not alike:
            yield "label", f"the label {label.text!r} is on no page"
            continue
        here = [words for words in page.words if words.text == label.text]
        length, height = alike[0].length_mm, alike[0].height_mm
        box = _turned_box(label, length, height)
        reach = box.intersection(_window(tile, expected)).area
        if not here and reach > _EDGE_MM * height:
            yield "label", f"the label {label.text!r} is not there"
        for words in here:
            fault = _label_fault(words, label, tile, expected)
            if fault:
                yield "label", f"the label {label.text!r} {fault}"
        if len(here) > sum(other.text == label.text for other in expected.labels):
            yield "label", f"the label {label.text!r} is there {len(here)} times"


def _label_fault(
    words: ReadWords, label: ExpectedLabel, tile: Tile, expected: ExpectedPaper
) -> str | None:
    x, y = _on_sheet(words, tile, expected)
    twins = [other for other in expected.labels if other.text == label.text]
    off = min(math.hypot(x - t.middle[0], y - t.middle[1]) for t in twins)
    if off > _LABEL_MM + _LABEL_SHARE * words.height_mm:
        return f"is {off:.1f} mm off its place"
    if min(angle_between_deg(words.angle_deg, t.angle_deg) for t in twins) > _ANGLE_DEG:
        return f"reads at {words.angle_deg:.1f} degrees, not {label.angle_deg:.1f}"
    if words.length_mm > max(t.room_mm for t in twins) + _LABEL_MM:
        return f"is {words.length_mm:.1f} mm long and has room for {label.room_mm:.1f}"
    if words.height_mm > max(t.height_mm for t in twins) + _LABEL_MM:
        return f"is {words.height_mm:.1f} mm high and has room for {label.height_mm:.1f}"
    return None if words.is_dark else "is too pale to be read"


def _marks(page: ReadPage, tile: Tile, expected: ExpectedPaper) -> Iterator[Fault]:
    """A mark that lies in this window has its name beside it."""
    window = _window(tile, expected)
    for mark in expected.marks:
        if not window.contains(shapely.Point(mark.at.x, mark.at.y).buffer(_EDGE_MM)):
            continue
        places = [
            _on_sheet(words, tile, expected) for words in page.words if words.text == mark.name
        ]
        if not any(math.hypot(x - mark.at.x, y - mark.at.y) < _MARK_NAME_MM for x, y in places):
            yield "match-mark", f"the match mark {mark.name} has no name beside it"


def _neighbours(
    page: ReadPage, tile: Tile, expected: ExpectedPaper, numbers: dict[tuple[int, int], int]
) -> Iterator[Fault]:
    for words in sorted(_said(tile, expected, numbers)):
        if words not in page.text:
            yield "page-place", f"does not say {words!r}"


def _said(
    tile: Tile, expected: ExpectedPaper, numbers: dict[tuple[int, int], int]
) -> Iterator[str]:
    """What a page must say of itself and its neighbours."""
    yield f"row {tile.row} of {expected.rows}, column {tile.column} of {expected.columns}"
    yield f"page {numbers[tile.row, tile.column]} of {len(expected.tiles) + 1}"
    for down, across, how in ((0, 1, "under"), (0, -1, "over"), (1, 0, "under"), (-1, 0, "over")):
        other = numbers.get((tile.row + down, tile.column + across))
        if other is not None:
            yield f"this strip lies {how} page {other}"


def _strays(
    page: ReadPage,
    tile: Tile,
    expected: ExpectedPaper,
    cut: dict[str, shapely.MultiLineString],
    numbers: dict[tuple[int, int], int],
) -> Iterator[Fault]:
    """Words in the window that belong to nothing there, and sizes named beside other lines."""
    window = _window(tile, expected)
    known = {label.text for label in expected.labels} | {mark.name for mark in expected.marks}
    known |= set(_said(tile, expected, numbers))
    half = SQUARE_MM / 2.0
    for words in page.words:
        x, y = _on_sheet(words, tile, expected)
        place = shapely.Point(x, y)
        in_square = max(abs(x - expected.square_at.x), abs(y - expected.square_at.y)) < half
        if not window.contains(place) or (in_square and tile == expected.tiles[0]):
            continue
        kinds = [
            cut_kind(expected.sizes, k) for k, s in enumerate(expected.sizes) if s == words.text
        ]
        if kinds and any(
            kind in cut and cut[kind].distance(place) <= _SIZE_NAME_MM for kind in kinds
        ):
            continue
        if kinds:
            yield "label", f"the name of size {words.text} is not beside its line"
        elif words.text not in known:
            yield "stray-words", f"says {words.text!r}, which belongs to nothing there"


def _window(tile: Tile, expected: ExpectedPaper) -> shapely.Polygon:
    left, bottom, paper = tile.left_mm, tile.bottom_mm, expected.paper
    return shapely.box(left, bottom, left + paper.window_width_mm, bottom + paper.window_height_mm)


def _on_sheet(words: ReadWords, tile: Tile, expected: ExpectedPaper) -> tuple[float, float]:
    """The middle of a text on the sheet."""
    margin = expected.paper.margin_mm
    x, y = words.middle
    return x - margin + tile.left_mm, y - margin + tile.bottom_mm


def _turned_box(label: ExpectedLabel, length_mm: float, height_mm: float) -> shapely.Polygon:
    turn = math.radians(label.angle_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    x, y = label.middle
    corners = [
        (dx * length_mm / 2.0, dy * height_mm / 2.0)
        for dx, dy in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    return shapely.Polygon([(x + cos * a - sin * b, y + sin * a + cos * b) for a, b in corners])
