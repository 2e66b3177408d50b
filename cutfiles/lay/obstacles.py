"""Flaws of the cloth where they lie on the table: in the frame of a lay.

Cloth is measured from its lower left corner, selvedge included; a lay begins at the usable
cloth's, or on folded cloth at the fold.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Final, TypeGuard

import shapely
from shapely.affinity import scale, translate
from shapely.geometry import Polygon, box

from cutfiles.job.cloth import Flaw
from cutfiles.job.job import Cloth
from cutfiles.tolerances import SLIVER_MM

_SIDES: Final = 32
"""Of the polygon round a round flaw."""


def flaw_region(flaw: Flaw) -> Polygon:
    """A flaw on its cloth; a round one as a polygon round it."""
    (x0, y0), (x1, y1) = flaw.at, flaw.far
    if not flaw.is_round:
        return box(x0, y0, x1, y1)
    radius = (x1 - x0) / 2.0 / math.cos(math.pi / _SIDES)
    centre = shapely.Point((x0 + x1) / 2.0, (y0 + y1) / 2.0)
    return centre.buffer(radius, quad_segs=_SIDES // 4)


def flaws_on_lay(cloth: Cloth, starts_at_mm: float) -> tuple[Polygon, ...]:
    """The flaws that lie ahead of where a lay begins, in its frame. On folded cloth those of both
    halves, each no further than the fold."""
    found = []
    for flaw in cloth.flaws:
        if flaw.far[0] > starts_at_mm:
            found.extend(_on_table(flaw_region(flaw), cloth, starts_at_mm))
    return tuple(found)


def clipped(flaws: Iterable[Polygon], length_mm: float, width_mm: float) -> tuple[Polygon, ...]:
    """What of some flaws lies on the cloth that a lay takes."""
    parts = (flaw.intersection(box(0.0, 0.0, length_mm, width_mm)) for flaw in flaws)
    return tuple(part for part in parts if is_shown(part))


def is_shown(part: shapely.Geometry) -> TypeGuard[Polygon]:
    """Whether what is left of a flaw is wide enough to be drawn as a region."""
    x0, y0, x1, y1 = part.bounds if isinstance(part, Polygon) else (0.0, 0.0, 0.0, 0.0)
    return min(x1 - x0, y1 - y0) >= SLIVER_MM


def _on_table(region: Polygon, cloth: Cloth, starts_at_mm: float) -> list[Polygon]:
    if not cloth.is_folded:
        return [translate(region, -starts_at_mm, -cloth.selvedge_mm)]
    level = translate(region, -starts_at_mm, -cloth.width_mm / 2.0)
    x0, _, x1, _ = level.bounds
    above = box(x0 - 1.0, 0.0, x1 + 1.0, cloth.width_mm)
    halves = (level, scale(level, 1.0, -1.0, origin=(0.0, 0.0)))
    parts = [half.intersection(above) for half in halves]
    return [part for part in parts if isinstance(part, Polygon) and part.area > 0.0]
