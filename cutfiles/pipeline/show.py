"""Written lays as a terminal shows them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import Polygon

from cutfiles.errors import Finding, JobError, errors_of
from cutfiles.pipeline.check import fingerprint_of
from cutfiles.pipeline.manifests import SUMMARY
from cutfiles.pipeline.prove import READERS
from cutfiles.preview.terminal import Run, TerminalLay, lay_lines
from cutfiles.units import counted, format_length
from cutfiles.verdict.read_summary import LayRow, PieceRow, SummaryFile, read_summary


@dataclass(frozen=True, slots=True)
class Shown:
    """Lines to print, and what was found in the files that they show."""

    lines: tuple[list[Run], ...]
    findings: tuple[Finding, ...]


def show_lays(path: Path, cells: int, *, plain: bool) -> Shown:
    """The lays of a folder that `make` wrote, or the one of a drawing in it, in lines of so many
    cells.

    Raises
    ------
    JobError
        If there is no such folder or drawing, or it cannot be read.
    """
    folder = path if path.is_dir() else path.parent
    if not (folder / SUMMARY).is_file():
        text = f"{path}: holds no {SUMMARY}: give a folder that make wrote, or a drawing in it"
        raise JobError.of("no-file", text)
    summary = read_summary(folder / SUMMARY)
    rows = [row for row in summary.lays if path.is_dir() or path.name in row.file_names()]
    if not rows:
        names = ", ".join(row.files.dxf for row in summary.lays)
        raise JobError.of("no-file", f"{path}: is no file of a lay: give one of {names}")
    findings: list[Finding] = []
    lines: list[list[Run]] = []
    for row in rows:
        lay = _shown(folder / row.files.dxf, row, summary, findings)
        lines.extend(lay_lines(lay, cells, plain=plain))
    return Shown(tuple(lines), tuple(findings))


def _shown(path: Path, row: LayRow, summary: SummaryFile, findings: list[Finding]) -> TerminalLay:
    if not path.is_file():
        text = f"{path}: is named in the summary and is not there: make it again"
        raise JobError.of("missing-file", text)
    if fingerprint_of(path) != row.sha256.get("dxf"):
        text = f"{path.name}: is not the file that was written: do not cut it, make it again"
        findings.append(Finding("changed", "warning", text))
    drawing = READERS[".dxf"](path)
    if errors_of(drawing.findings):
        raise JobError(drawing.findings)
    lines = drawing.on(summary.roles["outline"])
    outlines = tuple(Polygon(line.points) for line in lines if line.is_closed)
    kinds = tuple(f"{piece.name}, {piece.cap}" for piece in _owners(outlines, row.pieces))
    unit, plies = summary.length_unit, counted(row.plies, "ply", "plies")
    heading = (
        f"{row.name}: {counted(len(row.pieces), 'piece')} on {format_length(row.length_mm, unit)} "
        f"of {row.cloth_called}, {plies}, {row.efficiency:.1%} of the cloth used"
    )
    return TerminalLay(
        heading,
        row.width_mm,
        row.length_mm,
        outlines,
        kinds,
        tuple(Polygon(corners) for corners in row.flaws_mm),
        row.spread == "folded",
        unit,
    )


def _owners(outlines: Sequence[Polygon], pieces: Sequence[PieceRow]) -> list[PieceRow]:
    """The piece of each outline: the one nearest to it in place and size."""
    centres = np.array([piece.centre_mm for piece in pieces])
    sizes = np.sqrt([piece.area_mm2 for piece in pieces])
    owners = []
    for outline in outlines:
        middle = shapely.get_coordinates(outline.centroid)[0]
        off = np.hypot(*(centres - middle).T) + np.abs(sizes - np.sqrt(outline.area))
        owners.append(pieces[int(np.argmin(off))])
    return owners
