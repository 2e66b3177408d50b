"""Writing lay files aside, reading them again and judging them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from cutfiles.cuts.plan import CUT_ROLES, CutPlan, Role
from cutfiles.errors import Finding, VerdictError, errors_of
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.folder import Staging
from cutfiles.files.motion import motion_bytes
from cutfiles.files.pdf import pdf_bytes
from cutfiles.files.roles import inks_of
from cutfiles.files.svg import svg_bytes
from cutfiles.job.cautions import cautions_for
from cutfiles.job.job import Job
from cutfiles.job.written import ON_PAPER
from cutfiles.lay.lay import Lay
from cutfiles.paper.lay_sheet import lay_sheet
from cutfiles.paper.sheet import MOST_TILES, PAPERS, PaperSheet
from cutfiles.verdict.apart import joined
from cutfiles.verdict.drawing import ReadDrawing
from cutfiles.verdict.expected import ExpectedLay, expected_of, in_frames
from cutfiles.verdict.expected_paper import expected_paper
from cutfiles.verdict.judge import judge_lay
from cutfiles.verdict.judge_paper import judge_paper
from cutfiles.verdict.judge_tool import judge_passes, judge_room
from cutfiles.verdict.raster import raster_findings
from cutfiles.verdict.read_dxf import read_dxf
from cutfiles.verdict.read_pdf import read_pdf
from cutfiles.verdict.read_svg import read_svg
from cutfiles.verdict.tool_run import ToolRun, drawn, replayed

Reader = Callable[[Path], ReadDrawing]
READERS: Final[dict[str, Reader]] = {".dxf": read_dxf, ".svg": read_svg}
DRAWN: Final = ("dxf", "svg")
"""Kinds of files that show a whole lay."""


@dataclass(frozen=True, slots=True)
class Proved:
    """Lay files that were written aside, read again and found right: their bytes by name, and
    each lay's drawing as it was read."""

    contents: dict[str, bytes]
    drawings: tuple[ReadDrawing, ...]


def written_and_proved(
    job: Job, lays: Sequence[Lay], plans: Sequence[CutPlan], place: Staging
) -> Proved:
    """Write every lay's files aside, read them again and judge them against their lays.

    Raises
    ------
    VerdictError
        If any of them is wrong; earlier results have been moved out of the way by then.
    """
    contents: dict[str, bytes] = {}
    drawings: list[ReadDrawing] = []
    wrong: list[Finding] = []
    written = job.machine.written
    for lay, plan in zip(lays, plans, strict=True):
        expected = expected_of(lay, job.machine, written.layer_names, job.pinned)
        expected = replace(in_frames(expected, plan), tool_off_mm=plan.tool_off_mm)
        paths: dict[str, Path] = {}
        for kind, content in _contents(plan, job).items():
            name = lay.name + written.endings[kind]
            paths[kind] = place.write(name, content)
            contents[name] = content
        for kind in DRAWN:
            drawing = read_drawing(paths, kind, expected, written.apart)
            wrong.extend(errors_of(judge_lay(drawing, expected)))
            if kind == "svg":
                wrong.extend(raster_findings(paths[kind], expected))
            if kind == "dxf":
                drawings.append(drawing)
        for run in tool_runs(paths, expected):
            wrong.extend(errors_of(judge_passes(run, plan.passes)))
            wrong.extend(errors_of(judge_room(run, expected)))
    refuse(wrong, place)
    return Proved(contents, tuple(drawings))


def read_drawing(
    paths: Mapping[str, Path],
    kind: str,
    expected: ExpectedLay,
    apart: Collection[Role],
    readers: Mapping[str, Reader] = READERS,
) -> ReadDrawing:
    """A lay's drawing of a kind of `DRAWN`, with the marks that are written apart from it."""
    read = readers["." + kind]
    drawing = read(paths[kind])
    return joined(drawing, read(paths[f"marks_{kind}"]), expected, apart) if apart else drawing


def tool_runs(paths: Mapping[str, Path], expected: ExpectedLay) -> Iterator[ToolRun]:
    """The way of the tool, of every file of a lay that holds it."""
    if "tool" in paths:
        yield drawn(paths["tool"], expected.layers)
    if "motion" in paths:
        yield replayed(paths["motion"])


def _contents(plan: CutPlan, job: Job) -> dict[str, bytes]:
    """The bytes of one lay's files by kind."""
    machine, written = job.machine, job.machine.written
    inks = inks_of(written)
    first = {role: ink for role, ink in inks.items() if role not in written.apart}
    marks = {role: ink for role, ink in inks.items() if role in ("cloth", *written.apart)}
    cuts = {role: ink for role, ink in inks.items() if role in ("cloth", *CUT_ROLES)}
    contents = {
        "dxf": dxf_bytes(plan, inks=first, release=written.release),
        "svg": svg_bytes(plan, job.title, inks=first),
    }
    if written.apart:
        contents["marks_dxf"] = dxf_bytes(plan, inks=marks, release=written.release)
        contents["marks_svg"] = svg_bytes(plan, job.title, inks=marks)
    if written.tool_path:
        contents["tool"] = dxf_bytes(plan.of_passes, inks=cuts, release=written.release)
    if written.motion_code:
        contents["motion"] = motion_bytes(
            plan,
            title=job.title,
            feed_mm_min=60.0 * machine.pace.cut_mm_s,
            cautions=cautions_for(machine.kind),
        )
    return contents


def refuse(wrong: Sequence[Finding], place: Staging) -> None:
    """Raise `VerdictError` if anything is wrong, earlier results moved out of the way first."""
    if not wrong:
        return
    older = place.withdraw_older()
    text = (
        f"older results were moved to {older.name}, so that none is cut by mistake" if older else ""
    )
    raise VerdictError([*wrong, *([Finding("older-results", "note", text)] if older else [])])


def papers_proved(
    job: Job, lays: Sequence[Lay], place: Staging, findings: list[Finding]
) -> dict[str, bytes]:
    """Write every lay as pages of paper aside, where the job wants it, read it again and judge it;
    the bytes by name. A lay that takes more than `MOST_TILES` pages is left out, and
    ``findings`` says so.

    Raises
    ------
    VerdictError
        If any of them is wrong; earlier results have been moved out of the way by then.
    """
    contents: dict[str, bytes] = {}
    wrong: list[Finding] = []
    size = job.machine.written.paper
    for lay in lays if size else ():
        sheet = lay_sheet(lay, job.title, PAPERS[size or "A4"])
        if len(sheet.tiles) > MOST_TILES:
            findings.append(too_large(sheet, job.source))
            continue
        name, content = lay.name + ON_PAPER, pdf_bytes(sheet)
        read = read_pdf(place.write(name, content))
        wrong.extend(errors_of(judge_paper(read, expected_paper(sheet))))
        contents[name] = content
    refuse(wrong, place)
    return contents


def too_large(sheet: PaperSheet, source: str) -> Finding:
    """That a sheet takes more pages than are written."""
    text = (
        f"{source}: {sheet.name}: takes {len(sheet.tiles)} pages of {sheet.paper.name}, and more "
        f"than {MOST_TILES} are not written: have the SVG plotted at 1:1"
    )
    return Finding("large-paper", "warning", text)
