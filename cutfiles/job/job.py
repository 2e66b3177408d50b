"""The nouns of a job: cloth, caps and panels ordered, pieces pinned. Millimetres throughout."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal, get_args

from cutfiles.job.cloth import ON_GRAIN, Flaw, GrainRule, PrintRepeat, Remnant, Spread
from cutfiles.job.machine import Machine
from cutfiles.job.sizes import Size
from cutfiles.tolerances import DRAWN_GAP_MM

EdgeFinish = Literal["hem", "binding"]
Style = Literal["tie-back", "three-panel", "bouffant", "long-hair"]
StripGrain = Literal["straight", "bias"]
PanelRole = Literal["outline", "inner", "stitch", "grain", "notch", "fold", "drill"]
PANEL_ROLES: Final[tuple[PanelRole, ...]] = get_args(PanelRole)
"""What a line of somebody's drawing may be for: ``inner`` is a cut-out, ``fold`` the line that half
a panel is mirrored in, ``drill`` a place to mark."""

THICKNESS_MM: Final = 0.3
"""Of one ply where the job gives none: quilting cotton, from memory."""

LAY_WORTH_MM: Final = 300.0
"""Of cloth, that it is worth to spread a lay less, where the job does not say (from memory: five
minutes of work are worth about a foot of cotton)."""

MOST_PIECES: Final = 20_000
"""Caps or panels of one line of the order."""


@dataclass(frozen=True, slots=True)
class Cloth:
    """A length of cloth, and how it is spread.

    ``width_mm`` is selvedge to selvedge; ``selvedge_mm`` is taken off each edge. ``length_mm``
    is None where there is as much as it takes. Shrinkage is a positive percentage. ``plies`` are
    lengths laid on each other; of remnants there is one, and the width is that of the widest.
    ``price_mm`` is what a millimetre of it costs, where that is known; ``lay_worth_mm`` is the
    length of it that it is worth to spread a lay less.

    Of several ``rolls`` of one cloth each is a cloth of its own, with its length, flaws and start
    of the print, the longest first; the length of the whole is all of theirs together, and flaws it
    has none. ``roll`` is the name of one, ``number`` that of its table of cloth in the job, from 1.
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
    spread: Spread = "single"
    flaws: tuple[Flaw, ...] = ()
    print_repeat: PrintRepeat | None = None
    remnants: tuple[Remnant, ...] = ()
    price_mm: float | None = None
    thickness_mm: float = THICKNESS_MM
    lay_worth_mm: float = LAY_WORTH_MM
    number: int = 0
    roll: str | None = None
    rolls: tuple[Cloth, ...] = ()

    @property
    def each_roll(self) -> tuple[Cloth, ...]:
        """Its rolls; itself where there is one."""
        return self.rolls or (self,)

    @property
    def called(self) -> str:
        """Its name, and its roll's where it has one."""
        return self.name if self.roll is None else f"{self.name}, roll {self.roll}"

    @property
    def stack_mm(self) -> float:
        """How high all its layers are."""
        return self.layers * self.thickness_mm

    @property
    def usable_width_mm(self) -> float:
        """Between the selvedges."""
        return self.width_mm - 2.0 * self.selvedge_mm

    @property
    def is_folded(self) -> bool:
        """Whether it is folded along its middle, selvedge on selvedge."""
        return self.spread == "folded"

    @property
    def lay_width_mm(self) -> float:
        """How wide the usable cloth lies on the table: folded cloth half as wide."""
        return self.usable_width_mm / 2.0 if self.is_folded else self.usable_width_mm

    @property
    def layers(self) -> int:
        """Layers cut at once: folded cloth has two in each ply."""
        return 2 * self.plies if self.is_folded else self.plies

    @property
    def print_starts_mm(self) -> tuple[float, float]:
        """Where a repeat of its print begins on the usable cloth, from that cloth's lower left
        corner: along, and across, which may be in the selvedge."""
        repeat = self.print_repeat or PrintRepeat()
        across = repeat.starts_across_mm
        return repeat.starts_along_mm, 0.0 if across is None else across - self.selvedge_mm

    def whole_repeats_mm(self, length_mm: float, *, up: bool = False) -> float:
        """A length cut back, or made longer, to whole repeats of the print along the cloth."""
        repeat = self.print_repeat and self.print_repeat.along_mm
        if not repeat or math.isinf(length_mm):
            return length_mm
        count = length_mm / repeat
        # a hair of rounding neither costs a repeat nor gives one
        return repeat * (math.ceil(count - 1e-9) if up else math.floor(count + 1e-9))

    def longest_lay_mm(self, bed_along_mm: float) -> float:
        """The longest lay on a length of cloth and a bed; infinite where nothing limits it. Its
        plies come from one roll."""
        return self.whole_repeats_mm(min(self.longest_ply_mm, bed_along_mm))

    @property
    def longest_ply_mm(self) -> float:
        """The length on hand of each ply of a lay, of the longest roll; infinite where there is as
        much as it takes."""
        length = self.each_roll[0].length_mm
        return math.inf if length is None else length / self.plies

    @property
    def makes_pairs(self) -> bool:
        """Whether every other layer lies face down, so that each piece comes with its twin."""
        return self.spread != "single"


@dataclass(frozen=True, slots=True)
class CapLine:
    """One line of the order. ``grains`` gives the rule of every piece, by its name, that is not
    simply cut along the grain; ``matched`` names the pieces that keep to the print. A line of
    ``as_many`` is for all the caps that the cloth gives, and its quantity the least. ``sources``
    gives the pieces that are cut from another cloth than the rest, and which; of a line with
    ``pieces`` no others are cut. A plan may cut ``overcut`` caps too many.
    """

    style: Style
    size: Size
    quantity: int
    edge: EdgeFinish
    cloth: str
    binding_grain: StripGrain = "straight"
    measures: tuple[tuple[str, float], ...] = ()
    number: int = 0
    grains: tuple[tuple[str, GrainRule], ...] = ()
    matched: tuple[str, ...] = ()
    as_many: bool = False
    sources: tuple[tuple[str, str], ...] = ()
    overcut: int = 0
    pieces: tuple[str, ...] = ()

    def cuts(self, piece: str) -> bool:
        """Whether a piece of the style is cut."""
        return not self.pieces or piece in self.pieces

    def cloth_of(self, piece: str) -> str:
        """The name of the cloth that a piece is cut from."""
        return dict(self.sources).get(piece, self.cloth)

    @property
    def cloths(self) -> frozenset[str]:
        """The names of all cloths that its pieces are cut from."""
        return frozenset((self.cloth, *dict(self.sources).values()))

    @property
    def mark(self) -> str:
        """What tells a line of changed measures from the plain size: its number in the order."""
        return f" line {self.number}" if self.measures else ""


@dataclass(frozen=True, slots=True)
class PanelLine:
    """One table of panels: a drawing and how many of it to cut.

    ``number`` counts the job's tables from 1. ``grain_deg`` is counter-clockwise from the
    drawing's x axis, None where the drawing itself shows it. ``unit`` is for drawings that name
    none. ``roles`` gives the layers or groups of a role, where they are not called after it.

    A pattern for exchange may say itself how many (``quantity`` is None; ``sets`` times what it
    says) and hold several sizes, of which ``size`` is wanted. A half on a fold
    ``stays_folded`` on folded cloth; else it is opened.
    """

    number: int
    file: str
    name: str
    quantity: int | None
    cloth: str
    grain_deg: float | None = None
    unit: str | None = None
    on_fold: bool = False
    gap_tolerance_mm: float = DRAWN_GAP_MM
    roles: tuple[tuple[PanelRole, tuple[str, ...]], ...] = ()
    size: str | None = None
    sets: int | None = None
    grain: GrainRule = ON_GRAIN
    is_matched: bool = False
    stays_folded: bool = False

    def names_of(self, role: PanelRole) -> tuple[str, ...]:
        """The layers or groups that the job names for a role."""
        return next((names for given, names in self.roles if given == role), ())


def plain_name(text: str) -> str:
    """A name for a panel, of at most 40 letters, digits, blanks and -_.

    Letters that a DXF file of release 2000 cannot hold (outside code page 1252) become ``_``.
    """
    writable = text.encode("cp1252", errors="replace").decode("cp1252")
    kept = "".join(c if c.isalnum() or c in " -_." else "_" for c in writable).strip()
    return kept[:40].strip() or "panel"


@dataclass(frozen=True, slots=True)
class PinnedPiece:
    """A piece that stays where the job puts it: the origin of its own frame at ``at_mm`` in the
    frame of its cloth's lay, turned by ``turn_deg``, in [0, 360). ``number`` counts the job's
    tables from 1."""

    number: int
    piece: str
    at_mm: tuple[float, float]
    turn_deg: float


@dataclass(frozen=True, slots=True)
class Costs:
    """What things cost beside cloth, in a currency: a millimetre of elastic and of thread, an hour
    of the machine and of work, of which one cap takes so many minutes."""

    currency: str
    elastic_mm: float
    thread_mm: float
    machine_hour: float
    hands_hour: float
    minutes_a_cap: float


@dataclass(frozen=True, slots=True)
class ShelfUse:
    """The shelf that a job draws cloth from: its file's name as the job gives it, the hash of its
    bytes, and for every table of cloth the number of its table of stock (0: not on the shelf), and
    of the table in the job's file that it came of: one for each remnant and roll."""

    file: str
    sha256: str
    by_table: tuple[int, ...]
    written: tuple[int, ...]

    def stock_of(self, table: int) -> int:
        """The number of the table of stock that a table of cloth comes from; 0 if from none, or
        if there is no such table."""
        return self.by_table[table - 1] if table else 0

    def called(self, table: int) -> str:
        """A table of cloth in words, as the job's file and the shelf number it."""
        stock = self.stock_of(table)
        return f"[[cloth]] {self.written[table - 1]}" + (f", [[stock]] {stock}" if stock else "")


@dataclass(frozen=True, slots=True)
class Job:
    """A whole order, ready to be drafted. ``source`` names the file for messages."""

    source: str
    title: str
    length_unit: str
    cloths: tuple[Cloth, ...]
    caps: tuple[CapLine, ...]
    machine: Machine
    panels: tuple[PanelLine, ...] = ()
    pinned: tuple[PinnedPiece, ...] = ()
    shelf: ShelfUse | None = None
    costs: Costs | None = None

    def lines_for(self, cloth: Cloth) -> tuple[CapLine, ...]:
        """The order lines of which anything is cut from a cloth."""
        return tuple(line for line in self.caps if cloth.name in line.cloths)

    def cloth_named(self, name: str) -> Cloth:
        """The cloth of that name; ``KeyError`` if there is none."""
        for cloth in self.cloths:
            if cloth.name == name:
                return cloth
        raise KeyError(name)
