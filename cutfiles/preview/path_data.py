"""Lines as the data of SVG paths, in whole hundredths of a millimetre, as short as they can be."""

from __future__ import annotations

from typing import Final

import numpy as np

from cutfiles.verdict.drawing import Array

STEPS_PER_MM: Final = 100


def path_data(points: Array, *, closed: bool) -> str:
    """Points ``(n, 2)`` in mm, y up, as one move and relative lines in steps of `STEPS_PER_MM`, y
    up. A closed line repeats its first point, which is left to the ``z``."""
    steps = np.rint(points[:-1] * STEPS_PER_MM if closed else points * STEPS_PER_MM)
    places = steps.astype(np.int64)
    moves = np.diff(places, axis=0)
    moves = moves[np.any(moves != 0, axis=1)]
    x, y = places[0].tolist()
    line = " ".join(str(number) for number in moves.ravel().tolist()).replace(" -", "-")
    return f"M{x} {y}{f'l{line}' if line else ''}{'z' if closed else ''}"
