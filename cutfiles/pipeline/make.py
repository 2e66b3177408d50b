"""The whole way: job, pieces, lay, cuts, files, verdict, preview."""

from __future__ import annotations

import hashlib
import math
import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from cutfiles.cuts.plan import CutPlan
from cutfiles.cuts.plan_cuts import cut_plan, letter_findings
from cutfiles.effort import Effort
from cutfiles.errors import Finding
from cutfiles.files.folder import check_folder, staging
from cutfiles.files.roles import inks_of
from cutfiles.files.summary import summary_table
from cutfiles.files.whole_file import table_bytes
from cutfiles.job.cautions import cautions_for, check_safety
from cutfiles.job.job import Job
from cutfiles.job.written import ON_PAPER
from cutfiles.lay.lay import Lay, caps_of
from cutfiles.pipeline.cloth_report import with_counts
from cutfiles.pipeline.drawings import load_panels, load_remnants
from cutfiles.pipeline.load import load_job
from cutfiles.pipeline.manifests import PICTURE, PREVIEW, SHEETS, SUMMARY
from cutfiles.pipeline.nest import arranged
from cutfiles.pipeline.prove import papers_proved, written_and_proved
from cutfiles.preview.lay import PreviewLay
from cutfiles.preview.page import PreviewSheet, preview_html
from cutfiles.preview.png import lay_png
from cutfiles.units import counted, format_length, format_order


@dataclass(frozen=True, slots=True)
class Made:
    """What `make_job` left in the output folder."""

    job: Job
    folder: Path
    lays: tuple[Lay, ...]
    plans: tuple[CutPlan, ...]
    findings: tuple[Finding, ...]

    @property
    def cautions(self) -> tuple[str, ...]:
        """What is to be known before any of it is cut."""
        return cautions_for(self.job.machine.kind)

    def report(self) -> tuple[str, ...]:
        """What was made, a line a lay and one for all."""
        unit = self.job.length_unit
        lines = []
        for lay, plan in zip(self.lays, self.plans, strict=True):
            plies = counted(lay.cloth.layers, "ply", "plies")
            length = format_length(lay.length_mm, unit)
            lines.append(
                f"{lay.name}: {counted(len(lay.placed), 'piece')} on {length} of "
                f"{lay.cloth.called}, {plies}, {lay.efficiency:.1%} of the cloth used, "
                f"{_times(plan)}"
            )
        caps = caps_of(self.lays)
        order = format_order(caps, sum(lay.panel_count for lay in self.lays))
        lines.append(f"{order}; every cut file was read back and found right.")
        lines.append(f"Look before you cut: {self.folder / 'preview.html'}")
        return tuple(lines)


def _times(plan: CutPlan) -> str:
    """About how long it takes, what is only drawn apart, and what is cut once for two pieces."""
    cutting, marking = (
        f"{math.ceil(seconds / 60)} min"
        for seconds in (plan.time_s - plan.marking_s, plan.marking_s)
    )
    once = f", {plan.shared_mm / 1000.0:.1f} m of edges cut once for two" if plan.shared_mm else ""
    drawn = f" and {marking} to draw" if plan.marking_s else ""
    return f"about {cutting} to cut{drawn}{once}"


def _unheard(_lays: tuple[Lay, ...]) -> None:
    return None


def make_job(
    path: Path,
    out: Path,
    effort: Effort,
    hear: Callable[[tuple[Lay, ...]], None] = _unheard,
    *,
    pictures: bool = False,
) -> Made:
    """`make_loaded` of the job file at a path.

    Raises
    ------
    JobError, OutputError, VerdictError
        As `make_loaded` does; `JobError` too for what is wrong in the file.
    """
    return make_loaded(load_job(path), path.parent, out, effort, hear, pictures=pictures)


def make_loaded(
    job: Job,
    folder: Path,
    out: Path,
    effort: Effort,
    hear: Callable[[tuple[Lay, ...]], None] = _unheard,
    *,
    pictures: bool = False,
) -> Made:
    """From a job, whose drawings and shelf lie from ``folder`` on, to verified cut files, summary
    and preview in ``out``, with ``pictures`` one of each lay, too; ``hear`` is told of the lays
    before they are written.

    Raises
    ------
    JobError, OutputError
        If the job or the folder is wrong; the folder keeps what it had.
    VerdictError
        If a written file fails its check; no cut file is left under its final name.
    """
    written = job.machine.written
    endings = (
        *written.endings.values(),
        *([ON_PAPER] if written.paper else []),
        *([PICTURE] if pictures else []),
    )
    first = ("lay-01" + ending for ending in endings)
    check_folder(out, SUMMARY, (SUMMARY, PREVIEW, *first))
    job, said_of_cloth = load_remnants(job, folder)
    panels, said = load_panels(job, folder)
    findings = [*check_safety(job), *said_of_cloth, *said]
    lays = arranged(job, panels, effort, findings)
    hear(lays)
    job = with_counts(job, lays, findings)
    findings += letter_findings(lays, job.machine, source=job.source)
    plans = tuple(cut_plan(lay, job.machine, seed=effort.seed) for lay in lays)
    findings.extend(finding for plan in plans for finding in plan.findings)
    with staging(out, SUMMARY, SHEETS) as place:  # sheets of older lays go
        proved = written_and_proved(job, lays, plans, place)
        papers = papers_proved(job, lays, place, findings)
        drawn = [lay.name + PICTURE for lay in lays] if pictures else []
        names = (*proved.contents, *papers, *drawn, PREVIEW, SUMMARY)
        summary = summary_table(
            job,
            lays,
            plans,
            findings,
            seed=effort.seed,
            contents=proved.contents,
            written=names,
            panels_ordered=sum(panel.quantity for panel in panels),
            shelf_path=_path_between(out, folder / job.shelf.file) if job.shelf else None,
        )
        sheet = PreviewSheet(
            summary=summary,
            lays=tuple(
                PreviewLay(drawing, row, plan, summary["roles"])
                for drawing, row, plan in zip(proved.drawings, summary["lays"], plans, strict=True)
            ),
            colours={role: ink.hex for role, ink in inks_of(job.machine.written).items()},
            cautions=cautions_for(job.machine.kind),
            findings=tuple(findings),
            length_unit=job.length_unit,
        )
        others = dict(papers)
        for name, lay_shown in zip(drawn, sheet.lays, strict=False):
            others[name] = lay_png(lay_shown, sheet.colours)
            place.write(name, others[name])
        if others:
            prints = {name: hashlib.sha256(content).hexdigest() for name, content in others.items()}
            summary["others"] = prints
        place.write(PREVIEW, preview_html(sheet))
        place.write(SUMMARY, table_bytes(summary))
        place.publish()
    return Made(job, out, lays, plans, tuple(findings))


def _path_between(folder: Path, file: Path) -> str:
    """The way from a folder to a file; the whole path where there is none."""
    try:
        return Path(os.path.relpath(file.resolve(), folder.resolve())).as_posix()
    except ValueError:
        return file.resolve().as_posix()
