"""The verdict on the lines of a printed page: each there, whole, once, in its place and its kind,
and no other.

Compared by shapely as PDFium reads them out of the file, before any dot is drawn. What a line is
for is taken from the key on the map page, as a person would.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutfiles.paper.sheet import (
    MATCH_ARM_MM,
    MATCH_RADIUS_MM,
    OVERLAP_MM,
    SQUARE_IN_MM,
    SQUARE_MM,
    Paper,
    Tile,
)
from cutfiles.tolerances import PRINTED_EDGE_MM, PRINTED_MM
from cutfiles.verdict.drawing import Array
from cutfiles.verdict.expected_paper import ExpectedLine, ExpectedPaper
from cutfiles.verdict.read_pdf import Box, ReadInk, ReadPage

Fault = tuple[str, str]
Key = Mapping[ReadInk, str]
Lines = dict[str, list[BaseGeometry]]

_CODES: Final = {
    "cut line": "outline",
    "stitch line": "stitch",
    "clip mark": "clip",
    "grain line": "grain",
    "notch": "notch",
    "frame": "frame",
    "strip": "strip",
    "match mark": "match-mark",
    "test square": "test-square",
    "test square in inches": "test-square",
}
_SAMPLE_MM = (20.0, 40.0)
"""How long the sample line in a row of the key may be."""

_SPECK_MM = 0.01
_MORE_SHARE = 1e-4
"""By how much lengths of flattened curves may differ."""


def read_key(page: ReadPage) -> tuple[dict[ReadInk, str], tuple[Fault, ...]]:
    """What the key says of every kind of line: each row a level line and, right of it, its words
    as far as the colon."""
    key: dict[ReadInk, str] = {}
    faults: list[Fault] = []
    for stroke in page.strokes:
        (x0, y0), (x1, y1) = stroke.points[0], stroke.points[-1]
        if len(stroke.points) != 2 or abs(y1 - y0) > PRINTED_MM:
            continue
        if not _SAMPLE_MM[0] <= x1 - x0 <= _SAMPLE_MM[1]:
            continue
        beside = [w for w in page.words if 0 < w.start[0] - x1 < 10 and -0.5 < y1 - w.start[1] < 3]
        if not beside:
            continue
        name = min(beside, key=lambda words: abs(y1 - words.start[1])).text.split(":")[0]
        if key.setdefault(stroke.ink, name) != name:
            faults.append(("key", f"page 1: {name} and {key[stroke.ink]} are drawn alike"))
    if not key:
        faults.append(("key", "page 1: has no key to the lines"))
    return key, tuple(faults)


def line_faults(pages: Sequence[ReadPage], expected: ExpectedPaper) -> Iterator[Fault]:
    """Every fault of the lines of all pages; ``pages`` are as many as the map and the tiles."""
    key, faults = read_key(pages[0])
    yield from faults
    if faults:
        return
    yield from _on_no_page(expected)
    for number, (page, tile) in enumerate(zip(pages[1:], expected.tiles, strict=True), start=2):
        window = window_of(tile, expected.paper)
        wanted: dict[str, list[ExpectedLine]] = defaultdict(list)
        for line in (*_near(expected.lines, window), *_furniture(tile, expected)):
            wanted[line.kind].append(line)
        drawn, unknown = drawn_lines(page, tile, expected.paper, key, set(wanted))
        if unknown:
            yield "stray-line", f"page {number}: {unknown} lines are of no kind that the key names"
        for kind in sorted({*wanted, *drawn}):
            code = _code(kind)
            for what, place, text in _compared(wanted[kind], drawn[kind], window, kind):
                x = place[0] - window[0] + expected.paper.margin_mm
                y = place[1] - window[1] + expected.paper.margin_mm
                of = f"{kind} of {what}" if what else kind
                at = f"near ({x:.1f}, {y:.1f}) mm of the page"
                yield code if what else "stray-line", f"page {number}: {of}: {text}, {at}"


def _on_no_page(expected: ExpectedPaper) -> Iterator[Fault]:
    """Lines of the sheet that lie in no page's window, where no page could miss them."""
    windows = [shapely.box(*window_of(tile, expected.paper)) for tile in expected.tiles]
    printed = shapely.union_all(windows).buffer(PRINTED_MM)
    for line in expected.lines:
        lost = shapely.LineString(line.points).difference(printed)
        if lost.length > _SPECK_MM:
            yield _code(line.kind), f"{line.kind} of {line.what}: {lost.length:.1f} mm on no page"
    for line in _squares(expected):
        if not windows[0].covers(shapely.LineString(line.points)):
            yield _code(line.kind), f"the {line.kind} does not lie on page 2"


def _code(kind: str) -> str:
    plain = kind.partition(",")[0].partition(" or ")[0]
    return _CODES.get(plain, "stray-line")


def window_of(tile: Tile, paper: Paper) -> Box:
    """What of the sheet a page shows."""
    return (
        tile.left_mm,
        tile.bottom_mm,
        tile.left_mm + paper.window_width_mm,
        tile.bottom_mm + paper.window_height_mm,
    )


def _near(lines: Sequence[ExpectedLine], window: Box) -> Iterator[ExpectedLine]:
    """The lines whose box reaches into the window."""
    x0, y0, x1, y1 = window
    for line in lines:
        low, high = line.points.min(axis=0), line.points.max(axis=0)
        if low[0] <= x1 and high[0] >= x0 and low[1] <= y1 and high[1] >= y0:
            yield line


def _furniture(tile: Tile, expected: ExpectedPaper) -> Iterator[ExpectedLine]:
    """What a page shows besides the pattern: its frame, its neighbours', the match marks and, on
    the first tile, the test squares."""
    x0, y0, x1, y1 = window = window_of(tile, expected.paper)
    yield ExpectedLine("frame", "the page", _rectangle(window))
    printed = {(t.row, t.column) for t in expected.tiles}
    for down, across, line in (
        (0, 1, [(x1 - OVERLAP_MM, y0), (x1 - OVERLAP_MM, y1)]),
        (0, -1, [(x0 + OVERLAP_MM, y0), (x0 + OVERLAP_MM, y1)]),
        (1, 0, [(x0, y0 + OVERLAP_MM), (x1, y0 + OVERLAP_MM)]),
        (-1, 0, [(x0, y1 - OVERLAP_MM), (x1, y1 - OVERLAP_MM)]),
    ):
        if (tile.row + down, tile.column + across) in printed:
            yield ExpectedLine("strip", "the page", np.array(line))
    turns = np.radians(np.linspace(0.0, 360.0, 181))
    circle = MATCH_RADIUS_MM * np.column_stack([np.cos(turns), np.sin(turns)])
    arm = np.array([[-MATCH_ARM_MM, 0.0], [MATCH_ARM_MM, 0.0]])
    marks = [
        ExpectedLine("match mark", mark.name, part + np.array([mark.at.x, mark.at.y]))
        for mark in expected.marks
        for part in (circle, arm, arm[:, ::-1])
    ]
    yield from _near(marks, window)
    if tile == expected.tiles[0]:
        yield from _squares(expected)


def _squares(expected: ExpectedPaper) -> Iterator[ExpectedLine]:
    middle = expected.square_at
    for kind, side in (("test square", SQUARE_MM), ("test square in inches", SQUARE_IN_MM)):
        half = side / 2.0
        box = (middle.x - half, middle.y - half, middle.x + half, middle.y + half)
        yield ExpectedLine(kind, f"{side:g} mm", _rectangle(box))


def _rectangle(box: Box) -> Array:
    return np.asarray(shapely.get_coordinates(shapely.box(*box)), dtype=np.float64)


def drawn_lines(
    page: ReadPage, tile: Tile, paper: Paper, key: Key, kinds: Collection[str] = ()
) -> tuple[Lines, int]:
    """What of a page's lines is printed, by kind, on the sheet; and how many are of no kind."""
    shift = (tile.left_mm - paper.margin_mm, tile.bottom_mm - paper.margin_mm)
    drawn: Lines = defaultdict(list)
    unknown = 0
    for stroke in page.strokes:
        name = key.get(stroke.ink)
        if name is None:
            unknown += 1
            continue
        kind = next((kind for kind in kinds if name in kind.split(" or ")), name)
        line: BaseGeometry = shapely.LineString(stroke.points + shift)
        if stroke.seen is not None:
            x0, y0, x1, y1 = stroke.seen
            line = shapely.clip_by_rect(
                line, x0 + shift[0], y0 + shift[1], x1 + shift[0], y1 + shift[1]
            )
        if not line.is_empty:
            drawn[kind].append(line)
    return drawn, unknown


def _compared(
    wanted: Sequence[ExpectedLine], drawn: Sequence[BaseGeometry], window: Box, kind: str
) -> Iterator[tuple[str, tuple[float, float], str]]:
    """What is wrong with the lines of one kind on one page: the piece where one is known, a place
    on the sheet, and the fault.

    A line that runs along the edge of the window may be there or not, so what must be there is
    cut to a window a little smaller, and what may be there to one a little larger.
    """
    # a frame is the window's own edge
    slack = 2.0 * PRINTED_EDGE_MM if kind == "frame" else 0.0
    lines = [shapely.LineString(line.points) for line in wanted]
    must = [_cut_to(line, window, slack - PRINTED_EDGE_MM) for line in lines]
    may = [_cut_to(line, window, slack + PRINTED_EDGE_MM) for line in lines]
    there = shapely.union_all([line.buffer(PRINTED_MM) for line in drawn])
    faulty = False
    for line, part in zip(wanted, must, strict=True):
        lost = part.difference(there)
        if lost.length > _SPECK_MM:
            faulty = True
            yield line.what, _spot(lost), f"{lost.length:.1f} mm of it are not in their place"
    allowed = shapely.union_all([line.buffer(PRINTED_MM) for line in may])
    for one in drawn:
        stray = one.difference(allowed)
        if stray.length > _SPECK_MM:
            faulty = True
            yield "", _spot(stray), f"{stray.length:.1f} mm are drawn where none belongs"
    length = sum(line.length for line in drawn)
    most = sum(part.length for part in may) * (1.0 + _MORE_SHARE) + PRINTED_EDGE_MM
    least = sum(part.length for part in must) * (1.0 - _MORE_SHARE) - PRINTED_EDGE_MM
    if not faulty and not least <= length <= most:
        yield (
            "" if length > most else wanted[0].what,
            _spot(shapely.union_all([*drawn, *must])),
            f"{length:.1f} mm are drawn, and {most:.1f} belong there: some line is drawn twice or "
            "left out",
        )


def _cut_to(line: BaseGeometry, window: Box, more_mm: float) -> BaseGeometry:
    x0, y0, x1, y1 = window
    return shapely.clip_by_rect(line, x0 - more_mm, y0 - more_mm, x1 + more_mm, y1 + more_mm)


def _spot(geometry: BaseGeometry) -> tuple[float, float]:
    point = geometry.representative_point()
    return point.x, point.y
