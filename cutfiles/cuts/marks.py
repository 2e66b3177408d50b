"""From a placed piece to its strokes: outline, cut-outs, notches, stitch lines, grain, label."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import shapely

from cutfiles.cuts.grain_arrow import grain_arrow
from cutfiles.cuts.lettering import on_cloth
from cutfiles.cuts.notches import notch_stroke
from cutfiles.cuts.plan import Lettering, Role, Stroke
from cutfiles.geometry.kerf import inner_path, waste_side_path
from cutfiles.geometry.polygons import moved_polygon
from cutfiles.geometry.vector import Point
from cutfiles.job.machine import SLIT, NotchCut
from cutfiles.lay.lay import PlacedPiece, cut_outs_of
from cutfiles.tolerances import FLATTEN_MM

_LETTER_WIDTH = 0.62
"""Mean advance of a plain sans letter over its height; labels are kept to their room by it."""


def piece_strokes(
    placed: PlacedPiece, kerf_mm: float, notch: NotchCut = SLIT
) -> tuple[Stroke, ...]:
    """Every stroke of one piece, in no order, its notches cut in a shape.

    Raises
    ------
    ValueError
        If the kerf does not suit the outline, a cut-out or a notch.
    """
    name = placed.ordered.id
    path = waste_side_path(placed.placed_outline, kerf_mm)
    points = shapely.get_coordinates(path.exterior)[:-1]
    return (
        Stroke("outline", name, tuple((float(x), float(y)) for x, y in points), closed=True),
        *_cut_outs(placed, kerf_mm),
        *(notch_stroke(placed, one, path, kerf_mm, notch) for one in placed.ordered.piece.notches),
        *_stitch_lines(placed),
        _grain_arrow(placed),
    )


def written_label(placed: PlacedPiece) -> Lettering:
    """The label as text, shrunk to its room."""
    spot, text = placed.ordered.piece.label, placed.ordered.label
    height = min(spot.height_mm, spot.room_mm / (_LETTER_WIDTH * len(text)))
    return on_cloth(placed, replace(spot, height_mm=height), text)


def _cut_outs(placed: PlacedPiece, kerf_mm: float) -> Iterator[Stroke]:
    """The tool's path in every cut-out, half a kerf on its waste side: inside."""
    for cut_out in cut_outs_of(placed.ordered):
        hole = moved_polygon(cut_out, placed.motion)
        points = shapely.get_coordinates(inner_path(hole, kerf_mm).exterior)[:-1]
        yield Stroke(
            "inner", placed.ordered.id, tuple((float(x), float(y)) for x, y in points), closed=True
        )


def _stitch_lines(placed: PlacedPiece) -> Iterator[Stroke]:
    for path in placed.ordered.piece.stitch_lines:
        points = path.flattened(FLATTEN_MM)
        yield _open("stitch", placed, tuple(Point(float(x), float(y)) for x, y in points))


def _grain_arrow(placed: PlacedPiece) -> Stroke:
    return _open("grain", placed, grain_arrow(placed.ordered.piece.grain))


def _place(placed: PlacedPiece, point: Point) -> tuple[float, float]:
    """A point of the piece, on the cloth."""
    moved = placed.motion.point(point)
    return moved.x, moved.y


def _open(role: Role, placed: PlacedPiece, points: tuple[Point, ...]) -> Stroke:
    moved = tuple(_place(placed, point) for point in points)
    return Stroke(role, placed.ordered.id, moved, closed=False)
