"""The verdict on a drawn grain line: whether it lies on the cloth as the job allows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from cutfiles.job.cloth import Grain, GrainRule
from cutfiles.tolerances import GRAIN_DEG

_EVERY_DEG: Final[Mapping[Grain, tuple[float, float]]] = {
    "along": (0.0, 180.0),
    "across": (90.0, 180.0),
    "either": (0.0, 90.0),
    "bias": (45.0, 90.0),
}
"""Of each grain one direction, and after how many degrees the next one comes."""

_HALF_WAY_DEG: Final = 179.0
"""On one-way cloth no piece points back: the last direction that is no half turn, and its tilt."""


def off_grain(drawn_deg: float, rule: GrainRule, *, one_way: bool) -> str | None:
    """What is wrong with a grain line, drawn from tail to head at an angle from the cloth's along
    direction, counter-clockwise; None where it lies as its rule allows."""
    first, step = _EVERY_DEG[rule.grain]
    nearest = first + round((drawn_deg - first) / step) * step
    away = abs(drawn_deg - nearest)
    if away > rule.tilt_deg + GRAIN_DEG:
        return (
            f"lies {away:.2f} degrees off the nearest direction {rule.grain!r} allows, and "
            f"{rule.tilt_deg:g} may be"
        )
    if one_way and nearest % 360.0 > _HALF_WAY_DEG:
        return f"points at {drawn_deg:.2f} degrees, against the one way of the cloth"
    return None
