"""What a reader finds in a file: lines and texts by layer, in millimetres, y up."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from cutfiles.errors import Finding

Array = npt.NDArray[np.float64]


LARGEST_FILE: Final = {".dxf": 200_000_000, ".svg": 50_000_000, ".nc": 50_000_000}
"""Bytes of a file that is read. A lay of 10,000 pieces takes less than half of it."""


@dataclass(frozen=True, slots=True)
class ReadLine:
    """A line as read: points ``(n, 2)``; a closed one repeats its first point at the end."""

    layer: str
    points: Array

    @property
    def is_closed(self) -> bool:
        """Whether it ends exactly where it begins, round some area."""
        return len(self.points) >= 4 and bool(np.all(self.points[0] == self.points[-1]))


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
    lines: tuple[ReadLine, ...]
    texts: tuple[ReadText, ...]
    findings: tuple[Finding, ...]

    def on(self, layer: str) -> tuple[ReadLine, ...]:
        """The lines of one layer, in the file's order."""
        return tuple(line for line in self.lines if line.layer == layer)


def unread(path: Path, what: str, code: str = "unreadable") -> ReadDrawing:
    """Nothing of a file, and why."""
    return ReadDrawing(path.name, (), (), (Finding(code, "error", f"{path.name}: {what}"),))


def too_large(path: Path, most: int) -> ReadDrawing | None:
    """Nothing of a file that has more bytes than can be read in bounded time and memory."""
    size = path.stat().st_size
    if size <= most:
        return None
    return unread(
        path, f"has {size} bytes, and more than {most} are not read: split it", "too-large"
    )
