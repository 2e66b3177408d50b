"""Boxes on a skyline: a lay that is always possible, at once, and how long a good one is likely.

The skyline is the ragged end of what was laid so far; each box goes where it comes to end first, as
far back as the skyline lets it (after E. K. Burke, G. Kendall, G. Whitwell, "A new placement
heuristic for the orthogonal stock-cutting problem", Operations Research 52(4), 2004, who fill such
a line by another choice). It knows obstacles and registers, as engines do.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import shapely

from cutfiles.geometry.vector import Motion, Vector
from cutfiles.lay.problem import NoPlaceError, Obstacle, Register, Spot, StripLayout, StripProblem
from cutfiles.lay.reach import WHOLE_BOXES, Fill
from cutfiles.lay.rows import ShapeBox, best_box

ENGINE: Final = "skyline"

_HAIR: Final = 1e-9
"""Relative slack against rounding."""

_MOST_STEPS: Final = 1000
"""How often a box moves on past obstacles before a place is given up."""


@dataclass(frozen=True, slots=True)
class _Block:
    """A box to lay, and where in it the point lies that keeps to a print or fold."""

    box: ShapeBox
    along: float
    across: float
    register: Register | None
    kept_along: float
    kept_across: float


class _Step(NamedTuple):
    """A stretch of the skyline: across from ``low`` to ``high`` all is taken up to ``end``."""

    low: float
    high: float
    end: float


def skyline_layout(problem: StripProblem, fill: Fill = WHOLE_BOXES) -> StripLayout:
    """The shortest of the layouts that three orders of the boxes give; the same problem, the same
    layout. It is allowed where boxes are whole, else only its length means anything.

    Raises
    ------
    NoPlaceError
        If a shape has no place in the turn that suits its copies best.
    """
    room = (problem.width - 2.0 * problem.margin) * (1.0 + _HAIR)
    blocks = [_block(problem, index, room, fill) for index in range(len(problem.shapes))]
    # orders that are alike are laid once
    orders = dict.fromkeys(tuple(sorted(blocks, key=order)) for order in _ORDERS)
    hindered = _Hindered(problem.obstacles)
    layouts = (_laid(problem, order, room, hindered) for order in orders)
    return min(layouts, key=lambda layout: layout.length)


_ORDERS: Final[tuple[Callable[[_Block], tuple[float, ...]], ...]] = (
    lambda block: (-block.along, -block.across),
    lambda block: (-block.along * block.across,),
    lambda block: (-block.across, -block.along),
)


def _block(problem: StripProblem, index: int, room: float, fill: Fill) -> _Block:
    shape = problem.shapes[index]
    box = best_box(problem, index, room)
    share = shape.outline.area / (box.along * box.across)
    by_along, by_across = share**fill.along, share**fill.across
    kept = shape.kept_point(box.turn_deg)
    return _Block(
        box,
        box.along * by_along,
        box.across * by_across,
        shape.register,
        (kept.x - box.left) * by_along if kept else 0.0,
        (kept.y - box.bottom) * by_across if kept else 0.0,
    )


def _laid(
    problem: StripProblem, blocks: Sequence[_Block], room: float, hindered: _Hindered
) -> StripLayout:
    low = problem.margin
    skyline = [_Step(low, low + room, low)]
    spots: list[Spot] = []
    end = 0.0
    for block in blocks:
        box = block.box
        for _ in range(problem.shapes[box.shape].count):
            place = _first_place(problem, block, skyline, hindered)
            if place is None:
                name = problem.shapes[box.shape].name
                raise NoPlaceError(f"{name} has no place on the strip")
            x, y = place
            shift = Vector(x - box.left, y - box.bottom)
            spots.append(Spot(box.shape, Motion(box.turn_deg, shift)))
            end = max(end, x + block.along)
            taken = _Step(y, y + block.across + problem.gap, x + block.along + problem.gap)
            skyline = _raised(skyline, taken)
    return StripLayout(tuple(spots), end + problem.margin, ENGINE)


def _first_place(
    problem: StripProblem, block: _Block, skyline: Sequence[_Step], hindered: _Hindered
) -> tuple[float, float] | None:
    """The first place, along and then across, where a block's corner may come: behind a stretch of
    the skyline that it can begin on, or beside an obstacle; None if there is none."""
    top = skyline[-1].high
    on_fold = block.register is not None and block.register.step_across == 0.0
    starts: set[tuple[float, float]] = set()
    for start in (*(step.low for step in skyline), *hindered.beside):
        y = _kept(start, block.kept_across, block.register, across=True)
        if y + block.across > top or (y < start and not (on_fold and start <= problem.margin)):
            continue
        # what is taken has the gap at its upper side, and below it a block has its own
        high = y + block.across + problem.gap - _HAIR
        behind = max(s.end for s in skyline if s.low < high and s.high > y)
        starts.add((_kept(behind, block.kept_along, block.register, across=False), y))
    best: tuple[float, float] | None = None
    for x, y in sorted(starts):
        if best is not None and x > best[0]:
            break  # no obstacle lets a block come further back
        key = block.box.shape, x, y
        if key not in hindered.known:
            hindered.known[key] = _past_obstacles(hindered, block, x, y)
        found = hindered.known[key]
        if found is not None and (best is None or (found, y) < best):
            best = found, y
    return best


class _Hindered:
    """The obstacles of a strip by where they end along it: each outline, where the box round it and
    what is kept clear of it begins and ends, and where across a block may begin beside it. By shape
    and place it is ``known`` where a block comes clear of them, since most places are asked for
    again and again."""

    def __init__(self, obstacles: Sequence[Obstacle]) -> None:
        self.known: dict[tuple[int, float, float], float | None] = {}
        boxes = shapely.bounds([obstacle.outline for obstacle in obstacles]).reshape(-1, 4)
        keep = np.array([obstacle.clearance for obstacle in obstacles])
        beside = boxes[:, 3] + keep * (1.0 + _HAIR) + _HAIR
        self.beside: tuple[float, ...] = tuple(beside.tolist())
        order = np.argsort(boxes[:, 2] + keep, kind="stable")
        boxes, keep = boxes[order], keep[order]
        self.obstacles = [obstacles[number] for number in order]
        self.left, self.low = boxes[:, 0] - keep, boxes[:, 1] - keep
        self.right, self.high = boxes[:, 2] + keep, boxes[:, 3] + keep


def _past_obstacles(hindered: _Hindered, block: _Block, x: float, y: float) -> float | None:
    """The first place along, from one on, where a block is clear of every obstacle; None if there
    is none."""
    if not hindered.obstacles:
        return x
    beside = (hindered.low < y + block.across) & (hindered.high > y)
    for _ in range(_MOST_STEPS):
        near = beside & (hindered.left < x + block.along) & (hindered.right > x)
        hits = (n for n in np.flatnonzero(near) if _is_hit(hindered.obstacles[n], x, y, block))
        first = next(hits, None)
        if first is None:
            return x
        beyond = float(hindered.right[first]) + _HAIR
        x = _kept(max(beyond, x + _HAIR), block.kept_along, block.register, across=False)
    return None


def _is_hit(obstacle: Obstacle, x: float, y: float, block: _Block) -> bool:
    """Whether a block comes too near an obstacle near whose box it lies."""
    keep = obstacle.clearance
    here = shapely.clip_by_rect(
        obstacle.outline, x - keep, y - keep, x + block.along + keep, y + block.across + keep
    )
    return not here.is_empty


def _kept(start: float, offset: float, register: Register | None, *, across: bool) -> float:
    """The first corner from a start on whose point, an offset from it, keeps to its places."""
    if register is None:
        return start
    step = register.step_across if across else register.step_along
    first = register.first.y if across else register.first.x
    if step is None:
        return start
    if step == 0.0:
        return first - offset
    return first - offset + step * math.ceil((start + offset - first) / step - _HAIR)


def _raised(skyline: Sequence[_Step], taken: _Step) -> list[_Step]:
    """The skyline with a stretch of it raised; neighbours of one height become one."""
    low, high = max(taken.low, skyline[0].low), min(taken.high, skyline[-1].high)
    if high <= low:
        return list(skyline)
    before = [_Step(s.low, min(s.high, low), s.end) for s in skyline if s.low < low]
    behind = [_Step(max(s.low, high), s.high, s.end) for s in skyline if s.high > high]
    raised = _Step(low, high, taken.end)
    if before and before[-1].end == raised.end:
        raised = _Step(before.pop().low, raised.high, raised.end)
    if behind and behind[0].end == raised.end:
        raised = _Step(raised.low, behind.pop(0).high, raised.end)
    return [*before, raised, *behind]
