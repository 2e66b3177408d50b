"""The nouns of a drawing that somebody else made: lines with the names they go by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from cutfiles.errors import Finding, Severity
from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Segment
from cutfiles.geometry.vector import Point
from cutfiles.tolerances import COINCIDENT_MM

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
class Drawing:
    """A drawing as read; ``findings`` is what the reader could not read or had to assume."""

    lines: tuple[DrawnLine, ...]
    findings: tuple[Finding, ...]
    points: tuple[DrawnPoint, ...] = ()


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


def place_text(at: Point) -> str:
    """``"(12.3, 45.6) mm"``."""
    return f"({at.x + 0.0:.1f}, {at.y + 0.0:.1f}) mm"


def path_of(segments: Sequence[Segment]) -> Path | None:
    """A path of segments that meet, those of no length left out; None where nothing is left."""
    kept = tuple(s for s in segments if s.start != s.end or s.length() > COINCIDENT_MM)
    return Path(kept) if kept else None
