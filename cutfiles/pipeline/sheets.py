"""The paper that goes to the table, from a finished folder: job sheet, tickets, list of pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from cutfiles.errors import Finding, JobError, VerdictError, errors_of
from cutfiles.files.folder import staging
from cutfiles.files.job_sheet import job_sheet
from cutfiles.files.pieces_csv import pieces_csv
from cutfiles.files.roles import INKS
from cutfiles.files.tickets import bundle_tickets
from cutfiles.files.whole_file import table_bytes
from cutfiles.job.cautions import cautions_for
from cutfiles.paper.sheet import paper_named
from cutfiles.pipeline.check import check_lays, fingerprint_of
from cutfiles.pipeline.manifests import SHEETS, SUMMARY
from cutfiles.pipeline.prove import read_drawing, refuse
from cutfiles.sheets.bundles import bundles_of
from cutfiles.sheets.names import names_of
from cutfiles.sheets.sheet import Bundle, CutFolder, CutLay, CutLines, CutPiece, Polyline
from cutfiles.units import counted, format_length
from cutfiles.verdict.drawing import ReadDrawing, ReadLine
from cutfiles.verdict.judge_sheets import (
    ExpectedSheet,
    judge_job_sheet,
    judge_pieces,
    judge_tickets,
)
from cutfiles.verdict.read_pdf import read_pdf
from cutfiles.verdict.read_summary import (
    LayRow,
    MachineRow,
    PieceRow,
    SummaryFile,
    expected_from,
    read_summary,
)

JOB_SHEET: Final = "job-sheet.pdf"
TICKETS: Final = "bundle-tickets.pdf"
PIECES: Final = "pieces.csv"
_LONGEST_DATE: Final = 40


@dataclass(frozen=True, slots=True)
class Contents:
    """A finished folder as it is printed, the summary that it comes from, and the drawings of its
    lays by name."""

    folder: CutFolder
    summary: SummaryFile
    drawings: dict[str, ReadDrawing]


@dataclass(frozen=True, slots=True)
class Printed:
    """What `print_sheets` left in a folder, and what was found there on the way."""

    folder: Path
    bundles: tuple[Bundle, ...]
    pages: int
    findings: tuple[Finding, ...]

    def report(self) -> tuple[str, ...]:
        """What there is, a line a file."""
        pieces = sum(bundle.count for bundle in self.bundles)
        return (
            f"{self.folder / JOB_SHEET}: {counted(self.pages, 'page')}",
            f"{self.folder / TICKETS}: {counted(len(self.bundles), 'bundle')}, "
            f"{counted(pieces, 'piece')}",
            f"{self.folder / PIECES}",
            "Read back and found right.",
        )


def print_sheets(folder: Path, *, paper_name: str = "A4", date: str = "") -> Printed:
    """Write the job sheet, the bundle tickets and the list of pieces of a finished folder into it,
    and read them back. Older sheets are replaced.

    Raises
    ------
    JobError
        If the folder is none that `make_job` wrote, or paper or date cannot be used.
    VerdictError
        If a check of the folder finds an error, or a sheet fails its own; no sheet is left then.
    OutputError
        If the folder cannot take the files.
    """
    paper = paper_named(paper_name)
    if len(date) > _LONGEST_DATE or not date.isprintable():
        text = f"--date: {date!r} is no date: give up to {_LONGEST_DATE} letters, as they are to be"
        raise JobError.of("date", f"{text} printed")
    summary_print = _summary_print(folder)
    with staging(folder, SHEETS) as place:
        checked = check_lays(folder)
        wrong = errors_of(checked.findings)
        if wrong:
            text = f"{folder}: nothing is printed of a folder that is not as it was made"
            refuse([*wrong, Finding("sheets", "error", text)], place)
        read = contents_of(folder, date)
        cut, summary = read.folder, read.summary
        bundles = bundles_of(cut.lays)
        contents = {
            JOB_SHEET: job_sheet(cut, paper),
            TICKETS: bundle_tickets(cut, bundles, paper),
            PIECES: pieces_csv(cut.lays, bundles),
        }
        paths = {name: place.write(name, content) for name, content in contents.items()}
        size = (paper.width_mm, paper.height_mm)
        expected = ExpectedSheet(summary, read.drawings, cut.cautions, size, INKS["outline"].rgb)
        sheet = read_pdf(paths[JOB_SHEET])
        refuse(
            [
                *judge_job_sheet(sheet, expected),
                *judge_tickets(read_pdf(paths[TICKETS]), summary, page_mm=size),
                *judge_pieces(PIECES, paths[PIECES].read_bytes(), summary),
            ],
            place,
        )
        table = {
            "format": "cutfiles-sheets/1",
            "summary_sha256": summary_print,
            "sha256": {name: fingerprint_of(path) for name, path in paths.items()},
            "written": sorted([*contents, SHEETS]),
        }
        place.write(SHEETS, table_bytes(table))
        if fingerprint_of(folder / SUMMARY) != summary_print:
            text = f"{folder / SUMMARY}: was changed meanwhile: print the sheets again"
            raise VerdictError([Finding("changed", "error", text)])
        place.publish()
    return Printed(folder, bundles, len(sheet.pages), checked.findings)


def contents_of(folder: Path, date: str) -> Contents:
    """What is printed of a folder that `make_job` wrote and that is sound."""
    summary = read_summary(folder / SUMMARY)
    drawings = {lay.name: _drawing(folder, summary, lay) for lay in summary.lays}
    return Contents(_cut_folder(summary, drawings, date), summary, drawings)


def _summary_print(folder: Path) -> str:
    try:
        return fingerprint_of(folder / SUMMARY)
    except OSError as error:
        text = f"{folder}: holds no {SUMMARY} that can be read: give a folder that make wrote"
        raise JobError.of("no-file", text) from error


def _drawing(folder: Path, summary: SummaryFile, lay: LayRow) -> ReadDrawing:
    paths = {kind: folder / name for kind, name in lay.files.names.items()}
    return read_drawing(paths, "dxf", expected_from(summary, lay), summary.apart)


def _cut_folder(summary: SummaryFile, drawings: dict[str, ReadDrawing], date: str) -> CutFolder:
    totals = summary.totals
    return CutFolder(
        title=summary.title,
        unit=summary.length_unit,
        machine=_machine_words(summary.machine, summary.length_unit),
        caps=totals.caps,
        caps_ordered=totals.caps_ordered,
        panels=totals.panels,
        panels_ordered=totals.panels_ordered,
        cloth_length_mm=totals.cloth_length_mm,
        lays=tuple(_cut_lay(lay, drawings[lay.name], summary.roles) for lay in summary.lays),
        findings=tuple(Finding(f.code, f.severity, f.text) for f in summary.findings),
        cautions=cautions_for(summary.machine.kind),
        date=date,
    )


def _machine_words(machine: MachineRow, unit: str) -> str:
    words = [machine.kind, f"kerf {machine.kerf_mm:g} mm"]
    if machine.bed_mm is not None:
        sides = {"along": machine.bed_mm.along, "across": machine.bed_mm.across}
        bed = [f"{format_length(s, unit)} {name}" for name, s in sides.items() if s is not None]
        words.append(f"bed {', '.join(bed)}")
    if machine.notch is not None:
        words.append(f"{machine.notch.shape} notches")
    return ", ".join(words)


def _cut_lay(lay: LayRow, drawing: ReadDrawing, roles: dict[str, str]) -> CutLay:
    edge, *others = (line for line in drawing.on(roles["cloth"]))
    lines = CutLines(
        outlines=_points(drawing.on(roles["outline"])),
        cut_outs=_points(drawing.on(roles["inner"])),
        notches=_points(drawing.on(roles["notch"])),
        edge=_points([edge])[0],
        flaws=_points([line for line in others if line.is_closed]),
        folds=_points([line for line in others if not line.is_closed]),
    )
    pieces = tuple(_cut_piece(lay, piece) for piece in lay.pieces)
    return CutLay(
        name=lay.name,
        cloth=lay.cloth_called,
        plies=lay.plies,
        spread=lay.spread,
        width_mm=lay.width_mm,
        length_mm=lay.length_mm,
        starts_mm=lay.starts_at_mm,
        efficiency=lay.efficiency,
        time_s=lay.time_s,
        cut_length_mm=lay.cut_length_mm,
        setting=lay.setting,
        frames_mm=tuple(lay.frames_mm),
        prints=tuple((name, lay.sha256[kind]) for kind, name in lay.files.names.items()),
        pieces=pieces,
        lines=lines,
        names=names_of(pieces, lines.outlines),
    )


def _cut_piece(lay: LayRow, piece: PieceRow) -> CutPiece:
    return CutPiece(
        id=piece.id,
        name=piece.name,
        cap=piece.cap,
        style=piece.style,
        size=piece.size,
        edge=piece.edge,
        line=piece.order_line,
        cap_number=piece.cap_number,
        label=piece.label,
        cut=lay.folds if piece.past_fold_mm else lay.plies,
        grain_deg=piece.grain_deg,
        middle=piece.centre_mm,
        area_mm2=piece.area_mm2,
    )


def _points(lines: Sequence[ReadLine]) -> tuple[Polyline, ...]:
    return tuple(tuple((float(x), float(y)) for x, y in line.points) for line in lines)
