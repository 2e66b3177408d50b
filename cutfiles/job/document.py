"""The job file as written: one pydantic model a table, with every key, limit and default.

Lengths come out in millimetres, whatever unit they were written in (the validation context's
``length_unit`` is the unit of plain numbers). Keys that are not here are errors. Annotations are
no texts here, for pydantic would have to compile every one of them.
"""

from typing import Annotated, Any, Final, get_args

from pydantic import BaseModel, ConfigDict, Field, StrictBool, StrictStr

from cutfiles.job import fields
from cutfiles.job.cloth import Grain, Spread
from cutfiles.job.job import LAY_WORTH_MM, THICKNESS_MM, StripGrain, Style
from cutfiles.job.machine import FarEnd, Labels, MachineKind, Marks, NotchShape
from cutfiles.job.sizes import LARGEST_GIRTH_MM, SIZES, SMALLEST_GIRTH_MM
from cutfiles.job.written import MARK_ROLES, PaperSize, Release
from cutfiles.tolerances import DRAWN_GAP_MM
from cutfiles.units import MM_PER_UNIT

LENGTH_UNITS: Final = ("mm", "cm", "in")

NO_NOTCH: Final = "none"
"""The shape of notches that a machine cannot cut."""


class Table(BaseModel):
    """A table of the job file: strict about its keys."""

    # made ready at first use: a job needs few of these tables, and making all takes longer than it
    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class ShrinkageTable(Table):
    """``shrinkage_percent``."""

    along: Annotated[float, fields.number(-5, 25, "measure a washed swatch, in percent")] = 0.0
    across: Annotated[float, fields.number(-5, 25, "measure a washed swatch, in percent")] = 0.0


class FlawTable(Table):
    """One of ``flaws``."""

    at: Annotated[
        tuple[float, float],
        fields.pair("its lower left corner, or a round one's middle", zero=True),
    ]
    size: Annotated[tuple[float, float] | None, fields.pair("its extent", zero=False)] = None
    diameter: Annotated[float | None, fields.length(0, 5000, "give how wide the flaw is")] = None
    hole: StrictBool = False


class RepeatTable(Table):
    """``print_repeat``."""

    along: Annotated[float | None, fields.length(1, 5000, "give the print's repeat along")] = None
    across: Annotated[float | None, fields.length(1, 5000, "give the print's repeat across")] = None


class StartsTable(Table):
    """``print_starts``."""

    along: Annotated[
        float | None,
        fields.length(0, 5000, "measure where the first whole repeat begins", zero=True),
    ] = None
    across: Annotated[
        float | None,
        fields.length(0, 5000, "measure where the first whole repeat begins", zero=True),
    ] = None


class StockTable(Table):
    """``[[stock]]`` of a shelf: cloth as it lies there."""

    name: Annotated[str, fields.text(80)]
    width: Annotated[
        float | None, fields.length(0, 5000, "give the width from selvedge to selvedge")
    ] = None
    selvedge: Annotated[
        float, fields.length(0, 150, "give what is taken off each edge", zero=True)
    ] = 0.0
    length: Annotated[
        float | None, fields.length(0, 200_000, "give the length on hand, or leave the key out")
    ] = None
    one_way: StrictBool = False
    thickness: Annotated[float, fields.length(0, 20, "measure one ply")] = THICKNESS_MM
    shrinkage_percent: ShrinkageTable = Field(default_factory=ShrinkageTable)
    fibre: Annotated[str | None, fields.text(120)] = None
    flaws: Annotated[list[FlawTable], Field(max_length=200)] = []
    print_repeat: RepeatTable = Field(default_factory=RepeatTable)
    print_starts: StartsTable = Field(default_factory=StartsTable)
    outline: Annotated[str | tuple[tuple[float, float], ...] | None, fields.outline()] = None
    roll: Annotated[str | None, fields.text(40)] = None


class ClothTable(StockTable):
    """``[[cloth]]``."""

    plies: Annotated[int, fields.count(1, 200, "give the layers that are cut together")] = 1
    spread: Annotated[str, fields.choice(*get_args(Spread))] = "single"
    price: Annotated[float | None, fields.price("give what a metre or yard of it costs")] = None
    lay_worth: Annotated[
        float,
        fields.length(0, 100_000, "give the length that a lay less is worth", zero=True),
    ] = LAY_WORTH_MM


GrainChoice = Annotated[str, fields.choice(*get_args(Grain))]

MOST_TILT_DEG: Final = 3.0
TiltAngle = Annotated[
    float,
    fields.number(
        0, MOST_TILT_DEG, "small parts bear 1 to 2 degrees off the grain, large ones none"
    ),
]


class CapsTable(Table):
    """``[[caps]]``."""

    style: Annotated[str, fields.choice(*get_args(Style))]
    size: Annotated[str | None, fields.choice(*(size.name for size in SIZES))] = None
    head_girth: Annotated[
        float | None,
        fields.length(SMALLEST_GIRTH_MM, LARGEST_GIRTH_MM, "measure the head above the ears"),
    ] = None
    quantity: Annotated[int | str | None, fields.quantity("give how many caps to cut")] = None
    overcut: Annotated[int, fields.count(0, 1000, "give how many caps too many may be cut")] = 0
    wearers: Annotated[
        int | None, fields.count(1, 20_000, "give how many adults are to wear them")
    ] = None
    women: Annotated[float | None, fields.number(0, 1, "give the share of women, 0 to 1")] = None
    edge: Annotated[str, fields.choice("hem", "binding")] = "hem"
    binding_grain: Annotated[str | None, fields.choice(*get_args(StripGrain))] = None
    measures: dict[str, Any] = {}
    grain: dict[str, GrainChoice] = {}
    tilt: dict[str, TiltAngle] = {}
    match: Annotated[tuple[str, ...], fields.names('a piece, such as "crown"')] = ()
    cloth: StrictStr | None = None
    sources: Annotated[dict[str, StrictStr], Field(alias="from")] = {}
    pieces: Annotated[tuple[str, ...], fields.names('a piece, such as "binding"')] = ()


Names = Annotated[tuple[str, ...], fields.names("a layer or group")]


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

    file: Annotated[str, fields.drawing(), fields.text(1000)]
    quantity: Annotated[int | None, fields.count(1, 20_000, "give how many to cut")] = None
    sets: Annotated[int | None, fields.count(1, 20_000, "give how many sets to cut")] = None
    size: Annotated[str | None, fields.text(80)] = None
    cloth: StrictStr | None = None
    grain_deg: Annotated[
        float | None, fields.number(-360, 360, "give the grain's angle in the drawing, in degrees")
    ] = None
    unit: Annotated[str | None, fields.choice(*MM_PER_UNIT)] = None
    on_fold: StrictBool = False
    grain: GrainChoice = "along"
    tilt: TiltAngle = 0.0
    match: StrictBool = False
    gap_tolerance: Annotated[
        float, fields.length(0, 5, "give the widest gap to close in an outline", zero=True)
    ] = DRAWN_GAP_MM
    roles: RolesTable = Field(default_factory=RolesTable)


class BedTable(Table):
    """``bed``."""

    along: Annotated[float | None, fields.length(0, 100_000, "give the bed's working length")] = (
        None
    )
    across: Annotated[float | None, fields.length(0, 10_000, "give the bed's working width")] = None
    advance: StrictBool = False


class LayersTable(Table):
    """``layers`` of ``files``."""

    outline: Annotated[str | None, fields.text(255)] = None
    inner: Annotated[str | None, fields.text(255)] = None
    notch: Annotated[str | None, fields.text(255)] = None
    stitch: Annotated[str | None, fields.text(255)] = None
    grain: Annotated[str | None, fields.text(255)] = None
    label: Annotated[str | None, fields.text(255)] = None
    cloth: Annotated[str | None, fields.text(255)] = None


class ColoursTable(Table):
    """``colours`` of ``files``."""

    outline: Annotated[str | None, fields.colour()] = None
    inner: Annotated[str | None, fields.colour()] = None
    notch: Annotated[str | None, fields.colour()] = None
    stitch: Annotated[str | None, fields.colour()] = None
    grain: Annotated[str | None, fields.colour()] = None
    label: Annotated[str | None, fields.colour()] = None
    cloth: Annotated[str | None, fields.colour()] = None


class FilesTable(Table):
    """``files`` of the machine."""

    dxf: Annotated[str, fields.choice(*get_args(Release))] = "R2000"
    layers: LayersTable = Field(default_factory=LayersTable)
    colours: ColoursTable = Field(default_factory=ColoursTable)
    apart: list[Annotated[str, fields.choice(*MARK_ROLES)]] = []
    tool_path: StrictBool = False
    motion_code: StrictBool = False
    paper: Annotated[str | None, fields.choice(*get_args(PaperSize))] = None


class NotchTable(Table):
    """``notch``."""

    shape: Annotated[str, fields.choice(*get_args(NotchShape), NO_NOTCH)]
    width: Annotated[float | None, fields.length(0.5, 12, "give how wide it is on the edge")] = None


class TabsTable(Table):
    """``tabs``."""

    count: Annotated[int, fields.count(1, 12, "2 to 4 hold a piece")]
    width: Annotated[float, fields.length(0.1, 5, "0.3 to 1 mm hold and still tear")]


class SettingTable(Table):
    """One of ``settings``."""

    plies: Annotated[int, fields.count(1, 200, "give up to how many plies it is for")]
    note: Annotated[str, fields.text(120)]


class MachineKeys(Table):
    """What a job and the file of a machine can say of it."""

    kind: Annotated[str | None, fields.choice(*get_args(MachineKind))] = None
    kerf: Annotated[
        float | None, fields.length(0, 20, "measure the slot of a test cut", zero=True)
    ] = None
    bed: BedTable = Field(default_factory=BedTable)
    cut_speed: Annotated[float | None, fields.speed(5000, "time a straight cut")] = None
    mark_speed: Annotated[float | None, fields.speed(5000, "time a straight line")] = None
    travel_speed: Annotated[float | None, fields.speed(10_000, "time a straight way")] = None
    acceleration: Annotated[
        float | None, fields.acceleration(100_000, "see the machine's papers")
    ] = None
    start_time: Annotated[
        float | None, fields.time(60, "time a pierce, or a blade going down and up")
    ] = None
    lead_in: Annotated[
        float | None, fields.length(0, 20, "give 2 to 5 mm, or 0 for none", zero=True)
    ] = None
    overlap: Annotated[float | None, fields.length(0, 5, "give 0 to 0.3 mm", zero=True)] = None
    tabs: TabsTable | None = None
    blade_offset: Annotated[
        float | None, fields.length(0, 3, "measure from the pivot's middle to the edge")
    ] = None
    overrun: Annotated[float | None, fields.length(0, 5, "give 0.5 to 2 mm", zero=True)] = None
    swing_from_deg: Annotated[
        float | None, fields.number(1, 10, "give the angle of corners to swing at, in degrees")
    ] = None
    blade_diameter: Annotated[float | None, fields.length(5, 400, "measure the blade")] = None
    bed_depth: Annotated[
        float | None, fields.length(0, 5, "give how deep the blade goes into the mat")
    ] = None
    scrub: Annotated[
        float | None, fields.length(0, 10, "give how far off a curve the blade may scrape")
    ] = None
    notch: NotchTable | None = None
    marks: Annotated[str | None, fields.choice(*get_args(Marks))] = None
    most_plies: Annotated[int | None, fields.count(1, 200, "see the machine's papers")] = None
    most_stack: Annotated[float | None, fields.length(0, 200, "see the machine's papers")] = None
    settings: Annotated[list[SettingTable], Field(max_length=20)] = []
    labels: Annotated[str | None, fields.choice(*get_args(Labels))] = None
    far_end: Annotated[str | None, fields.choice(*get_args(FarEnd))] = None
    shared_edges: StrictBool | None = None
    files: FilesTable = Field(default_factory=FilesTable)


class MachineTable(MachineKeys):
    """``[machine]``."""

    file: Annotated[str | None, fields.text(1000)] = None


class MachineFile(MachineKeys):
    """A file of a machine, whose keys stand at its top."""

    length_unit: Annotated[str, fields.choice(*LENGTH_UNITS)] = "mm"


class CostsTable(Table):
    """``[costs]``."""

    currency: Annotated[str, fields.text(20)]
    elastic: Annotated[float, fields.price("give what a metre or yard of it costs")] = 0.0
    thread: Annotated[float, fields.price("give what a metre or yard of it costs")] = 0.0
    machine_hour: Annotated[float, fields.price("give what an hour of the machine costs")] = 0.0
    hands_hour: Annotated[float, fields.price("give what an hour of work costs")] = 0.0
    minutes_a_cap: Annotated[
        float, fields.number(0, 10_000, "time the sewing of a few caps, in minutes")
    ] = 0.0


class PinnedTable(Table):
    """``[[pinned]]``."""

    piece: Annotated[str, fields.text(200)]
    at: Annotated[tuple[float, float], fields.place("the piece's at_mm of a summary, in mm")]
    turn_deg: Annotated[float, fields.number(-360, 360, "give the turn in degrees")] = 0.0
    lay: Annotated[int, fields.count(1, 10_000, "give the number of the lay")] = 1


class JobDocument(Table):
    """The whole file."""

    title: Annotated[str, fields.text(200)] = "Caps"
    length_unit: Annotated[str, fields.choice(*LENGTH_UNITS)] = "mm"
    shelf: Annotated[str | None, fields.text(1000)] = None
    cloth: Annotated[list[ClothTable], Field(min_length=1, max_length=50)]
    caps: Annotated[list[CapsTable], Field(max_length=500)] = []
    panels: Annotated[list[PanelsTable], Field(max_length=100)] = []
    pinned: Annotated[list[PinnedTable], Field(max_length=500)] = []
    machine: MachineTable
    costs: CostsTable | None = None


class ShelfDocument(Table):
    """The whole file of a shelf."""

    length_unit: Annotated[str, fields.choice(*LENGTH_UNITS)] = "mm"
    stock: Annotated[list[StockTable], Field(max_length=500)] = []
