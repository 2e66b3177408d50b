"""The pattern pieces alone, at 1:1: drawings, paper and a pattern for exchange."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.effort import Effort
from cutfiles.errors import Finding, JobError, errors_of
from cutfiles.files.astm_dxf import astm_dxf_bytes
from cutfiles.files.folder import Staging, staging
from cutfiles.files.pdf import pdf_bytes
from cutfiles.files.summary import PATTERN_FORMAT, summary_bytes, summary_table
from cutfiles.job.job import CapLine, Cloth, Machine
from cutfiles.lay.arrange import arrange
from cutfiles.lay.lay import outline_of
from cutfiles.lay.table import APART
from cutfiles.paper.sheet import PAPERS, Paper, PaperSheet
from cutfiles.paper.spread import SizedCap, paper_sheet
from cutfiles.pieces.cut_list import draft_line, pattern_cap, pattern_panel
from cutfiles.pieces.making_up import sewing_sheet
from cutfiles.pieces.ordered import CutList, OrderedCap, Panel
from cutfiles.pipeline.load import load_job, load_panels
from cutfiles.pipeline.prove import PATTERN, refuse, written_and_proved
from cutfiles.verdict.judge_astm import judge_astm
from cutfiles.verdict.judge_paper import judge_paper
from cutfiles.verdict.read_astm import read_astm
from cutfiles.verdict.read_pdf import read_pdf

_PAPER_MM = 900.0
"""Drawings lie on a sheet at least this wide: an A0 roll, near enough."""


def draft_job(
    path: Path, out: Path, *, paper_name: str = "A4", together: bool = False
) -> tuple[str, ...]:
    """The pattern pieces of every line of a job, at 1:1, as SVG and DXF, as PDF in pages of a
    paper of `PAPERS`, and as DXF for exchange; the names of all files written.

    Panels are written as SVG and DXF only: their drawing is their pattern. Pieces are as drafted
    or drawn, not grown for shrinkage; outlines are cut lines, without kerf. With
    ``together`` there is one PDF a style and edge, all sizes on each other, in place of one a
    size. The files are read back and judged like cut files.

    Raises
    ------
    JobError, OutputError, VerdictError
        As `make_job` does; `JobError` too for a paper that is not known.
    """
    page = next((p for p in PAPERS.values() if p.name.lower() == paper_name.lower()), None)
    if page is None:
        text = f"--paper: {paper_name!r} is not known: use {' or '.join(PAPERS)}"
        raise JobError.of("paper", text)
    job = load_job(path)
    panels, _ = load_panels(job, path.parent)
    pen = Machine("drag knife", 0.0, None, None)
    lines = {_pattern_name(line): line for line in job.caps}
    patterns = {name: pattern_cap(line) for name, line in lines.items()}
    patterns |= _panel_patterns(panels, patterns)
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
        names = list(proved.contents)
        wrong: list[Finding] = []
        for name, line in lines.items():
            names.append(f"{name}.astm.dxf")
            wrong.extend(_exchange_faults(line, names[-1], place))
            names.append(f"{name}-sewing.txt")
            sheet_text = sewing_sheet(draft_line(line), line.style, line.edge)
            place.write(names[-1], sheet_text.encode("utf-8"))
        for sheet in _paper_sheets(job.title, lines, page, together=together):
            names.append(f"{sheet.name}.pdf")
            written = place.write(names[-1], pdf_bytes(sheet))
            wrong.extend(errors_of(judge_paper(read_pdf(written), sheet)))
        refuse(wrong, place)
        table = summary_table(
            pattern_job,
            lays,
            plans,
            (),
            seed=1,
            contents=proved.contents,
            written=(*names, PATTERN),
            form=PATTERN_FORMAT,
        )
        place.write(PATTERN, summary_bytes(table))
        place.publish()
    return (*sorted(names), PATTERN)


def _paper_mm(caps: Iterable[OrderedCap]) -> float:
    """The width of the sheet: wide enough for the widest piece on its grain."""
    bounds = [outline_of(piece).bounds for cap in caps for piece in cap.pieces]
    widest = max(top - bottom for _, bottom, _, top in bounds)
    return max(_PAPER_MM, widest + 2.0 * APART.margin_mm + 1.0)


def _pattern_name(line: CapLine) -> str:
    return re.sub(r"[^\w-]+", "-", f"pattern-{line.style}-{line.size.name}-{line.edge}{line.mark}")


def _panel_patterns(
    panels: Sequence[Panel], taken: Mapping[str, OrderedCap]
) -> dict[str, OrderedCap]:
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
        shared = f"pattern-{line.style}-{line.edge}{line.mark}-together".replace(" ", "-")
        groups.setdefault(shared if together else name, []).append(line)
    for name, group in groups.items():
        group.sort(key=lambda line: line.size.girth_mm)
        caps = [SizedCap(line.size.name, pattern_cap(line)) for line in group]
        yield paper_sheet(name, title, group[0].style, caps, page)
