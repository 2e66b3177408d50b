"""From a placed piece to its strokes: outline, cut-outs, notches, stitch lines, grain, label."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from cutfiles.cuts.grain_arrow import grain_arrow
from cutfiles.cuts.lettering import on_cloth
from cutfiles.cuts.notches import notch_stroke
from cutfiles.cuts.plan import Lettering, Role, Stroke
from cutfiles.geometry.bulges import Array, Place, places_of
from cutfiles.geometry.fit_arcs import fitted
from cutfiles.geometry.kerf import inner_path, waste_side_path
from cutfiles.geometry.polygons import moved_points, moved_polygon
from cutfiles.job.machine import SLIT, NotchCut
from cutfiles.lay.lay import PlacedPiece, cut_outs_of
from cutfiles.pieces.piece import Piece
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
    return tuple(lay_strokes([placed], kerf_mm, notch))


def lay_strokes(every: Iterable[PlacedPiece], kerf_mm: float, notch: NotchCut) -> Iterator[Stroke]:
    """The strokes of many pieces, one piece after the other, see `piece_strokes`. What is marked on
    alike pieces is worked out once."""
    marks: dict[int, list[tuple[Role, Array, tuple[float, ...]]]] = {}
    for placed in every:
        name, piece = placed.ordered.id, placed.ordered.piece
        path = waste_side_path(placed.placed_outline, kerf_mm)
        yield Stroke("outline", name, _round(path), closed=True)
        for cut_out in cut_outs_of(placed.ordered):
            # the tool's path is half a kerf on the waste side: inside
            hole = inner_path(moved_polygon(cut_out, placed.motion), kerf_mm)
            yield Stroke("inner", name, _round(hole), closed=True)
        for one in piece.notches:
            yield notch_stroke(placed, one, path, kerf_mm, notch)
        if id(piece) not in marks:
            marks[id(piece)] = list(_marks(piece))
        for role, points, bulges in marks[id(piece)]:
            places = places_of(moved_points(points, placed.motion))
            yield Stroke(role, name, places, closed=False, bulges=bulges)


def written_label(placed: PlacedPiece) -> Lettering:
    """The label as text, shrunk to its room."""
    spot, text = placed.ordered.piece.label, placed.ordered.label
    height = min(spot.height_mm, spot.room_mm / (_LETTER_WIDTH * len(text)))
    return on_cloth(placed, replace(spot, height_mm=height), text)


def _round(region: Polygon) -> tuple[Place, ...]:
    """The corners of its outline."""
    return places_of(shapely.get_coordinates(region.exterior)[:-1])


def _marks(piece: Piece) -> Iterator[tuple[Role, Array, tuple[float, ...]]]:
    """Stitch lines, as lines and arcs, and grain arrow, in the piece's frame: points and bulges."""
    for path in piece.stitch_lines:
        points, bulges = fitted(places_of(path.flattened(FLATTEN_MM)), closed=False)
        yield "stitch", np.array(points), bulges
    arrow = grain_arrow(piece.grain)
    yield "grain", np.array([(point.x, point.y) for point in arrow]), ()
