"""Lines as the data of SVG paths, in whole hundredths of a millimetre, as short as they can be."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np
import shapely

from cutfiles.verdict.drawing import Array, ReadLine

STEPS_PER_MM: Final = 100

SCREEN_MM: Final = 0.02
"""How far a line may be off on a screen: at 10 pixels a millimetre, a fifth of one."""


def path_data(points: Array, *, closed: bool) -> str:
    """Points ``(n, 2)`` in mm, y up, as one move and relative lines in steps of `STEPS_PER_MM`, y
    up. A closed line repeats its first point, which is left to the ``z``."""
    return _data(_steps(points), closed=closed)


def screen_data(lines: Sequence[ReadLine]) -> list[str]:
    """The `path_data` of each line, of as few points as a screen needs."""
    if not lines:
        return []
    owners = np.repeat(np.arange(len(lines)), [len(line.points) for line in lines])
    strings = shapely.linestrings(np.concatenate([line.points for line in lines]), indices=owners)
    points, owners = shapely.get_coordinates(
        shapely.simplify(strings, SCREEN_MM), return_index=True
    )
    ends = np.searchsorted(owners, np.arange(len(lines) + 1)).tolist()
    steps = _steps(points)
    return [
        _data(steps[first:end], closed=line.is_closed)
        for line, (first, end) in zip(lines, pairwise(ends), strict=True)
    ]


def _steps(points: Array) -> list[list[int]]:
    whole: list[list[int]] = np.rint(points * STEPS_PER_MM).astype(np.int64).tolist()
    return whole


def _data(places: list[list[int]], *, closed: bool) -> str:
    moves = [
        f"{x1 - x0} {y1 - y0}"
        for (x0, y0), (x1, y1) in pairwise(places[:-1] if closed else places)
        if x0 != x1 or y0 != y1
    ]
    (x, y), line = places[0], " ".join(moves).replace(" -", "-")
    return f"M{x} {y}{f'l{line}' if line else ''}{'z' if closed else ''}"
