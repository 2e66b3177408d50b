"""Written files and folders, read again and judged."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from cutfiles.errors import Finding, JobError
from cutfiles.pipeline.prove import LAYERS, PATTERN, READERS, SUMMARY
from cutfiles.verdict.judge import judge_alone, judge_lay
from cutfiles.verdict.judge_paper import judge_paper
from cutfiles.verdict.paper_alone import judge_paper_alone
from cutfiles.verdict.paper_rows import DrawnThere, PaperRow, paper_from
from cutfiles.verdict.raster import raster_findings
from cutfiles.verdict.read_pdf import read_pdf
from cutfiles.verdict.read_summary import (
    LayRow,
    SummaryFile,
    expected_from,
    read_summary,
    summary_faults,
)

_PAPER = ".pdf"


@dataclass(frozen=True, slots=True)
class Checked:
    """What `check_path` found, in which files it looked, and in a few words what they are where
    no finding is an error."""

    files: tuple[str, ...]
    findings: tuple[Finding, ...]
    verdict: str = "Sound"


def check_path(path: Path) -> Checked:
    """Judge a written file, or a whole output folder by its summary.

    Raises
    ------
    JobError
        If there is nothing there that can be judged.
    """
    try:
        return _check_folder(path) if path.is_dir() else _check_file(path)
    except OSError as error:
        reason = error.strerror or "cannot be read"
        raise JobError.of("no-file", f"{path}: cannot be read: {reason}") from error


def _check_file(path: Path) -> Checked:
    reader = READERS.get(path.suffix.lower())
    is_paper = path.suffix.lower() == _PAPER
    if not path.is_file() or not (reader or is_paper):
        text = (
            f"{path}: is no DXF or SVG file, no pattern as PDF, and no folder that cutfiles has "
            "written"
        )
        raise JobError.of("no-file", text)
    if path.name.endswith(".astm.dxf"):
        text = (
            f"{path}: is a pattern for exchange and no cut file: check the .dxf or .svg beside it"
        )
        raise JobError.of("no-file", text)
    for manifest in (SUMMARY, PATTERN):
        if (path.parent / manifest).is_file():
            summary = read_summary(path.parent / manifest)
            for row in summary.lays:
                if path.name in row.file_names():
                    return Checked((path.name,), tuple(_file_findings(path, summary, row)))
            for paper in summary.papers:
                if path.name == paper.file:
                    return Checked((path.name,), tuple(_paper_findings(path, summary, paper)))
    if reader is None:
        text = (
            f"{path.name}: no {PATTERN} beside it names it, so only its pages could be compared "
            "with each other: its pieces, notches and grain are not known"
        )
        findings = (*judge_paper_alone(read_pdf(path)), Finding("no-summary", "warning", text))
        return Checked((path.name,), findings, "Pages fit each other, no more is known")
    alone = judge_alone(reader(path), LAYERS["outline"])
    text = (
        f"{path.name}: no summary beside it names it, so only closed outlines that do not overlap "
        "could be checked: its scale, pieces and grain are not known"
    )
    findings = (*alone, Finding("no-summary", "warning", text))
    return Checked((path.name,), findings, "Closed and apart, no more is known")


def _check_folder(folder: Path) -> Checked:
    manifests = [folder / name for name in (SUMMARY, PATTERN) if (folder / name).is_file()]
    if not manifests:
        text = f"{folder}: holds no {SUMMARY}: give a folder that cutfiles has written"
        raise JobError.of("no-file", text)
    files: list[str] = []
    findings: list[Finding] = []
    for manifest in manifests:
        summary = read_summary(manifest)
        findings.extend(summary_faults(summary, manifest.name))
        for row in summary.lays:
            for name in row.file_names():
                files.append(name)
                findings.extend(_file_findings(folder / name, summary, row))
        for paper in summary.papers:
            files.append(paper.file)
            findings.extend(_paper_findings(folder / paper.file, summary, paper))
        for name, fingerprint in summary.others.items():
            findings.extend(_changed(folder / name, fingerprint))
        if summary.others:
            text = f"{', '.join(summary.others)}: compared with their fingerprints only"
            findings.append(Finding("fingerprint-only", "note", text))
    for path in sorted([*folder.glob("lay-*.dxf"), *folder.glob("lay-*.svg")]):
        if path.name not in files:
            text = f"{path.name}: is in the folder and no summary names it: do not cut it"
            findings.append(Finding("stray-file", "warning", text))
    return Checked(tuple(files), tuple(findings))


def _file_findings(path: Path, summary: SummaryFile, row: LayRow) -> Iterator[Finding]:
    """A listed file: there, unchanged since it was written, and right."""
    reader = READERS.get(path.suffix.lower())
    if reader is None or not path.is_file():
        text = f"{path.name}: is named in the summary and is not there as a DXF or SVG file"
        yield Finding("missing-file", "error", text)
        return
    kind = "dxf" if path.suffix.lower() == ".dxf" else "svg"
    yield from _changed(path, row.sha256.get(kind))
    expected = expected_from(summary, row)
    yield from judge_lay(reader(path), expected)
    if kind == "svg":
        yield from raster_findings(path.name, path.read_bytes(), expected)


def _paper_findings(path: Path, summary: SummaryFile, row: PaperRow) -> Iterator[Finding]:
    """A listed pattern on paper: there, unchanged, and page by page what the drawings beside it
    hold."""
    if not path.is_file() or path.suffix.lower() != _PAPER:
        text = f"{path.name}: is named in the summary and is not there as a PDF file"
        yield Finding("missing-file", "error", text)
        return
    yield from _changed(path, row.sha256)
    wanted = {piece.id for piece in row.pieces}
    pieces: dict[str, DrawnThere] = {}
    for lay in summary.lays:
        if wanted.isdisjoint(piece.id for piece in lay.pieces):
            continue
        drawing = path.parent / lay.files.dxf
        if not drawing.is_file():
            text = f"{path.name}: cannot be judged without {drawing.name}, which is not there"
            yield Finding("missing-file", "error", text)
            return
        read = READERS[".dxf"](drawing)
        pieces |= {
            piece.id: DrawnThere(read, piece.centre_mm, piece.area_mm2) for piece in lay.pieces
        }
    try:
        expected = paper_from(row, pieces, summary.roles)
    except ValueError as error:
        yield Finding("summary", "error", f"{path.name}: {error}: draft it again")
        return
    yield from judge_paper(read_pdf(path), expected)


def _changed(path: Path, fingerprint: str | None) -> Iterator[Finding]:
    """A listed file that is not there, or not as it was written."""
    if not path.is_file():
        text = f"{path.name}: is named in the summary and is not there"
        yield Finding("missing-file", "error", text)
    elif hashlib.sha256(path.read_bytes()).hexdigest() != fingerprint:
        text = f"{path.name}: is not the file that was written: make it again, or copy it again"
        yield Finding("changed", "error", text)
