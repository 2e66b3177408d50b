"""Reading ``summary.json`` again, for `check`: by a strict model of its own."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Final, Literal, Self, cast

from pydantic import Field, model_validator
from shapely.geometry import Polygon

from cutfiles.cuts.plan import ROLES, Role
from cutfiles.errors import Finding, JobError, Severity
from cutfiles.job.cloth import Grain, GrainRule, Spread
from cutfiles.job.machine import SLIT, Labels, MachineKind, NotchCut, NotchShape
from cutfiles.tolerances import READ_BACK_MM
from cutfiles.verdict.expected import (
    ExpectedCutOut,
    ExpectedLay,
    ExpectedLettering,
    ExpectedMatch,
    ExpectedPiece,
)
from cutfiles.verdict.paper_rows import PaperRow
from cutfiles.verdict.rows import FileName, Place, Row, read_rows

_WIDEST_MM: Final = 5_000.0
_LONGEST_MM: Final = 10_000_000.0
"""No cloth is wider, and none as long: beyond that a lay's picture would not come to an end."""


class PieceRow(Row):
    """One of ``pieces``."""

    id: str
    name: str
    cap: str
    label: str
    grain_deg: float = Field(ge=0, lt=360)
    area_mm2: float = Field(gt=0)
    perimeter_mm: float = Field(gt=0)
    centre_mm: Place
    notch_ends_mm: list[Place]
    stitch_lines: int = Field(ge=0)
    grain: Grain = "along"
    tilt_deg: float = Field(default=0.0, ge=0, le=3)
    match_mm: Place | None = None
    matched_by: Literal["notch", "middle"] = "middle"
    past_fold_mm: float | None = Field(default=None, gt=0)
    past_fold_mm2: float = Field(default=0.0, ge=0)
    cap_number: int | None
    cap_pieces: int = Field(default=0, ge=0)
    style: str = ""
    size: str = ""
    edge: str = ""
    order_line: int = Field(default=0, ge=0)
    label_at_mm: Place | None = None
    label_turn_deg: float = Field(default=0.0, ge=0, lt=360)
    label_height_mm: float = Field(default=0.0, ge=0)
    frame: int | None = Field(default=None, ge=1)
    cut_outs_mm2: list[Annotated[float, Field(gt=0)]] = Field(default_factory=list)
    cut_outs_centre_mm: list[Place] = Field(default_factory=list)

    @model_validator(mode="after")
    def _cut_outs_agree(self) -> Self:
        if len(self.cut_outs_mm2) != len(self.cut_outs_centre_mm):
            raise ValueError("cut_outs_mm2 and cut_outs_centre_mm are of unequal length")
        return self


class FilesRow(Row):
    """``files`` of a lay."""

    dxf: FileName
    svg: FileName
    marks_dxf: FileName | None = None
    marks_svg: FileName | None = None
    tool: FileName | None = None
    motion: FileName | None = None

    @property
    def names(self) -> dict[str, str]:
        """The names by kind."""
        every = {kind: getattr(self, kind) for kind in type(self).model_fields}
        return {kind: name for kind, name in every.items() if name is not None}


class RepeatRow(Row):
    """``print_repeat_mm`` of a lay."""

    along: float | None = Field(default=None, gt=0)
    across: float | None = Field(default=None, gt=0)


class StartsRow(Row):
    """``print_starts_mm`` of a lay."""

    along: float = 0.0
    across: float = 0.0


class BedRow(Row):
    """``bed_mm`` of the machine."""

    along: float | None = Field(default=None, gt=0)
    across: float | None = Field(default=None, gt=0)


Corners = Annotated[list[Place], Field(min_length=3)]


class LayRow(Row):
    """One of ``lays``."""

    name: str
    cloth: str
    roll: str | None = None
    stock: int | None = Field(default=None, ge=1)
    plies: int = Field(ge=1)
    one_way: bool = False
    spread: Spread = "single"
    flaws_mm: list[Corners] = Field(default_factory=list)
    remnant_mm: Corners | None = None
    print_repeat_mm: RepeatRow | None = None
    print_starts_mm: StartsRow | None = None
    starts_at_mm: float = Field(default=0.0, ge=0)
    width_mm: float = Field(gt=0, le=_WIDEST_MM)
    length_mm: float = Field(gt=0, le=_LONGEST_MM)
    frames_mm: list[Annotated[float, Field(ge=0)]] = Field(default_factory=list)
    clearance_mm: float = Field(ge=0)
    efficiency: float = Field(gt=0, le=1)
    time_s: float = Field(default=0.0, ge=0)
    cut_length_mm: float = Field(default=0.0, ge=0)
    setting: str | None = None
    labels: Labels
    pieces: list[PieceRow] = Field(min_length=1)
    files: FilesRow
    sha256: dict[str, str]
    tool_off_mm: float = Field(default=0.0, ge=0)

    @property
    def folds(self) -> int:
        """Lengths of cloth laid on each other: folded cloth counts once."""
        return self.plies // 2 if self.spread == "folded" else self.plies

    @property
    def cloth_called(self) -> str:
        """The name of its cloth, and of the roll, where that has one."""
        return self.cloth if self.roll is None else f"{self.cloth}, roll {self.roll}"

    def file_names(self) -> tuple[str, ...]:
        """All of the lay's files."""
        return tuple(self.files.names.values())


class NotchRow(Row):
    """``notch`` of the machine."""

    shape: NotchShape
    width_mm: float = Field(ge=0, le=50)


class MachineRow(Row):
    """``machine``."""

    kind: MachineKind
    kerf_mm: float = Field(ge=0, le=20)
    bed_mm: BedRow | None = None
    bed_advances: bool = False
    shared_edges: bool = False
    notch: NotchRow | None = None


class TotalsRow(Row):
    """``totals``."""

    caps_ordered: int = Field(ge=0)
    caps: int = Field(ge=0)
    panels_ordered: int = Field(ge=0)
    panels: int = Field(ge=0)
    cloth_length_mm: float = Field(ge=0)


class TakeRow(Row):
    """One of ``takes``: of a length of cloth how much, of a remnant the lay that lies on it and the
    outline of what is left, if anything."""

    stock: int = Field(ge=1)
    name: str
    lay: str | None = None
    length_mm: float | None = Field(default=None, gt=0)
    rest_mm: list[Place] = Field(default_factory=list)


class ShelfRow(Row):
    """``shelf``."""

    file: str
    sha256: str
    takes: list[TakeRow]


class FindingRow(Row):
    """One of ``findings``."""

    code: str
    severity: Severity
    text: str


class SummaryFile(Row):
    """The whole file, as far as a check or the sheets of a folder need it."""

    format: Literal["cutfiles-summary/1", "cutfiles-pattern/1"]
    title: str = ""
    length_unit: Literal["mm", "cm", "in"] = "mm"
    findings: list[FindingRow] = Field(default_factory=list)
    machine: MachineRow
    roles: dict[str, str]
    apart: list[Role] = Field(default_factory=list)
    lays: list[LayRow] = Field(min_length=1)
    totals: TotalsRow
    shelf: ShelfRow | None = None
    papers: list[PaperRow] = Field(default_factory=list)
    others: dict[FileName, str] = Field(default_factory=dict)

    def file_names(self) -> Iterator[str]:
        """Every file that is judged by this one."""
        for lay in self.lays:
            yield from lay.file_names()
        for paper in self.papers:
            yield paper.file


def read_summary(path: Path) -> SummaryFile:
    """Read and check a summary.

    Raises
    ------
    JobError
        If it cannot be read or is no summary; every fault at once.
    """
    summary = read_rows(path, SummaryFile, "summary")
    if set(summary.roles) != set(ROLES):
        text = f"{path}: roles: must name {', '.join(ROLES)}, each with its layer"
        raise JobError.of("summary", text)
    return summary


def summary_faults(summary: SummaryFile, name: str) -> Iterator[Finding]:
    """Figures of a summary that do not agree with each other."""
    wrong: list[str] = []
    ids = Counter(row.id for lay in summary.lays for row in lay.pieces)
    wrong.extend(f"piece {key!r} is listed {n} times" for key, n in ids.items() if n > 1)
    for what, names in (
        ("lay", Counter(lay.name for lay in summary.lays)),
        ("file", Counter(summary.file_names())),
    ):
        wrong.extend(f"{what} {key!r} is listed {n} times" for key, n in names.items() if n > 1)
    for lay in summary.lays:
        area = sum(row.area_mm2 - row.past_fold_mm2 for row in lay.pieces)
        efficiency = area / (lay.width_mm * lay.length_mm)
        if abs(efficiency - lay.efficiency) > 1e-4:
            wrong.append(
                f"{lay.name}: efficiency is {lay.efficiency} and its pieces give {efficiency:.5f}"
            )
    cloth = sum(lay.length_mm * lay.folds for lay in summary.lays)
    if not math.isclose(cloth, summary.totals.cloth_length_mm, abs_tol=0.01 * len(summary.lays)):
        wrong.append(
            f"totals: cloth_length_mm is {summary.totals.cloth_length_mm} and the lays give "
            f"{cloth:.3f}"
        )
    if summary.format == "cutfiles-summary/1":  # drafted sheets lie on no cloth
        wrong.extend(_stretch_faults(summary.lays))
    wrong.extend(_count_faults(summary))
    known = {row.id for lay in summary.lays for row in lay.pieces}
    for paper in summary.papers:
        unknown = sorted({row.id for row in paper.pieces} - known)
        wrong.extend(f"{paper.file}: piece {name!r} is in no drawing" for name in unknown)
    for text in wrong:
        yield Finding("summary", "error", f"{name}: {text}")


def _stretch_faults(lays: Sequence[LayRow]) -> Iterator[str]:
    """Lays that take the same stretch of their cloth; remnants are told apart otherwise."""
    along = sorted(
        (lay for lay in lays if lay.remnant_mm is None),
        key=lambda lay: (lay.cloth_called, lay.starts_at_mm),
    )
    for one, other in itertools.pairwise(along):
        end = one.starts_at_mm + one.length_mm
        if one.cloth_called == other.cloth_called and other.starts_at_mm < end - READ_BACK_MM:
            yield (
                f"{other.name}: starts_at_mm is {other.starts_at_mm} and {one.name} takes the "
                f"cloth up to {end:.3f}"
            )


def _count_faults(summary: SummaryFile) -> Iterator[str]:
    """Totals of caps and panels that are not what the lays hold, or fall short of the order."""
    totals = summary.totals
    panels = 0
    caps: dict[int, int] = {}
    found: Counter[int] = Counter()
    wanted: dict[int, int] = {}
    for lay in summary.lays:
        for row in lay.pieces:
            if row.cap_number is not None:
                caps[row.cap_number] = lay.plies
                found[row.cap_number] += 1
                wanted[row.cap_number] = row.cap_pieces
        own = [row for row in lay.pieces if row.cap_number is None]
        panels += sum(lay.folds if row.past_fold_mm else lay.plies for row in own)
    whole = sum(plies for cap, plies in caps.items() if found[cap] >= wanted[cap])
    for word, given, held, ordered in (
        ("caps", totals.caps, whole, totals.caps_ordered),
        ("panels", totals.panels, panels, totals.panels_ordered),
    ):
        if given != held:
            yield f"totals: {word} is {given} and the lays hold {held}"
        if held < ordered:
            yield f"totals: {word}_ordered is {ordered} and the lays hold {held}"


def expected_from(summary: SummaryFile, lay: LayRow) -> ExpectedLay:
    """What the files of one lay must hold, by the summary's figures."""
    repeat = lay.print_repeat_mm or RepeatRow()
    starts = lay.print_starts_mm or StartsRow()
    bed, notch = summary.machine.bed_mm or BedRow(), summary.machine.notch
    return ExpectedLay(
        name=lay.name,
        width_mm=lay.width_mm,
        length_mm=lay.length_mm,
        kerf_mm=summary.machine.kerf_mm,
        clearance_mm=lay.clearance_mm,
        layers={cast(Role, role): layer for role, layer in summary.roles.items()},
        pieces=tuple(
            ExpectedPiece(
                id=row.id,
                name=row.name,
                cap=row.cap,
                label=row.label,
                grain_deg=row.grain_deg,
                area_mm2=row.area_mm2,
                perimeter_mm=row.perimeter_mm,
                centre=row.centre_mm,
                notch_ends=tuple(row.notch_ends_mm),
                stitch_lines=row.stitch_lines,
                cut_outs=tuple(
                    ExpectedCutOut(centre, area)
                    for centre, area in zip(row.cut_outs_centre_mm, row.cut_outs_mm2, strict=True)
                ),
                grain=GrainRule(row.grain, row.tilt_deg),
                past_fold_mm=row.past_fold_mm,
                lettering=row.label_at_mm
                and ExpectedLettering(row.label_at_mm, row.label_turn_deg, row.label_height_mm),
                frame=row.frame,
                match=row.match_mm and ExpectedMatch(row.match_mm, row.matched_by == "notch"),
            )
            for row in lay.pieces
        ),
        one_way=lay.one_way,
        is_folded=lay.spread == "folded",
        flaws=tuple(Polygon(corners) for corners in lay.flaws_mm),
        remnant=None if lay.remnant_mm is None else Polygon(lay.remnant_mm),
        repeat_mm=(repeat.along, repeat.across),
        starts_at_mm=lay.starts_at_mm,
        print_starts_mm=(starts.along, starts.across),
        bed_mm=(bed.along, bed.across),
        bed_advances=summary.machine.bed_advances,
        shares_edges=summary.machine.shared_edges,
        frames_mm=tuple(lay.frames_mm),
        tool_off_mm=lay.tool_off_mm,
        notch=SLIT if notch is None else NotchCut(notch.shape, notch.width_mm),
        labels=lay.labels,
    )
