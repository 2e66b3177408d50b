"""The nouns of a job: cloth, caps ordered, machine. Millimetres throughout."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cutfiles.job.sizes import Size

EdgeFinish = Literal["hem", "binding"]
Style = Literal["tie-back", "three-panel", "bouffant", "long-hair"]
MachineKind = Literal["laser", "drag knife", "rotary blade"]


@dataclass(frozen=True, slots=True)
class Cloth:
    """A length of cloth, and how it is spread.

    ``width_mm`` is selvedge to selvedge; ``selvedge_mm`` is taken off each edge. ``length_mm``
    is None where there is as much as it takes. Shrinkage is a positive percentage.
    """

    name: str
    width_mm: float
    selvedge_mm: float
    length_mm: float | None
    one_way: bool
    plies: int
    shrinkage_along_percent: float
    shrinkage_across_percent: float
    fibre: str | None

    @property
    def usable_width_mm(self) -> float:
        """Between the selvedges."""
        return self.width_mm - 2.0 * self.selvedge_mm

    @property
    def allowed_turns_deg(self) -> tuple[float, ...]:
        """How a piece may lie: one way only, or turned end for end as well."""
        return (0.0,) if self.one_way else (0.0, 180.0)


@dataclass(frozen=True, slots=True)
class CapLine:
    """One line of the order."""

    style: Style
    size: Size
    quantity: int
    edge: EdgeFinish
    cloth: str


@dataclass(frozen=True, slots=True)
class Machine:
    """What cuts. A bed limit of None means no limit."""

    kind: MachineKind
    kerf_mm: float
    bed_along_mm: float | None
    bed_across_mm: float | None


@dataclass(frozen=True, slots=True)
class Job:
    """A whole order, ready to be drafted. ``source`` names the file for messages."""

    source: str
    title: str
    length_unit: str
    cloths: tuple[Cloth, ...]
    caps: tuple[CapLine, ...]
    machine: Machine

    def lines_for(self, cloth: Cloth) -> tuple[CapLine, ...]:
        """The order lines cut from a cloth."""
        return tuple(line for line in self.caps if line.cloth == cloth.name)
