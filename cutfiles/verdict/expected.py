"""What a file must hold: taken from the lay before it is written, or from a summary later on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from cutfiles.cuts.plan import Role
from cutfiles.geometry.polygons import moved_polygon
from cutfiles.job.cloth import ON_GRAIN, GrainRule
from cutfiles.job.job import Machine
from cutfiles.lay.lay import Lay, PlacedPiece, cut_outs_of


@dataclass(frozen=True, slots=True)
class ExpectedCutOut:
    """An opening in a piece: the centroid and area of its true cut line on the cloth, and the
    whole line where it is known."""

    centre: tuple[float, float]
    area_mm2: float
    outline: Polygon | None = None


@dataclass(frozen=True, slots=True)
class ExpectedPiece:
    """One piece of a lay.

    ``centre`` is the centroid of its true cut line on the cloth; ``notch_ends`` where the slots
    of its notches end, ``stitch_lines`` how many lines of stitching it shows. ``outline`` is the
    whole cut line, where it is known. ``grain`` is the rule that its grain line keeps to.
    """

    id: str
    name: str
    cap: str
    label: str
    grain_deg: float
    area_mm2: float
    centre: tuple[float, float]
    notch_ends: tuple[tuple[float, float], ...]
    stitch_lines: int
    outline: Polygon | None = None
    cut_outs: tuple[ExpectedCutOut, ...] = ()
    grain: GrainRule = ON_GRAIN


@dataclass(frozen=True, slots=True)
class ExpectedLay:
    """One lay; lengths in mm. ``clearance_mm`` is what is left between two outlines as written,
    ``layers`` gives the layer of every role."""

    name: str
    width_mm: float
    length_mm: float
    kerf_mm: float
    clearance_mm: float
    layers: Mapping[Role, str]
    pieces: tuple[ExpectedPiece, ...]
    one_way: bool = False


def expected_of(lay: Lay, machine: Machine, layers: Mapping[Role, str]) -> ExpectedLay:
    """From the lay itself, before any kerf or order was applied to it."""
    return ExpectedLay(
        lay.name,
        lay.width_mm,
        lay.length_mm,
        machine.kerf_mm,
        lay.gap_mm - machine.kerf_mm,
        layers,
        tuple(_expected_piece(placed) for placed in lay.placed),
        one_way=lay.cloth.one_way,
    )


def _expected_piece(placed: PlacedPiece) -> ExpectedPiece:
    outline = placed.placed_outline
    piece = placed.ordered.piece
    ends = (placed.motion.point(n.at + n.inward * n.depth_mm) for n in piece.notches)
    centre = outline.centroid
    return ExpectedPiece(
        id=placed.ordered.id,
        name=placed.ordered.name,
        cap=placed.ordered.cap,
        label=placed.ordered.label,
        grain_deg=placed.grain_deg,
        area_mm2=outline.area,
        centre=(centre.x, centre.y),
        notch_ends=tuple((end.x, end.y) for end in ends),
        stitch_lines=len(piece.stitch_lines),
        outline=outline,
        cut_outs=tuple(
            _expected_cut_out(moved_polygon(hole, placed.motion))
            for hole in cut_outs_of(placed.ordered)
        ),
        grain=placed.ordered.grain,
    )


def _expected_cut_out(hole: Polygon) -> ExpectedCutOut:
    return ExpectedCutOut((hole.centroid.x, hole.centroid.y), hole.area, hole)


def angle_between_deg(one: float, other: float) -> float:
    """The smaller angle between two directions, in [0, 180]."""
    return float(abs((one - other + 180.0) % 360.0 - 180.0))


def direction_deg(start: tuple[float, float], end: tuple[float, float]) -> float:
    """The direction of a step, counter-clockwise from x, in [0, 360)."""
    return float(np.degrees(np.arctan2(end[1] - start[1], end[0] - start[0])) % 360.0)
