"""The verdict on cut-outs: each there once, closed, inside its piece, with the kerf inside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon

from cutfiles.tolerances import KERF_MM, READ_BACK_MM
from cutfiles.verdict.drawing import ReadDrawing, ReadLine
from cutfiles.verdict.expected import ExpectedCutOut, ExpectedLay, ExpectedPiece
from cutfiles.verdict.nearness import are_near

Say = Callable[[str, str], None]
_CODE = "cut-out"


def are_regions(
    ones: Sequence[Polygon], areas_mm2: Sequence[float], outlines: Sequence[Polygon | None]
) -> npt.NDArray[np.bool_]:
    """Which regions are the ones of some areas, and of some outlines where these are known,
    `KERF_MM` apart at most."""
    off = np.abs(shapely.area(ones) - np.array(areas_mm2))
    found = np.asarray(off <= KERF_MM * shapely.length(ones), dtype=bool)
    known = [(k, one) for k, one in enumerate(outlines) if one is not None and found[k]]
    near = are_near([ones[k] for k, _ in known], [one for _, one in known], KERF_MM)
    found[[k for k, _ in known]] = near
    return found


def judge_cut_outs(
    drawing: ReadDrawing,
    expected: ExpectedLay,
    pieces: Sequence[Polygon],
    owners: Mapping[int, ExpectedPiece],
    say: Say,
) -> None:
    """Judge the lines of the inner role.

    ``pieces`` are the outlines as read, their kerf taken off; ``owners`` says which piece of the
    lay each of them is.
    """
    found: dict[int, list[Polygon]] = {number: [] for number in range(len(pieces))}
    tree = shapely.STRtree(pieces)
    for line in drawing.on(expected.layers["inner"]):
        x, y = line.points[0]
        where = f"the cut-out at ({x:.1f}, {y:.1f}) mm"
        hole = _hole(line, expected.kerf_mm)
        if isinstance(hole, str):
            say(_CODE, f"{where} {hole}")
            continue
        homes = [int(k) for k in tree.query(hole) if _lies_in(hole, pieces[int(k)])]
        if not homes:
            say(_CODE, f"{where} lies in no piece")
            continue
        if any(hole.intersection(other).area > READ_BACK_MM**2 for other in found[homes[0]]):
            say(_CODE, f"{where} overlaps another")
        found[homes[0]].append(hole)
    for number, piece in owners.items():
        _judge_one(piece, found[number], expected.kerf_mm, say)


def _hole(line: ReadLine, kerf_mm: float) -> Polygon | str:
    """What the tool's path leaves open: the kerf beside it included; or what is wrong with it."""
    if not line.is_closed:
        return "is not closed"
    path = Polygon(line.points)
    if not path.is_valid:
        return "crosses itself"
    hole = path.buffer(kerf_mm / 2.0, join_style="mitre") if kerf_mm else path
    if not isinstance(hole, Polygon) or hole.interiors:
        return "is no single opening"
    return hole


def _lies_in(hole: Polygon, piece: Polygon) -> bool:
    return bool(hole.difference(piece).area <= READ_BACK_MM * hole.length)


def _judge_one(piece: ExpectedPiece, holes: list[Polygon], kerf_mm: float, say: Say) -> None:
    waiting = list(piece.cut_outs)
    for hole in holes:
        match = next((k for k, known in enumerate(waiting) if _is_cut_out(hole, known)), None)
        if match is not None:
            del waiting[match]
            continue
        x, y = hole.centroid.coords[0]
        say(
            _CODE,
            f"{piece.id} ({piece.cap}) has an opening round ({x:.1f}, {y:.1f}) mm, its kerf of "
            f"{kerf_mm:g} mm taken off, that is none of its cut-outs",
        )
    for known in waiting:
        x, y = known.centre
        say(_CODE, f"{piece.id} ({piece.cap}) has no cut-out round ({x:.1f}, {y:.1f}) mm")


def _is_cut_out(hole: Polygon, known: ExpectedCutOut) -> bool:
    away = hole.centroid.distance(shapely.Point(known.centre))
    return away <= KERF_MM and bool(are_regions([hole], [known.area_mm2], [known.outline])[0])
