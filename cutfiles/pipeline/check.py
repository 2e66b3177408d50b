"""Written files and folders, read again and judged."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from cutfiles.errors import Finding, JobError
from cutfiles.files.ruler_svg import RULER_GROUPS
from cutfiles.job.written import LAYER_NAMES, MARK_ROLES, Written
from cutfiles.pipeline.manifests import PATTERN, PICTURE, RULER_PLAN, SHEETS, SUMMARY
from cutfiles.pipeline.prove import READERS, Reader, read_drawing, tool_runs
from cutfiles.verdict.judge import judge_alone, judge_lay
from cutfiles.verdict.judge_paper import judge_paper
from cutfiles.verdict.judge_ruler import judge_ruler
from cutfiles.verdict.judge_takes import judge_rest, take_faults
from cutfiles.verdict.judge_tool import judge_against_drawing, judge_room, judge_tool_alone
from cutfiles.verdict.paper_alone import judge_paper_alone
from cutfiles.verdict.paper_rows import DrawnThere, PaperRow, paper_from
from cutfiles.verdict.raster import raster_findings
from cutfiles.verdict.read_pdf import read_pdf
from cutfiles.verdict.read_ruler import RulerPlanRow, expected_ruler_from, read_ruler
from cutfiles.verdict.read_sheets import SheetsFile, read_sheets
from cutfiles.verdict.read_summary import (
    LayRow,
    SummaryFile,
    expected_from,
    read_summary,
    summary_faults,
)
from cutfiles.verdict.tool_run import drawn, replayed

_PAPER = ".pdf"
_MOTION = (".nc", ".ngc", ".gcode", ".tap")
"""Endings of motion code; ours is the first."""
_PASSES = ("tool", "motion")
"""Kinds of files that hold the way of the tool."""
_EVERYTHING = Written(apart=MARK_ROLES, tool_path=True, motion_code=True)
"""All files that a lay may have."""

_UNCHANGED = "As it was written, no more is known"


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
    suffix = path.suffix.lower()
    sheet = _check_sheet(path)
    if sheet is not None:
        return sheet
    if suffix == PICTURE and path.is_file():
        listed = _check_listed(path)
        if listed is not None:
            return listed
    if not path.is_file() or suffix not in {*READERS, *_MOTION, _PAPER}:
        text = (
            f"{path}: is no DXF or SVG file, no pattern or lay as PDF, no motion code "
            f"({', '.join(_MOTION)}), and no folder that cutfiles has written"
        )
        raise JobError.of("no-file", text)
    if path.name.endswith(".astm.dxf"):
        text = (
            f"{path}: is a pattern for exchange and no cut file: check the .dxf or .svg beside it"
        )
        raise JobError.of("no-file", text)
    return _check_listed(path) or _check_alone(path)


def _check_listed(path: Path) -> Checked | None:
    """A file that a list beside it names."""
    suffix = path.suffix.lower()
    for manifest in (SUMMARY, PATTERN):
        if (path.parent / manifest).is_file():
            summary = read_summary(path.parent / manifest)
            for row in summary.lays:
                for kind, name in row.files.names.items():
                    if path.name == name:
                        found = tuple(_file_findings(path.parent, kind, summary, row, READERS))
                        return Checked((path.name,), found)
            if path.name in summary.others and suffix == PICTURE:
                known = tuple(_changed(path, summary.others[path.name]))
                return Checked((path.name,), known, _UNCHANGED)
            if path.name in summary.others and suffix == _PAPER:
                known = tuple(_changed(path, summary.others[path.name]))
                return Checked((path.name,), (*known, *judge_paper_alone(read_pdf(path))))
            for paper in summary.papers:
                if path.name == paper.file:
                    return Checked(
                        (path.name,), tuple(_paper_findings(path, summary, paper, READERS))
                    )
    for plan in _ruler_plans(path.parent):
        if path.name == plan.drawing:
            return Checked((path.name,), tuple(_ruler_findings(path, plan)))
    return None


def _check_alone(path: Path) -> Checked:
    """A file of which nothing else is known."""
    suffix = path.suffix.lower()
    endings = _EVERYTHING.endings
    if path.name.endswith((endings["marks_dxf"], endings["marks_svg"])):
        text = f"{path}: holds the marks of a lay only: check the folder that its summary lies in"
        raise JobError.of("no-file", text)
    if suffix in _MOTION or path.name.endswith(endings["tool"]):
        run = replayed(path) if suffix in _MOTION else drawn(path, LAYER_NAMES)
        text = (
            f"{path.name}: no summary beside it names it, so it was only read through: what it "
            "should cut is not known"
        )
        findings = (*judge_tool_alone(run), Finding("no-summary", "warning", text))
        return Checked((path.name,), findings, "Can be read to its end, no more is known")
    if suffix == _PAPER:
        text = (
            f"{path.name}: no list of ours beside it names it, so only its pages could be compared "
            "with each other: its pieces, notches and grain are not known"
        )
        findings = (*judge_paper_alone(read_pdf(path)), Finding("no-summary", "warning", text))
        return Checked((path.name,), findings, "Pages fit each other, no more is known")
    alone = judge_alone(READERS[suffix](path), LAYER_NAMES["outline"])
    text = (
        f"{path.name}: no summary beside it names it, so only closed outlines that do not overlap "
        "could be checked: its scale, pieces and grain are not known"
    )
    findings = (*alone, Finding("no-summary", "warning", text))
    return Checked((path.name,), findings, "Closed and apart, no more is known")


def _check_folder(folder: Path) -> Checked:
    checked = check_lays(folder)
    if not (folder / SHEETS).is_file():
        return checked
    sheets = read_sheets(folder / SHEETS)
    findings = [*checked.findings, *_sheet_findings(folder, sheets, tuple(sheets.sha256))]
    return Checked((*checked.files, *sheets.sha256), tuple(findings))


def _check_sheet(path: Path) -> Checked | None:
    """A sheet for the table that the list beside it names."""
    if not path.is_file() or not (path.parent / SHEETS).is_file():
        return None
    sheets = read_sheets(path.parent / SHEETS)
    if path.name not in sheets.sha256:
        return None
    found = tuple(_sheet_findings(path.parent, sheets, (path.name,)))
    return Checked((path.name,), found, _UNCHANGED)


def _sheet_findings(folder: Path, sheets: SheetsFile, names: Sequence[str]) -> Iterator[Finding]:
    """Paper for the table: there, unchanged, and of these lays."""
    for name in names:
        yield from _changed(folder / name, sheets.sha256[name])
    summary = folder / SUMMARY
    if not summary.is_file() or fingerprint_of(summary) != sheets.summary_sha256:
        text = (
            f"{', '.join(names)}: of other lays than those of {SUMMARY}: print them anew "
            "with `cutfiles sheets`"
        )
        yield Finding("old-sheets", "error", text)


def fingerprint_of(path: Path) -> str:
    """The SHA-256 of a file's bytes."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def check_lays(folder: Path) -> Checked:
    """Judge all of a folder but the paper for the table.

    Raises
    ------
    JobError
        If there is nothing there that can be judged.
    """
    manifests = [folder / name for name in (SUMMARY, PATTERN) if (folder / name).is_file()]
    by_ruler = _ruler_plans(folder)
    if not manifests and not by_ruler:
        text = f"{folder}: holds no {SUMMARY}: give a folder that cutfiles has written"
        raise JobError.of("no-file", text)
    files: list[str] = []
    others: list[str] = []
    findings: list[Finding] = []
    readers = _reading_once()
    for manifest in manifests:
        summary = read_summary(manifest)
        findings.extend(summary_faults(summary, manifest.name))
        findings.extend(take_faults(summary, manifest.name))
        for row in summary.lays:
            for kind, name in row.files.names.items():
                files.append(name)
                if kind.startswith("marks_"):  # judged with the drawing that they belong to
                    findings.extend(_changed(folder / name, row.sha256.get(kind)))
                else:
                    findings.extend(_file_findings(folder, kind, summary, row, readers))
        findings.extend(_rest_findings(folder, summary, readers))
        for paper in summary.papers:
            files.append(paper.file)
            findings.extend(_paper_findings(folder / paper.file, summary, paper, readers))
        others.extend(summary.others)
        for name, fingerprint in summary.others.items():
            findings.extend(_changed(folder / name, fingerprint))
        if summary.others:
            by = "its fingerprint" if len(summary.others) == 1 else "their fingerprints"
            text = f"{', '.join(summary.others)}: compared with {by} only"
            findings.append(Finding("fingerprint-only", "note", text))
    for plan in by_ruler:
        files.append(plan.drawing)
        findings.extend(_ruler_findings(folder / plan.drawing, plan))
    known = {*files, *others}
    for path in sorted(folder.glob("lay-*")):
        if path.suffix in {*READERS, *_MOTION, _PAPER} and path.name not in known:
            text = f"{path.name}: is in the folder and no summary names it: do not cut it"
            findings.append(Finding("stray-file", "warning", text))
    return Checked(tuple(files), tuple(findings))


def _reading_once() -> dict[str, Reader]:
    """Readers that keep the last drawings of a kind: the tool's way and pages of paper are judged
    against what a lay's own drawing shows."""
    return {ending: lru_cache(maxsize=2)(read) for ending, read in READERS.items()}


def _file_findings(
    folder: Path, kind: str, summary: SummaryFile, row: LayRow, readers: Mapping[str, Reader]
) -> Iterator[Finding]:
    """A listed file: there, unchanged since it was written, and right. Marks that are written apart
    are judged with the drawing that they belong to, either of them."""
    paths = {of: folder / name for of, name in row.files.names.items()}
    path = paths[kind]
    endings = _MOTION if kind == "motion" else READERS
    if path.suffix.lower() not in endings or not path.is_file():
        what = "motion code" if kind == "motion" else "a DXF or SVG file"
        text = f"{path.name}: is named in the summary and is not there as {what}"
        yield Finding("missing-file", "error", text)
        return
    yield from _changed(path, row.sha256.get(kind))
    shown = "dxf" if kind in _PASSES else kind.removeprefix("marks_")
    beside = {shown} - {kind}
    if summary.apart and kind not in _PASSES:
        beside = {shown, f"marks_{shown}"} - {kind}
    for other in sorted(beside):
        if other not in paths or not paths[other].is_file():
            name = paths[other].name if other in paths else f"the drawing of {summary.apart[0]}"
            text = f"{path.name}: cannot be judged without {name}, which is not there"
            yield Finding("missing-file", "error", text)
            return
    expected = expected_from(summary, row)
    if kind not in _PASSES:
        yield from judge_lay(read_drawing(paths, shown, expected, summary.apart, readers), expected)
        if kind == "svg":
            yield from raster_findings(path, expected)
        return
    drawing = readers[".dxf"](paths["dxf"])
    for run in tool_runs({kind: path}, expected):
        yield from judge_against_drawing(run, drawing, expected)
        yield from judge_room(run, expected)


def _rest_findings(
    folder: Path, summary: SummaryFile, readers: Mapping[str, Reader]
) -> Iterator[Finding]:
    """The rests of remnants, against the drawings of their lays where these are there."""
    lays = {lay.name: lay for lay in summary.lays}
    for take in summary.shelf.takes if summary.shelf is not None else ():
        lay = lays.get(take.lay or "")
        if lay is not None and (folder / lay.files.dxf).is_file():
            yield from judge_rest(readers[".dxf"](folder / lay.files.dxf), lay, take, summary)


def _ruler_plans(folder: Path) -> list[RulerPlanRow]:
    """The plans of a folder's list, none where there is no list."""
    return read_ruler(folder / RULER_PLAN).plans if (folder / RULER_PLAN).is_file() else []


def _ruler_findings(path: Path, row: RulerPlanRow) -> Iterator[Finding]:
    """The drawing of a ruler plan: there, unchanged, and right."""
    yield from _changed(path, row.sha256)
    if path.is_file():
        yield from judge_ruler(READERS[".svg"](path), expected_ruler_from(row, RULER_GROUPS))


def _paper_findings(
    path: Path, summary: SummaryFile, row: PaperRow, readers: Mapping[str, Reader]
) -> Iterator[Finding]:
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
        read = readers[".dxf"](drawing)
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
    elif fingerprint_of(path) != fingerprint:
        text = f"{path.name}: is not the file that was written: make it again, or copy it again"
        yield Finding("changed", "error", text)
