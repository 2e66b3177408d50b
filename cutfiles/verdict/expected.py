"""What a file must hold: taken from the lay before it is written, or from a summary later on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from cutfiles.cuts.plan import Role
from cutfiles.geometry.polygons import moved_polygon
from cutfiles.job.job import Machine
from cutfiles.lay.lay import Lay, cut_outs_of


@dataclass(frozen=True, slots=True)
class ExpectedPiece:
    """One piece of a lay. ``outline`` is its true cut line on the cloth, and ``notches`` where
    its notches are on that line with their depths; both None where only figures are known.
    ``cut_outs`` are true cut lines too, empty where only their areas are known."""

    id: str
    name: str
    cap: str
    grain_deg: float
    area_mm2: float
    label: str | None = None
    outline: Polygon | None = None
    notches: tuple[tuple[float, float, float], ...] | None = None
    cut_outs: tuple[Polygon, ...] = ()
    cut_out_areas_mm2: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class ExpectedLay:
    """One lay; lengths in mm. ``layers`` gives the layer of every role."""

    name: str
    width_mm: float
    length_mm: float
    kerf_mm: float
    layers: Mapping[Role, str]
    pieces: tuple[ExpectedPiece, ...]


def expected_of(lay: Lay, machine: Machine, layers: Mapping[Role, str]) -> ExpectedLay:
    """From the lay itself, before any kerf or order was applied to it."""
    pieces = []
    for placed in lay.placed:
        notches = []
        for notch in placed.ordered.piece.notches:
            at = placed.motion.point(notch.at)
            notches.append((at.x, at.y, notch.depth_mm))
        holes = cut_outs_of(placed.ordered)
        pieces.append(
            ExpectedPiece(
                placed.ordered.id,
                placed.ordered.name,
                placed.ordered.cap,
                placed.grain_deg,
                placed.outline.area,
                placed.ordered.label,
                placed.placed_outline,
                tuple(notches),
                tuple(moved_polygon(hole, placed.motion) for hole in holes),
                tuple(hole.area for hole in holes),
            )
        )
    return ExpectedLay(
        lay.name, lay.width_mm, lay.length_mm, machine.kerf_mm, layers, tuple(pieces)
    )


def angle_between_deg(one: float, other: float) -> float:
    """The smaller angle between two directions, in [0, 180]."""
    return float(abs((one - other + 180.0) % 360.0 - 180.0))


def direction_deg(start: tuple[float, float], end: tuple[float, float]) -> float:
    """The direction of a step, counter-clockwise from x, in [0, 360)."""
    return float(np.degrees(np.arctan2(end[1] - start[1], end[0] - start[0])) % 360.0)
