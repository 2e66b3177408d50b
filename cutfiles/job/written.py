"""What of a lay is written, and how: layers and colours of its lines, and the files beside its
drawings."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal, get_args

LineRole = Literal["outline", "inner", "notch", "stitch", "grain", "label", "cloth"]
LINE_ROLES: Final[tuple[LineRole, ...]] = get_args(LineRole)
MarkRole = Literal["stitch", "grain", "label"]
MARK_ROLES: Final[tuple[MarkRole, ...]] = get_args(MarkRole)
"""Roles that may be written apart from what is cut."""

Release = Literal["R2000", "R12"]
"""Of DXF: R12 knows neither polylines in one piece nor a unit of its own."""

PaperSize = Literal["A4", "Letter"]
"""What a lay is printed on."""

LAYER_NAMES: Final[dict[LineRole, str]] = {
    "outline": "piece-outlines",
    "inner": "cut-outs",
    "notch": "notch-slits",
    "stitch": "stitch-lines",
    "grain": "grain-lines",
    "label": "piece-labels",
    "cloth": "usable-cloth",
}
"""Where the job does not say."""

_LONGEST: Final[dict[Release, int]] = {"R2000": 255, "R12": 31}
_LETTERS: Final[dict[Release, str]] = {
    "R2000": r"[!#-)+\-.0-9@-\[\]-_a-{}~ ]+",
    "R12": r"[A-Za-z0-9$_-]+",
}
"""What a layer's name may be made of: R2000 bars < > / \\ " : ; ? * | , = and `; R12 takes letters,
digits, $, - and _, and no more than 31 (the format owner's reference, from memory). Letters beyond
ASCII are left out of both, for they depend on a code page."""

_TAKEN: Final = ("0", "defpoints")
"""Layers that every drawing has, or that programs do not print."""


@dataclass(frozen=True, slots=True)
class Written:
    """The files of a lay.

    ``layers`` and ``colours`` (``#rrggbb``) are by role, where they are not the usual ones. Roles
    ``apart`` are written to drawings of their own. ``tool_path`` draws the passes of the tool,
    ``motion_code`` writes them as a program. On ``paper`` the lay is to be printed at 1:1.
    """

    release: Release = "R2000"
    layers: tuple[tuple[LineRole, str], ...] = ()
    colours: tuple[tuple[LineRole, str], ...] = ()
    apart: tuple[MarkRole, ...] = ()
    tool_path: bool = False
    motion_code: bool = False
    paper: PaperSize | None = None

    @property
    def endings(self) -> dict[str, str]:
        """What the name of each of a lay's files ends in, by kind."""
        endings = {"dxf": ".dxf", "svg": ".svg"}
        if self.apart:
            endings |= {"marks_dxf": "-marks.dxf", "marks_svg": "-marks.svg"}
        if self.tool_path:
            endings["tool"] = "-tool.dxf"
        if self.motion_code:
            endings["motion"] = ".nc"
        return endings

    @property
    def shows_passes(self) -> bool:
        """Whether any file holds the way of the tool."""
        return self.tool_path or self.motion_code

    @property
    def layer_names(self) -> dict[LineRole, str]:
        """The layer of every role."""
        return LAYER_NAMES | dict(self.layers)


ON_PAPER: Final = ".pdf"
"""What the name of a lay on paper ends in."""

DRAWINGS_ONLY: Final = Written()
"""What is written where the job does not say."""


def layer_fault(name: str, release: Release) -> str | None:
    """What is wrong with the name of a layer, and what mends it."""
    if name.casefold() in _TAKEN:
        return "is a layer that drawings keep for themselves: give another name"
    if len(name) > _LONGEST[release]:
        return f"has {len(name)} letters, and a DXF {release} takes {_LONGEST[release]}: shorten it"
    if name != name.strip() or not re.fullmatch(_LETTERS[release], name):
        return (
            f"holds what no layer of a DXF {release} may be called: use letters without accents, "
            "digits, - and _"
        )
    return None
