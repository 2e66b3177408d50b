"""How long a lay is likely to be, at once.

A large order takes the area of its pieces over the width, and a part of that is lost; on one-way
cloth somewhat more is. Of few pieces a sketch of the lay tells more: how pieces go side by side
into the width, between flaws and on a fold, and what is lost at the end. Where none was made, a lay
of boxes stands for it, each made smaller by how little of it its piece fills. Both count the less
the more pieces there are, by the root of their number. Pieces that keep to a print go so many side
by side and then one repeat on, whatever lies between: their own lay is the least. The figures below
were fitted, by least squares of the relative error, to lays of random orders of cloth without print
(``tests/bench/plan.py --fit``), without those whose length a bound says;
docs/reference/benchmarks.md gives the errors.
"""

from __future__ import annotations

import math
from typing import Final

from cutfiles.lay.reach import Fill, Reach

FILL: Final = Fill(along=0.0, across=0.7)
"""Of the exponents tried, 0 to 0.5 along and 0.5 to 1 across, those of the least error."""

PARTS: Final = (1.201, 0.051, -2.021, 1.591)
"""Of the `terms` of a reach without a sketch, the part of each that makes the length."""

SKETCHED_PARTS: Final = (0.611, 0.03, -1.465, 1.33, 0.427)
"""Of those of a reach with one."""

WITHIN: Final = 0.08
"""How far off the nest the likely length may be, as a part of it: nineteen of twenty are nearer."""


def terms(reach: Reach) -> tuple[float, ...]:
    """What the length is made up from: that of the whole width, that again on one-way cloth, that
    and the lay of smaller boxes, or the sketch, over the root of the number of pieces; and the
    sketch."""
    few = 1.0 / math.sqrt(reach.pieces)
    one_way = reach.full_mm if reach.is_one_way else 0.0
    by_width = reach.full_mm, one_way, few * reach.full_mm
    if reach.sketched_mm is None:
        return *by_width, few * reach.filled_mm
    return *by_width, few * reach.sketched_mm, reach.sketched_mm


def parts_of(reach: Reach) -> tuple[float, ...]:
    """The parts of its terms."""
    return PARTS if reach.sketched_mm is None else SKETCHED_PARTS


def likely_mm(reach: Reach) -> float:
    """The length of a lay that a search is likely to find; never beyond its bounds."""
    length = sum(part * term for part, term in zip(parts_of(reach), terms(reach), strict=True))
    return max(reach.least_mm, min(max(length, reach.in_register_mm), reach.boxes_mm))
