"""Sections: an order nested in parts along the strip, which are then pushed into each other.

A part has far fewer ways to lie than the whole, so a search gets much further with it in the
same time. Each part may be turned end for end and, where its pieces are symmetrical, mirrored;
of all the ways to chain the parts up, those that close up best are compacted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from cutfiles.lay.compaction import Places, compacted
from cutfiles.lay.free_parts import Room
from cutfiles.lay.problem import StripLayout, StripProblem

_SECTION_PIECES: Final = 30
"""About how many pieces a search of a few seconds arranges well."""

_LEAST_PIECES: Final = 9
"""Sections of fewer pieces lose more at their ends than they gain."""

_FEWER: Final = 0.75
_MORE: Final = 1.0
"""There may be so many fewer or more sections where that makes them more alike."""

_LEAST_LENGTH: Final = 1.5
"""How long a section's pieces must be without any waste, in lengths of the longest of them."""

_CHAINS_KEPT: Final = 32
_CHAINS_FINISHED: Final = 24


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a problem. ``members`` gives the shape in the whole for each of its shapes."""

    problem: StripProblem
    members: tuple[int, ...]

    def places(self, layout: StripLayout) -> Places:
        """A layout of the section, with the shapes of the whole."""
        spots = tuple(replace(spot, shape=self.members[spot.shape]) for spot in layout.spots)
        return Places.of(replace(layout, spots=spots))


def sections(problem: StripProblem) -> tuple[Section, ...]:
    """The problem in parts of about the same content; equal parts stand next to each other.

    A small problem stays whole, and so does one that is not much longer than its longest piece.
    """
    pieces = sum(shape.count for shape in problem.shapes)
    lengths = [shape.outline.bounds[2] - shape.outline.bounds[0] for shape in problem.shapes]
    most = int(problem.area / problem.width / (_LEAST_LENGTH * max(lengths)))
    parts = max(1, min(round(pieces / _SECTION_PIECES), pieces // _LEAST_PIECES, most))
    about = range(max(1, round(_FEWER * parts)), max(1, min(round(_MORE * parts), most)) + 1)
    splits = [_split(problem, count) for count in sorted(about, key=lambda n: abs(n - parts))]
    # Every kind of section is searched for by itself: fewer kinds leave each more time.
    counts = min(splits, key=lambda split: len(set(split)), default=_split(problem, parts))
    return tuple(_section(problem, part) for part in sorted(counts, reverse=True))


def _split(problem: StripProblem, parts: int) -> list[tuple[int, ...]]:
    """How many of each shape go into each part, so that the parts are about alike."""
    counts = [[shape.count // parts for shape in problem.shapes] for _ in range(parts)]
    areas = [0.0] * parts
    largest_first = sorted(enumerate(problem.shapes), key=lambda item: -item[1].outline.area)
    for index, shape in largest_first:
        for _ in range(shape.count % parts):
            emptiest = areas.index(min(areas))
            counts[emptiest][index] += 1
            areas[emptiest] += shape.outline.area
    return [tuple(part) for part in counts]


def _section(problem: StripProblem, counts: Sequence[int]) -> Section:
    members = tuple(index for index, count in enumerate(counts) if count)
    shapes = tuple(replace(problem.shapes[index], count=counts[index]) for index in members)
    return Section(replace(problem, shapes=shapes), members)


@dataclass(frozen=True, slots=True)
class _Chain:
    """Sections put together so far: each one's places in a frame of its own, and how far along
    the strip that frame lies."""

    links: tuple[tuple[Places, float], ...]
    length: float


class _Joints:
    """How far one section must lie beyond another, worked out once for every two."""

    def __init__(self, room: Room) -> None:
        self._room = room
        self._known: dict[tuple[int, int], float] = {}

    def beyond(self, one: Places, other: Places) -> float:
        """The shift of the other section's frame against the first one's."""
        key = id(one), id(other)
        if key not in self._known:
            self._known[key] = self._room.contact(one.kinds, one.at, other.kinds, other.at)
        return self._known[key]


def joined(
    room: Room,
    pools: Sequence[Sequence[Places]],
    *,
    stop: Callable[[], bool] = lambda: False,
) -> Iterator[Places]:
    """Chain up a layout from each pool and compact the best chains; every whole layout found.

    ``pools`` holds, for every section of the whole, the layouts to choose from, in the frame of
    the strip. The first layout comes at once.
    """
    alone = len(pools) == 1
    joints = _Joints(room)
    posed = {id(places): tuple(_poses(room, places)) for pool in pools for places in pool}
    chains = [
        _Chain(((pose, 0.0),), pose.length)
        for places in pools[0]
        for pose in ((places,) if alone else posed[id(places)])
    ]
    for pool in pools[1:]:
        poses = [pose for places in pool for pose in posed[id(places)]]
        longer = [_appended(room, joints, chain, pose) for chain in chains for pose in poses]
        longer.sort(key=lambda chain: chain.length)
        chains = longer[:_CHAINS_KEPT]
    chains.sort(key=lambda chain: chain.length)
    if chains:
        yield _whole(chains[0])
    for chain in chains[:_CHAINS_FINISHED]:
        if stop():
            return
        closed = compacted(room, _whole(chain), stop=stop)
        if closed is not None:
            yield closed


def side_by_side(room: Room, parts: Sequence[Places]) -> Places:
    """Sections one after the other, none reaching into the next."""
    problem = room.problem
    kinds = tuple(kind for part in parts for kind in part.kinds)
    at, end = [], 0.0
    for part in parts:
        at.append(part.at + np.array([end, 0.0]))
        end += part.length - 2.0 * problem.margin + problem.gap
    return Places(kinds, np.concatenate(at), end + 2.0 * problem.margin - problem.gap)


def _poses(room: Room, places: Places) -> Iterator[Places]:
    """A section as it is, turned end for end, and mirrored both ways, as far as allowed."""
    mirrored = _mirrored(room, places)
    for pose in (places, mirrored):
        if pose is not None:
            yield pose
            turned = _end_for_end(room, pose)
            if turned is not None:
                yield turned


def _end_for_end(room: Room, places: Places) -> Places | None:
    kinds = tuple((shape, (turn + 180.0) % 360.0) for shape, turn in places.kinds)
    if any(turn not in room.problem.shapes[shape].turns_deg for shape, turn in kinds):
        return None
    return replace(
        places, kinds=kinds, at=np.array([places.length, room.problem.width]) - places.at
    )


def _mirrored(room: Room, places: Places) -> Places | None:
    """Up for down, where every piece is its own mirror image: no piece is flipped."""
    if not all(room.is_symmetrical(kind) for kind in set(places.kinds)):
        return None
    boxes = room.boxes(places.kinds)
    at = places.at.copy()
    at[:, 1] = room.problem.width - at[:, 1] - boxes[:, 1] - boxes[:, 3]
    return replace(places, at=at)


def _appended(room: Room, joints: _Joints, chain: _Chain, places: Places) -> _Chain:
    """A section pushed against the end of a chain, as far as it goes straight along the strip."""
    last, base = chain.links[-1]
    low = float((places.at[:, 0] + room.boxes(places.kinds)[:, 0]).min())
    shift = max(base + joints.beyond(last, places) + 1e-6, room.problem.margin - low)
    length = max(chain.length, places.length + shift)
    return _Chain((*chain.links, (places, shift)), length)


def _whole(chain: _Chain) -> Places:
    kinds = tuple(kind for places, _ in chain.links for kind in places.kinds)
    at = [places.at + np.array([shift, 0.0]) for places, shift in chain.links]
    return Places(kinds, np.concatenate(at), chain.length)
