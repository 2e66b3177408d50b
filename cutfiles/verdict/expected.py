"""What a file must hold: taken from the lay before it is written, or from a summary later on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import Polygon, box

from cutfiles.cuts.plan import CutPlan, Role
from cutfiles.geometry.polygons import moved_polygon
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.job.cloth import ON_GRAIN, Flaw, GrainRule, PrintRepeat
from cutfiles.job.job import Cloth, PinnedPiece
from cutfiles.job.machine import SLIT, Labels, Machine, NotchCut
from cutfiles.lay.lay import Lay, PlacedPiece, cut_outs_of
from cutfiles.tolerances import PAST_FOLD_MM, SLIVER_MM
from cutfiles.verdict.drawing import Array


@dataclass(frozen=True, slots=True)
class ExpectedCutOut:
    """An opening in a piece: the centroid and area of its true cut line on the cloth, and the
    whole line where it is known."""

    centre: tuple[float, float]
    area_mm2: float
    outline: Polygon | None = None


@dataclass(frozen=True, slots=True)
class ExpectedMatch:
    """The point of a piece that keeps to the print, on the cloth: where the slot of a notch ends,
    or the middle of the piece's box along its grain."""

    at: tuple[float, float]
    is_notch: bool


@dataclass(frozen=True, slots=True)
class ExpectedLettering:
    """Where a drawn label stands: its middle, its direction and the height of its capitals."""

    at: tuple[float, float]
    turn_deg: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class ExpectedPiece:
    """One piece of a lay.

    ``centre`` is the centroid of its true cut line on the cloth; ``notch_ends`` where the slots
    of its notches end, ``stitch_lines`` how many lines of stitching it shows. ``outline`` is the
    whole cut line, where it is known, and ``perimeter_mm`` its length. ``grain`` is the rule that
    its grain line keeps to. A piece with ``past_fold_mm`` is a half on the fold of the cloth: its
    cut line runs that far past it. ``lettering`` is where its label stands, where that is known.
    """

    id: str
    name: str
    cap: str
    label: str
    grain_deg: float
    area_mm2: float
    perimeter_mm: float
    centre: tuple[float, float]
    notch_ends: tuple[tuple[float, float], ...]
    stitch_lines: int
    outline: Polygon | None = None
    cut_outs: tuple[ExpectedCutOut, ...] = ()
    grain: GrainRule = ON_GRAIN
    past_fold_mm: float | None = None
    match: ExpectedMatch | None = None
    lettering: ExpectedLettering | None = None
    frame: int | None = None


@dataclass(frozen=True, slots=True)
class ExpectedLay:
    """One lay; lengths in mm. ``clearance_mm`` is what is left between two outlines as written,
    ``layers`` gives the layer of every role. ``flaws`` and the outline of a ``remnant`` are in the
    lay's frame; points that keep to the print lie in the middle of a repeat of ``repeat_mm``,
    along and across, where there is one. The lay begins ``starts_at_mm`` along the usable cloth,
    and a repeat ``print_starts_mm`` along and across it. ``bed_mm`` is the most that the machine
    takes along and across. Where the bed moves the cloth on
    (``bed_advances``) the lay may be longer: ``frames_mm`` says where each window of the bed begins
    then, and ``frame`` of a piece in which it is cut, counted from 1. A bed of None is no limit;
    ``notch`` is the shape in which the machine cuts, or shows, notches; ``tool_off_mm`` how far
    the way of the tool leaves the drawn cuts, where it is known. ``labels`` says how pieces are
    labelled. Where the machine ``shares_edges`` equal rectangles may have a side in common.
    """

    name: str
    width_mm: float
    length_mm: float
    kerf_mm: float
    clearance_mm: float
    layers: Mapping[Role, str]
    pieces: tuple[ExpectedPiece, ...]
    one_way: bool = False
    is_folded: bool = False
    flaws: tuple[Polygon, ...] = ()
    remnant: Polygon | None = None
    repeat_mm: tuple[float | None, float | None] = (None, None)
    starts_at_mm: float = 0.0
    print_starts_mm: tuple[float, float] = (0.0, 0.0)
    bed_mm: tuple[float | None, float | None] = (None, None)
    bed_advances: bool = False
    shares_edges: bool = False
    frames_mm: tuple[float, ...] = ()
    tool_off_mm: float = 0.0
    notch: NotchCut = SLIT
    labels: Labels = "drawn"

    @property
    def sheet(self) -> Polygon:
        """The cloth that the lay takes."""
        return self.remnant or box(0.0, 0.0, self.length_mm, self.width_mm)


def expected_of(
    lay: Lay,
    machine: Machine,
    layers: Mapping[Role, str],
    pins: Iterable[PinnedPiece] = (),
) -> ExpectedLay:
    """From the lay itself, before any kerf or order was applied to it; but pinned pieces where the
    job puts them."""
    held = {pin.piece: Motion(pin.turn_deg, Vector(*pin.at_mm)) for pin in pins}
    placed_pieces = (
        replace(placed, motion=held.get(placed.ordered.id, placed.motion)) for placed in lay.placed
    )
    repeat = lay.cloth.print_repeat or PrintRepeat()
    return ExpectedLay(
        lay.name,
        lay.width_mm,
        lay.length_mm,
        machine.kerf_mm,
        lay.gap_mm - machine.kerf_mm,
        layers,
        tuple(_expected_piece(placed, lay.cloth) for placed in placed_pieces),
        one_way=lay.cloth.one_way,
        is_folded=lay.cloth.is_folded,
        flaws=flaws_of(lay),
        remnant=lay.remnant,
        repeat_mm=(repeat.along_mm, repeat.across_mm),
        starts_at_mm=lay.starts_at_mm,
        print_starts_mm=_print_starts(lay.cloth),
        bed_mm=(machine.bed_along_mm, machine.bed_across_mm),
        bed_advances=machine.advances,
        shares_edges=machine.shares_edges,
        notch=machine.notch or SLIT,
        labels=machine.labels,
    )


def in_frames(expected: ExpectedLay, plan: CutPlan) -> ExpectedLay:
    """The same lay, cut in the frames of its plan."""
    numbers = plan.frame_numbers
    return replace(
        expected,
        frames_mm=tuple(frame.start_mm for frame in plan.frames),
        pieces=tuple(replace(piece, frame=numbers.get(piece.id)) for piece in expected.pieces),
    )


def _print_starts(cloth: Cloth) -> tuple[float, float]:
    """Where a repeat begins on the usable cloth: measured anew from what the job says."""
    repeat = cloth.print_repeat
    if repeat is None or repeat.starts_across_mm is None:
        return (repeat.starts_along_mm if repeat else 0.0), 0.0
    return repeat.starts_along_mm, repeat.starts_across_mm - cloth.selvedge_mm


def flaws_of(lay: Lay) -> tuple[Polygon, ...]:
    """The flaws of the cloth that a lay takes, in its frame: measured anew from what the job
    says, corner by corner. Round ones come as polygons."""
    if lay.remnant is not None:
        flaws = next(r.flaws for r in lay.cloth.remnants if r.number == lay.remnant_number)
        return _cut_off([_corners_of(flaw) for flaw in flaws], lay)
    found = []
    for flaw in lay.cloth.flaws:
        along, across = _corners_of(flaw).T
        along = along - lay.starts_at_mm
        if lay.cloth.is_folded:
            from_fold = across - lay.cloth.width_mm / 2.0
            found.append(np.column_stack([along, from_fold]))
            found.append(np.column_stack([along, -from_fold]))
        else:
            found.append(np.column_stack([along, across - lay.cloth.selvedge_mm]))
    return _cut_off(found, lay)


def _corners_of(flaw: Flaw) -> Array:
    """Corners of a flaw where it was measured; a round one as 64 points of its edge."""
    (x, y), (along, across) = flaw.at, flaw.size
    if not flaw.is_round:
        return np.array([(x, y), (x + along, y), (x + along, y + across), (x, y + across)])
    angles = np.linspace(0.0, 2.0 * np.pi, 64, endpoint=False)
    return np.column_stack(
        [x + along / 2.0 * (1.0 + np.cos(angles)), y + across / 2.0 * (1.0 + np.sin(angles))]
    )


def _cut_off(flaws: Iterable[Array], lay: Lay) -> tuple[Polygon, ...]:
    sheet = box(0.0, 0.0, lay.length_mm, lay.width_mm)
    parts = (Polygon(corners).intersection(sheet) for corners in flaws)
    return tuple(
        part for part in parts if isinstance(part, Polygon) and _width_mm(part) >= SLIVER_MM
    )


def _width_mm(part: Polygon) -> float:
    """The lesser extent of its box."""
    x0, y0, x1, y1 = part.bounds or (0.0, 0.0, 0.0, 0.0)
    return min(x1 - x0, y1 - y0)


def _past_fold_mm(placed: PlacedPiece, cloth: Cloth) -> float | None:
    """How far the cut of a half runs past the fold: it has grown with the piece, across the
    cloth."""
    if not placed.lies_on_fold:
        return None
    percents = [cloth.shrinkage_across_percent]
    if placed.ordered.grain.grain in {"either", "bias"}:
        percents.append(cloth.shrinkage_along_percent)
    return PAST_FOLD_MM / (1.0 - max(percents) / 100.0)


def _expected_piece(placed: PlacedPiece, cloth: Cloth) -> ExpectedPiece:
    outline = placed.placed_outline
    piece = placed.ordered.piece
    ends = (placed.motion.point(n.at + n.inward * n.depth_mm) for n in piece.notches)
    centre = outline.centroid
    return ExpectedPiece(
        id=placed.ordered.id,
        name=placed.ordered.name,
        cap=placed.ordered.cap,
        label=placed.ordered.label,
        grain_deg=placed.grain_deg,
        area_mm2=outline.area,
        perimeter_mm=outline.length,
        centre=(centre.x, centre.y),
        notch_ends=tuple((end.x, end.y) for end in ends),
        stitch_lines=len(piece.stitch_lines),
        outline=outline,
        cut_outs=tuple(
            _expected_cut_out(moved_polygon(hole, placed.motion))
            for hole in cut_outs_of(placed.ordered)
        ),
        grain=placed.ordered.grain,
        past_fold_mm=_past_fold_mm(placed, cloth),
        match=_expected_match(placed),
    )


def _expected_match(placed: PlacedPiece) -> ExpectedMatch | None:
    match, place = placed.ordered.match, placed.match_place
    if match is None or place is None:
        return None
    return ExpectedMatch((place.x, place.y), match.is_notch)


def _expected_cut_out(hole: Polygon) -> ExpectedCutOut:
    return ExpectedCutOut((hole.centroid.x, hole.centroid.y), hole.area, hole)


def angle_between_deg(one: float, other: float) -> float:
    """The smaller angle between two directions, in [0, 180]."""
    return float(abs((one - other + 180.0) % 360.0 - 180.0))


def direction_deg(start: tuple[float, float], end: tuple[float, float]) -> float:
    """The direction of a step, counter-clockwise from x, in [0, 360)."""
    return float(np.degrees(np.arctan2(end[1] - start[1], end[0] - start[0])) % 360.0)
