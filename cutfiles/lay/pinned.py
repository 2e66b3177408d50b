"""Nesting round pieces that somebody has put where they are to stay."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from cutfiles.lay.feasible import layout_faults
from cutfiles.lay.held import end_of, left_of, of_counts, rest_of
from cutfiles.lay.nest import nest_strip
from cutfiles.lay.problem import Spot, StripLayout, StripProblem, Watch
from cutfiles.tolerances import LAY_MM, PINNED_MM

ENGINE = "pinned"


def nest_round(
    problem: StripProblem,
    pinned: Sequence[Spot],
    *,
    seed: int,
    watch: Watch,
    tolerance: float = LAY_MM,
) -> StripLayout:
    """The shortest allowed layout found in which the pinned spots are as they were given.

    Places of pinned spots may be rounded as in a summary.

    Raises
    ------
    ValueError
        If the pinned pieces alone break a rule, with every fault in words, or there are more of a
        shape than the problem has, or the rest has no room.
    """
    counts = Counter(spot.shape for spot in pinned)
    unknown = sorted(k for k in counts if not 0 <= k < len(problem.shapes))
    if unknown:
        raise ValueError(f"there are no shapes {unknown}: they count from 0")
    held = of_counts(problem, counts)
    alone = StripLayout(tuple(pinned), end_of(problem, pinned), ENGINE)
    if held is not None:
        local = {index: k for k, index in enumerate(sorted(counts))}
        spots = tuple(replace(spot, shape=local[spot.shape]) for spot in pinned)
        alike = replace(alone, spots=spots)
        faults = layout_faults(held, alike, tolerance=tolerance + PINNED_MM)
        if faults:
            raise ValueError("the pinned pieces: " + "; ".join(faults))
    left = left_of(problem, pinned)
    over = [problem.shapes[k].name for k, count in left.items() if count < 0]
    if over:
        raise ValueError(f"more are pinned than there are: {', '.join(over)}")
    rest = rest_of(problem, pinned)
    if rest is None:
        return alone
    members = [k for k, count in sorted(left.items()) if count]

    def whole(found: StripLayout) -> StripLayout:
        spots = tuple(replace(spot, shape=members[spot.shape]) for spot in found.spots)
        length = max(found.length, alone.length if pinned else 0.0)
        return StripLayout((*pinned, *spots), length, found.engine)

    def improved(found: StripLayout, seconds_left: float) -> None:
        watch.improved(whole(found), seconds_left)

    return whole(
        nest_strip(
            rest,
            seed=seed,
            watch=replace(watch, improved=improved),
            tolerance=tolerance,
        )
    )
