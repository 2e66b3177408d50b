"""What cuts: the kinds of machine, how fast they go, and what a job has where it does not say.

Lengths in mm, speeds in mm/s, accelerations in mm/s2, times in s.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

MachineKind = Literal["laser", "drag knife", "rotary blade"]


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast a machine goes; ``start_stroke_s`` is a pierce, or a blade going down and up.

    ``corner_mm`` is by how much a tool that did not slow down might miss a corner, from which
    follows how far it slows; a table moves the cloth on at ``advance_mm_s``. Both from memory.
    """

    cut_mm_s: float
    travel_mm_s: float
    acceleration_mm_s2: float
    start_stroke_s: float
    corner_mm: float = 0.05
    advance_mm_s: float = 100.0


PACES: Final[dict[MachineKind, Pace]] = {
    "laser": Pace(100.0, 300.0, 1000.0, 0.1),
    "drag knife": Pace(200.0, 500.0, 1000.0, 0.4),
    "rotary blade": Pace(300.0, 500.0, 1000.0, 0.4),
}
"""Round figures for small machines, from memory, to be replaced by one's own. For comparison: a
100 W laser cut one ply of silk at 117 mm/s (NERC 2022 proceedings, Springer)."""

DEFAULT_KERF_MM: Final[dict[MachineKind, float]] = {
    "laser": 0.2,
    "drag knife": 0.0,
    "rotary blade": 0.0,
}
"""Where the job gives none. Laser: 0.1-0.3 mm in one ply of cotton, from memory, to be
measured with a test cut. A blade parts the cloth and takes none away."""


@dataclass(frozen=True, slots=True)
class Machine:
    """What cuts. A bed limit of None means no limit; a bed that ``advances`` moves the cloth on
    along it, so that it limits the pieces and not the lay."""

    kind: MachineKind
    kerf_mm: float
    bed_along_mm: float | None
    bed_across_mm: float | None
    advances: bool = False

    @property
    def pace(self) -> Pace:
        """Of its kind."""
        return PACES[self.kind]

    @property
    def longest_lay_mm(self) -> float | None:
        """What the bed allows along the cloth; None where that is no limit."""
        return None if self.advances else self.bed_along_mm
