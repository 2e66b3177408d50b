"""``job-sheet.pdf``: what is spread, checked and cut, for the people at the table."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from cutfiles.files.page_flow import Flow
from cutfiles.files.pdf_pen import LineStyle, Pen, fitting
from cutfiles.files.roles import INKS
from cutfiles.paper.sheet import Paper
from cutfiles.sheets.sheet import SIGN_OFFS, CutFolder, CutLay, Polyline
from cutfiles.units import counted, format_length, format_order

_OUTLINE_MM, _LINE_MM = 0.25, 0.15
_FLAW, _FOLD, _FRAME = (213, 94, 0), (0, 0, 0), (120, 120, 120)
_NAME_MM = 2.0
_PAD_MM = 3.0
"""Of cloth beyond a picture, so that a line along its edge is whole."""

_STRETCH = 2.0
"""A picture is at most so many times as long as its cloth is wide, so that names can be read."""

_HIGHEST_MM = 120.0
_LARGEST_SCALE = 0.5


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A part of a lay along its cloth that is drawn in one picture; a mm of cloth is ``scale`` mm
    of paper."""

    start_mm: float
    end_mm: float
    scale: float


def job_sheet(folder: CutFolder, paper: Paper) -> bytes:
    """The sheet of a whole folder: totals, findings and cautions, then every lay."""
    flow = Flow(paper, f"{folder.title}: job sheet")
    _first_page(flow, folder)
    for lay in folder.lays:
        _lay_pages(flow, folder, lay)
    return flow.finish()


def _first_page(flow: Flow, folder: CutFolder) -> None:
    flow.new_page(f"Job sheet{_dated(folder)}")
    flow.paragraph(folder.title or "Job sheet", height_mm=5.5, bold=True)
    flow.gap(2.0)
    for line in _total_lines(folder):
        flow.paragraph(line)
    flow.gap(1.0)
    rows = [("lay", "cloth", "plies", "length", "width", "pieces", "time")]
    rows += [
        (
            lay.name, lay.cloth, str(lay.plies), format_length(lay.length_mm, folder.unit),
            format_length(lay.width_mm, folder.unit), str(sum(p.cut for p in lay.pieces)),
            _minutes(lay.time_s),
        )
        for lay in folder.lays
    ]  # fmt: skip
    flow.table((1.2, 3.4, 0.8, 1.4, 1.4, 1.0, 1.2), rows)
    flow.heading("Findings")
    for finding in folder.findings:
        flow.paragraph(f"{finding.severity}: {finding.text}", height_mm=2.8)
        flow.gap(0.8)
    if not folder.findings:
        flow.paragraph("None: read back from the written files and found right.")
    _cautions(flow, folder)


def _total_lines(folder: CutFolder) -> tuple[str, ...]:
    """The order, its lays and its cloth in a few words."""
    ordered = format_order(folder.caps_ordered, folder.panels_ordered)
    pieces = sum(piece.cut for lay in folder.lays for piece in lay.pieces)
    time = _minutes(sum(lay.time_s for lay in folder.lays))
    cloth = format_length(folder.cloth_length_mm, folder.unit)
    count = counted(len(folder.lays), "lay")
    return (
        f"{format_order(folder.caps, folder.panels)} cut, {ordered} ordered: "
        f"{counted(pieces, 'piece')} in {count}, {cloth} of cloth in all, {time} on the machine.",
        f"Machine: {folder.machine}.",
    )


def _minutes(time_s: float) -> str:
    """A time in whole minutes, rounded up."""
    return f"about {math.ceil(time_s / 60.0 - 1e-9)} min"


def _cautions(flow: Flow, folder: CutFolder) -> None:
    flow.heading("Before you cut")
    for text in folder.cautions:
        flow.paragraph(f"- {text}", height_mm=2.8)
        flow.gap(0.5)


def _lay_pages(flow: Flow, folder: CutFolder, lay: CutLay) -> None:
    name = f"{folder.title}, {lay.name}" if folder.title else lay.name
    flow.new_page(f"{name}{_dated(folder)}")
    flow.paragraph(f"{lay.name}: {lay.cloth}", height_mm=5.0, bold=True)
    flow.gap(1.0)
    for line in _lay_lines(lay, folder):
        flow.paragraph(line)
    for file, fingerprint in lay.prints:
        flow.paragraph(f"{file}: {fingerprint} (SHA-256)", height_mm=2.3)
    for stretch in _stretches(lay.length_mm, lay.width_mm, flow.width):
        _picture(flow, lay, stretch, folder.unit)
    flow.heading("Pieces")
    flow.table((3.0, 2.4, 1.2, 1.2), _piece_rows(lay))
    _cautions(flow, folder)
    flow.heading("Signed")
    flow.boxes(SIGN_OFFS)


def _lay_lines(lay: CutLay, folder: CutFolder) -> tuple[str, ...]:
    """What to know of a lay when spreading and cutting it."""
    unit = folder.unit
    plies = counted(lay.plies, "ply", "plies")
    lines = [
        f"{plies}, {lay.spread}; "
        f"{format_length(lay.length_mm, unit)} long, {format_length(lay.width_mm, unit)} of usable "
        f"width, {lay.efficiency:.1%} of the cloth used.",
        f"{counted(len(lay.pieces), 'outline')}, {lay.cut_length_mm / 1000.0:.1f} m to cut, "
        f"{_minutes(lay.time_s)}, on the {folder.machine}.",
    ]
    if lay.starts_mm:
        lines.append(f"It begins {format_length(lay.starts_mm, unit)} along the cloth.")
    if lay.frames_mm:
        places = ", ".join(format_length(at, unit) for at in lay.frames_mm)
        lines.append(f"Cut in {counted(len(lay.frames_mm), 'frame')}, beginning at {places}.")
    if lay.lines.flaws:
        lines.append(f"Kept clear of {counted(len(lay.lines.flaws), 'flaw')} of the cloth.")
    if lay.setting:
        lines.append(f"Your setting for it: {lay.setting}")
    return tuple(lines)


def _piece_rows(lay: CutLay) -> list[tuple[str, ...]]:
    outlines: Counter[tuple[str, str]] = Counter()
    cut: Counter[tuple[str, str]] = Counter()
    for piece in lay.pieces:
        outlines[(piece.kind, piece.name)] += 1
        cut[(piece.kind, piece.name)] += piece.cut
    rows = [(*key, str(outlines[key]), str(cut[key])) for key in sorted(outlines)]
    total = ("in all", "", str(outlines.total()), str(cut.total()))
    return [("cap or panel", "piece", "per ply", "in all"), *rows, total]


def _stretches(length_mm: float, width_mm: float, room_mm: float) -> tuple[_Stretch, ...]:
    """Equal parts of a lay, each to be drawn across the whole room of a page."""
    count = max(1, math.ceil(length_mm / (_STRETCH * width_mm) - 1e-9))
    part = length_mm / count
    scale = min(room_mm / part, _HIGHEST_MM / width_mm, _LARGEST_SCALE)
    return tuple(_Stretch(k * part, (k + 1) * part, scale) for k in range(count))


def _picture(flow: Flow, lay: CutLay, stretch: _Stretch, unit: str) -> None:
    """A stretch of the lay, small, with its names. Lines that lie wholly outside it are left
    out."""
    height, scale = lay.width_mm * stretch.scale, stretch.scale
    flow.room(height + 9.0)
    flow.gap(6.0)
    ends = [format_length(at, unit) for at in (stretch.start_mm, stretch.end_mm)]
    words, x, top = f"1 : {1.0 / scale:.2f}, from {ends[0]} to {ends[1]}", flow.left, flow.y
    flow.gap(height + 2.0)
    bottom = flow.y

    def style(rgb: tuple[int, int, int], width: float, dashes: tuple[float, ...] = ()) -> LineStyle:
        return LineStyle(rgb, width / scale, tuple(dash / scale for dash in dashes))

    def draw(pen: Pen) -> None:
        pen.text(words, x, top, 2.6)
        low = stretch.start_mm - _PAD_MM
        span = stretch.end_mm - stretch.start_mm + 2.0 * _PAD_MM
        corner = (low, -_PAD_MM)
        with (
            pen.scaled(x - _PAD_MM * scale, bottom - _PAD_MM * scale, scale),
            pen.window(0.0, 0.0, span, lay.width_mm + 2.0 * _PAD_MM, origin=corner),
        ):
            lines = lay.lines
            for rgb, width, group in (
                (INKS["cloth"].rgb, _OUTLINE_MM, (lines.edge,)),
                (INKS["inner"].rgb, _LINE_MM, lines.cut_outs),
                (INKS["notch"].rgb, _LINE_MM, lines.notches),
                (INKS["outline"].rgb, _OUTLINE_MM, lines.outlines),
            ):
                pen.use(style(rgb, width))
                _lines(pen, group, stretch)
            pen.use(style(_FLAW, 0.5))
            _lines(pen, lines.flaws, stretch)
            pen.use(style(_FOLD, 0.4, (4.0, 1.0, 0.5, 1.0)))
            _lines(pen, lines.folds, stretch)
            pen.use(style(_FRAME, 0.3, (2.0, 1.0)))
            _lines(pen, [((at, 0.0), (at, lay.width_mm)) for at in lay.frames_mm], stretch)
            for name in lay.names:
                if stretch.start_mm <= name.middle[0] <= stretch.end_mm:
                    size = fitting(name.text, _NAME_MM / scale, 0.85 * name.room_mm)
                    pen.text(name.text, *name.middle, size, angle_deg=name.angle_deg, centred=True)

    flow.draw(draw)


def _lines(pen: Pen, lines: tuple[Polyline, ...] | list[Polyline], stretch: _Stretch) -> None:
    for line in lines:
        along = [x for x, _ in line]
        if line and min(along) < stretch.end_mm and max(along) > stretch.start_mm:
            pen.polyline(line)


def _dated(folder: CutFolder) -> str:
    return f", {folder.date}" if folder.date else ""
