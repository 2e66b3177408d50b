"""The nouns of cutting: strokes in their order, labels, and what they take.

Frame and unit are the lay's: millimetres on the usable cloth.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal, get_args

Role = Literal["outline", "inner", "notch", "stitch", "grain", "label", "cloth"]
ROLES: Final[tuple[Role, ...]] = get_args(Role)
"""What a line is for. ``outline``, ``inner`` and ``notch`` are cut; ``stitch``, ``grain`` and
``label`` are marked, if at all; ``cloth`` is only there to see."""

CUT_ROLES: Final[tuple[Role, ...]] = ("notch", "inner", "outline")


@dataclass(frozen=True, slots=True)
class Stroke:
    """One line the tool follows without lifting. A closed one does not repeat its first point."""

    role: Role
    piece_id: str
    points: tuple[tuple[float, float], ...]
    closed: bool


@dataclass(frozen=True, slots=True)
class Lettering:
    """A label: its text, the middle of its line, reading direction and height of letters."""

    piece_id: str
    text: str
    centre: tuple[float, float]
    angle_deg: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class CutPlan:
    """Everything that is written for one lay, in the order in which it is done.

    The cloth is the rectangle of its width and length or, of a remnant, what lies within
    ``remnant``; ``on_cloth`` shows its flaws, as closed strokes, and its fold, as an open one.
    """

    lay_name: str
    width_mm: float
    length_mm: float
    strokes: tuple[Stroke, ...]
    letterings: tuple[Lettering, ...]
    cut_length_mm: float
    travel_mm: float
    time_s: float
    on_cloth: tuple[Stroke, ...] = ()
    remnant: tuple[tuple[float, float], ...] = ()

    @property
    def cloth_edge(self) -> tuple[tuple[float, float], ...]:
        """The corners of the cloth, counter-clockwise."""
        length, width = self.length_mm, self.width_mm
        return self.remnant or ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))
