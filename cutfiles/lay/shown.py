"""A lay as it is drawn while it is being nested, and after."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from shapely.geometry import Polygon

from cutfiles.effort import Corners, ShownLay, ShownPiece
from cutfiles.geometry.polygons import moved_polygon
from cutfiles.lay.lay import Lay
from cutfiles.tolerances import WRITE_DECIMALS

_OFF_MM: Final = 0.1
"""How far a drawn outline may be off the true one: less than a line is wide on a screen."""

_DECIMALS: Final = 2


def shown(lay: Lay) -> ShownLay:
    """A lay with its outlines in few corners, for drawing only; places of pieces are those that a
    summary gives."""
    plain: dict[int, Polygon] = {}
    pieces = []
    for placed in lay.placed:
        key = id(placed.outline)
        if key not in plain:
            fewer = placed.outline.simplify(_OFF_MM)
            plain[key] = fewer if isinstance(fewer, Polygon) else placed.outline
        shift = placed.motion.shift
        pieces.append(
            ShownPiece(
                id=placed.ordered.id,
                name=placed.ordered.name,
                cap=placed.ordered.cap,
                at_mm=(round(shift.x, WRITE_DECIMALS), round(shift.y, WRITE_DECIMALS)),
                turn_deg=placed.motion.turn_deg,
                outline=_corners(moved_polygon(plain[key], placed.motion)),
            )
        )
    return ShownLay(
        name=lay.name,
        cloth=lay.cloth.called,
        layers=lay.cloth.layers,
        width_mm=round(lay.width_mm, _DECIMALS),
        length_mm=round(lay.length_mm, _DECIMALS),
        efficiency=round(lay.efficiency, 6),
        pieces=tuple(pieces),
        flaws=tuple(map(_corners, lay.flaws)),
        remnant=None if lay.remnant is None else _corners(lay.remnant),
    )


def _corners(region: Polygon) -> Corners:
    points = np.round(shapely.get_coordinates(region.exterior)[:-1], _DECIMALS)
    return tuple((x, y) for x, y in points.tolist())
