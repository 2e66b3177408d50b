"""The job file as written: one pydantic model a table, with every key, limit and default.

Lengths come out in millimetres, whatever unit they were written in (the validation context's
``length_unit`` is the unit of plain numbers). Keys that are not here are errors.
"""

from __future__ import annotations

import unicodedata
from typing import Annotated, Any, Final, get_args

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StrictBool,
    StrictStr,
    ValidationInfo,
)

from cutfiles.errors import nearest
from cutfiles.job.cloth import Grain, Spread
from cutfiles.job.job import StripGrain, Style
from cutfiles.job.sizes import LARGEST_GIRTH_MM, SIZES, SMALLEST_GIRTH_MM
from cutfiles.tolerances import DRAWN_GAP_MM
from cutfiles.units import MM_PER_UNIT, parse_length_mm

LENGTH_UNITS: Final = ("mm", "cm", "in")

PANEL_FORMATS: Final = (".svg", ".dxf")

MOST_CORNERS: Final = 500
FARTHEST_MM: Final = 200_000.0
"""Along any cloth."""

AS_MANY: Final = "as many as fit"
"""In place of a quantity: all the caps that the cloth on hand gives."""


def _length(low_mm: float, high_mm: float, mend: str, *, zero: bool = False) -> BeforeValidator:
    """A length above ``low_mm`` (from 0 where ``zero``) and up to ``high_mm``."""

    def parse(value: object, info: ValidationInfo) -> float:
        context: dict[str, str] = info.context or {}
        length_mm = parse_length_mm(value, default_unit=context.get("length_unit", "mm"))
        if not (low_mm < length_mm <= high_mm or (zero and length_mm == 0.0)):
            bound = "0 or more" if zero else f"more than {low_mm:g}"
            raise ValueError(
                f"is {length_mm:.7g} mm, and must be {bound} and at most {high_mm:g} mm: {mend}"
            )
        return length_mm

    return BeforeValidator(parse)


def _number(low: float, high: float, mend: str) -> BeforeValidator:
    def parse(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ValueError(f"is not a number: {mend}")
        if not low <= value <= high:
            raise ValueError(f"must be {low:g} to {high:g}: {mend}")
        return float(value)

    return BeforeValidator(parse)


def _counted(value: object, low: int, high: int, mend: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(f"is not a whole number: {mend}")
    if not low <= value <= high:
        raise ValueError(f"must be {low} to {high}: {mend}")
    return value


def _count(low: int, high: int, mend: str) -> BeforeValidator:
    def parse(value: object) -> int:
        return _counted(value, low, high, mend)

    return BeforeValidator(parse)


def _quantity(mend: str) -> BeforeValidator:
    """A count, or `AS_MANY`."""

    def parse(value: object) -> int | str:
        if isinstance(value, str):
            if value != AS_MANY:
                raise ValueError(f'must be a number, or "{AS_MANY}": {mend}')
            return value
        return _counted(value, 1, 20_000, mend)

    return BeforeValidator(parse)


def _two_lengths(
    value: object, info: ValidationInfo, what: str, *, zero: bool
) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError(f"must be two lengths, [along, across]: give {what}")
    context: dict[str, str] = info.context or {}
    unit = context.get("length_unit", "mm")
    along, across = (parse_length_mm(part, default_unit=unit) for part in value)
    least = min(along, across)
    if least < 0.0 or (least == 0.0 and not zero):
        raise ValueError(f"must be {'0 or more' if zero else 'more than 0'}: give {what}")
    if max(along, across) > FARTHEST_MM:
        raise ValueError(f"must be at most {FARTHEST_MM:g} mm: give {what}")
    return along, across


def _pair(what: str, *, zero: bool) -> BeforeValidator:
    """Two lengths, along the cloth and across it."""

    def parse(value: object, info: ValidationInfo) -> tuple[float, float]:
        return _two_lengths(value, info, what, zero=zero)

    return BeforeValidator(parse)


def _place(what: str) -> BeforeValidator:
    """Two lengths of either sign, along the cloth and across it."""

    def parse(value: object, info: ValidationInfo) -> tuple[float, float]:
        if not isinstance(value, list) or len(value) != 2:
            raise ValueError(f"must be two lengths, [along, across]: give {what}")
        context: dict[str, str] = info.context or {}
        unit = context.get("length_unit", "mm")
        along, across = (parse_length_mm(part, default_unit=unit) for part in value)
        if max(abs(along), abs(across)) > FARTHEST_MM:
            raise ValueError(f"must be at most {FARTHEST_MM:g} mm either way: give {what}")
        return along, across

    return BeforeValidator(parse)


def _choice(*names: str) -> BeforeValidator:
    def parse(value: object) -> str:
        if isinstance(value, str) and value in names:
            return value
        listed = ", ".join(f'"{name}"' for name in names)
        near = nearest(str(value), names)
        hint = f' (did you mean "{near}"?)' if near else ""
        raise ValueError(f"must be one of {listed}{hint}")

    return BeforeValidator(parse)


def _text(most: int) -> BeforeValidator:
    """Text that can be shown and written anywhere: not blank, no control characters."""

    def parse(value: object) -> str:
        if not isinstance(value, str):
            raise ValueError("must be text in quotes")
        if not value.strip():
            raise ValueError("must not be empty")
        if len(value) > most:
            raise ValueError(f"must be at most {most} characters")
        if any(unicodedata.category(c) in ("Cc", "Cs", "Cn", "Co") for c in value):
            raise ValueError("holds control characters or ones that no file can show: retype it")
        return value

    return BeforeValidator(parse)


def _names(what: str) -> BeforeValidator:
    """A name, or a list of names."""

    def parse(value: object) -> tuple[str, ...]:
        names = [value] if isinstance(value, str) else value
        if not isinstance(names, list) or not all(isinstance(n, str) and n for n in names):
            raise ValueError(f"is no name: give {what}, or a list of them, in quotes")
        return tuple(names)

    return BeforeValidator(parse)


def _drawing_name(value: object) -> str:
    if not isinstance(value, str) or not value.lower().endswith(PANEL_FORMATS):
        raise ValueError("must be an SVG or DXF file: give its name with .svg or .dxf")
    return value


def _drawing() -> BeforeValidator:
    return BeforeValidator(_drawing_name)


class Table(BaseModel):
    """A table of the job file: strict about its keys."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class ShrinkageTable(Table):
    """``shrinkage_percent``."""

    along: Annotated[float, _number(-5, 25, "measure a washed swatch, in percent")] = 0.0
    across: Annotated[float, _number(-5, 25, "measure a washed swatch, in percent")] = 0.0


class FlawTable(Table):
    """One of ``flaws``."""

    at: Annotated[
        tuple[float, float], _pair("its lower left corner, or a round one's middle", zero=True)
    ]
    size: Annotated[tuple[float, float] | None, _pair("its extent", zero=False)] = None
    diameter: Annotated[float | None, _length(0, 5000, "give how wide the flaw is")] = None
    hole: StrictBool = False


class RepeatTable(Table):
    """``print_repeat``."""

    along: Annotated[float | None, _length(1, 5000, "give the print's repeat along")] = None
    across: Annotated[float | None, _length(1, 5000, "give the print's repeat across")] = None


class StartsTable(Table):
    """``print_starts``."""

    along: Annotated[
        float | None, _length(0, 5000, "measure where the first whole repeat begins", zero=True)
    ] = None
    across: Annotated[
        float | None, _length(0, 5000, "measure where the first whole repeat begins", zero=True)
    ] = None


def _outline() -> BeforeValidator:
    """The name of a drawing, or the corners of a remnant in order."""

    def parse(value: object, info: ValidationInfo) -> object:
        if isinstance(value, str):
            return _drawing_name(value)
        if not isinstance(value, list) or not 3 <= len(value) <= MOST_CORNERS:
            raise ValueError(
                f"must be the name of a drawing, or a list of 3 to {MOST_CORNERS} corners, each "
                "[along, across]"
            )
        return tuple(_two_lengths(part, info, "every corner", zero=True) for part in value)

    return BeforeValidator(parse)


def _price(mend: str) -> BeforeValidator:
    return _number(0, 1_000_000, mend)


class StockTable(Table):
    """``[[stock]]`` of a shelf: cloth as it lies there."""

    name: Annotated[str, _text(80)]
    width: Annotated[float | None, _length(0, 5000, "give the width from selvedge to selvedge")] = (
        None
    )
    selvedge: Annotated[float, _length(0, 150, "give what is taken off each edge", zero=True)] = 0.0
    length: Annotated[
        float | None, _length(0, 200_000, "give the length on hand, or leave the key out")
    ] = None
    one_way: StrictBool = False
    shrinkage_percent: ShrinkageTable = ShrinkageTable()
    fibre: Annotated[str | None, _text(120)] = None
    flaws: Annotated[list[FlawTable], Field(max_length=200)] = []
    print_repeat: RepeatTable = RepeatTable()
    print_starts: StartsTable = StartsTable()
    outline: Annotated[str | tuple[tuple[float, float], ...] | None, _outline()] = None


class ClothTable(StockTable):
    """``[[cloth]]``."""

    plies: Annotated[int, _count(1, 200, "give the layers that are cut together")] = 1
    spread: Annotated[str, _choice(*get_args(Spread))] = "single"
    price: Annotated[float | None, _price("give what a metre or yard of it costs")] = None


GrainChoice = Annotated[str, _choice(*get_args(Grain))]

MOST_TILT_DEG: Final = 3.0
TiltAngle = Annotated[
    float,
    _number(0, MOST_TILT_DEG, "small parts bear 1 to 2 degrees off the grain, large ones none"),
]


class CapsTable(Table):
    """``[[caps]]``."""

    style: Annotated[str, _choice(*get_args(Style))]
    size: Annotated[str | None, _choice(*(size.name for size in SIZES))] = None
    head_girth: Annotated[
        float | None,
        _length(SMALLEST_GIRTH_MM, LARGEST_GIRTH_MM, "measure the head above the ears"),
    ] = None
    quantity: Annotated[int | str | None, _quantity("give how many caps to cut")] = None
    wearers: Annotated[int | None, _count(1, 20_000, "give how many adults are to wear them")] = (
        None
    )
    women: Annotated[float | None, _number(0, 1, "give the share of women, 0 to 1")] = None
    edge: Annotated[str, _choice("hem", "binding")] = "hem"
    binding_grain: Annotated[str | None, _choice(*get_args(StripGrain))] = None
    measures: dict[str, Any] = {}
    grain: dict[str, GrainChoice] = {}
    tilt: dict[str, TiltAngle] = {}
    match: Annotated[tuple[str, ...], _names('a piece, such as "crown"')] = ()
    cloth: StrictStr | None = None
    sources: Annotated[dict[str, StrictStr], Field(alias="from")] = {}


Names = Annotated[tuple[str, ...], _names("a layer or group")]


class RolesTable(Table):
    """``roles``: the layers or groups of a drawing by what their lines are for."""

    outline: Names = ()
    inner: Names = ()
    stitch: Names = ()
    grain: Names = ()
    notch: Names = ()
    fold: Names = ()
    drill: Names = ()


class PanelsTable(Table):
    """``[[panels]]``."""

    file: Annotated[str, _drawing(), _text(1000)]
    quantity: Annotated[int | None, _count(1, 20_000, "give how many to cut")] = None
    sets: Annotated[int | None, _count(1, 20_000, "give how many sets to cut")] = None
    size: Annotated[str | None, _text(80)] = None
    cloth: StrictStr | None = None
    grain_deg: Annotated[
        float | None, _number(-360, 360, "give the grain's angle in the drawing, in degrees")
    ] = None
    unit: Annotated[str | None, _choice(*MM_PER_UNIT)] = None
    on_fold: StrictBool = False
    grain: GrainChoice = "along"
    tilt: TiltAngle = 0.0
    match: StrictBool = False
    gap_tolerance: Annotated[
        float, _length(0, 5, "give the widest gap to close in an outline", zero=True)
    ] = DRAWN_GAP_MM
    roles: RolesTable = RolesTable()


class BedTable(Table):
    """``bed``."""

    along: Annotated[float | None, _length(0, 100_000, "give the bed's working length")] = None
    across: Annotated[float | None, _length(0, 10_000, "give the bed's working width")] = None


class MachineTable(Table):
    """``[machine]``."""

    kind: Annotated[str, _choice("laser", "drag knife", "rotary blade")]
    kerf: Annotated[float | None, _length(0, 20, "measure the slot of a test cut", zero=True)] = (
        None
    )
    bed: BedTable = BedTable()


class CostsTable(Table):
    """``[costs]``."""

    currency: Annotated[str, _text(20)]
    elastic: Annotated[float, _price("give what a metre or yard of it costs")] = 0.0
    thread: Annotated[float, _price("give what a metre or yard of it costs")] = 0.0
    machine_hour: Annotated[float, _price("give what an hour of the machine costs")] = 0.0
    hands_hour: Annotated[float, _price("give what an hour of work costs")] = 0.0
    minutes_a_cap: Annotated[
        float, _number(0, 10_000, "time the sewing of a few caps, in minutes")
    ] = 0.0


class PinnedTable(Table):
    """``[[pinned]]``."""

    piece: Annotated[str, _text(200)]
    at: Annotated[tuple[float, float], _place("the piece's at_mm of a summary, in mm")]
    turn_deg: Annotated[float, _number(-360, 360, "give the turn in degrees")] = 0.0
    lay: Annotated[int, _count(1, 10_000, "give the number of the lay")] = 1


class JobDocument(Table):
    """The whole file."""

    title: Annotated[str, _text(200)] = "Caps"
    length_unit: Annotated[str, _choice(*LENGTH_UNITS)] = "mm"
    shelf: Annotated[str | None, _text(1000)] = None
    cloth: Annotated[list[ClothTable], Field(min_length=1, max_length=50)]
    caps: Annotated[list[CapsTable], Field(max_length=500)] = []
    panels: Annotated[list[PanelsTable], Field(max_length=100)] = []
    pinned: Annotated[list[PinnedTable], Field(max_length=500)] = []
    machine: MachineTable
    costs: CostsTable | None = None


class ShelfDocument(Table):
    """The whole file of a shelf."""

    length_unit: Annotated[str, _choice(*LENGTH_UNITS)] = "mm"
    stock: Annotated[list[StockTable], Field(max_length=500)] = []
