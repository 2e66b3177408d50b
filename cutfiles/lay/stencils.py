"""Shapes as cells of a coarse grid, and the places they take from each other, as sets of bits.

A place on the strip is the bit of a whole number: column by column along the strip, in each column
row by row across it. Python's whole numbers are as long as one likes and are shifted and joined in
a microsecond or so, and nothing has to be loaded or compiled for them. Cells are so large that
nothing here is exact: it serves figures, never a lay that is cut.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon

from cutfiles.geometry.polygons import moved_polygon
from cutfiles.geometry.segments import Array
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.lay.problem import NoPlaceError, Obstacle, Shape, StripProblem


@dataclass(frozen=True, slots=True)
class CellSizes:
    """Between which extents cells may be, in mm, for so many pieces at most; which of them, the
    shapes say."""

    pieces: float
    along: tuple[float, float]
    across: tuple[float, float]

    @property
    def middle_mm2(self) -> float:
        """The area of a cell of middle size."""
        return sum(self.along) * sum(self.across) / 4.0


_SIZES: Final = (
    CellSizes(12, (16.0, 24.0), (3.0, 5.0)),
    CellSizes(32, (16.0, 24.0), (6.0, 10.0)),
    CellSizes(math.inf, (28.0, 40.0), (10.0, 16.0)),
)
"""Of the sizes tried, those in which the length of a nest is told best from sketches of the same
time: few pieces fill the width or do not by some millimetres, many want more tries."""

_HAIR: Final = 1e-9
"""Relative slack against rounding."""


def sizes_for(pieces: int) -> CellSizes:
    """The sizes of cells for so many pieces."""
    return next(sizes for sizes in _SIZES if pieces <= sizes.pieces)


class Run(NamedTuple):
    """Cells of one column: rows from ``low`` to ``high``, both taken."""

    column: int
    low: int
    high: int


class Taken(NamedTuple):
    """Places as bits, of which the first stands for a place so far on, or back where negative."""

    bits: int
    first: int

    def at(self, place: int) -> int:
        """Those that are taken when what takes them comes to a place."""
        shift = self.first + place
        return self.bits << shift if shift >= 0 else self.bits >> -shift


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells of a strip: where they begin along it and across, their extents in mm, rows across, and
    columns along, which are enough for any of its lays. ``stride`` is how many bits on the next
    column begins: rows and so many more that no shape reaches from one column's rows into
    another's. ``every`` are the first rows of all columns, as bits."""

    origin_mm: float
    along_mm: float
    across_mm: float
    rows: int
    columns: int
    stride: int
    every: int


@dataclass(frozen=True, slots=True)
class Stencil:
    """A shape in one turn: its extents in cells, the cells it takes and their number, and where on
    the empty strip its lower left corner may come to lie."""

    shape: int
    along: int
    across: int
    runs: tuple[Run, ...]
    cells: int
    allowed: int


@dataclass(frozen=True, slots=True)
class _Turned:
    """A shape in one turn, and half the gap round it; where that begins, and its extents."""

    number: int
    shape: Shape
    outline: Polygon
    kept: tuple[float, float]
    left: float
    low: float
    along: float
    across: float


def stencils_of(problem: StripProblem, most_mm: float) -> tuple[Grid, tuple[Stencil, ...]]:
    """Every shape of a problem in every turn that is narrow enough for the strip, on one grid for
    lays of at most such a length.

    Raises
    ------
    NoPlaceError
        If a shape is wider than the strip in every allowed turn.
    """
    room = problem.width - 2.0 * problem.margin + problem.gap
    turned = [
        one
        for number, shape in enumerate(problem.shapes)
        for turn in shape.turns_deg
        if (one := _turned(number, shape, turn, problem.gap)).across <= room * (1.0 + _HAIR)
    ]
    lying = {one.number for one in turned}
    for number, shape in enumerate(problem.shapes):
        if number not in lying:
            raise NoPlaceError(f"{shape.name} is wider than the strip in every allowed turn")
    origin = problem.margin - problem.gap / 2.0
    sizes = sizes_for(sum(shape.count for shape in problem.shapes))
    grid = _fitting_grid(turned, sizes, origin, room, most_mm)
    obstacles = tuple(
        run for obstacle in problem.obstacles for run in _obstacle_runs(obstacle, problem.gap, grid)
    )
    covered = grown(obstacles, grid.stride, grid.rows)
    stencils = (_stencil(one, grid, covered) for one in turned)
    return grid, tuple(dict.fromkeys(stencils))  # turns that are alike once


def grown(runs: Sequence[Run], stride: int, most_rows: int) -> tuple[int, ...]:
    """The cells of some runs as bits, the same reaching two rows on in all, and again twice as many
    each time, up to the last power of two within so many rows."""
    bits = 0
    for column, low, high in runs:
        bits |= ((2 << high - low) - 1) << column * stride + low
    found, rows = [bits], 1
    while 2 * rows <= most_rows:
        found.append(found[-1] | found[-1] << rows)
        rows *= 2
    return tuple(found)


def taken(one: Sequence[int], other: Sequence[Run], stride: int) -> Taken:
    """The places where the other overlaps the one, from the one's own; the one as `grown` by the
    rows of the other's highest run."""
    back = max(run.column * stride + run.high for run in other)
    bits = 0
    for column, low, high in other:
        rows = high - low + 1
        power = rows.bit_length() - 1
        met = one[power] | one[power] << rows - (1 << power)
        bits |= met << back - column * stride - high
    return Taken(bits, -back)


def _turned(number: int, shape: Shape, turn_deg: float, gap: float) -> _Turned:
    motion = Motion(turn_deg, Vector(0.0, 0.0))
    outline = moved_polygon(shape.outline, motion)
    left, low, right, high = np.add(outline.bounds, np.array([-1, -1, 1, 1]) * gap / 2.0).tolist()
    kept = shape.kept_point(turn_deg)
    at = (kept.x, kept.y) if kept else (0.0, 0.0)
    if shape.is_on_fold:
        low = at[1]
    if gap:
        outline = outline.buffer(gap / 2.0, quad_segs=2)
    return _Turned(number, shape, outline, at, left, low, right - left, high - low)


def _fitting_grid(
    turned: Sequence[_Turned], cells: CellSizes, origin: float, room: float, most_mm: float
) -> Grid:
    """Of cells that most of the shapes come out nearly whole in."""
    weights = np.array([one.shape.count * one.outline.area for one in turned])
    few, many = (max(1, round(room / mm)) for mm in reversed(cells.across))
    sizes = room / np.arange(few, many + 1)
    across_mm = _fitting(np.array([one.across for one in turned]), weights, sizes)
    sizes = np.linspace(*cells.along, 33)
    along_mm = _fitting(np.array([one.along for one in turned]), weights, sizes)
    rows = round(room / across_mm)
    tallest = max(min(rows, max(1, round(one.across / across_mm))) for one in turned)
    columns = math.ceil(most_mm / along_mm) + max(round(one.along / along_mm) for one in turned)
    stride = rows + tallest
    every, known = 1, 1
    while known < columns:
        every |= every << known * stride
        known *= 2
    every &= (1 << columns * stride) - 1
    return Grid(origin, along_mm, across_mm, rows, columns, stride, every)


def _fitting(extents: Array, weights: Array, sizes: Array) -> float:
    """The size of cells in which extents come out nearest to whole ones."""
    whole = np.maximum(1.0, np.round(extents[:, None] / sizes)) * sizes
    wrong = weights @ np.abs(whole / extents[:, None] - 1.0)
    return float(sizes[int(np.argmin(wrong))])


def _stencil(one: _Turned, grid: Grid, covered: Sequence[int]) -> Stencil:
    along = max(1, round(one.along / grid.along_mm))
    across = min(grid.rows, max(1, round(one.across / grid.across_mm)))
    to_cells = np.array([along / one.along, across / one.across])
    rings = [(points - [one.left, one.low]) * to_cells for points in _rings(one.outline)]
    runs = tuple(_runs(rings, range(along), across)) or (Run(0, 0, 0),)
    allowed = _allowed(one, grid, across)
    if covered[0]:
        allowed &= ~taken(covered, runs, grid.stride).at(0)
    cells = sum(run.high - run.low + 1 for run in runs)
    return Stencil(one.number, along, across, runs, cells, allowed)


def _obstacle_runs(obstacle: Obstacle, gap: float, grid: Grid) -> Iterator[Run]:
    """The cells of an obstacle and what shapes keep from it, but for their own half of a gap."""
    keep = obstacle.clearance - gap / 2.0
    around = obstacle.outline.buffer(keep, join_style="mitre") if keep > _HAIR else obstacle.outline
    to_cells = np.array([1.0 / grid.along_mm, 1.0 / grid.across_mm])
    for part in shapely.get_parts(around):
        rings = [(points - grid.origin_mm) * to_cells for points in _rings(part)]
        first, last = round(rings[0][:, 0].min()), round(rings[0][:, 0].max())
        columns = range(max(0, first), min(grid.columns, last))
        yield from _runs(rings, columns, grid.rows)


def _rings(polygon: Polygon) -> list[Array]:
    return [shapely.get_coordinates(ring) for ring in (polygon.exterior, *polygon.interiors)]


def _runs(rings: Sequence[Array], columns: range, rows: int) -> Iterator[Run]:
    """The cells between rings of points, in cells, in some columns: where the column's middle is
    crossed, up to whole rows; of less than half a cell, one."""
    x, x_end = (np.concatenate([ring[cut, 0] for ring in rings]) for cut in _EDGE_ENDS)
    y, y_end = (np.concatenate([ring[cut, 1] for ring in rings]) for cut in _EDGE_ENDS)
    middles = np.array(columns) + 0.5
    crossed = (x <= middles[:, None]) != (x_end <= middles[:, None])
    column, edge = np.nonzero(crossed)
    part = (middles[column] - x[edge]) / (x_end[edge] - x[edge])
    at = y[edge] + part * (y_end[edge] - y[edge])
    order = np.lexsort((at, column))
    ends = np.clip(np.round(at[order]), 0, rows).astype(int).tolist()
    numbers = (column[order][::2] + columns.start).tolist()
    for number, low, high in zip(numbers, ends[::2], ends[1::2], strict=True):
        if high > low:
            yield Run(number, low, high - 1)
        elif 0 < high < rows:
            yield Run(number, high, high)


_EDGE_ENDS: Final = slice(None, -1), slice(1, None)


def _allowed(one: _Turned, grid: Grid, across: int) -> int:
    """The places of a shape on the empty strip: all, or those that keep it to a print or fold."""
    register = one.shape.register
    rows: Iterable[int] = range(grid.rows - across + 1)
    every = grid.every
    if register is not None:
        steps = register.step_along, register.step_across
        if one.shape.is_on_fold:
            rows = range(1)
        elif steps[1] is not None:
            first = register.first.y - (one.kept[1] - one.low) - grid.origin_mm
            rows = _kept(first, steps[1], grid.across_mm, grid.rows - across + 1)
        if steps[0] is not None:
            first = register.first.x - (one.kept[0] - one.left) - grid.origin_mm
            columns = _kept(first, steps[0], grid.along_mm, grid.columns)
            every = sum(1 << number * grid.stride for number in columns)
    column = sum(1 << row for row in rows)
    # a column's rows are fewer than the bits between columns, so that the product carries nothing
    return column * every


def _kept(first_mm: float, step_mm: float, cell_mm: float, cells: int) -> list[int]:
    """The cells nearest to the places of a repeat, of which one is given."""
    first_mm %= step_mm
    if step_mm - first_mm <= _HAIR * step_mm:
        first_mm = 0.0  # a hair before the first cell, not nearly a step on
    count = math.ceil(cells * cell_mm / step_mm)
    found = {round((first_mm + number * step_mm) / cell_mm) for number in range(count)}
    return [cell for cell in found if cell < cells]
