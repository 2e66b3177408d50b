"""Remnants side by side as one strip: what is no cloth between and around them is in the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import shapely
from shapely.affinity import translate
from shapely.geometry import Polygon, box

from cutfiles.job.cloth import Remnant
from cutfiles.lay.obstacles import flaw_region
from cutfiles.lay.problem import Obstacle, Spot, StripLayout, placed_outlines
from cutfiles.lay.problem import StripProblem as Problem

_WALL_MM: Final = 20.0
"""Between two remnants on the strip."""

_INSET_MM: Final = 1.0
_FEW_CORNERS: Final = 16
"""An outline of more corners is nested in one of fewer, no further inside than twice the inset."""


@dataclass(frozen=True, slots=True)
class PlacedRemnant:
    """A remnant, and where its box begins on the strip."""

    remnant: Remnant
    starts_at: float

    @property
    def outline(self) -> Polygon:
        """Its outline in its own frame."""
        return Polygon(self.remnant.corners)

    @property
    def flaws(self) -> tuple[Polygon, ...]:
        """Its flaws in its own frame."""
        return tuple(flaw_region(flaw) for flaw in self.remnant.flaws)

    @property
    def ends_at(self) -> float:
        """Where its box ends on the strip."""
        return self.starts_at + self.remnant.size_mm[0]


@dataclass(frozen=True, slots=True)
class RemnantStrip:
    """Remnants in a row along a strip as wide as the widest of them. Millimetres.

    Beyond the last one the strip is clear, so that what has no room on them finds a place; a
    layout longer than ``length`` does not fit.
    """

    remnants: tuple[PlacedRemnant, ...]

    @classmethod
    def of(cls, remnants: Sequence[Remnant]) -> RemnantStrip:
        """The largest first."""
        placed = []
        at = 0.0
        for remnant in sorted(remnants, key=lambda r: -Polygon(r.corners).area):
            placed.append(PlacedRemnant(remnant, at))
            at = placed[-1].ends_at + _WALL_MM
        return cls(tuple(placed))

    @property
    def width(self) -> float:
        """Of the strip."""
        return max(placed.remnant.size_mm[1] for placed in self.remnants)

    @property
    def length(self) -> float:
        """To the end of the last remnant."""
        return self.remnants[-1].ends_at

    def obstacles(self, clearance: float) -> tuple[Obstacle, ...]:
        """Everything on the strip that is no sound cloth, as parts without bays."""
        regions: list[Polygon] = []
        for placed in self.remnants:
            end = placed.ends_at
            sheet = box(placed.starts_at, 0.0, end, self.width)
            cloth = translate(_inside(placed.outline), placed.starts_at)
            regions.extend(convex_parts(sheet.difference(cloth)))
            regions.append(box(end, 0.0, end + _WALL_MM, self.width))
            regions.extend(translate(flaw, placed.starts_at) for flaw in placed.flaws)
        return tuple(Obstacle(region, clearance) for region in regions)

    def shared_out(
        self, problem: Problem, layout: StripLayout
    ) -> dict[int, list[tuple[int, Spot]]]:
        """The spots of a layout by the remnant they lie on, each with its number in the layout;
        their motions are the strip's."""
        found: dict[int, list[tuple[int, Spot]]] = {}
        outlines = placed_outlines(problem, layout)
        for number, (spot, outline) in enumerate(zip(layout.spots, outlines, strict=True)):
            middle = (outline.bounds[0] + outline.bounds[2]) / 2.0
            home = next(k for k, r in enumerate(self.remnants) if middle <= r.ends_at)
            found.setdefault(home, []).append((number, spot))
        return found


def convex_parts(region: shapely.Geometry) -> list[Polygon]:
    """A region in parts without bays: triangles, put together as far as they stay so."""
    parts: list[Polygon] = []
    for piece in getattr(region, "geoms", [region]):
        if not isinstance(piece, Polygon) or piece.area <= 1e-6:
            continue
        triangles = shapely.constrained_delaunay_triangles(piece)
        found = (
            Polygon(triangle.exterior)
            for triangle in triangles.geoms
            if isinstance(triangle, Polygon)
        )
        parts.extend(_merged([triangle for triangle in found if triangle.area > 1e-9]))
    return parts


def _merged(parts: list[Polygon]) -> list[Polygon]:
    waiting, done = list(parts), []
    while waiting:
        part = waiting.pop()
        joined = True
        while joined:
            joined = False
            for k, other in enumerate(waiting):
                hull = shapely.convex_hull(shapely.union(part, other))
                if (
                    isinstance(hull, Polygon)
                    and abs(hull.area - part.area - other.area) <= 1e-7 * hull.area
                ):
                    part = hull
                    del waiting[k]
                    joined = True
                    break
        done.append(part)
    return done


def _inside(outline: Polygon) -> Polygon:
    """An outline of few corners that lies in the given one."""
    if len(outline.exterior.coords) <= _FEW_CORNERS:
        return outline
    inner = outline.buffer(-_INSET_MM, join_style="mitre").simplify(_INSET_MM)
    return inner if isinstance(inner, Polygon) and outline.covers(inner) else outline
