"""A grid of places for every shape, and how deep any two shapes overlap at them.

Every kind (a shape in a turn) has its own grid: cell (0, 0) is the place nearest the strip's
lower left corner, and the steps are the same for all. What two kinds do to each other depends
on their difference in cells alone, so it is worked out once and then looked up. The idea of a
search on such tables is that of S. Umetani and S. Murakami, "Coordinate descent heuristics for
the irregular strip packing problem of rasterized shapes", European Journal of Operational
Research 303(3), 2022.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from cutfiles.geometry.polygons import moved_polygon
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.lay.depths import Depths, Pair, depth_in, depths_between
from cutfiles.lay.free_parts import Kind
from cutfiles.lay.keep_out import Array, keep_out
from cutfiles.lay.problem import Shape, StripProblem

Cells = npt.NDArray[np.int64]
BARRED: Final = 1 << 26
"""The depth of a cell where a piece must never lie: more than all overlaps of a lay together."""

_STEP_SHARE: Final = 0.0092
"""A step, of the strip's width: about 10 mm on the usual cotton (tests/bench/caps.py)."""

_HAIR: Final = 1e-9


@dataclass(frozen=True, slots=True)
class DepthTables:
    """How deep one kind overlaps another, by the difference of their cells.

    ``blocks[a, b]`` gives, for kind b seen from kind a: where its rows start in ``depths``, how
    many cells they span along and across, and the differences that the first of them stands for.
    Depths beyond a block are 0.
    """

    depths: Depths
    blocks: Cells

    def less(self, slack: int) -> DepthTables:
        """Tables in which an overlap up to the slack is none."""
        return DepthTables(
            np.maximum(self.depths - np.float32(slack), np.float32(0.0)), self.blocks
        )


class Grid:
    """The grid of a problem: kinds, steps, origins, and what is barred.

    Lengths are in the problem's unit. ``origins`` holds, for every kind, the shift that its cell
    (0, 0) stands for.
    """

    def __init__(self, problem: StripProblem, *, step_share: float = _STEP_SHARE) -> None:
        self.problem = problem
        self.kinds: tuple[Kind, ...] = tuple(
            (index, turn) for index, shape in enumerate(problem.shapes) for turn in shape.turns_deg
        )
        self.number = {kind: index for index, kind in enumerate(self.kinds)}
        self.steps = _steps(problem, step_share * problem.width)
        self._outlines = [
            moved_polygon(problem.shapes[index].search_outline, Motion(turn, Vector(0.0, 0.0)))
            for index, turn in self.kinds
        ]
        true = [
            moved_polygon(problem.shapes[index].outline, Motion(turn, Vector(0.0, 0.0)))
            for index, turn in self.kinds
        ]
        self.boxes = np.array([outline.bounds for outline in true])
        self._registers = [self._register(kind) for kind in self.kinds]
        low = problem.margin - self.boxes[:, :2]
        for index, register in enumerate(self._registers):
            for axis, (place, period) in enumerate(register):
                if period is not None:
                    step = self.steps[axis]
                    back = math.floor((place - low[index, axis]) / step + _HAIR) if period else 0
                    low[index, axis] = place - back * step
        self.origins: Array = low
        self._amiss: tuple[list[Depths], Cells] | None = None

    def _register(self, kind: Kind) -> tuple[tuple[float, int | None], tuple[float, int | None]]:
        """For each axis the shift that a register asks for, and its period in cells: None where
        the axis is free, 0 where there is one place only."""
        register = self.problem.shapes[kind[0]].register
        if register is None:
            return (0.0, None), (0.0, None)
        turned = Motion(kind[1], Vector(0.0, 0.0)).point(register.point)
        places = register.first.x - turned.x, register.first.y - turned.y
        steps = register.step_along, register.step_across
        periods = [
            None if step is None else round(step / cell)
            for step, cell in zip(steps, self.steps, strict=True)
        ]
        return (places[0], periods[0]), (places[1], periods[1])

    def extents(self, length: float, *, let_pass: float = 0.5) -> Cells:
        """How many cells each kind has along and across a strip of a length; none where it does
        not fit. So much of a step beyond the margin is let pass where no register holds the kind:
        compaction can mend it."""
        problem = self.problem
        ends = np.array([length, problem.width]) - problem.margin
        room = (ends - self.boxes[:, 2:] - self.origins) / self.steps
        held = np.array([[period is not None for _, period in r] for r in self._registers])
        cells = np.floor(room + np.where(held, 1e-6, max(let_pass, 1e-6))).astype(np.int64) + 1
        for index, register in enumerate(self._registers):
            for axis, (_, period) in enumerate(register):
                if period == 0:
                    cells[index, axis] = min(cells[index, axis], 1)
        cells[(cells < 1).any(axis=1)] = 0
        return np.asarray(cells)

    def tables(self) -> DepthTables:
        """The depths of every pair of kinds."""
        count = len(self.kinds)
        blocks = np.zeros((count, count, 5), dtype=np.int64)
        rows: list[Depths] = []
        size = 0
        for a in range(count):
            for b in range(a, count):
                depths, low = self._depths_between(a, b)
                for one, other, table, first in (
                    (a, b, depths, np.array(low)),
                    (b, a, depths[::-1, ::-1], 1 - np.array(low) - np.array(depths.shape)),
                ):
                    blocks[one, other] = size, *table.shape, *first
                    rows.append(np.ascontiguousarray(table).ravel())
                    size += table.size
                    if a == b:
                        break
        return DepthTables(np.concatenate(rows), blocks)

    def _depths_between(self, a: int, b: int) -> tuple[Depths, tuple[int, int]]:
        offset = self.origins[b] - self.origins[a]
        one, other = (
            (self.problem.shapes[index].search_outline, turn)
            for index, turn in (self.kinds[a], self.kinds[b])
        )
        return depths_between(one, other, self.problem.gap, _pair(offset), _pair(self.steps))

    def barred(self, extents: Cells, slack: int) -> tuple[Depths, Cells]:
        """What no overlap may buy: for every kind, one after the other, a cell's depth where an
        obstacle or the register bars it, else 0; and where each kind starts.

        An overlap with an obstacle of no more than the slack is let pass.
        """
        amiss = self._amiss  # searches side by side share it: each keeps to what it has read
        if amiss is None or (extents > amiss[1]).any():
            sizes = extents.tolist()
            amiss = [self._depths_amiss(k, *size) for k, size in enumerate(sizes)], extents
            self._amiss = amiss
        sizes = extents.prod(axis=1)
        starts = np.concatenate([[0], np.cumsum(sizes)])
        parts = [
            np.where(depths[:along, :across] > slack, BARRED, 0).ravel()
            for depths, (along, across) in zip(amiss[0], extents.tolist(), strict=True)
        ]
        return np.concatenate(parts).astype(np.float32), starts[:-1]

    def _depths_amiss(self, index: int, along: int, across: int) -> Depths:
        """How deep a kind overlaps an obstacle in each of its cells; what is out of register is
        as deep as can be."""
        cells = np.zeros((along, across), dtype=np.float32)
        if cells.size:
            self._overlap_obstacles(index, cells)
            self._bar_out_of_register(index, cells)
        return cells

    def _overlap_obstacles(self, index: int, view: Depths) -> None:
        for obstacle in self.problem.obstacles:
            region = keep_out(obstacle.outline, self._outlines[index], obstacle.clearance)
            bounds = np.array(region.bounds).reshape(2, 2)
            low = np.floor((bounds[0] - self.origins[index]) / self.steps).astype(int)
            high = np.ceil((bounds[1] - self.origins[index]) / self.steps).astype(int) + 1
            low, high = np.maximum(low, 0), np.minimum(high, view.shape)
            if (low >= high).any():
                continue
            along, across = (
                self.origins[index, axis]
                + self.steps[axis] * np.arange(int(low[axis]), int(high[axis]))
                for axis in (0, 1)
            )
            part = view[low[0] : high[0], low[1] : high[1]]
            np.maximum(part, depth_in(region, along, across, _pair(self.steps)), out=part)

    def _bar_out_of_register(self, index: int, view: Depths) -> None:
        for axis, (place, period) in enumerate(self._registers[index]):
            if period:
                cell = round((place - self.origins[index, axis]) / self.steps[axis]) % period
                keep = np.arange(view.shape[axis]) % period == cell
                view[~keep if axis == 0 else (slice(None), ~keep)] = BARRED


def _pair(both: Array) -> Pair:
    return float(both[0]), float(both[1])


def _steps(problem: StripProblem, about: float) -> Array:
    """The grid's steps: about as long as asked for, and whole parts of every register's step.

    Raises
    ------
    ValueError
        If the registers' steps along or across differ.
    """
    found = []
    for name, periods in zip(("along", "across"), _register_steps(problem.shapes), strict=True):
        if len(periods) > 1:
            raise ValueError(f"registers of one strip have one step {name} it, not {periods}")
        found.extend([period / math.ceil(period / about) for period in periods] or [about])
    return np.array(found)


def _register_steps(shapes: tuple[Shape, ...]) -> Iterator[list[float]]:
    registers = [shape.register for shape in shapes if shape.register is not None]
    yield sorted({r.step_along for r in registers if r.step_along})
    yield sorted({r.step_across for r in registers if r.step_across})
