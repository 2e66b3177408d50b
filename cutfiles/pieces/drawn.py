"""The nouns of a drawing that somebody else made: lines with the names they go by."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from cutfiles.errors import Finding, Severity
from cutfiles.geometry.affine import Affine
from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Segment
from cutfiles.geometry.vector import Point
from cutfiles.tolerances import COINCIDENT_MM
from cutfiles.units import counted

MOST_LINES: Final = 50_000
"""Parts (lines, groups, blocks and what they hold, each time they are shown) beyond which a
drawing is refused: no pattern piece has as many."""

MOST_SAID: Final = 8
"""Findings of one kind on one drawing that are told one by one; more help nobody."""


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """One line of a drawing: millimetres, y up, the drawing's own origin.

    ``names`` are the layer, or the element and the groups it lies in, innermost first.
    """

    path: Path
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DrawnPoint:
    """A single point of a drawing, as a `DrawnLine` is placed and named."""

    place: Point
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DrawnPiece:
    """One piece of a pattern for exchange. ``said`` is its text by what stands before the colon,
    in small letters."""

    name: str
    said: Mapping[str, str]
    lines: tuple[DrawnLine, ...]
    points: tuple[DrawnPoint, ...]


@dataclass(frozen=True, slots=True)
class Pattern:
    """A pattern for exchange: the text of its style, as that of a `DrawnPiece`, and its pieces,
    each where it was first put."""

    said: Mapping[str, str]
    pieces: tuple[DrawnPiece, ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing as read; ``findings`` is what the reader could not read or had to assume. One
    that is a ``pattern`` for exchange has its lines and points there."""

    lines: tuple[DrawnLine, ...]
    findings: tuple[Finding, ...]
    points: tuple[DrawnPoint, ...] = ()
    pattern: Pattern | None = None


@dataclass(slots=True)
class Notes:
    """Collects the findings on one drawing; ``where`` names the job's table and the file."""

    where: str
    findings: list[Finding] = field(default_factory=list)

    def say(self, code: str, severity: Severity, text: str, at: Point | None = None) -> None:
        """Add a finding, at a place in the drawing (mm, y up) where there is one."""
        place = f"at {place_text(at)}: " if at is not None else ""
        self.findings.append(Finding(code, severity, f"{self.where}: {place}{text}"))

    @property
    def has_errors(self) -> bool:
        """Whether the drawing is refused."""
        return any(finding.severity == "error" for finding in self.findings)


@dataclass(slots=True)
class Gathered:
    """What a reader has gathered of a drawing, and what it has passed over."""

    notes: Notes
    lines: list[DrawnLine] = field(default_factory=list)
    points: list[DrawnPoint] = field(default_factory=list)
    unread: Counter[str] = field(default_factory=Counter)
    hidden: int = 0
    parts: int = 0

    def is_full(self) -> bool:
        """Count one part more; say so once when there are too many."""
        self.parts += 1
        if self.parts == MOST_LINES:
            text = f"holds more than {MOST_LINES} parts: keep to the outlines of the pieces"
            self.notes.say("too-many-lines", "error", text)
        return self.parts >= MOST_LINES

    def add(self, segments: Iterable[Segment], to_mm: Affine, names: tuple[str, ...]) -> None:
        """Add a line, given in the units that ``to_mm`` maps."""
        path = path_of([image for segment in segments for image in to_mm.segment(segment)])
        if path is not None:
            self.lines.append(DrawnLine(path, names))

    def told(self) -> tuple[Finding, ...]:
        """All findings, with what was not read."""
        if self.unread:
            parts = ", ".join(
                f"{name} ({count})" if count > 1 else name
                for name, count in sorted(self.unread.items())
            )
            text = f"holds {parts}, which is not read: draw as plain lines what is to be cut"
            self.notes.say("unread-part", "warning", text)
        if self.hidden:
            parts = counted(self.hidden, "hidden part")
            text = f"{parts} left out: show in the drawing what is wanted"
            self.notes.say("hidden-part", "note", text)
        return tuple(self.notes.findings)


def place_text(at: Point) -> str:
    """``"(12.3, 45.6) mm"``."""
    return f"({at.x + 0.0:.1f}, {at.y + 0.0:.1f}) mm"


def path_of(segments: Sequence[Segment]) -> Path | None:
    """A path of segments that meet, those of no length left out; None where nothing is left."""
    kept = tuple(s for s in segments if s.start != s.end or s.length() > COINCIDENT_MM)
    return Path(kept) if kept else None
