"""Cutting a sheet up into pages with overlap strips."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.geometry import Polygon

from cutfiles.geometry.vector import Point
from cutfiles.paper.sheet import OVERLAP_MM, MatchMark, Paper, Tile
from cutfiles.tolerances import COINCIDENT_MM


def tile_count(length_mm: float, window_mm: float, overlap_mm: float) -> int:
    """How many windows in a row cover a length, each sharing a strip with the next.

    Raises
    ------
    ValueError
        If the strip is not narrower than the window.
    """
    step = window_mm - overlap_mm
    if not step > 0:
        raise ValueError(
            f"an overlap of {overlap_mm:g} mm leaves nothing of a window of {window_mm:g} mm: "
            "use a narrower strip or larger paper"
        )
    return max(1, math.ceil((length_mm - overlap_mm - COINCIDENT_MM) / step))


def covered_mm(count: int, window_mm: float, overlap_mm: float) -> float:
    """The length that so many windows cover."""
    return count * (window_mm - overlap_mm) + overlap_mm


def tiles_of(paper: Paper, rows: int, columns: int) -> tuple[Tile, ...]:
    """All tiles of a sheet of so many rows and columns, row by row from the top."""
    step_x = paper.window_width_mm - OVERLAP_MM
    step_y = paper.window_height_mm - OVERLAP_MM
    return tuple(
        Tile(row, column, (column - 1) * step_x, (rows - row) * step_y)
        for row in range(1, rows + 1)
        for column in range(1, columns + 1)
    )


def used_tiles(
    tiles: Sequence[Tile], paper: Paper, outlines: Sequence[Polygon]
) -> tuple[Tile, ...]:
    """The tiles on which something lies. A strip that two tiles share counts for the one
    further right or further down, so that nothing is lost and nothing is printed for a strip
    alone."""
    rows = max(tile.row for tile in tiles)
    columns = max(tile.column for tile in tiles)
    found = []
    for tile in tiles:
        right = tile.left_mm + paper.window_width_mm
        bottom = tile.bottom_mm
        if tile.column < columns:
            right -= OVERLAP_MM
        if tile.row < rows:
            bottom += OVERLAP_MM
        own = shapely.box(tile.left_mm, bottom, right, tile.bottom_mm + paper.window_height_mm)
        if any(own.intersects(outline) for outline in outlines):
            found.append(tile)
    return tuple(found)


def match_marks(tiles: Sequence[Tile], paper: Paper) -> tuple[MatchMark, ...]:
    """Two marks on every strip that two printed tiles share side by side, at a quarter and
    three quarters of it: ``a1`` and ``a2`` on the first strip, and so on."""
    width, height = paper.window_width_mm, paper.window_height_mm
    printed = {(tile.row, tile.column) for tile in tiles}
    marks: list[MatchMark] = []
    strips = 0
    for tile in tiles:
        right_strip = tile.left_mm + width - OVERLAP_MM / 2.0
        lower_strip = tile.bottom_mm + OVERLAP_MM / 2.0
        shared = []
        if (tile.row, tile.column + 1) in printed:
            shared.append([Point(right_strip, tile.bottom_mm + k * height) for k in (0.25, 0.75)])
        if (tile.row + 1, tile.column) in printed:
            shared.append([Point(tile.left_mm + k * width, lower_strip) for k in (0.25, 0.75)])
        for places in shared:
            letter = _letters(strips)
            strips += 1
            marks.extend(MatchMark(f"{letter}{k}", at) for k, at in enumerate(places, start=1))
    return tuple(marks)


def _letters(number: int) -> str:
    """a to z, then aa, ab and so on."""
    more, last = divmod(number, 26)
    return (_letters(more - 1) if more else "") + chr(ord("a") + last)
