"""How long a lay is likely to be, at once.

A lay of boxes, each made smaller by how little of it its piece fills, tells most of it: how pieces
go side by side into the width, and what is lost at the end. To that comes a part of the length that
the pieces would take if nothing were lost. Pieces that keep to a print go so many side by side and
then one repeat on, whatever lies between: their own lay is the least. The figures below were
fitted, by least squares of the relative error, to lays of random orders of clear and folded cloth
nested for eight seconds by one search (``tests/bench/plan.py --fit``), without those whose length
a bound says; docs/reference/benchmarks.md gives the errors.
"""

from __future__ import annotations

from typing import Final

from cutfiles.lay.reach import Fill, Reach

FILL: Final = Fill(along=0.0, across=0.7)
"""Of the exponents tried, 0 to 0.5 along and 0.5 to 1 across, those of the least error."""

FILLED_PART: Final = 0.558
FULL_PART: Final = 0.530

WITHIN: Final = 0.08
"""How far off the nest the likely length may be, as a part of it: on clear and folded cloth about
nine of ten are nearer."""


def likely_mm(reach: Reach) -> float:
    """The length of a lay that a search is likely to find; never beyond its bounds."""
    length = FILLED_PART * reach.filled_mm + FULL_PART * reach.full_mm
    return max(reach.least_mm, min(max(length, reach.in_register_mm), reach.boxes_mm))
