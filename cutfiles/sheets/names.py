"""The names of pieces in the picture of a lay."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon

from cutfiles.sheets.sheet import CutPiece, PieceName, Polyline


def names_of(pieces: Sequence[CutPiece], outlines: Sequence[Polyline]) -> tuple[PieceName, ...]:
    """A name along each piece: that of the outline whose centre is nearest to the piece's."""
    if not outlines:
        return ()
    shapes = [Polygon(outline) for outline in outlines]
    centres = np.array([shape.centroid.coords[0] for shape in shapes])
    names = []
    for piece in pieces:
        off = np.hypot(*(centres - np.array(piece.middle)).T)
        angle, room = _longest(shapes[int(np.argmin(off))])
        number = "" if piece.cap_number is None else f" {piece.cap_number}"
        part = piece.cap if piece.cap_number is None else f"{piece.size} {piece.name}"
        names.append(PieceName(part + number, piece.middle, angle, room))
    return tuple(names)


def _longest(shape: Polygon) -> tuple[float, float]:
    """The direction and length of the longer side of the least box round a shape."""
    corners = shapely.get_coordinates(shape.minimum_rotated_rectangle)
    sides = np.diff(corners, axis=0)
    along = sides[int(np.argmax(np.hypot(*sides.T)))]
    angle = math.degrees(math.atan2(along[1], along[0])) % 180.0
    # letters read from the bottom or the right of the page, never upside down
    return (angle - 180.0 if angle > 91.0 else angle), float(np.hypot(*along))
