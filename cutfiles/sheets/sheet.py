"""The nouns of the paper for the table: what a finished folder holds, as it is printed.

Lengths are mm, areas mm2, times s, angles degrees; lines are in the frame of their lay, x along
the cloth, y across it and up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cutfiles.errors import Finding

Polyline = tuple[tuple[float, float], ...]

SIGN_OFFS: Final = ("Spread by", "Checked by", "Cut by", "Date")
"""What is signed for every lay (common practice, no source)."""

CSV_HEADER: Final = (
    "lay", "bundle", "id", "cap", "style", "size", "edge", "piece", "plies", "cut", "grain_deg",
    "along_mm", "across_mm", "area_mm2", "label",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class CutPiece:
    """One outline of a lay. ``cut`` is how many come of it: one a ply, or one of two plies where
    half of it lies on the fold. ``line`` is the line of the order, 0 for a panel, which has neither
    style, size nor edge. ``middle`` is the centre of its area."""

    id: str
    name: str
    cap: str
    style: str
    size: str
    edge: str
    line: int
    cap_number: int | None
    label: str
    cut: int
    grain_deg: float
    middle: tuple[float, float]
    area_mm2: float

    @property
    def kind(self) -> str:
        """What it is a piece of, among its like: cap, size and edge, or a panel's name."""
        return f"{self.cap}, {self.edge}" if self.edge else self.cap


@dataclass(frozen=True, slots=True)
class CutLines:
    """What is drawn of a lay, as it was read back from its file."""

    outlines: tuple[Polyline, ...]
    cut_outs: tuple[Polyline, ...]
    notches: tuple[Polyline, ...]
    edge: Polyline
    flaws: tuple[Polyline, ...]
    folds: tuple[Polyline, ...]


@dataclass(frozen=True, slots=True)
class PieceName:
    """The name of a piece in a picture: its middle, the way it reads, and the room along it."""

    text: str
    middle: tuple[float, float]
    angle_deg: float
    room_mm: float


@dataclass(frozen=True, slots=True)
class CutLay:
    """One lay of a folder. ``starts_mm`` is where it begins on the cloth, ``frames_mm`` where each
    frame of the bed begins; ``prints`` are its files with their fingerprints."""

    name: str
    cloth: str
    plies: int
    spread: str
    width_mm: float
    length_mm: float
    starts_mm: float
    efficiency: float
    time_s: float
    cut_length_mm: float
    setting: str | None
    frames_mm: tuple[float, ...]
    prints: tuple[tuple[str, str], ...]
    pieces: tuple[CutPiece, ...]
    lines: CutLines
    names: tuple[PieceName, ...]

    @property
    def main_print(self) -> str:
        """The fingerprint of its drawing."""
        return self.prints[0][1]


@dataclass(frozen=True, slots=True)
class Bundle:
    """What is tied together and sewn by one pair of hands: all plies of the pieces of one line,
    size and edge in one lay, or of one panel.

    ``counts`` are how many of each piece are cut, by name. ``elsewhere`` are the lays that the
    rest of its caps lies in.
    """

    id: str
    lay: str
    cloth: str
    kind: str
    line: int
    plies: int
    caps: int
    numbers: tuple[int, ...]
    counts: tuple[tuple[str, int], ...]
    ids: frozenset[str]
    elsewhere: tuple[str, ...]
    code: str

    @property
    def count(self) -> int:
        """All its pieces."""
        return sum(number for _, number in self.counts)


@dataclass(frozen=True, slots=True)
class CutFolder:
    """A finished folder: its order, its machine in words, its lays, and what must be said."""

    title: str
    unit: str
    machine: str
    caps: int
    caps_ordered: int
    panels: int
    panels_ordered: int
    cloth_length_mm: float
    lays: tuple[CutLay, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    date: str = ""
