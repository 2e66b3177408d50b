"""Laying a pattern out on a sheet of paper, so that it takes few pages.

Pieces of several sizes lie on each other, the starts of their grain lines on one point.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import Polygon

from cutfiles.geometry.polygons import moved_polygon, polygon_of
from cutfiles.geometry.vector import Motion, Point, Vector
from cutfiles.paper.sheet import (
    OVERLAP_MM,
    SQUARE_IN_MM,
    DrawnPiece,
    Paper,
    PaperSheet,
    SheetLabel,
)
from cutfiles.paper.tiling import covered_mm, match_marks, tile_count, tiles_of, used_tiles
from cutfiles.pieces.ordered import OrderedCap, OrderedPiece

_APART_MM = 5.0
_TURNS_DEG = (0.0, 90.0)


@dataclass(frozen=True, slots=True)
class SizedCap:
    """One cap as a pattern and the name of its size; or one panel, which has none."""

    size: str
    cap: OrderedCap


@dataclass(frozen=True, slots=True)
class _Group:
    """All sizes of one piece, aligned; or the test squares, which hold no piece."""

    pieces: tuple[DrawnPiece, ...]
    outlines: tuple[Polygon, ...]
    label: str

    def moved(self, motion: Motion) -> _Group:
        """Under a rigid motion, after those that its pieces have made already."""
        return _Group(
            tuple(
                replace(
                    drawn,
                    motion=Motion(
                        drawn.motion.turn_deg + motion.turn_deg,
                        motion.vector(drawn.motion.shift) + motion.shift,
                    ),
                )
                for drawn in self.pieces
            ),
            tuple(moved_polygon(outline, motion) for outline in self.outlines),
            self.label,
        )

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Least x and y, largest x and y."""
        x0, y0, x1, y1 = shapely.total_bounds(list(self.outlines))
        return float(x0), float(y0), float(x1), float(y1)


@dataclass(frozen=True, slots=True)
class _Spread:
    """Groups laid out downwards from y = 0, and the tiles that takes."""

    groups: tuple[_Group, ...]
    rows: int
    columns: int


def paper_sheet(
    name: str, title: str, style: str, caps: Sequence[SizedCap], paper: Paper
) -> PaperSheet:
    """Lay one cap or panel, or several sizes of one style and edge, out for a paper.

    Every turn of the pieces by a quarter and every width in whole pages is tried; the fewest
    pages win. The same caps give the same sheet.
    """
    groups = _groups(style, caps)
    squares = _Group((), (shapely.box(0.0, 0.0, SQUARE_IN_MM, SQUARE_IN_MM),), "")
    best: tuple[tuple[int, int], PaperSheet] | None = None
    for turns in itertools.product(_TURNS_DEG, repeat=len(groups)):
        turned = [
            group.moved(Motion(turn, Vector(0.0, 0.0)))
            for group, turn in zip(groups, turns, strict=True)
        ]
        widest = max(x1 - x0 for x0, _, x1, _ in (group.bounds for group in turned))
        least = tile_count(widest + 2 * _APART_MM, paper.window_width_mm, OVERLAP_MM)
        for columns in range(least, least + 3):
            spread = _spread([squares, *turned], paper, columns)
            sheet = _sheet(name, title, tuple(c.size for c in caps if c.size), spread, paper)
            rank = (len(sheet.tiles), sheet.rows * sheet.columns)
            if best is None or rank < best[0]:
                best = (rank, sheet)
    if best is None:
        raise ValueError(f"{name}: a pattern needs at least one piece")
    return best[1]


def _groups(style: str, caps: Sequence[SizedCap]) -> list[_Group]:
    """The pieces by name, in the first cap's order; each at the shift that aligns it."""
    names = dict.fromkeys(ordered.name for sized in caps for ordered in sized.cap.pieces)
    groups = []
    for name in names:
        members: list[tuple[int, OrderedPiece]] = [
            (number, ordered)
            for number, sized in enumerate(caps)
            for ordered in sized.cap.pieces
            if ordered.name == name
        ]
        alike = all(ordered.piece == members[0][1].piece for _, ordered in members)
        drawn = tuple(
            DrawnPiece(
                ordered.id,
                ordered.piece,
                Motion(0.0, Point(0.0, 0.0) - ordered.piece.grain.start),
                None if alike else number,
            )
            for number, ordered in (members[:1] if alike else members)
        )
        outlines = tuple(moved_polygon(polygon_of(d.piece.cut), d.motion) for d in drawn)
        first = members[0][1]
        sizes = ", ".join(caps[number].size for number, _ in members)
        label = f"{style} {sizes}".strip() + first.label.removeprefix(first.cap)
        groups.append(_Group(drawn, outlines, label))
    return groups


def _spread(groups: Sequence[_Group], paper: Paper, columns: int) -> _Spread:
    """Shelves from the top down, filled from the left; the first group keeps the upper left
    corner, the others follow from the tallest down, each on the first shelf with room."""
    width = covered_mm(columns, paper.window_width_mm, OVERLAP_MM)

    def height(group: _Group) -> float:
        _, y0, _, y1 = group.bounds
        return y1 - y0

    shelves: list[list[_Group]] = [[]]
    for group in (groups[0], *sorted(groups[1:], key=height, reverse=True)):
        for shelf in shelves:
            taken = sum(g.bounds[2] - g.bounds[0] + _APART_MM for g in (*shelf, group))
            if taken + _APART_MM <= width:
                shelf.append(group)
                break
        else:
            shelves.append([group])
    placed = []
    top = -_APART_MM
    for shelf in filter(None, shelves):
        left = _APART_MM
        for group in shelf:
            x0, _, x1, y1 = group.bounds
            placed.append(group.moved(Motion(0.0, Vector(left - x0, top - y1))))
            left += x1 - x0 + _APART_MM
        top -= max(map(height, shelf)) + _APART_MM
    rows = tile_count(-top, paper.window_height_mm, OVERLAP_MM)
    return _Spread(tuple(placed), rows, columns)


def _sheet(
    name: str, title: str, sizes: tuple[str, ...], spread: _Spread, paper: Paper
) -> PaperSheet:
    height = covered_mm(spread.rows, paper.window_height_mm, OVERLAP_MM)
    lifted = [group.moved(Motion(0.0, Vector(0.0, height))) for group in spread.groups]
    outlines = [outline for group in lifted for outline in group.outlines]
    tiles = used_tiles(tiles_of(paper, spread.rows, spread.columns), paper, outlines)
    left, bottom, right, top = next(g.bounds for g in lifted if not g.pieces)
    return PaperSheet(
        name=name,
        title=title,
        paper=paper,
        width_mm=covered_mm(spread.columns, paper.window_width_mm, OVERLAP_MM),
        height_mm=height,
        rows=spread.rows,
        columns=spread.columns,
        tiles=tiles,
        sizes=sizes,
        pieces=tuple(drawn for group in lifted for drawn in group.pieces),
        labels=tuple(SheetLabel(g.label, g.pieces[0]) for g in lifted if g.pieces),
        marks=match_marks(tiles, paper),
        square_at=Point((left + right) / 2.0, (bottom + top) / 2.0),
    )
