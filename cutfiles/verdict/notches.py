"""Whether a notch as read has its shape: where it begins and ends, how wide it is, and where its
slot ends.

A notch is one open line along the tool's path; its slot is half a kerf wider all round.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from cutfiles.job.machine import NotchCut, NotchShape
from cutfiles.tolerances import KERF_MM
from cutfiles.verdict.drawing import Array, ReadLines

_SQUARE_DEG: Final = 0.5
"""How far off square the sides of a notch may stand."""


@dataclass(frozen=True, slots=True)
class ReadNotch:
    """A notch as read: the deepest point of its line on its axis, and the unit direction of that
    axis, inward. ``fault`` says what is wrong with its shape, if anything is."""

    tip: Array
    inward: Array
    fault: str | None = None

    def slot_end(self, kerf_mm: float) -> Array:
        """Where its slot ends, half a kerf beyond its line."""
        return np.asarray(self.tip + self.inward * (kerf_mm / 2.0), dtype=np.float64)


def places_within(lines: ReadLines) -> Array:
    """Of each line a place ``(n, 2)`` off the outline that it is cut in: the middle of what lies
    between the ends of a notch, for most shapes end on that outline; the end of a slit; the start
    of a closed line."""
    places = np.array(lines.lasts)
    bent = np.flatnonzero((lines.counts > 2) & ~lines.are_closed)
    if len(bent):
        some = lines.take(bent)
        between = np.add.reduceat(some.points, some.starts[:-1]) - some.firsts - some.lasts
        places[bent] = between / (some.counts - 2)[:, None]
    return places


def read_notch(points: Array, cut: NotchCut, kerf_mm: float, piece: Polygon) -> ReadNotch:
    """What the points ``(n, 2)`` of a read line are as a notch of a piece of a shape and width.

    Of the wrong number of points it is judged as a slit that is of the wrong shape.
    """
    moves = np.any(np.diff(points, axis=0) != 0.0, axis=1)
    points = points[np.concatenate(([True], moves))]  # readers repeat points where arcs begin
    least = _POINTS[cut.shape]
    if len(points) < least if cut.shape == "U" else len(points) != least:
        fault = f"has {len(points)} points, which is no {cut.shape}"
        return ReadNotch(points[-1], _unit(points[-1] - points[0]), fault)
    return _READERS[cut.shape](points, (cut.width_mm - kerf_mm) / 2.0, piece)


_POINTS: Final[dict[NotchShape, int]] = {
    "slit": 2, "V": 3, "T": 4, "castle": 4, "check": 3, "U": 5,
}  # fmt: skip


def _slit(points: Array, _half_mm: float, _: Polygon) -> ReadNotch:
    return ReadNotch(points[1], _unit(points[1] - points[0]))


def _v(points: Array, half_mm: float, piece: Polygon) -> ReadNotch:
    one, other = _unit(points[1] - points[0]), _unit(points[1] - points[2])
    inward = _unit(one + other)
    deep = _depth_mm(points[1], inward, piece)
    opening = math.tan(math.acos(min(float(one @ inward), 1.0))) * deep
    fault = _width_fault(2.0 * opening, 2.0 * half_mm)
    return ReadNotch(points[1], inward, fault)


def _check(points: Array, half_mm: float, piece: Polygon) -> ReadNotch:
    inward = _unit(points[1] - points[0])
    deep = _depth_mm(points[1], inward, piece)
    slant = _unit(points[2] - points[1])
    along = float(-slant @ inward)
    across = abs(_cross(inward, slant))
    opening = across / along * deep if along > 0.0 else math.inf
    return ReadNotch(points[1], inward, _width_fault(opening, 2.0 * half_mm))


def _t(points: Array, half_mm: float, _: Polygon) -> ReadNotch:
    inward = _unit(points[1] - points[0])
    bar = points[3] - points[2]
    fault = _square_fault(inward, bar) or _width_fault(float(np.hypot(*bar)), 2.0 * half_mm)
    if not fault and math.dist(points[1], (points[2] + points[3]) / 2.0) > KERF_MM:
        fault = "has its bar off its middle"
    return ReadNotch(points[1], inward, fault)


def _castle(points: Array, half_mm: float, _: Polygon) -> ReadNotch:
    base = points[2] - points[1]
    inward = _unit(_inner(points) - (points[0] + points[3]) / 2.0)
    inward = _unit(inward - _unit(base) * float(inward @ _unit(base)))
    fault = _sides_fault(points[0], points[1], points[2], points[3])
    fault = fault or _width_fault(float(np.hypot(*base)), 2.0 * half_mm)
    return ReadNotch(_inner(points), inward, fault)


def _u(points: Array, half_mm: float, _: Polygon) -> ReadNotch:
    ends = points[1], points[-2]
    base = ends[1] - ends[0]
    fault = _sides_fault(points[0], ends[0], ends[1], points[-1])
    fault = fault or _width_fault(float(np.hypot(*base)), 2.0 * half_mm)
    middle = (ends[0] + ends[1]) / 2.0
    inward = _unit(ends[0] - points[0])
    round_ = np.hypot(*(points[1:-1] - middle).T)
    if not fault and np.abs(round_ - half_mm).max() > KERF_MM:
        fault = "has no round bottom"
    return ReadNotch(middle + inward * half_mm, inward, fault)


_READERS: Final[dict[NotchShape, Callable[[Array, float, Polygon], ReadNotch]]] = {
    "slit": _slit, "V": _v, "T": _t, "castle": _castle, "check": _check, "U": _u,
}  # fmt: skip


def ends_on(points: Array, cut: NotchCut) -> list[Array]:
    """The ends of a notch's line that lie on the tool's path round its piece."""
    return [points[0]] if cut.shape in ("slit", "T") else [points[0], points[-1]]


def _inner(points: Array) -> Array:
    return np.asarray((points[1] + points[2]) / 2.0, dtype=np.float64)


def _depth_mm(tip: Array, inward: Array, piece: Polygon) -> float:
    """How deep a place lies in a piece, back along a direction."""
    ray = LineString([tip, tip - inward * 100.0])
    met = shapely.get_coordinates(ray.intersection(piece.exterior))
    return float(np.hypot(*(met - tip).T).min()) if len(met) else 0.0


def _sides_fault(first: Array, low: Array, high: Array, last: Array) -> str | None:
    """Whether both sides stand square on the bottom between them."""
    base = high - low
    return _square_fault(low - first, base) or _square_fault(high - last, base)


def _square_fault(side: Array, base: Array) -> str | None:
    off = abs(math.degrees(math.asin(max(-1.0, min(1.0, float(_unit(side) @ _unit(base)))))))
    return f"stands {off:.1f} degrees off square" if off > _SQUARE_DEG else None


def _width_fault(path_mm: float, wanted_mm: float) -> str | None:
    off = path_mm - wanted_mm
    return f"is {off:+.2f} mm off its width" if abs(off) > 2.0 * KERF_MM else None


def _unit(step: Array) -> Array:
    return np.asarray(step / (float(np.hypot(*step)) or 1.0), dtype=np.float64)


def _cross(one: Array, other: Array) -> float:
    return float(one[0] * other[1] - one[1] * other[0])
