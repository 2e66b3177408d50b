"""Patterns on paper: tiles, strips, marks, and where the pieces lie."""

from __future__ import annotations

import itertools
from functools import cache
from typing import get_args

import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from cutfiles.geometry.polygons import polygon_of
from cutfiles.job.job import CapLine, EdgeFinish, Style
from cutfiles.job.sizes import ADULT_SIZES, SIZES, Size, size_named
from cutfiles.paper.sheet import OVERLAP_MM, PAPERS, SQUARE_IN_MM, Paper, PaperName, PaperSheet
from cutfiles.paper.spread import SizedCap, paper_sheet
from cutfiles.paper.tiling import covered_mm, match_marks, tile_count, tiles_of, used_tiles
from cutfiles.pieces.cut_list import pattern_cap

A4, LETTER = PAPERS["A4"], PAPERS["Letter"]


@cache
def sheet_for(
    sizes: tuple[Size, ...], edge: EdgeFinish, paper: Paper, style: Style = "tie-back"
) -> PaperSheet:
    caps = [SizedCap(s.name, pattern_cap(CapLine(style, s, 1, edge, "any"))) for s in sizes]
    return paper_sheet("pattern", "Invented caps", style, caps, paper)


@pytest.mark.parametrize("paper", [A4, LETTER])
def test_the_count_of_sheets_for_a_block(paper: Paper) -> None:
    # derived: 165.1 x 584.2 mm (6 1/2 x 23 in) in windows of 190 x 277 mm, or 7.5 x 10 in
    across = tile_count(165.1, paper.window_width_mm, 0.0)
    up = tile_count(584.2, paper.window_height_mm, 0.0)
    assert (across, up) == (1, 3)


def test_the_windows_are_what_the_count_was_derived_for() -> None:
    assert (A4.window_width_mm, A4.window_height_mm) == (190.0, 277.0)
    assert LETTER.window_width_mm / 25.4 == pytest.approx(7.5)
    assert LETTER.window_height_mm / 25.4 == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("length_mm", "count"), [(0.0, 1), (190.0, 1), (190.1, 2), (370.0, 2), (370.1, 3)]
)
def test_strips_take_their_part(length_mm: float, count: int) -> None:
    # derived: n windows of 190 with strips of 10 cover 180 n + 10
    assert tile_count(length_mm, 190.0, 10.0) == count
    assert covered_mm(count, 190.0, 10.0) == 180.0 * count + 10.0


def test_a_strip_wider_than_the_window_is_refused() -> None:
    with pytest.raises(ValueError, match="use a narrower strip"):
        tile_count(100.0, 10.0, 10.0)


def test_tiles_cover_the_sheet_and_share_strips() -> None:
    tiles = tiles_of(A4, 2, 3)
    frames = [
        shapely.box(t.left_mm, t.bottom_mm, t.left_mm + 190.0, t.bottom_mm + 277.0) for t in tiles
    ]
    whole = shapely.union_all(frames)
    assert whole.equals(shapely.box(0.0, 0.0, 550.0, 544.0))
    assert [(t.row, t.column) for t in tiles] == [(1, 1), (1, 2), (1, 3), (2, 1), (2, 2), (2, 3)]
    assert frames[0].intersection(frames[1]).bounds == (180.0, 267.0, 190.0, 544.0)
    assert tiles[0].bottom_mm > tiles[3].bottom_mm


def test_a_tile_with_nothing_but_a_strip_is_left_out() -> None:
    tiles = tiles_of(A4, 1, 2)
    only_strip = shapely.box(182.0, 10.0, 189.0, 20.0)
    assert [t.column for t in used_tiles(tiles, A4, [only_strip])] == [2]
    assert [t.column for t in used_tiles(tiles, A4, [shapely.box(5, 5, 179, 9)])] == [1]


def test_marks_lie_in_the_strips_of_two_pages() -> None:
    tiles = tiles_of(A4, 2, 2)
    marks = match_marks(tiles, A4)
    assert [mark.name for mark in marks] == ["a1", "a2", "b1", "b2", "c1", "c2", "d1", "d2"]
    frames = [
        shapely.box(t.left_mm, t.bottom_mm, t.left_mm + 190.0, t.bottom_mm + 277.0) for t in tiles
    ]
    for mark in marks:
        around = shapely.Point(mark.at.x, mark.at.y).buffer(OVERLAP_MM / 2.0 - 0.1)
        assert sum(frame.contains(around) for frame in frames) == 2
    assert match_marks(tiles[:1], A4) == ()


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("edge", ["hem", "binding"])
@pytest.mark.parametrize("style", get_args(Style))
@pytest.mark.parametrize("sizes", [SIZES[:1], SIZES], ids=["one", "all"])
def test_pieces_lie_on_the_printed_tiles_and_apart(
    paper: PaperName, edge: EdgeFinish, sizes: tuple[Size, ...], style: Style
) -> None:
    sheet = sheet_for(sizes, edge, PAPERS[paper], style)
    page = sheet.paper
    printed = shapely.union_all(
        [
            shapely.box(
                t.left_mm,
                t.bottom_mm,
                t.left_mm + page.window_width_mm,
                t.bottom_mm + page.window_height_mm,
            )
            for t in sheet.tiles
        ]
    )
    half = SQUARE_IN_MM / 2.0
    middle = sheet.square_at
    squares = shapely.box(middle.x - half, middle.y - half, middle.x + half, middle.y + half)
    groups: dict[str, BaseGeometry] = {"squares": squares}
    for drawn in sheet.pieces:
        outline = polygon_of(drawn.piece.cut.moved(drawn.motion))
        name = drawn.piece.name
        groups[name] = outline.union(groups[name]) if name in groups else outline
    assert len(groups) == len(sheet.labels) + 1
    for one, other in itertools.combinations(groups.values(), 2):
        assert one.distance(other) > 4.0
    for group in groups.values():
        assert printed.covers(group)
    first = sheet.tiles[0]
    assert (first.row, first.column) == (1, 1)
    assert first.left_mm <= squares.bounds[0]
    assert squares.bounds[2] <= first.left_mm + page.window_width_mm


def test_sizes_lie_on_each_other_at_the_start_of_their_grain() -> None:
    sheet = sheet_for(ADULT_SIZES, "hem", A4)
    for name in ("crown", "band"):
        drawn = [d for d in sheet.pieces if d.piece.name == name]
        assert [d.size_number for d in drawn] == [0, 1, 2, 3, 4]
        starts = [d.motion.point(d.piece.grain.start) for d in drawn]
        assert all(start.distance(starts[0]) < 1e-9 for start in starts)
        assert len({d.motion.turn_deg for d in drawn}) == 1
    ties = [d for d in sheet.pieces if d.piece.name == "tie"]
    assert [d.size_number for d in ties] == [None]  # the same for all sizes, so drawn once
    assert {label.text for label in sheet.labels} == {
        "tie-back XS, S, M, L, XL / crown / cut 1",
        "tie-back XS, S, M, L, XL / band / cut 1",
        "tie-back XS, S, M, L, XL / tie / cut 2",
    }


def test_a_cap_takes_few_pages() -> None:
    # a cap of size M has 0.117 m2 of pieces; a window of A4 has 0.053 (derived); five is what
    # the squares and the strips bring it to
    assert len(sheet_for((size_named("M"),), "hem", A4).tiles) == 5
