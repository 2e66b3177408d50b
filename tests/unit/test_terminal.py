"""A lay in letters and dots: as wide as asked, every piece there, the dots on its outlines."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import replace

import pytest
import shapely
from shapely.geometry import Polygon, box

from cutfiles.preview.terminal import TerminalLay, lay_lines

SQUARES = TerminalLay(
    "lay-01: three squares",
    960.0,
    1200.0,
    (box(0, 0, 300, 300), box(400, 500, 800, 960), box(900, 100, 1200, 400)),
    ("crown, cap", "band, cap", "crown, cap"),
    (box(500, 100, 600, 200),),
    False,
    "mm",
)


def text_of(lay: TerminalLay, cells: int, *, plain: bool = False) -> list[str]:
    return ["".join(run for run, _ in line) for line in lay_lines(lay, cells, plain=plain)]


def dots_of(rows: list[str]) -> list[tuple[int, int]]:
    """Columns and rows of all dots. Reference: the Unicode Standard's table of braille patterns,
    by which dots 1 to 8 are the bits from the lowest: 1, 2, 3 and 7 down the left, 4, 5, 6 and 8
    down the right."""
    places = {
        1: (0, 0),
        2: (0, 1),
        3: (0, 2),
        7: (0, 3),
        4: (1, 0),
        5: (1, 1),
        6: (1, 2),
        8: (1, 3),
    }
    found = []
    for y, row in enumerate(rows):
        for x, letter in enumerate(row):
            if "\u2800" <= letter <= "\u28ff":
                for dot, (dx, dy) in places.items():
                    if (ord(letter) - 0x2800) >> (dot - 1) & 1:
                        found.append((2 * x + dx, 4 * y + dy))
    return found


@pytest.mark.parametrize("cells", [20, 57, 80, 132, 300])
@pytest.mark.parametrize("length", [400.0, 1200.0, 9000.0])
def test_it_keeps_to_the_width(cells: int, length: float) -> None:
    lay = replace(SQUARES, length_mm=length)
    lines = text_of(lay, cells)[1:]
    drawn = [line for line in lines if line[0] in "│─ "]
    assert max(len(line) for line in drawn) <= cells
    assert all(line.startswith("│") and line.endswith("│") for line in drawn if line[0] == "│")


def test_dots_lie_on_outlines_and_outlines_have_dots() -> None:
    lines = text_of(SQUARES, 62)
    rows = [line[1:-1] for line in lines if line.startswith("│")]
    # derived: 60 cells of two dots along 1200 mm
    dot = 1200.0 / 120.0
    assert len(rows) == 24
    dots = shapely.points([((x + 0.5) * dot, 960.0 - (y + 0.5) * dot) for x, y in dots_of(rows)])
    edges = shapely.union_all([shape.exterior for shape in (*SQUARES.outlines, *SQUARES.flaws)])
    assert shapely.distance(dots, edges).max() <= dot
    along = shapely.points(shapely.get_coordinates(edges.segmentize(dot)))
    near = shapely.distance(along, shapely.union_all(dots))
    # an outline is hidden by a letter in its way at most
    assert (near > 1.5 * dot).sum() == 0


def test_letters_say_what_pieces_are() -> None:
    lines = text_of(SQUARES, 80)
    legend = [line for line in lines if re.match(r"^[A-Z!]  ", line)]
    assert legend == ["A  band, cap: 1", "B  crown, cap: 2", "!  flaw: 1"]
    drawn = Counter(letter for line in lines if line.startswith("│") for letter in line)
    assert (drawn["A"], drawn["B"], drawn["!"]) == (1, 2, 1)
    assert lines[0] == "lay-01: three squares"


def test_colours_follow_kinds() -> None:
    # every run of a colour is of that kind: without colours the same letters are left
    lines = lay_lines(SQUARES, 80, plain=False)
    letters = {run: kind for line in lines for run, kind in line if run.strip() in ("A", "B")}
    assert {run.strip(): kind for run, kind in letters.items()} == {"A": 0, "B": 1}


def test_a_plain_terminal_gets_plain_letters() -> None:
    for lay in (SQUARES, replace(SQUARES, is_folded=True)):
        lines = text_of(lay, 80, plain=True)
        assert all(line.isascii() for line in lines)
        assert any("*" in line for line in lines)


def test_what_names_hold_is_no_order_to_the_terminal() -> None:
    # ECMA-48: ESC and CSI begin orders; a name comes from a file
    evil = replace(SQUARES, heading="a\x1b]0;b\x07c\u009b2Jd", kinds=("e\x1b[31m", "naïve", "g"))
    lines = text_of(evil, 80)
    assert lines[0] == "a?]0;b?c?2Jd"
    assert all(line.isprintable() for line in lines)
    assert "C  naïve: 1" in lines
    plain = text_of(evil, 80, plain=True)
    assert "C  na?ve: 1" in plain
    assert all(line.isascii() and line.isprintable() for line in plain)


def test_a_fold_is_told() -> None:
    assert not any("fold" in line for line in text_of(SQUARES, 80))
    assert sum("═ fold ═" in line for line in text_of(replace(SQUARES, is_folded=True), 80)) == 1


def test_a_long_lay_is_shown_in_strips() -> None:
    long = replace(SQUARES, length_mm=10_000.0, outlines=(box(9500, 0, 10_000, 960),) * 3)
    long = replace(long, flaws=())
    lines = text_of(long, 80)
    ends = [
        [float(end) for end in re.findall(r"(\d+) mm", line)]
        for line in lines
        if line.startswith(" ")
    ]
    assert len(ends) > 2
    assert ends[0][0] == 0
    assert ends[-1][1] == 10_000
    assert all(one[1] == other[0] for one, other in itertools.pairwise(ends))
    # only the last strip shows the piece
    strips = "\n".join(lines).split(" mm ─")
    assert not any(re.search("[\u2801-\u28ff]", strip) for strip in strips[1:-3])


def test_more_kinds_than_letters() -> None:
    outlines = tuple(box(10 * k, 0, 10 * k + 8, 900) for k in range(70))
    kinds = tuple(f"piece {k:02}" for k in range(70))
    lines = text_of(replace(SQUARES, outlines=outlines, kinds=kinds), 200)
    assert sum(line.startswith("?  ") for line in lines) == 8


def test_what_reaches_past_the_cloth_is_drawn_at_its_edge() -> None:
    past = replace(SQUARES, outlines=(Polygon([(0, -5), (200, -5), (200, 90), (0, 90)]),) * 3)
    rows = [line[1:-1] for line in text_of(past, 62) if line.startswith("│")]
    assert any(letter != " " for letter in rows[-1])


def test_a_strip_ends_where_it_says() -> None:
    # derived: 24 rows of four dots are 960 mm high, so that a column is 20 mm, and 78 of them 1560
    edge = box(1560, 0, 2410, 960)
    lay = replace(SQUARES, length_mm=2410.0, outlines=(edge,), kinds=("a",), flaws=())
    lines = text_of(lay, 80)
    first, second = (line for line in lines if line.startswith(" "))
    assert (first.split()[0], first.split()[-2]) == ("0", "1560")
    assert (second.split()[0], second.split()[-2]) == ("1560", "2410")
    rows = [line for line in lines if line.startswith("│")]
    assert {row[1:-1] for row in rows[:24]} == {" " * 78}
    assert all(row[1] != " " for row in rows[24:])
