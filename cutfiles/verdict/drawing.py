"""What a reader finds in a file: lines and texts by layer, in millimetres, y up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely

from cutfiles.errors import Finding

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


LARGEST_FILE: Final = {".dxf": 200_000_000, ".svg": 50_000_000, ".nc": 50_000_000}
"""Bytes of a file that is read. A lay of 10,000 pieces takes less than half of it."""

_ROOM: Final = 2_500_000
"""Points that a reader has room for at first, 40 MB. It takes memory only as it is filled, and is
too large to be part of a heap, where it would be copied as it grows."""


@dataclass(frozen=True, slots=True)
class ReadLine:
    """A line as read: points ``(n, 2)``; a closed one repeats its first point at the end."""

    layer: str
    points: Array

    @property
    def is_closed(self) -> bool:
        """Whether it ends exactly where it begins, round some area."""
        return len(self.points) >= 4 and bool(np.all(self.points[0] == self.points[-1]))


@dataclass(frozen=True, slots=True, eq=False)
class ReadLines:
    """Lines in a file's order, in tables, since drawn labels have a hundred thousand strokes: the
    points of all lines ``(n, 2)``; where each line starts among them, and n behind the last; and
    the layer of each line, as its number among ``names``. No line is without points."""

    names: tuple[str, ...]
    layers: Ints
    points: Array
    starts: Ints

    def __len__(self) -> int:
        return len(self.layers)

    def __iter__(self) -> Iterator[ReadLine]:
        layers, starts = self.layers.tolist(), self.starts.tolist()
        for layer, (start, end) in zip(layers, pairwise(starts), strict=True):
            yield ReadLine(self.names[layer], self.points[start:end])

    @property
    def counts(self) -> Ints:
        """How many points each line has."""
        return np.diff(self.starts)

    @property
    def firsts(self) -> Array:
        """The first point of each line ``(n, 2)``."""
        return self.points[self.starts[:-1]]

    @property
    def lasts(self) -> Array:
        """The last point of each line ``(n, 2)``."""
        return self.points[self.starts[1:] - 1]

    @property
    def are_closed(self) -> npt.NDArray[np.bool_]:
        """Which lines are closed, see `ReadLine.is_closed`."""
        return np.asarray((self.counts >= 4) & (self.firsts == self.lasts).all(axis=1))

    def take(self, numbers: Ints) -> ReadLines:
        """The lines of some numbers, in that order."""
        counts = self.counts[numbers]
        starts = np.concatenate(([0], np.cumsum(counts)))
        shift = np.repeat(self.starts[:-1][numbers] - starts[:-1], counts)
        points = self.points[np.arange(starts[-1]) + shift]
        return ReadLines(self.names, self.layers[numbers], points, starts)

    def are_on(self, *layers: str) -> npt.NDArray[np.bool_]:
        """Which lines are on some layers."""
        numbers = [number for number, name in enumerate(self.names) if name in layers]
        return np.isin(self.layers, numbers)

    def on(self, *layers: str) -> ReadLines:
        """The lines of some layers, in the file's order."""
        are_on = self.are_on(*layers)
        counts = self.counts
        points = self.points[np.repeat(are_on, counts)]
        starts = np.concatenate(([0], np.cumsum(counts[are_on])))
        return ReadLines(self.names, self.layers[are_on], points, starts)

    def regions(self) -> npt.NDArray[np.object_]:
        """What each line goes round, if all are closed, as shapely's polygons."""
        owners = np.repeat(np.arange(len(self)), self.counts)
        return np.asarray(shapely.polygons(shapely.linearrings(self.points, indices=owners)))

    def runs(self) -> npt.NDArray[np.object_]:
        """The lines as shapely has them, if all have two points at least."""
        owners = np.repeat(np.arange(len(self)), self.counts)
        return np.asarray(shapely.linestrings(self.points, indices=owners))


def points_of(places: Array) -> npt.NDArray[np.object_]:
    """Places ``(n, 2)`` as shapely's points."""
    return np.asarray(shapely.points(places))


class Gathered:
    """Lines as a reader finds them, in tables at the end."""

    def __init__(self) -> None:
        self._names: dict[str, int] = {}
        self._layers: list[int] = []
        self._counts: list[int] = []
        self._points = np.empty((_ROOM, 2))
        self._filled = 0

    def add(self, layers: Sequence[str], points: Array, counts: Sequence[int]) -> None:
        """Some lines: the layer of each, their points one after the other ``(n, 2)``, and how many
        each line has."""
        self._layers += [self._names.setdefault(name, len(self._names)) for name in layers]
        filled = self._filled + len(points)
        if filled > len(self._points):
            self._points.resize((filled + filled // 8, 2), refcheck=False)
        self._points[self._filled : filled] = points
        self._filled = filled
        self._counts += counts

    def lines(self) -> ReadLines:
        """All of them, to which none can be added."""
        starts = np.concatenate(([0], np.cumsum(self._counts, dtype=np.int64)))
        points = self._points[: self._filled]
        return ReadLines(tuple(self._names), np.array(self._layers, dtype=np.int64), points, starts)


def lines_of(lines: Iterable[ReadLine]) -> ReadLines:
    """Single lines in tables."""
    gathered = Gathered()
    for line in lines:
        gathered.add([line.layer], line.points, [len(line.points)])
    return gathered.lines()


@dataclass(frozen=True, slots=True)
class ReadText:
    """A text as read: where it stands, which way it reads, how high its letters are."""

    layer: str
    text: str
    place: tuple[float, float]
    angle_deg: float = 0.0
    height_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class ReadDrawing:
    """A whole file as read. ``findings`` is what the reader itself had to object to."""

    name: str
    lines: ReadLines  # whose names are those of layers that have lines
    texts: tuple[ReadText, ...]
    findings: tuple[Finding, ...]

    def on(self, layer: str) -> tuple[ReadLine, ...]:
        """The lines of one layer, in the file's order."""
        return tuple(self.lines.on(layer))

    @property
    def layers(self) -> set[str]:
        """The layers that something is on."""
        return {*self.lines.names, *(text.layer for text in self.texts)}


def unread(path: Path, what: str, code: str = "unreadable") -> ReadDrawing:
    """Nothing of a file, and why."""
    return ReadDrawing(
        path.name, lines_of(()), (), (Finding(code, "error", f"{path.name}: {what}"),)
    )


def too_large(path: Path, most: int) -> ReadDrawing | None:
    """Nothing of a file that has more bytes than can be read in bounded time and memory."""
    size = path.stat().st_size
    if size <= most:
        return None
    return unread(
        path, f"has {size} bytes, and more than {most} are not read: split it", "too-large"
    )
