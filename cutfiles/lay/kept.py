"""Lays that were found before: known again by what was to be nested, and judged before use."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import shapely

from cutfiles.geometry.vector import Motion, Vector
from cutfiles.lay.feasible import layout_faults
from cutfiles.lay.problem import Shape, Spot, StripLayout, StripProblem
from cutfiles.tolerances import LAY_MM

KEPT = "kept"
"""The engine of a lay that was not searched for this time."""

_FORMAT: Final = 1
"""Goes up when engines get so much better that what older ones found is not worth keeping."""

_ENOUGH: Final = 0.98
"""A search as long as this part of the time asked for is taken for one of all of it."""

_DECIMALS: Final = 6


@dataclass(frozen=True, slots=True)
class KeptLay:
    """A layout, and how many seconds were searched from each seed to find it."""

    layout: StripLayout
    searched: Mapping[int, float]

    def is_searched(self, seed: int, seconds: float) -> bool:
        """Whether a search from that seed and of that length would only repeat what was done."""
        return self.searched.get(seed, 0.0) >= _ENOUGH * seconds

    def with_search(self, layout: StripLayout, seed: int, seconds: float) -> KeptLay:
        """The better of this and a new layout, with the search for it."""
        best = min(self.layout, layout, key=lambda one: one.length)
        longest = max(seconds, self.searched.get(seed, 0.0))
        return KeptLay(best, {**self.searched, seed: longest})


def problem_key(problem: StripProblem, pinned: Sequence[Spot] = ()) -> str:
    """A name for everything that decides which layouts are allowed: equal problems in which equal
    spots are pinned have equal names."""
    table: dict[str, Any] = {
        "format": _FORMAT,
        "width": problem.width,
        "gap": problem.gap,
        "margin": problem.margin,
        "shapes": [_shape_row(shape) for shape in problem.shapes],
        "obstacles": [(_corners(o.outline), o.clearance) for o in problem.obstacles],
    }
    if problem.edge_to_edge:
        table["edge_to_edge"] = True
    if pinned:
        table["pinned"] = sorted(_spot_row(spot) for spot in pinned)
    return hashlib.sha256(json.dumps(table, sort_keys=True).encode()).hexdigest()


def _shape_row(shape: Shape) -> list[Any]:
    register = shape.register
    row: list[Any] = [_corners(shape.outline), list(shape.turns_deg), shape.count]
    if register is not None:
        places = (register.point.x, register.point.y, register.first.x, register.first.y)
        row.append([*places, register.step_along, register.step_across])
    return row


def _spot_row(spot: Spot) -> list[float]:
    return [spot.shape, spot.motion.turn_deg, spot.motion.shift.x, spot.motion.shift.y]


def _corners(outline: shapely.Polygon) -> list[list[float]]:
    points = shapely.get_coordinates(outline.exterior)
    return [[round(float(x), _DECIMALS), round(float(y), _DECIMALS)] for x, y in points]


def kept_text(kept: KeptLay) -> str:
    """A kept lay as JSON."""
    spots = [_spot_row(spot) for spot in kept.layout.spots]
    searched = {str(seed): seconds for seed, seconds in sorted(kept.searched.items())}
    return json.dumps({"length": kept.layout.length, "spots": spots, "searched": searched})


def read_kept(text: str, problem: StripProblem, pinned: Sequence[Spot] = ()) -> KeptLay | None:
    """A kept lay; None if the text is none, or the layout is not allowed for the problem, or a
    pinned spot is not in it."""
    try:
        table = json.loads(text)
        spots = tuple(
            Spot(int(shape), Motion(float(turn), Vector(float(x), float(y))))
            for shape, turn, x, y in table["spots"]
        )
        layout = StripLayout(spots, float(table["length"]), KEPT)
        searched = {int(seed): float(seconds) for seed, seconds in table["searched"].items()}
    except (ValueError, TypeError, KeyError, AttributeError, ArithmeticError, RecursionError):
        return None
    numbers = [layout.length, *(v for s in spots for v in (s.motion.shift.x, s.motion.shift.y))]
    if not all(map(math.isfinite, numbers)):
        return None
    if any(not 0 <= spot.shape < len(problem.shapes) for spot in spots):
        return None
    if any(spot not in spots for spot in pinned):
        return None
    if layout_faults(problem, layout, tolerance=LAY_MM):
        return None
    return KeptLay(layout, searched)


def nest_or_recall(
    problem: StripProblem,
    *,
    seed: int,
    seconds: float,
    recall: Callable[[str], str | None],
    keep: Callable[[str, str], None],
    nest: Callable[[], tuple[StripLayout, float]],
    pinned: Sequence[Spot] = (),
) -> StripLayout:
    """The kept lay of a problem, or the better of it and of a new search, which is then kept.

    ``nest`` searches and gives what it found and for how many seconds it did.
    """
    key = problem_key(problem, pinned)
    text = recall(key)
    kept = None if text is None else read_kept(text, problem, pinned)
    if kept is not None and kept.is_searched(seed, seconds):
        return kept.layout
    layout, spent = nest()
    kept = (kept or KeptLay(layout, {})).with_search(layout, seed, spent)
    keep(key, kept_text(kept))
    return kept.layout
