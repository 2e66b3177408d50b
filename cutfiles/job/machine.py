"""What cuts: a machine, its tool and its pace, and what each kind has where a job does not say.

Lengths in mm, angles in degrees, speeds in mm/s, accelerations in mm/s2, times in s. The figures
of the defaults are for small machines, and are to be replaced by one's own; where each comes from
is said beside it and in ``docs/reference/machines.md``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

from cutfiles.job.written import DRAWINGS_ONLY, Written

MachineKind = Literal["laser", "drag knife", "rotary blade"]
NotchShape = Literal["slit", "V", "T", "castle", "check", "U"]
Marks = Literal["pen", "light pass", "none"]
"""What draws stitch lines, grain lines and labels: a pen, the laser at low power, or nothing."""
Labels = Literal["drawn", "text", "none"]
"""How pieces are labelled in a cut file: by strokes, by text for whoever reads it, or not."""
FarEnd = Literal["first", "last"]
"""When the far end of a lay is cut, where x is largest."""


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
    mark_mm_s: float = 100.0
    corner_mm: float = 0.05
    advance_mm_s: float = 100.0


@dataclass(frozen=True, slots=True)
class Tabs:
    """Bridges left uncut in every outline, so that a piece stays in the cloth: how many, and how
    wide each is left."""

    count: int
    width_mm: float


@dataclass(frozen=True, slots=True)
class Laser:
    """A beam. It comes in from the waste over ``lead_in_mm`` and goes on over its own start by
    ``overlap_mm``."""

    lead_in_mm: float
    overlap_mm: float
    tabs: Tabs | None = None


@dataclass(frozen=True, slots=True)
class DragKnife:
    """A blade on a free pivot, whose edge trails it by ``offset_mm``. At corners of more than
    ``swing_from_deg`` the pivot swings about the edge; a closed line is cut on past its start by
    ``overrun_mm``; it comes in from the waste over ``lead_in_mm``."""

    offset_mm: float
    overrun_mm: float
    swing_from_deg: float
    lead_in_mm: float


@dataclass(frozen=True, slots=True)
class RotaryBlade:
    """A round blade that reaches ``bed_depth_mm`` below the lowest ply. In curves its ends may
    scrape ``scrub_mm`` off the line."""

    diameter_mm: float
    bed_depth_mm: float
    scrub_mm: float

    def reach_mm(self, stack_mm: float) -> float:
        """How far it cuts before and behind its axle at the top of a stack, or, of 0, in the
        lowest ply: sqrt(2 r x - x2), x above its lowest point (derived)."""
        depth = stack_mm + self.bed_depth_mm
        return math.sqrt(max(depth * (self.diameter_mm - depth), 0.0))

    def overshoot_mm(self, stack_mm: float) -> float:
        """How much further it cuts the top of a stack than the bottom (derived)."""
        return self.reach_mm(stack_mm) - self.reach_mm(0.0)

    def least_turn_rad(self, stack_mm: float) -> float:
        """By how much a line turns at a corner in which it cannot: its scrub over its reach."""
        return self.scrub_mm / self.reach_mm(stack_mm)

    def least_curve_mm(self, stack_mm: float) -> float:
        """The least radius of a curve that it follows within its scrub: c2 / 2e + e / 2, where c
        is its reach at the top of the stack (derived)."""
        reach = self.reach_mm(stack_mm)
        return reach**2 / (2.0 * self.scrub_mm) + self.scrub_mm / 2.0

    @property
    def most_stack_mm(self) -> float:
        """A quarter of its diameter (I. Vilumsone-Nemes, "Industrial Cutting of Textile
        Materials", p. 107)."""
        return self.diameter_mm / 4.0


Tool = Laser | DragKnife | RotaryBlade


@dataclass(frozen=True, slots=True)
class NotchCut:
    """The shape in which a machine cuts notches, and how wide it is on the cut line; a slit has
    no width."""

    shape: NotchShape
    width_mm: float


@dataclass(frozen=True, slots=True)
class Setting:
    """A note of power and feed, in the user's words, for up to so many plies."""

    plies: int
    note: str


@dataclass(frozen=True, slots=True)
class Fittings:
    """All of a machine but its kerf and bed. ``notch`` of None means that it cannot notch;
    ``most_plies`` and ``most_stack_mm`` bound what it cuts through at once, None means no limit
    but the tool's own."""

    tool: Tool
    pace: Pace
    notch: NotchCut | None
    marks: Marks
    most_plies: int | None = None
    most_stack_mm: float | None = None
    settings: tuple[Setting, ...] = ()

    def setting_for(self, plies: int) -> Setting | None:
        """The note for so many plies, or the next one for more; None where there is none."""
        fit = [setting for setting in self.settings if setting.plies >= plies]
        return min(fit, key=lambda setting: setting.plies, default=None)


SLIT: Final = NotchCut("slit", 0.0)
NOTCH_WIDTH_MM: Final = 3.0
"""Of every shape but a slit where the job gives none (common practice, no source)."""

DEFAULT_KERF_MM: Final[dict[MachineKind, float]] = {
    "laser": 0.2,
    "drag knife": 0.0,
    "rotary blade": 0.0,
}
"""Where the job gives none. Laser: 0.1-0.3 mm in one ply of cotton, from memory, to be
measured with a test cut. A blade parts the cloth and takes none away."""

DEFAULT_FITTINGS: Final[dict[MachineKind, Fittings]] = {
    "laser": Fittings(
        # lead-in 2-5 mm, overlap 0-0.3 mm: common practice, no source
        tool=Laser(lead_in_mm=3.0, overlap_mm=0.2),
        # from memory; for comparison: a 100 W laser cut one ply of silk at 117 mm/s (NERC 2022
        # proceedings, Springer). Pierce 0-0.2 s: common practice, no source
        pace=Pace(100.0, 300.0, 1000.0, 0.1, mark_mm_s=200.0),
        notch=SLIT,
        marks="light pass",
    ),
    "drag knife": Fittings(
        # offset: 0.175-1 mm of film blades (a seller's note), 0.5-3 mm of blades for fabric (from
        # memory); overrun 0.5-2 mm: common practice, no source; the rest from memory
        tool=DragKnife(offset_mm=0.5, overrun_mm=0.5, swing_from_deg=8.0, lead_in_mm=3.0),
        # from memory; a blade takes 0.2-0.5 s down or up (common practice, no source)
        pace=Pace(200.0, 500.0, 1000.0, 0.4, mark_mm_s=200.0),
        notch=SLIT,
        marks="pen",
    ),
    "rotary blade": Fittings(
        # 28 mm is a usual size of small blades; depth and scrub: all from memory
        tool=RotaryBlade(diameter_mm=28.0, bed_depth_mm=0.5, scrub_mm=1.0),
        # as of the drag knife
        pace=Pace(300.0, 500.0, 1000.0, 0.4, mark_mm_s=200.0),
        # a round blade cannot cut notches (Vilumsone-Nemes, pp. 106-107)
        notch=None,
        marks="pen",
    ),
}


@dataclass(frozen=True, slots=True)
class Machine:
    """What cuts. A bed limit of None means no limit; a bed that ``advances`` moves the cloth on
    along it, so that it limits the pieces and not the lay. ``own`` are its fittings where they are
    not those of its kind. ``far_end`` of None leaves the order to the shortest way. One
    that ``shares_edges`` cuts once between equal strips and blocks, which lie edge to edge."""

    kind: MachineKind
    kerf_mm: float
    bed_along_mm: float | None
    bed_across_mm: float | None
    own: Fittings | None = None
    written: Written = DRAWINGS_ONLY
    labels: Labels = "drawn"
    advances: bool = False
    far_end: FarEnd | None = None
    shares_edges: bool = False

    @property
    def longest_lay_mm(self) -> float | None:
        """What the bed allows along the cloth; None where that is no limit."""
        return None if self.advances else self.bed_along_mm

    @property
    def fittings(self) -> Fittings:
        """Its own, or those of its kind."""
        return self.own or DEFAULT_FITTINGS[self.kind]

    @property
    def pace(self) -> Pace:
        """How fast it goes."""
        return self.fittings.pace

    @property
    def tool(self) -> Tool:
        """What it cuts with."""
        return self.fittings.tool

    @property
    def notch(self) -> NotchCut | None:
        """How it cuts notches, if it can."""
        return self.fittings.notch
