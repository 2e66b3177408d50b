"""The pattern pieces alone, at 1:1: drawings, paper and a pattern for exchange."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.effort import Effort
from cutfiles.errors import Finding, errors_of
from cutfiles.files.astm_dxf import astm_dxf_bytes
from cutfiles.files.folder import Staging, staging
from cutfiles.files.paper_table import paper_table
from cutfiles.files.pdf import pdf_bytes
from cutfiles.files.summary import PATTERN_FORMAT, summary_table
from cutfiles.files.whole_file import table_bytes
from cutfiles.job.cloth import ON_GRAIN
from cutfiles.job.job import CapLine, Cloth, Job
from cutfiles.job.machine import Machine
from cutfiles.lay.arrange import arrange
from cutfiles.lay.lay import Lay, outline_of
from cutfiles.lay.table import APART
from cutfiles.paper.sheet import MOST_TILES, Paper, PaperSheet, paper_named
from cutfiles.paper.spread import SizedCap, paper_sheet
from cutfiles.pieces.cut_list import draft_line, pattern_cap, pattern_panel
from cutfiles.pieces.making_up import sewing_sheet
from cutfiles.pieces.ordered import CutList, OrderedCap, Panel
from cutfiles.pipeline.drawings import load_panels
from cutfiles.pipeline.manifests import PATTERN
from cutfiles.pipeline.prove import refuse, too_large, written_and_proved
from cutfiles.verdict.expected_paper import expected_paper
from cutfiles.verdict.judge_astm import judge_astm
from cutfiles.verdict.judge_paper import judge_paper
from cutfiles.verdict.read_astm import read_astm
from cutfiles.verdict.read_pdf import read_pdf

_PAPER_MM = 900.0
"""Drawings lie on a sheet at least this wide: an A0 roll, near enough."""


@dataclass(frozen=True, slots=True)
class Drafted:
    """What `draft_job` wrote: the names of all files, and what was found on the way."""

    names: tuple[str, ...]
    findings: tuple[Finding, ...]


def draft_job(
    job: Job, folder: Path, out: Path, *, paper_name: str = "A4", together: bool = False
) -> Drafted:
    """The pattern pieces of every line of a job, whose drawings lie from ``folder`` on, at 1:1, as
    SVG and DXF, as PDF in pages of a paper of `PAPERS`, and as DXF for exchange.

    Panels are not written for exchange: their drawing is that. A pattern that takes more than
    `MOST_TILES` pages gets no PDF, and a finding says so. Pieces are as drafted or drawn, not
    grown for shrinkage; outlines are cut lines, without kerf. With ``together`` there is one PDF
    a style and edge, all sizes on each other, in place of one a size. The files are read back and
    judged like cut files.

    Raises
    ------
    JobError, OutputError, VerdictError
        As `make_loaded` does; `JobError` too for a paper that is not known.
    """
    page = paper_named(paper_name)
    job = _off_the_cloth(job)
    panels, said = load_panels(job, folder)
    findings = list(said)
    pen = Machine("drag knife", 0.0, None, None, labels="text")
    lines = {_pattern_name(line): line for line in job.caps}
    patterns = {name: pattern_cap(line) for name, line in lines.items()}
    taken = {*patterns, *map(_shared_name, job.caps)}
    panel_patterns = _panel_patterns(panels, taken)
    patterns |= panel_patterns
    pattern_job = replace(job, machine=pen, caps=(), panels=())
    paper = Cloth("paper", _paper_mm(patterns.values()), 0.0, None, False, 1, 0.0, 0.0, "paper")
    lays = []
    for name, cap in patterns.items():
        cuts = CutList(paper, (cap,), ())
        (lay,) = arrange(cuts, pen, Effort(0.0, 1), unit="mm", source=job.source, spacing=APART)
        lays.append(replace(lay, name=name))
    plans = [cut_plan(lay, pen, seed=1) for lay in lays]
    with staging(out, PATTERN) as place:
        proved = written_and_proved(pattern_job, lays, plans, place)
        wrong: list[Finding] = []
        others: dict[str, str] = {}
        for name, line in lines.items():
            wrong.extend(_exchange_faults(line, f"{name}.astm.dxf", place))
            sheet_text = sewing_sheet(draft_line(line), line.style, line.edge)
            place.write(f"{name}-sewing.txt", sheet_text.encode("utf-8"))
            for other in (f"{name}.astm.dxf", f"{name}-sewing.txt"):
                others[other] = hashlib.sha256((place.folder / other).read_bytes()).hexdigest()
        papers: list[dict[str, Any]] = []
        for sheet in (
            *_paper_sheets(job.title, lines, page, together=together),
            *_panel_sheets(job.title, panel_patterns, page),
        ):
            if len(sheet.tiles) > MOST_TILES:
                findings.append(too_large(sheet, job.source))
            else:
                papers.append(_proved_paper(sheet, lays, place, wrong))
        refuse(wrong, place)
        names = [*proved.contents, *others, *(row["file"] for row in papers)]
        table = summary_table(
            pattern_job,
            lays,
            plans,
            findings,
            seed=1,
            contents=proved.contents,
            written=(*names, PATTERN),
            form=PATTERN_FORMAT,
        )
        place.write(PATTERN, table_bytes(table | {"papers": papers, "others": others}))
        place.publish()
    return Drafted((*sorted(names), PATTERN), tuple(findings))


def _proved_paper(
    sheet: PaperSheet, lays: Sequence[Lay], place: Staging, wrong: list[Finding]
) -> dict[str, Any]:
    """Write one pattern as pages aside, read it again and judge it; its row of the list."""
    name, content = f"{sheet.name}.pdf", pdf_bytes(sheet)
    read = read_pdf(place.write(name, content))
    wrong.extend(errors_of(judge_paper(read, expected_paper(sheet))))
    placed = {one.ordered.id: one for lay in lays for one in lay.placed}
    return paper_table(sheet, placed, name, content)


def _off_the_cloth(job: Job) -> Job:
    """The job with panels as a pattern shows them: opened, on their grain, on no print."""
    panels = tuple(
        replace(line, grain=ON_GRAIN, is_matched=False, stays_folded=False) for line in job.panels
    )
    return replace(job, panels=panels)


def _paper_mm(caps: Iterable[OrderedCap]) -> float:
    """The width of the sheet: wide enough for the widest piece on its grain."""
    bounds = [outline_of(piece).bounds for cap in caps for piece in cap.pieces]
    widest = max(top - bottom for _, bottom, _, top in bounds)
    return max(_PAPER_MM, widest + 2.0 * APART.margin_mm + 1.0)


def _pattern_name(line: CapLine) -> str:
    return re.sub(r"[^\w-]+", "-", f"pattern-{line.style}-{line.size.name}-{line.edge}{line.mark}")


def _shared_name(line: CapLine) -> str:
    """Of a line's PDF with all sizes of its style and edge."""
    return f"pattern-{line.style}-{line.edge}{line.mark}-together".replace(" ", "-")


def _panel_patterns(panels: Sequence[Panel], taken: Collection[str]) -> dict[str, OrderedCap]:
    """Panels by a name that no other pattern has, however a disk takes capitals."""
    named: dict[str, OrderedCap] = {}
    folded = {name.casefold() for name in taken}
    for number, panel in enumerate(panels, 1):
        plain = "pattern-" + re.sub(r"[^\w]+", "-", panel.name).strip("-")
        name, count = plain, 1
        while name.casefold() in folded:
            count += 1
            name = f"{plain}-{count}"
        folded.add(name.casefold())
        named[name] = pattern_panel(panel, number)
    return named


def _exchange_faults(line: CapLine, name: str, place: Staging) -> tuple[Finding, ...]:
    """Write one line's pattern for exchange aside, read it again and judge it."""
    draft, size = draft_line(line), line.size.name
    content = astm_dxf_bytes(draft, style=line.style, size=size, edge=line.edge)
    return errors_of(judge_astm(read_astm(place.write(name, content)), draft, size=size))


def _paper_sheets(
    title: str, lines: Mapping[str, CapLine], page: Paper, *, together: bool
) -> Iterator[PaperSheet]:
    """One sheet a line, or one a style and edge with its sizes from the smallest up."""
    groups: dict[str, list[CapLine]] = {}
    for name, line in lines.items():
        groups.setdefault(_shared_name(line) if together else name, []).append(line)
    for name, group in groups.items():
        group.sort(key=lambda line: line.size.girth_mm)
        caps = [SizedCap(line.size.name, pattern_cap(line)) for line in group]
        yield paper_sheet(name, title, group[0].style, caps, page)


def _panel_sheets(
    title: str, panels: Mapping[str, OrderedCap], page: Paper
) -> Iterator[PaperSheet]:
    """One sheet a panel."""
    for name, panel in panels.items():
        yield paper_sheet(name, title, panel.title, [SizedCap("", panel)], page)
