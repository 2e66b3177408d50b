"""The verdict on what a summary says its lays take off a shelf: lengths against the lays' own, the
rest of a remnant against the pieces that are drawn on it.

A rest is found anew as a person would: by a straight cut through the whole remnant beside all
pieces, on each of their four sides, of which the largest piece of cloth is kept. Millimetres, in
the remnant's frame.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.ops import split

from cutfiles.errors import Finding
from cutfiles.job.cloth import LEAST_CLOTH_MM
from cutfiles.tolerances import KERF_MM, READ_BACK_MM
from cutfiles.verdict.drawing import Array, ReadDrawing
from cutfiles.verdict.read_summary import LayRow, SummaryFile, TakeRow

_OFF_MM: Final = KERF_MM + READ_BACK_MM
"""How far a rest's edge may be off the one that the drawing gives."""


def take_faults(summary: SummaryFile, name: str) -> Iterator[Finding]:
    """What ``shelf`` says is taken, and the summary's own lays do not take, or the other way
    round."""
    takes = summary.shelf.takes if summary.shelf is not None else []
    lays: dict[int | None, list[LayRow]] = {}
    for lay in summary.lays:
        lays.setdefault(lay.stock, []).append(lay)
    wrong = [
        f"stock {number} is listed {count} times"
        for number, count in Counter(take.stock for take in takes).items()
        if count > 1
    ]
    listed = {take.stock for take in takes}
    wrong += [
        f"nothing is taken off stock {number}, of which {lays[number][0].name} is cut"
        for number in lays
        if number is not None and number not in listed
    ]
    for take in takes:
        where = f"stock {take.stock}, {take.name!r}"
        wrong += [f"{where}: {fault}" for fault in _faults_of(take, lays.get(take.stock, []))]
    for text in wrong:
        yield Finding("summary", "error", f"{name}: shelf: {text}")


def _faults_of(take: TakeRow, lays: Sequence[LayRow]) -> Iterator[str]:
    """What is wrong with what is taken off one table of stock by the lays that are cut of it."""
    other = next((lay for lay in lays if lay.cloth_called != take.name), None)
    if other is not None:
        yield f"{other.name} is cut of {other.cloth_called!r}"
    if take.lay is not None or any(lay.remnant_mm is not None for lay in lays):
        on_remnant = [lay.name for lay in lays if lay.remnant_mm is not None]
        if take.length_mm is not None or not [take.lay] == on_remnant == [x.name for x in lays]:
            yield f"{take.lay} is no lay on a remnant of it, or not the only one"
        return
    ends = ((lay.starts_at_mm + lay.length_mm) * lay.folds for lay in lays)
    used = max(ends, default=0.0)
    if take.length_mm is None or not math.isclose(take.length_mm, used, abs_tol=0.01):
        yield f"length_mm is {take.length_mm} and its lays take {used:.3f}"


def judge_rest(
    drawing: ReadDrawing, lay: LayRow, take: TakeRow, summary: SummaryFile
) -> Iterator[Finding]:
    """The rest of the remnant of a lay, against the pieces in its drawing."""
    lines = drawing.lines.on(summary.roles["outline"])
    if lay.remnant_mm is None or not len(lines) or not lines.are_closed.all():
        return  # what is wrong with the outlines is said of the drawing
    remnant, kerf = Polygon(lay.remnant_mm), summary.machine.kerf_mm
    bounds = shapely.total_bounds(shapely.buffer(lines.regions(), -kerf / 2.0, join_style="mitre"))
    if not remnant.is_valid or not np.isfinite(bounds).all():
        text = f"{lay.name}: remnant_mm crosses itself, or no piece is as wide as the kerf"
        yield Finding("rest", "error", f"{drawing.name}: {text}")
        return
    parts = _beside(remnant, bounds, lay.clearance_mm + kerf)
    largest = max((part.area - _OFF_MM * part.length for part in parts), default=0.0)
    kept = [part for part in parts if part.area + _OFF_MM * part.length >= largest]
    where = f"{take.name!r}, {lay.name}"
    if not take.rest_mm:
        if kept and all(_least_side(part) >= LEAST_CLOTH_MM + _OFF_MM for part in kept):
            text = f"no rest is left of {where}, and a straight cut leaves {_size(kept)}"
            yield Finding("rest", "error", f"{drawing.name}: {text}")
        return
    rest = Polygon(take.rest_mm) if len(take.rest_mm) > 2 else Polygon()
    cloth = [part for part in kept if _least_side(part) >= LEAST_CLOTH_MM - _OFF_MM]
    if rest.is_valid and any(
        rest.symmetric_difference(part).area <= _OFF_MM * part.length for part in cloth
    ):
        return
    text = f"rest_mm of {where} is not what a straight cut leaves, which is {_size(cloth)}"
    yield Finding("rest", "error", f"{drawing.name}: {text}")


def _beside(remnant: Polygon, bounds: Array, gap_mm: float) -> list[Polygon]:
    """What lies beyond a straight cut through a remnant on each side of some bounds."""
    left, low, right, high = np.add(bounds, [-gap_mm, -gap_mm, gap_mm, gap_mm]).tolist()
    far = 1.0 + max(abs(number) for number in (*remnant.bounds, left, low, right, high))
    found: list[Polygon] = []
    for axis, at, sign in ((0, right, 1.0), (0, left, -1.0), (1, high, 1.0), (1, low, -1.0)):
        ends = [(at, -far), (at, far)] if axis == 0 else [(-far, at), (far, at)]
        for part in split(remnant, LineString(ends)).geoms:
            middle = shapely.point_on_surface(part).coords[0][axis]
            if isinstance(part, Polygon) and (middle - at) * sign > 0.0:
                found.append(part)
    return found


def _least_side(part: Polygon) -> float:
    x0, y0, x1, y1 = part.bounds
    return float(min(x1 - x0, y1 - y0))


def _size(parts: Sequence[Polygon]) -> str:
    if not parts:
        return "no cloth"
    x0, y0, x1, y1 = parts[0].bounds
    return f"{x1 - x0:.1f} by {y1 - y0:.1f} mm from ({x0:.1f}, {y0:.1f})"
