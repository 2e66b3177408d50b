"""The verdict on a printed pattern of which nothing else is known: whether its pages fit each
other, and print at their size."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from cutfiles.errors import Finding
from cutfiles.paper.sheet import OVERLAP_MM, PAPERS, Paper, Tile
from cutfiles.tolerances import PAGE_MM, PRINTED_EDGE_MM, PRINTED_MM
from cutfiles.verdict.judge_paper import page_faults, square_faults
from cutfiles.verdict.paper_lines import Fault, Key, Lines, drawn_lines, read_key, window_of
from cutfiles.verdict.read_pdf import ReadPage, ReadPaper

_OF_ONE_PAGE = ("frame", "strip", "test square", "test square in inches")
"""Kinds of line that neighbours do not share."""

_SPECK_MM = 0.05
_NAME_MM = 6.0


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A page that says where it belongs: its number, its place and its lines by kind."""

    number: int
    page: ReadPage
    tile: Tile
    lines: Lines


def judge_paper_alone(read: ReadPaper) -> tuple[Finding, ...]:
    """What can be said of a PDF by itself: pages of one paper, each in a place of its own that
    agrees with its neighbours', every line of a kind that the key names, what two pages share
    the same on both, and test squares of their size."""
    if read.findings:
        return read.findings
    faults = list(_faults(read))
    return tuple(Finding(code, "error", f"{read.name}: {text}") for code, text in faults)


def _faults(read: ReadPaper) -> Iterator[Fault]:
    first = read.pages[0] if read.pages else None
    paper = next((p for p in PAPERS.values() if first and _is_of(first, p)), None)
    if first is None or paper is None:
        yield "page-size", f"page 1 is no {' and no '.join(PAPERS)} page: no pattern of ours"
        return
    yield from page_faults(read, paper)
    placed = list(_places(read, paper))
    yield from (fault for fault in placed if isinstance(fault, tuple))
    key, unclear = read_key(first)
    yield from unclear
    yield from square_faults(read, paper)
    if unclear or any(isinstance(fault, tuple) for fault in placed):
        return
    sheets = []
    for number, tile in ((k, t) for k, t in enumerate(placed, start=2) if isinstance(t, Tile)):
        sheet, unknown = _sheet(number, read.pages[number - 1], tile, paper, key)
        sheets.append(sheet)
        if unknown:
            yield "stray-line", f"page {number}: {unknown} lines are of no kind that the key names"
    yield from _shared(sheets, paper)
    yield from _mark_names(sheets, paper)


def _is_of(page: ReadPage, paper: Paper) -> bool:
    off = max(abs(page.width_mm - paper.width_mm), abs(page.height_mm - paper.height_mm))
    return off <= PAGE_MM


def _places(read: ReadPaper, paper: Paper) -> Iterator[Tile | Fault]:
    """Every page's place after the map, or what is wrong with what it says."""
    seen: dict[tuple[int, int], int] = {}
    extents = {(p.place.rows, p.place.columns) for p in read.pages[1:] if p.place}
    if len(read.pages) < 2:
        yield "pages", "has a map and no pages of the pattern"
    if len(extents) > 1:
        yield "page-place", "its pages do not agree on how many rows and columns there are"
    for number, page in enumerate(read.pages[1:], start=2):
        place = page.place
        if place is None:
            yield "page-place", f"page {number} does not say where it belongs"
            continue
        left = (place.column - 1) * (paper.window_width_mm - OVERLAP_MM)
        bottom = (place.rows - place.row) * (paper.window_height_mm - OVERLAP_MM)
        if max(abs(place.left_mm - left), abs(place.bottom_mm - bottom)) > PAGE_MM:
            yield (
                "page-place",
                f"page {number} says its frame starts at ({place.left_mm:g}, {place.bottom_mm:g}) "
                f"mm, and row {place.row}, column {place.column} starts at ({left:g}, {bottom:g})",
            )
        elif f"page {number} of {len(read.pages)}" not in page.text:
            yield "pages", f"page {number} does not say that it is page {number} of all"
        elif (place.row, place.column) in seen:
            other = seen[place.row, place.column]
            yield "page-place", f"pages {other} and {number} say that they belong in one place"
        else:
            seen[place.row, place.column] = number
            yield Tile(place.row, place.column, left, bottom)


def _sheet(number: int, page: ReadPage, tile: Tile, paper: Paper, key: Key) -> tuple[_Sheet, int]:
    lines, unknown = drawn_lines(page, tile, paper, key)
    return _Sheet(number, page, tile, lines), unknown


def _shared(sheets: Sequence[_Sheet], paper: Paper) -> Iterator[Fault]:
    """Lines in the strip of two neighbours that are not the same on both."""
    for one, other in itertools.combinations(sheets, 2):
        a, b = window_of(one.tile, paper), window_of(other.tile, paper)
        shared = (max(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), min(a[3], b[3]))
        if shared[2] <= shared[0] or shared[3] <= shared[1]:
            continue
        for kind in sorted({*one.lines, *other.lines} - set(_OF_ONE_PAGE)):
            for here, there in ((one, other), (other, one)):
                drawn = _within(here.lines.get(kind, []), shared, -PRINTED_EDGE_MM)
                twin = _within(there.lines.get(kind, []), shared, PRINTED_EDGE_MM)
                lost = drawn.difference(twin.buffer(PRINTED_MM)).length
                if lost > _SPECK_MM:
                    yield (
                        "strip",
                        f"pages {here.number} and {there.number}: {lost:.1f} mm of {kind} in the "
                        f"strip they share are on page {here.number} alone",
                    )


def _within(
    lines: Sequence[BaseGeometry], box: tuple[float, float, float, float], more_mm: float
) -> BaseGeometry:
    x0, y0, x1, y1 = box
    return shapely.clip_by_rect(
        shapely.union_all(list(lines)), x0 - more_mm, y0 - more_mm, x1 + more_mm, y1 + more_mm
    ) if lines else shapely.LineString()  # fmt: skip


def _mark_names(sheets: Sequence[_Sheet], paper: Paper) -> Iterator[Fault]:
    """Match marks of two neighbours that are called differently on them."""
    names: dict[str, list[tuple[int, float, float]]] = defaultdict(list)
    for sheet in sheets:
        marks = shapely.union_all(list(sheet.lines.get("match mark", [])))
        for words in sheet.page.words:
            x = words.middle[0] - paper.margin_mm + sheet.tile.left_mm
            y = words.middle[1] - paper.margin_mm + sheet.tile.bottom_mm
            inside = shapely.box(*window_of(sheet.tile, paper)).contains(shapely.Point(x, y))
            named = not words.is_dark and " " not in words.text
            if inside and named and marks.distance(shapely.Point(x, y)) < _NAME_MM:
                names[words.text].append((sheet.number, x, y))
    for name, places in sorted(names.items()):
        (first, x, y), *others = places
        if any(max(abs(a - x), abs(b - y)) > PAGE_MM for _, a, b in others):
            yield "match-mark", f"the match mark {name} of page {first} is elsewhere on another"
        if len(places) < 2:
            yield "match-mark", f"the match mark {name} is on page {first} alone"
