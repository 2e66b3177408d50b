"""What each line role is called and coloured in a file: plain words, and a palette that
colour-blind people can tell apart (M. Okabe and K. Ito, "Color Universal Design", 2008)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cutfiles.cuts.plan import Role


@dataclass(frozen=True, slots=True)
class Ink:
    """A layer's name and colour."""

    layer: str
    rgb: tuple[int, int, int]

    @property
    def hex(self) -> str:
        """``#rrggbb``."""
        return "#{:02x}{:02x}{:02x}".format(*self.rgb)


INKS: Final[dict[Role, Ink]] = {
    "cloth": Ink("usable-cloth", (86, 180, 233)),
    "label": Ink("piece-labels", (0, 0, 0)),
    "stitch": Ink("stitch-lines", (0, 158, 115)),
    "grain": Ink("grain-lines", (230, 159, 0)),
    "notch": Ink("notch-slits", (204, 121, 167)),
    "inner": Ink("cut-outs", (213, 94, 0)),
    "outline": Ink("piece-outlines", (0, 114, 178)),
}
"""In the order of the SVG's groups, which is the order of the work."""
