"""What each line role is called and coloured in a file: plain words, and a palette that
colour-blind people can tell apart (M. Okabe and K. Ito, "Color Universal Design", 2008)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cutfiles.cuts.plan import Role
from cutfiles.job.written import DRAWINGS_ONLY, Written


@dataclass(frozen=True, slots=True)
class Ink:
    """A layer's name and colour."""

    layer: str
    rgb: tuple[int, int, int]

    @property
    def hex(self) -> str:
        """``#rrggbb``."""
        return "#{:02x}{:02x}{:02x}".format(*self.rgb)


_COLOURS: Final[dict[Role, tuple[int, int, int]]] = {
    "cloth": (86, 180, 233),
    "label": (0, 0, 0),
    "stitch": (0, 158, 115),
    "grain": (230, 159, 0),
    "notch": (204, 121, 167),
    "inner": (213, 94, 0),
    "outline": (0, 114, 178),
}
"""In the order of the SVG's groups, which is the order of the work."""


def inks_of(written: Written) -> dict[Role, Ink]:
    """The layer and colour of every role, in the order of the work."""
    names, colours = written.layer_names, dict(written.colours)
    return {
        role: Ink(names[role], _rgb(colours[role]) if role in colours else rgb)
        for role, rgb in _COLOURS.items()
    }


def _rgb(colour: str) -> tuple[int, int, int]:
    """Of ``#rrggbb``."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


INKS: Final = inks_of(DRAWINGS_ONLY)
"""Where the job does not say."""
