"""Rows of bounding boxes: a decent layout at once, and the best one for equal rectangles.

First fit by decreasing height (E. G. Coffman, M. R. Garey, D. S. Johnson, R. E. Tarjan,
"Performance bounds for level-oriented two-dimensional packing algorithms", SIAM J. Computing
9(4), 1980), with the strip's length as the height. It is the floor that every engine must beat,
and what there is when an engine fails. Equal rectangles fall into a full grid.
"""

from __future__ import annotations

from dataclasses import dataclass

from cutfiles.geometry.polygons import turned_bounds
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.lay.problem import NoPlaceError, Shape, Spot, StripLayout, StripProblem

ENGINE = "rows"

_HAIR = 1e-9
"""Relative slack against rounding: ten boxes of 0.1 do fit a row of 1."""


@dataclass(slots=True)
class _Row:
    start: float
    depth: float
    filled: float


@dataclass(frozen=True, slots=True)
class ShapeBox:
    """The box of a shape in one turn: its lower left corner in the turned shape's frame, and its
    extents along and across the strip."""

    shape: int
    turn_deg: float
    left: float
    bottom: float
    along: float
    across: float


def nest_in_rows(problem: StripProblem) -> StripLayout:
    """Place every shape's box in rows across the strip; the same problem, the same layout.

    Raises
    ------
    NoPlaceError
        If a shape is wider than the strip in every allowed turn.
    """
    room = problem.width - 2.0 * problem.margin
    slack = _HAIR * problem.width
    boxes = [best_box(problem, index, room + slack) for index in range(len(problem.shapes))]
    boxes.sort(key=lambda box: (-box.along, -box.across, box.shape))
    rows: list[_Row] = []
    spots: list[Spot] = []
    end = problem.margin
    for box in boxes:
        row_index = 0
        for _ in range(problem.shapes[box.shape].count):
            while row_index < len(rows) and (
                rows[row_index].filled + box.across > room + slack
                or box.along > rows[row_index].depth + slack
            ):
                row_index += 1
            if row_index == len(rows):
                start = rows[-1].start + rows[-1].depth + problem.gap if rows else problem.margin
                rows.append(_Row(start, box.along, 0.0))
            row = rows[row_index]
            shift = Vector(row.start - box.left, problem.margin + row.filled - box.bottom)
            spots.append(Spot(box.shape, Motion(box.turn_deg, shift)))
            row.filled += box.across + problem.gap
            end = max(end, row.start + box.along)
    return StripLayout(tuple(spots), end + problem.margin, ENGINE)


def best_box(problem: StripProblem, index: int, room: float) -> ShapeBox:
    """The turn whose grid of copies is shortest, in so much room across.

    Raises
    ------
    NoPlaceError
        If the shape is wider than that in every allowed turn.
    """
    shape = problem.shapes[index]
    best: tuple[float, ShapeBox] | None = None
    for turn in shape.turns_deg:
        left, bottom, right, top = turned_bounds(shape.outline, turn)
        box = ShapeBox(index, turn, left, bottom, right - left, top - bottom)
        if _beside_fold(shape, turn, box) > room:
            continue
        in_a_row = min(shape.count, int((room + problem.gap) // (box.across + problem.gap)) or 1)
        length = -(-shape.count // in_a_row) * (box.along + problem.gap)
        if best is None or length < best[0]:
            best = length, box
    if best is None:
        raise NoPlaceError(f"{shape.name} is wider than the strip in every allowed turn")
    return best[1]


def _beside_fold(shape: Shape, turn_deg: float, box: ShapeBox) -> float:
    """What a box takes across the strip: on the fold, what does not lie beyond it."""
    fold = shape.kept_point(turn_deg) if shape.is_on_fold else None
    return box.across if fold is None else box.bottom + box.across - fold.y
