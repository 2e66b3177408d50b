"""What cuts: a machine, its tools, its speeds, and how its files are written.

Lengths in mm, angles in degrees, speeds in mm/s, accelerations in mm/s2, times in s.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal

MachineKind = Literal["laser", "drag knife", "rotary blade"]
NotchShape = Literal["slit", "v", "t", "castle", "check", "u"]
MarkTool = Literal["pen", "light pass", "none"]
"""What draws stitch lines, grain lines and labels: a pen, the laser at low power, or nothing."""
FarEnd = Literal["first", "last", "any"]
"""Which end of the lay is cut first: the end far from the machine's origin, the near one, or
either."""
DxfEdition = Literal["R2000", "R12"]


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast a machine goes. ``corner_deviation_mm`` is how far a corner may be rounded at the
    speed it is taken at; ``start_s`` is a pierce or a blade coming down, ``lift_s`` its going up;
    ``advance_s`` moves the cloth on by one frame."""

    cut_mm_s: float
    travel_mm_s: float
    acceleration_mm_s2: float
    start_s: float
    lift_s: float = 0.0
    corner_deviation_mm: float = 0.05
    advance_s: float = 20.0


@dataclass(frozen=True, slots=True)
class Laser:
    """A beam. It comes in from the waste side over ``lead_in_mm``, goes on over its own start by
    ``overlap_mm``, and leaves ``tabs`` bridges of ``tab_width_mm`` uncut in each outline."""

    lead_in_mm: float = 3.0
    overlap_mm: float = 1.0
    tabs: int = 0
    tab_width_mm: float = 0.6


@dataclass(frozen=True, slots=True)
class DragKnife:
    """A blade on a free pivot whose edge trails it by ``offset_mm``. It is turned in the cloth at
    every corner of more than ``swivel_from_deg``, cuts on by ``overrun_mm`` where a path ends,
    and is drawn into its direction over ``align_mm`` of waste before a path begins."""

    offset_mm: float = 0.5
    overrun_mm: float = 0.5
    swivel_from_deg: float = 10.0
    align_mm: float = 2.0


@dataclass(frozen=True, slots=True)
class RotaryBlade:
    """A driven or rolling wheel of ``diameter_mm`` and ``thickness_mm``. It turns on the spot
    only when lifted; without lifting it follows curves down to a radius of
    ``least_radius_mm``."""

    diameter_mm: float = 28.0
    thickness_mm: float = 0.3
    lift_from_deg: float = 15.0
    least_radius_mm: float = 25.0


Tool = Laser | DragKnife | RotaryBlade


@dataclass(frozen=True, slots=True)
class Written:
    """How its files are written. ``layers`` and ``colours`` are pairs of a role and the DXF layer
    or the ``#rrggbb`` that it goes to, for roles that do not keep ours. ``tool_path`` writes the
    tool's own path, with leads and blade offset, beside the cut lines; ``motion_code`` writes
    it as ISO 6983-1 words."""

    dxf: DxfEdition = "R2000"
    layers: tuple[tuple[str, str], ...] = ()
    colours: tuple[tuple[str, str], ...] = ()
    tool_path: bool = False
    motion_code: bool = False


@dataclass(frozen=True, slots=True)
class Machine:
    """A machine. A bed limit of None means no limit. ``plies_most`` and ``stack_most_mm`` bound
    what it cuts through at once. ``notch`` of None means that this machine cannot notch."""

    kind: MachineKind
    kerf_mm: float
    bed_along_mm: float | None
    bed_across_mm: float | None
    tool: Tool = field(default_factory=Laser)
    pace: Pace = Pace(100.0, 300.0, 1000.0, 0.1)
    name: str = ""
    notch: NotchShape | None = "slit"
    marks: MarkTool = "light pass"
    plies_most: int | None = None
    stack_most_mm: float | None = None
    far_end: FarEnd = "any"
    shared_edges: bool = False
    written: Written = Written()
    power_note: str = ""


DEFAULT_MACHINES: Final[dict[MachineKind, Machine]] = {
    "laser": Machine("laser", 0.2, None, None, name="CO2 laser"),
    "drag knife": Machine(
        "drag knife",
        0.0,
        None,
        None,
        tool=DragKnife(),
        pace=Pace(200.0, 500.0, 1000.0, 0.3, 0.1),
        name="drag-knife table",
        marks="pen",
    ),
    "rotary blade": Machine(
        "rotary blade",
        0.0,
        None,
        None,
        tool=RotaryBlade(),
        pace=Pace(300.0, 500.0, 1000.0, 0.3, 0.1),
        name="rotary-blade table",
        notch=None,
        marks="pen",
    ),
}
"""Round figures for small machines, from memory, to be replaced by one's own. For comparison: a
100 W laser cut one ply of silk at 117 mm/s (NERC 2022 proceedings, Springer)."""
