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
    """Everything that is written for one lay, in the order in which it is done."""

    lay_name: str
    width_mm: float
    length_mm: float
    strokes: tuple[Stroke, ...]
    letterings: tuple[Lettering, ...]
    cut_length_mm: float
    travel_mm: float
    time_s: float
