"""What must be cut before what, so that nothing that is still to be cut has come loose.

Of each piece the notches come before its cut-outs, and these before its outline (common practice,
no source). A piece that lies within another's cut-out comes before that cut-out, after which
nothing holds it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import shapely

from cutfiles.cuts.plan import CUT_ROLES, Stroke
from cutfiles.cuts.stretch import region_of


def must_precede(strokes: Sequence[Stroke]) -> list[tuple[int, int]]:
    """Pairs of numbers of strokes that are cut, the first of which comes before the second; what
    follows from two of them is left out. There is no ring of them."""
    return [*_within_pieces(strokes), *_held_by_cut_outs(strokes)]


def _within_pieces(strokes: Sequence[Stroke]) -> Iterator[tuple[int, int]]:
    pieces: dict[str, list[list[int]]] = {}
    for number, stroke in enumerate(strokes):
        if stroke.role in CUT_ROLES:
            rank = CUT_ROLES.index(stroke.role)
            pieces.setdefault(stroke.piece_id, [[], [], []])[rank].append(number)
    for ranks in pieces.values():
        there = [numbers for numbers in ranks if numbers]
        for k in range(len(there) - 1):
            yield from ((one, other) for one in there[k] for other in there[k + 1])


def _held_by_cut_outs(strokes: Sequence[Stroke]) -> Iterator[tuple[int, int]]:
    inner = [n for n, stroke in enumerate(strokes) if stroke.role == "inner"]
    outer = [n for n, stroke in enumerate(strokes) if stroke.role == "outline"]
    if not inner or not outer:
        return
    tree = shapely.STRtree([shapely.Point(strokes[n].points[0]) for n in outer])
    hole, held = tree.query([region_of(strokes[n]) for n in inner], predicate="contains")
    for i, j in zip(hole.tolist(), held.tolist(), strict=True):
        if strokes[inner[i]].piece_id != strokes[outer[j]].piece_id:
            yield outer[j], inner[i]
