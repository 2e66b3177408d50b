"""The whole way, wired: the one module that knows every room, and the one that opens paths.

Nothing is printed here. What a caller may want to show comes by the callbacks of `Effort`
and in the results.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cutfiles.cuts.plan import CutPlan
from cutfiles.cuts.plan_cuts import cut_plan, tool_findings
from cutfiles.effort import Effort
from cutfiles.errors import Finding, JobError, VerdictError, errors_of
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.folder import PATTERN_FILES, Staging, check_folder, staging
from cutfiles.files.roles import INKS
from cutfiles.files.summary import summary_bytes, summary_table
from cutfiles.files.svg import svg_bytes
from cutfiles.job.cautions import cautions_for, check_safety
from cutfiles.job.job import Cloth, Job, Machine
from cutfiles.job.read import read_job
from cutfiles.lay.arrange import APART, arrange
from cutfiles.lay.lay import Lay
from cutfiles.pieces.cut_list import cut_list, pattern_cap, pattern_panel
from cutfiles.pieces.ordered import CutList, OrderedCap, Panel
from cutfiles.pieces.panel import read_panels
from cutfiles.preview.page import PreviewLay, PreviewSheet, preview_html
from cutfiles.units import format_length, format_order
from cutfiles.verdict.drawing import ReadDrawing
from cutfiles.verdict.expected import expected_of
from cutfiles.verdict.judge import judge_alone, judge_lay
from cutfiles.verdict.read_dxf import read_dxf
from cutfiles.verdict.read_summary import expected_from, read_summary
from cutfiles.verdict.read_svg import read_svg

_READERS: dict[str, Callable[[Path], ReadDrawing]] = {".dxf": read_dxf, ".svg": read_svg}
_PAPER_MM = 900.0
"""Patterns lie on a sheet of this width: an A0 roll, near enough."""

_MOST_BYTES = 10_000_000
"""Of one drawing: more is no pattern piece."""

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
        order = format_order(caps, sum(lay.panel_count for lay in self.lays))
        lines.append(f"{order}; every cut file was read back and found right.")
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


def load_panels(job: Job, folder: Path) -> tuple[tuple[Panel, ...], tuple[Finding, ...]]:
    """The panels of a job's drawings, whose names are relative to ``folder``, and what was found.

    Raises
    ------
    JobError
        With the findings of all drawings, if one of them cannot be read or cut.
    """
    panels: list[Panel] = []
    findings: list[Finding] = []
    names: set[str] = set()
    for line in job.panels:
        where = f"{job.source}: [[panels]] {line.number}: file: {line.file!r}"
        try:
            size = (folder / line.file).stat().st_size
            content = (folder / line.file).read_bytes() if size <= _MOST_BYTES else None
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or "no such name can be"
            text = f"{where} cannot be read: {reason}; give its path from the job file's folder"
            findings.append(Finding("no-file", "error", text))
            continue
        if content is None:
            text = (
                f"{where} has {size / 1e6:.0f} million bytes, and must have at most "
                f"{_MOST_BYTES / 1e6:.0f}: keep to the outlines of the pieces"
            )
            findings.append(Finding("too-large-file", "error", text))
            continue
        read, said = read_panels(content, line, source=job.source)
        findings.extend(said)
        panels.extend(_named_apart(panel, names) for panel in read)
    if errors_of(findings):
        raise JobError(findings)
    return tuple(panels), tuple(findings)


def _named_apart(panel: Panel, names: set[str]) -> Panel:
    """A panel under a name that no other has."""
    name, count = panel.name, 1
    while name in names:
        count += 1
        name = f"{panel.name} ({count})"
    names.add(name)
    return replace(panel, name=name, piece=replace(panel.piece, name=name))


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
    check_folder(out)
    panels, said = load_panels(job, path.parent)
    findings = [*check_safety(job), *said]
    lays = _arranged(job, panels, effort, findings)
    plans = tuple(cut_plan(lay, job.machine, seed=effort.seed) for lay in lays)
    with staging(out) as place:
        drawings, wrong = _written_and_read(job.title, lays, plans, job.machine, place)
        if wrong:
            older = place.withdraw_older()
            if older:
                text = f"older results were moved to {older.name}, so that none is cut by mistake"
                wrong.append(Finding("older-results", "note", text))
            raise VerdictError(wrong)
        summary = summary_table(
            job,
            lays,
            plans,
            findings,
            effort.seed,
            panels_ordered=sum(panel.line.quantity for panel in panels),
        )
        sheet = PreviewSheet(
            summary=summary,
            lays=tuple(
                PreviewLay(drawing, row)
                for drawing, row in zip(drawings, summary["lays"], strict=True)
            ),
            colours={role: ink.hex for role, ink in INKS.items()},
            cautions=cautions_for(job.machine.kind),
            findings=tuple(findings),
            length_unit=job.length_unit,
        )
        place.write("preview.html", preview_html(sheet))
        place.write("summary.json", summary_bytes(summary))
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
    panels, _ = load_panels(job, path.parent)
    patterns = (*map(pattern_cap, job.caps), *map(pattern_panel, panels))
    caps = {_pattern_name(cap): cap for cap in patterns}
    names: list[str] = []
    wrong: list[Finding] = []
    with staging(out, PATTERN_FILES) as place:
        for name, cap in caps.items():
            (lay,) = arrange(
                CutList(paper, (cap,), ()),
                pen,
                Effort(0.0, 1),
                unit="mm",
                source=job.source,
                spacing=APART,
            )
            plan = cut_plan(replace(lay, name=name), pen, seed=1)
            _, faults = _written_and_read(job.title, [replace(lay, name=name)], [plan], pen, place)
            wrong.extend(faults)
            names.extend((f"{name}.dxf", f"{name}.svg"))
        if wrong:
            raise VerdictError(wrong)
        place.publish()
    return tuple(names)


def _pattern_name(cap: OrderedCap) -> str:
    return "pattern-" + re.sub(r"[^\w]+", "-", cap.kind).strip("-")


def check_path(path: Path) -> Checked:
    """Judge a written file, or a whole output folder by its summary.

    Raises
    ------
    JobError
        If there is nothing there that can be judged.
    """
    if path.is_dir():
        return _check_folder_by_summary(path)
    reader = _READERS.get(path.suffix.lower())
    if not path.is_file() or reader is None:
        raise JobError.of(
            "no-file", f"{path}: is no DXF or SVG file, and no folder that make has written"
        )
    summary_path = path.parent / "summary.json"
    if summary_path.is_file():
        summary = read_summary(summary_path)
        for row in summary.lays:
            if path.name in row.files.values():
                findings = judge_lay(reader(path), expected_from(summary, row))
                return Checked((path.name,), findings)
    return Checked((path.name,), judge_alone(reader(path), _LAYERS["outline"]))


def _check_folder_by_summary(folder: Path) -> Checked:
    summary_path = folder / "summary.json"
    if not summary_path.is_file():
        text = f"{folder}: holds no summary.json: give a folder that make has written"
        raise JobError.of("no-file", text)
    summary = read_summary(summary_path)
    files: list[str] = []
    findings: list[Finding] = []
    for row in summary.lays:
        expected = expected_from(summary, row)
        for name in row.files.values():
            path = folder / Path(name).name
            files.append(path.name)
            if path.is_file():
                findings.extend(judge_lay(_READERS[path.suffix.lower()](path), expected))
            else:
                text = f"{path.name}: is named in summary.json and not there"
                findings.append(Finding("missing-file", "error", text))
    return Checked(tuple(files), tuple(findings))


def _arranged(
    job: Job, panels: Sequence[Panel], effort: Effort, findings: list[Finding]
) -> tuple[Lay, ...]:
    """The lays of every cloth, one cloth after the other; time is shared by what is ordered."""
    lays: list[Lay] = []
    wrong: list[Finding] = []
    first_cap = 1
    ordered = sum(line.quantity for line in job.caps)
    ordered += sum(panel.line.quantity for panel in panels)
    for cloth in job.cloths:
        here = sum(line.quantity for line in job.lines_for(cloth))
        here += sum(panel.line.quantity for panel in panels if panel.line.cloth == cloth.name)
        if not here:
            text = (
                f"{job.source}: cloth {cloth.name!r} is used by no [[caps]] and no "
                "[[panels]]: nothing is cut of it"
            )
            findings.append(Finding("unused-cloth", "note", text))
            continue
        cuts = cut_list(job, cloth, panels, first_number=first_cap)
        first_cap += sum(not cap.is_panel for cap in cuts.caps)
        findings.extend(cuts.findings)
        unsuited = tool_findings(cuts.caps, job.machine, source=job.source)
        if unsuited:
            wrong.extend(unsuited)
            continue
        share = here / ordered
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
    if cloth.length_mm is not None and used > cloth.length_mm:
        findings.append(
            Finding(
                "cloth-short",
                "warning",
                f"{job.source}: {cloth.name!r}: the order takes {format_length(used, unit)} in "
                f"{len(lays)} lays and there are {format_length(cloth.length_mm, unit)}: have "
                f"{format_length(used - cloth.length_mm, unit)} more, or order less",
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


def _written_and_read(
    title: str, lays: Sequence[Lay], plans: Sequence[CutPlan], machine: Machine, place: Staging
) -> tuple[list[ReadDrawing], list[Finding]]:
    """Write every cut file aside, read it again and judge it against its lay."""
    drawings: list[ReadDrawing] = []
    wrong: list[Finding] = []
    for lay, plan in zip(lays, plans, strict=True):
        expected = expected_of(lay, machine, _LAYERS)
        contents = {".dxf": dxf_bytes(plan), ".svg": svg_bytes(plan, title)}
        for suffix, content in contents.items():
            written = place.write(lay.name + suffix, content)
            drawing = _READERS[suffix](written)
            wrong.extend(errors_of(judge_lay(drawing, expected)))
            if suffix == ".dxf":
                drawings.append(drawing)
    return drawings, wrong
