"""A whole lay as a sheet of paper, to be printed in pages and laid on the cloth."""

from __future__ import annotations

import shapely
import shapely.affinity

from cutfiles.geometry.vector import Motion, Point, Vector
from cutfiles.lay.lay import Lay
from cutfiles.paper.sheet import (
    OVERLAP_MM,
    SQUARE_IN_MM,
    DrawnPiece,
    Paper,
    PaperSheet,
    SheetLabel,
)
from cutfiles.paper.tiling import covered_mm, match_marks, tile_count, tiles_of, used_tiles

_APART_MM = 5.0


def lay_sheet(lay: Lay, title: str, paper: Paper) -> PaperSheet:
    """Every piece where it lies, x along the cloth to the right, the test squares above the lay in
    the upper left corner. The same lay gives the same sheet."""
    across, along = paper.window_height_mm, paper.window_width_mm
    above = SQUARE_IN_MM + 2.0 * _APART_MM
    rows = tile_count(lay.width_mm + above, across, OVERLAP_MM)
    columns = tile_count(lay.length_mm + 2.0 * _APART_MM, along, OVERLAP_MM)
    height = covered_mm(rows, across, OVERLAP_MM)
    lift = Vector(_APART_MM, height - above - lay.width_mm)
    pieces = tuple(
        DrawnPiece(
            placed.ordered.id,
            placed.ordered.piece,
            Motion(placed.motion.turn_deg, placed.motion.shift + lift),
            None,
        )
        for placed in lay.placed
    )
    top = height - _APART_MM
    square = shapely.box(_APART_MM, top - SQUARE_IN_MM, _APART_MM + SQUARE_IN_MM, top)
    outlines = [
        shapely.affinity.translate(placed.placed_outline, lift.x, lift.y) for placed in lay.placed
    ]
    tiles = used_tiles(tiles_of(paper, rows, columns), paper, [square, *outlines])
    return PaperSheet(
        name=lay.name,
        title=title,
        paper=paper,
        width_mm=covered_mm(columns, along, OVERLAP_MM),
        height_mm=height,
        rows=rows,
        columns=columns,
        tiles=tiles,
        sizes=(),
        pieces=pieces,
        labels=tuple(
            SheetLabel(placed.ordered.label, drawn)
            for placed, drawn in zip(lay.placed, pieces, strict=True)
        ),
        marks=match_marks(tiles, paper),
        square_at=Point(_APART_MM + SQUARE_IN_MM / 2.0, top - SQUARE_IN_MM / 2.0),
        is_lay=True,
    )
