"""The nouns of nesting: shapes on a strip, where they lie, and who watches the search.

The strip lies along x from 0; y runs across it from 0 to its width. Millimetres and degrees
(a benchmark instance may use any unit: nothing here depends on it).
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from shapely.geometry import Polygon

from cutfiles.geometry.polygons import moved_polygon
from cutfiles.geometry.vector import Motion, Point, Vector


class NoPlaceError(ValueError):
    """A piece has no place on the strip, however long it is."""


@dataclass(frozen=True, slots=True)
class Register:
    """A point of a shape that keeps to certain places of the strip: of a printed repeat, or of
    a fold.

    The point, in the shape's own frame, comes to lie at ``first`` or whole steps from it. An axis
    whose step is None is free; with a step of 0 the point stays at ``first`` on that axis.
    """

    point: Point
    first: Point
    step_along: float | None = None
    step_across: float | None = None

    def is_kept(self, motion: Motion, tolerance: float) -> bool:
        """Whether a motion brings the point to one of its places."""
        at = motion.point(self.point)
        axes = ((at.x - self.first.x, self.step_along), (at.y - self.first.y, self.step_across))
        return all(
            step is None or abs(off - (round(off / step) * step if step else 0.0)) <= tolerance
            for off, step in axes
        )


@dataclass(frozen=True, slots=True)
class Shape:
    """An outline to place ``count`` times, in any of the allowed turns, never flipped.

    ``outline`` is what must not overlap; ``guard``, where given, is an outline of fewer points
    that contains it, for engines that slow down with every point. A shape whose ``register``
    holds it to one place across the strip lies on a fold, and need not keep the margin there.
    """

    name: str
    outline: Polygon
    turns_deg: tuple[float, ...]
    count: int
    guard: Polygon | None = None
    register: Register | None = None

    @property
    def search_outline(self) -> Polygon:
        """The outline an engine places."""
        return self.guard or self.outline

    def kept_point(self, turn_deg: float) -> Point | None:
        """Where its register's point lies once it is turned about the origin; None without one."""
        if self.register is None:
            return None
        return Motion(turn_deg, Vector(0.0, 0.0)).point(self.register.point)

    @property
    def is_on_fold(self) -> bool:
        """Whether the shape is held to one place across the strip."""
        return self.register is not None and self.register.step_across == 0.0


@dataclass(frozen=True, slots=True)
class Obstacle:
    """A place on the strip that pieces keep ``clearance`` from: a flaw, the outside of a
    remnant, a piece that stays where it is."""

    outline: Polygon
    clearance: float


@dataclass(frozen=True, slots=True)
class StripProblem:
    """Shapes to place on a strip of fixed width, as short as can be.

    Pieces keep ``gap`` between each other, ``margin`` to the strip's four edges, and each
    obstacle's own clearance from it. Where it is ``edge_to_edge``, copies of a rectangle may also
    share a whole side.
    """

    width: float
    gap: float
    margin: float
    shapes: tuple[Shape, ...]
    obstacles: tuple[Obstacle, ...] = ()
    edge_to_edge: bool = False

    def __post_init__(self) -> None:
        if not self.width > 2.0 * self.margin or self.gap < 0 or self.margin < 0:
            raise ValueError("a strip needs a width beyond its margins, and no negative gap")
        if not self.shapes or any(s.count < 1 or not s.turns_deg for s in self.shapes):
            raise ValueError("every shape of a strip needs a count and a turn")

    @property
    def is_clear(self) -> bool:
        """Whether every piece may lie anywhere on the strip."""
        return not self.obstacles and not any(shape.register for shape in self.shapes)

    @property
    def area(self) -> float:
        """Net area of everything to place."""
        return sum(shape.outline.area * shape.count for shape in self.shapes)


@dataclass(frozen=True, slots=True)
class Spot:
    """Where one copy of a shape lies."""

    shape: int
    motion: Motion


@dataclass(frozen=True, slots=True)
class StripLayout:
    """A full placement: every copy once. ``engine`` says what found it."""

    spots: tuple[Spot, ...]
    length: float
    engine: str

    def efficiency(self, problem: StripProblem) -> float:
        """Net area over the strip used, 0 to 1."""
        return problem.area / (problem.width * self.length)


@dataclass(slots=True)
class Watch:
    """The clock of a search and its ways out; the one mutable thing that crosses modules.

    ``stop`` is asked often and ends the search with the best so far when it answers yes;
    ``improved`` hears of every better layout; ``enough_length`` ends the search as soon as a
    layout is that short.
    """

    seconds: float
    stop: Callable[[], bool] = lambda: False
    improved: Callable[[StripLayout, float], None] = lambda _layout, _left: None
    enough_length: float | None = None
    _start: float = field(default_factory=time.monotonic)

    @property
    def seconds_left(self) -> float:
        """Until the search must end; never negative."""
        return max(0.0, self._start + self.seconds - time.monotonic())

    def is_enough(self, layout: StripLayout) -> bool:
        """Whether a layout is as short as was asked for."""
        return self.enough_length is not None and layout.length <= self.enough_length

    def is_over(self) -> bool:
        """Whether time is up or someone asked to stop."""
        return self.seconds_left <= 0.0 or self.stop()


def placed_outlines(problem: StripProblem, layout: StripLayout) -> list[Polygon]:
    """The true outlines where the layout puts them."""
    return [moved_polygon(problem.shapes[s.shape].outline, s.motion) for s in layout.spots]
