"""Nesting a strip: the engines that a problem calls for, and the best allowed layout of all."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from cutfiles.lay.around import nest_around
from cutfiles.lay.bounds import plain_layout
from cutfiles.lay.edge_to_edge import in_blocks
from cutfiles.lay.hunt import nest_sections
from cutfiles.lay.problem import NoPlaceError, StripLayout, StripProblem, Watch
from cutfiles.lay.race import Race
from cutfiles.lay.whole import nest_whole
from cutfiles.tolerances import LAY_MM

_REPEATS: Final = 20.0
"""Of an order, not a collection of odd shapes, there are this many pieces to a shape."""

_LARGE_ORDER: Final = 80
"""From this many pieces on, an order is nested in sections; below, the whole is nested better."""


def nest_strip(
    problem: StripProblem, *, seed: int, watch: Watch, tolerance: float = LAY_MM
) -> StripLayout:
    """The shortest allowed layout found within the watch's time.

    A clear strip has a plain layout at once, which is the floor; the engines, one for every core,
    take the time that is left: a large order is nested in sections, anything else as a whole. With
    obstacles or registers the floor is what is put as far to the left as it goes, too, and the
    grid engine does the rest. A layout that fails the judge is dropped, however short. Where
    rectangles may lie edge to edge they are nested in blocks.

    Parameters
    ----------
    seed
        Of the first search; the others count on from it.
    tolerance
        How far a layout may fall short of its gap and margin, in the problem's unit.

    Raises
    ------
    NoPlaceError
        If a shape is wider than the strip in every allowed turn, or obstacles leave it no place.
    """
    if problem.edge_to_edge:
        return _in_blocks(problem, seed, watch, tolerance)
    race = Race(problem, tolerance, watch)
    plain = _plain(problem)
    if plain is not None and race.enter(plain):
        is_full = plain.efficiency(problem) > 1.0 - 1e-9
        if is_full or watch.is_enough(plain) or (problem.is_clear and watch.is_over()):
            return plain
    if not _is_large(problem):
        nest_whole(race, seed)
    elif problem.is_clear:
        nest_sections(race, seed)
    elif watch.enough_length is None:
        nest_around(race, seed)
    else:
        nest_whole(race, seed)
    return race.found()


def _in_blocks(problem: StripProblem, seed: int, watch: Watch, tolerance: float) -> StripLayout:
    """The same with rectangles in blocks, edge to edge; one by one where a block has no place."""
    blocks = in_blocks(problem)

    def improved(layout: StripLayout, seconds_left: float) -> None:
        watch.improved(blocks.unstacked(layout), seconds_left)

    within = replace(watch, improved=improved)
    try:
        layout = nest_strip(blocks.stacked, seed=seed, watch=within, tolerance=tolerance)
    except NoPlaceError:
        alone = replace(problem, edge_to_edge=False)
        return nest_strip(alone, seed=seed, watch=watch, tolerance=tolerance)
    return blocks.unstacked(layout)


def _plain(problem: StripProblem) -> StripLayout | None:
    """A plain layout; of a hindered strip None where boxes find no place, as other layouts may."""
    try:
        return plain_layout(problem)
    except NoPlaceError:
        if problem.is_clear:
            raise
        return None


def _is_large(problem: StripProblem) -> bool:
    pieces = sum(shape.count for shape in problem.shapes)
    return pieces >= max(_LARGE_ORDER, _REPEATS * len(problem.shapes))
