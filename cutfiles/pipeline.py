"""The whole way, wired: the one module that knows every room, and the one that opens paths.

Nothing is printed here. What a caller may want to show comes by the callbacks of `Effort`
and in the results.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cutfiles.cuts.plan import CutPlan
from cutfiles.cuts.plan_cuts import cut_plan, tool_findings
from cutfiles.effort import Effort
from cutfiles.errors import Finding, JobError, VerdictError, errors_of
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.folder import Staging, check_folder, staging
from cutfiles.files.roles import INKS
from cutfiles.files.summary import PATTERN_FORMAT, summary_bytes, summary_table
from cutfiles.files.svg import svg_bytes
from cutfiles.job.cautions import cautions_for, check_safety
from cutfiles.job.job import Cloth, Job, Machine
from cutfiles.job.read import read_job
from cutfiles.lay.arrange import APART, arrange
from cutfiles.lay.lay import Lay
from cutfiles.pieces.cut_list import cut_list, pattern_cap
from cutfiles.pieces.ordered import CutList, OrderedCap
from cutfiles.preview.page import PreviewLay, PreviewSheet, preview_html
from cutfiles.units import format_length
from cutfiles.verdict.drawing import ReadDrawing
from cutfiles.verdict.expected import expected_of
from cutfiles.verdict.judge import judge_alone, judge_lay
from cutfiles.verdict.read_dxf import read_dxf
from cutfiles.verdict.read_summary import (
    LayRow,
    SummaryFile,
    expected_from,
    read_summary,
    summary_faults,
)
from cutfiles.verdict.read_svg import read_svg

_READERS: dict[str, Callable[[Path], ReadDrawing]] = {".dxf": read_dxf, ".svg": read_svg}
_SUMMARY, _PREVIEW, _PATTERN = "summary.json", "preview.html", "pattern.json"

_PAPER_MM = 900.0
"""Patterns lie on a sheet of this width: an A0 roll, near enough."""

_LAYERS = {role: ink.layer for role, ink in INKS.items()}


@dataclass(frozen=True, slots=True)
class Made:
    """What `make_job` left in the output folder."""

    job: Job
    folder: Path
    lays: tuple[Lay, ...]
    plans: tuple[CutPlan, ...]
    findings: tuple[Finding, ...]

    def report(self) -> tuple[str, ...]:
        """What was made, a line a lay and one for all."""
        unit = self.job.length_unit
        lines = []
        for lay, plan in zip(self.lays, self.plans, strict=True):
            plies = f"{lay.cloth.plies} {'ply' if lay.cloth.plies == 1 else 'plies'}"
            lines.append(
                f"{lay.name}: {len(lay.placed)} pieces on {format_length(lay.length_mm, unit)} of "
                f"{lay.cloth.name}, {plies}, {lay.efficiency:.1%} of the cloth used, about "
                f"{plan.time_s / 60:.0f} min to cut"
            )
        caps = sum(lay.cap_count for lay in self.lays)
        lines.append(f"{caps} caps; every cut file was read back and found right.")
        lines.append(f"Look before you cut: {self.folder / 'preview.html'}")
        return tuple(lines)


@dataclass(frozen=True, slots=True)
class Checked:
    """What `check_path` found, and in which files it looked."""

    files: tuple[str, ...]
    findings: tuple[Finding, ...]


def load_job(path: Path) -> Job:
    """Read and check a job file.

    Raises
    ------
    JobError
        If the file cannot be read, or anything in it is wrong or refused.
    """
    try:
        content = path.read_bytes()
    except OSError as error:
        reason = error.strerror or "cannot be read"
        text = f"{path}: cannot be read: {reason}; give the path of a job file (TOML)"
        raise JobError.of("no-file", text) from error
    job = read_job(content, source=path.name)
    refused = errors_of(check_safety(job))
    if refused:
        raise JobError(refused)
    return job


def make_job(path: Path, out: Path, effort: Effort) -> Made:
    """From a job file to verified cut files, summary and preview in ``out``.

    Raises
    ------
    JobError, OutputError
        If the job or the folder is wrong; the folder keeps what it had.
    VerdictError
        If a written file fails its check; no cut file is left under its final name.
    """
    job = load_job(path)
    check_folder(out, _SUMMARY, (_SUMMARY, _PREVIEW, "lay-01.dxf", "lay-01.svg"))
    findings = list(check_safety(job))
    lays = _arranged(job, effort, findings)
    plans = tuple(cut_plan(lay, job.machine, seed=effort.seed) for lay in lays)
    with staging(out, _SUMMARY) as place:
        proved = _written_and_proved(job, lays, plans, place)
        names = (*proved.contents, _PREVIEW, _SUMMARY)
        summary = summary_table(
            job,
            lays,
            plans,
            findings,
            seed=effort.seed,
            contents=proved.contents,
            written=names,
        )
        sheet = PreviewSheet(
            summary=summary,
            lays=tuple(
                PreviewLay(drawing, row)
                for drawing, row in zip(proved.drawings, summary["lays"], strict=True)
            ),
            colours={role: ink.hex for role, ink in INKS.items()},
            cautions=cautions_for(job.machine.kind),
            findings=tuple(findings),
            length_unit=job.length_unit,
        )
        place.write(_PREVIEW, preview_html(sheet))
        place.write(_SUMMARY, summary_bytes(summary))
        place.publish()
    return Made(job, out, lays, plans, tuple(findings))


def draft_job(path: Path, out: Path) -> tuple[str, ...]:
    """The pattern pieces of every line of a job, at 1:1, as DXF and SVG; their names.

    Pieces are as drafted, not grown for shrinkage; outlines are cut lines, without kerf. The
    files are read back and judged like cut files.

    Raises
    ------
    JobError, OutputError, VerdictError
        As `make_job` does.
    """
    job = load_job(path)
    paper = Cloth("paper", _PAPER_MM, 0.0, None, False, 1, 0.0, 0.0, "paper")
    pen = Machine("drag knife", 0.0, None, None)
    caps = {_pattern_name(cap): cap for cap in map(pattern_cap, job.caps)}
    pattern_job = replace(job, machine=pen, caps=())
    lays = []
    for name, cap in caps.items():
        (lay,) = arrange(
            CutList(paper, (cap,), ()),
            pen,
            Effort(0.0, 1),
            unit="mm",
            source=job.source,
            spacing=APART,
        )
        lays.append(replace(lay, name=name))
    plans = [cut_plan(lay, pen, seed=1) for lay in lays]
    with staging(out, _PATTERN) as place:
        proved = _written_and_proved(pattern_job, lays, plans, place)
        table = summary_table(
            pattern_job,
            lays,
            plans,
            (),
            seed=1,
            contents=proved.contents,
            written=(*proved.contents, _PATTERN),
            form=PATTERN_FORMAT,
        )
        place.write(_PATTERN, summary_bytes(table))
        place.publish()
    return (*proved.contents, _PATTERN)


def _pattern_name(cap: OrderedCap) -> str:
    return f"pattern-{cap.title}-{cap.edge}".replace(" ", "-")


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
    reader = _READERS.get(path.suffix.lower())
    if not path.is_file() or reader is None:
        raise JobError.of(
            "no-file", f"{path}: is no DXF or SVG file, and no folder that cutfiles has written"
        )
    for manifest in (_SUMMARY, _PATTERN):
        if (path.parent / manifest).is_file():
            summary = read_summary(path.parent / manifest)
            for row in summary.lays:
                if path.name in row.file_names():
                    return Checked((path.name,), tuple(_file_findings(path, summary, row)))
    alone = judge_alone(reader(path), _LAYERS["outline"])
    text = (
        f"{path.name}: no summary beside it names it, so only closed outlines that do not overlap "
        "could be checked: its scale, pieces and grain are not known"
    )
    return Checked((path.name,), (*alone, Finding("no-summary", "warning", text)))


def _check_folder(folder: Path) -> Checked:
    manifests = [folder / name for name in (_SUMMARY, _PATTERN) if (folder / name).is_file()]
    if not manifests:
        text = f"{folder}: holds no {_SUMMARY}: give a folder that cutfiles has written"
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
    for path in sorted([*folder.glob("lay-*.dxf"), *folder.glob("lay-*.svg")]):
        if path.name not in files:
            text = f"{path.name}: is in the folder and no summary names it: do not cut it"
            findings.append(Finding("stray-file", "warning", text))
    return Checked(tuple(files), tuple(findings))


def _file_findings(path: Path, summary: SummaryFile, row: LayRow) -> Iterator[Finding]:
    """A listed file: there, unchanged since it was written, and right."""
    reader = _READERS.get(path.suffix.lower())
    if reader is None or not path.is_file():
        text = f"{path.name}: is named in the summary and is not there as a DXF or SVG file"
        yield Finding("missing-file", "error", text)
        return
    kind = "dxf" if path.suffix.lower() == ".dxf" else "svg"
    if hashlib.sha256(path.read_bytes()).hexdigest() != row.sha256.get(kind):
        text = f"{path.name}: is not the file that was written: make it again, or copy it again"
        yield Finding("changed", "error", text)
    yield from judge_lay(reader(path), expected_from(summary, row))


def _arranged(job: Job, effort: Effort, findings: list[Finding]) -> tuple[Lay, ...]:
    """The lays of every cloth, one cloth after the other; time is shared by caps."""
    lays: list[Lay] = []
    wrong: list[Finding] = []
    first_cap = 1
    ordered = sum(line.quantity for line in job.caps)
    for cloth in job.cloths:
        lines = job.lines_for(cloth)
        if not lines:
            text = (
                f"{job.source}: cloth {cloth.name!r} is used by no [[caps]]: nothing is cut of it"
            )
            findings.append(Finding("unused-cloth", "note", text))
            continue
        cuts = cut_list(job, cloth, first_number=first_cap)
        first_cap += len(cuts.caps)
        findings.extend(cuts.findings)
        unsuited = tool_findings(cuts.caps, job.machine, source=job.source)
        if unsuited:
            wrong.extend(unsuited)
            continue
        share = sum(line.quantity for line in lines) / ordered
        part = Effort(effort.seconds * share, effort.seed, effort.stop, effort.report)
        try:
            found = arrange(
                cuts,
                job.machine,
                part,
                unit=job.length_unit,
                source=job.source,
                first_number=len(lays) + 1,
            )
        except JobError as error:
            wrong.extend(error.findings)
            continue
        lays.extend(found)
        findings.extend(_cloth_findings(job, cloth, found))
    if wrong:
        raise JobError(wrong)
    return tuple(lays)


def _cloth_findings(job: Job, cloth: Cloth, lays: Sequence[Lay]) -> list[Finding]:
    findings = []
    unit = job.length_unit
    used = sum(lay.length_mm * cloth.plies for lay in lays)
    noun = "lay" if len(lays) == 1 else "lays"
    if cloth.length_mm is not None and used > cloth.length_mm:
        findings.append(
            Finding(
                "cloth-short",
                "warning",
                f"{job.source}: {cloth.name!r}: the order takes {format_length(used, unit)} in "
                f"{len(lays)} {noun} and there are {format_length(cloth.length_mm, unit)}: have "
                f"{format_length(used - cloth.length_mm, unit)} more, or order fewer caps",
            )
        )
    bed = job.machine.bed_across_mm
    if bed is not None and bed < cloth.usable_width_mm:
        findings.append(
            Finding(
                "bed-narrow",
                "warning",
                f"{job.source}: {cloth.name!r}: the bed takes {format_length(bed, unit)} across, "
                f"and the usable cloth is {format_length(cloth.usable_width_mm, unit)}: pieces "
                "lie on the first part only",
            )
        )
    return findings


@dataclass(frozen=True, slots=True)
class _Proved:
    """Lay files that were written aside, read again and found right: their bytes by name, and
    each lay's drawing as it was read."""

    contents: dict[str, bytes]
    drawings: tuple[ReadDrawing, ...]


def _written_and_proved(
    job: Job, lays: Sequence[Lay], plans: Sequence[CutPlan], place: Staging
) -> _Proved:
    """Write every lay's files aside, read them again and judge them against their lays.

    Raises
    ------
    VerdictError
        If any of them is wrong; earlier results have been moved out of the way by then.
    """
    contents: dict[str, bytes] = {}
    drawings: list[ReadDrawing] = []
    wrong: list[Finding] = []
    for lay, plan in zip(lays, plans, strict=True):
        expected = expected_of(lay, job.machine, _LAYERS)
        for suffix, content in ((".dxf", dxf_bytes(plan)), (".svg", svg_bytes(plan, job.title))):
            written = place.write(lay.name + suffix, content)
            contents[written.name] = content
            drawing = _READERS[suffix](written)
            wrong.extend(errors_of(judge_lay(drawing, expected)))
            if suffix == ".dxf":
                drawings.append(drawing)
    if wrong:
        older = place.withdraw_older()
        if older:
            text = f"older results were moved to {older.name}, so that none is cut by mistake"
            wrong.append(Finding("older-results", "note", text))
        raise VerdictError(wrong)
    return _Proved(contents, tuple(drawings))
