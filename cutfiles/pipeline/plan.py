"""How to cut an order with few lays and little cloth: a plan, and a job file for every lay."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from cutfiles.cuts.plan_cuts import tool_findings
from cutfiles.effort import Effort
from cutfiles.errors import Finding, JobError, errors_of
from cutfiles.files.folder import check_folder, staging
from cutfiles.files.lay_job import LayLine, LayPanels, lay_job_bytes
from cutfiles.files.whole_file import table_bytes
from cutfiles.job.cautions import check_safety
from cutfiles.job.job import CapLine, Job
from cutfiles.job.toml_text import parsed_toml
from cutfiles.pieces.ordered import Panel
from cutfiles.pipeline.drawings import load_panels
from cutfiles.pipeline.lists import cut_lists
from cutfiles.pipeline.many_nests import nests_on
from cutfiles.pipeline.plan_cloth import check_planned, plan_cloths
from cutfiles.pipeline.plan_kinds import Kind
from cutfiles.pipeline.plan_search import ClothPlan, PlanSearch
from cutfiles.plies.order import SpreadLay
from cutfiles.units import counted, format_length, format_order

PLAN_FORMAT: Final = "cutfiles-plan/1"
TABLE: Final = "plan.json"
TEXT: Final = "plan.txt"


@dataclass(frozen=True, slots=True)
class Planned:
    """What `plan_job` left in the output folder: the plan as plain values, and in words."""

    table: dict[str, Any]
    text: str
    findings: tuple[Finding, ...]


def plan_job(
    job: Job,
    path: Path,
    out: Path,
    effort: Effort,
    *,
    workers: int,
    cluster: str | None,
    hear: Callable[[str], None],
) -> Planned:
    """Plan the lays of a job, as it was loaded from a path, in ``out``: ``plan.json``,
    ``plan.txt``, and a job file for each lay, whose nest is kept for `make`. Nests are made by so
    many processes, or by a cluster.

    Raises
    ------
    JobError, OutputError
        If the job, the cluster or the folder is wrong; the folder keeps what it had.
    """
    check_folder(out, TABLE, (TABLE, TEXT, "lay-01.toml"))
    check_planned(job)
    panels, said = load_panels(job, path.parent)
    findings = [*check_safety(job), *said]
    _check_tool(job, panels, findings)
    cloths = plan_cloths(job, panels, findings)
    with nests_on(workers, cluster) as nests:
        search = PlanSearch(
            cloths, nests, seconds=effort.seconds, seed=effort.seed, stop=effort.stop, hear=hear
        )
        plans = search.plans()
    rows = list(_numbered(plans))
    findings += _overcut(plans)
    table = _table(job, plans, rows, findings)
    text = "\n".join(_lines(job, plans, rows)) + "\n"
    order = parsed_toml(path.read_bytes(), path.name)
    table["written"] = [TABLE, TEXT, *(f"{name}.toml" for name, *_ in rows)]
    with staging(out, TABLE) as place:
        for row in rows:
            place.write(f"{row[0]}.toml", _lay_job(order, row, path.parent, out))
        place.write(TEXT, text.encode("utf-8"))
        place.write(TABLE, table_bytes(table))
        place.publish()
    for one in plans:
        for nest in one.nests:
            effort.keep(nest.key, nest.text)
    return Planned(table, text, tuple(findings))


_Row = tuple[str, ClothPlan, SpreadLay, float]
"""A lay: its name, its cloth's plan, itself, and the time to cut it in seconds."""


def _numbered(plans: tuple[ClothPlan, ...]) -> Iterator[_Row]:
    number = 0
    for one in plans:
        for lay, nest in zip(one.plan.lays, one.nests, strict=True):
            number += 1
            yield f"lay-{number:02d}", one, lay, nest.time_s or 0.0


def _check_tool(job: Job, panels: Sequence[Panel], findings: list[Finding]) -> None:
    """Raise `JobError` for pieces that cannot be drafted, or that the tool cannot cut."""
    wrong: list[Finding] = []
    said: list[Finding] = []
    for cuts in cut_lists(job, panels, said, wrong):
        of_tool = tool_findings(cuts, job.machine, source=job.source)
        findings.extend(f for f in of_tool if f.severity != "error")
        wrong.extend(errors_of(of_tool))
    if wrong:
        raise JobError(wrong)


def _lay_job(order: dict[str, Any], row: _Row, home: Path, out: Path) -> bytes:
    name, one, lay, _ = row
    planned = one.planned
    each = lay.plies * planned.terms.layers
    lines, panels = [], []
    for kind, count in zip(planned.kinds, lay.mix, strict=True):
        line, cut = kind.line, kind.cut(count * each)
        if not count:
            continue
        if isinstance(line, CapLine):
            lines.append(LayLine(line.number, line.size.name, cut, line.pieces))
        else:
            key = "sets" if line.quantity is None else "quantity"
            panels.append(LayPanels(line.number, _seen(line.file, home, out), key, cut))
    file = order["machine"].get("file")
    return lay_job_bytes(
        order,
        cloth=planned.cloth.name,
        roll=planned.cloth.each_roll[lay.roll].roll,
        plies=lay.plies,
        lines=lines,
        title=f"{planned.job.title[:180]}, {name}",
        panels=panels,
        machine_file=None if file is None else _seen(file, home, out),
        shelf=_seen(order["shelf"], home, out) if planned.is_from_shelf else None,
    )


def _seen(file: str, home: Path, out: Path) -> str:
    """A file, named from one folder, as seen from another."""
    return Path(os.path.relpath((home / file).resolve(), out.resolve())).as_posix()


def _overcut(plans: tuple[ClothPlan, ...]) -> Iterator[Finding]:
    for one in plans:
        cut = one.plan.caps(one.planned.terms.layers)
        for kind, layers in zip(one.planned.kinds, cut, strict=True):
            count = kind.cut(layers)
            if count > kind.ordered:
                text = (
                    f"{one.planned.job.source}: {kind.where}: {kind.name}: {count} are cut of "
                    f"{one.planned.cloth.name!r}, {count - kind.ordered} more than ordered, as "
                    f"overcut = {kind.overcut} allows"
                )
                yield Finding("over-cut", "note", text)


def _kinds(one: ClothPlan) -> list[str]:
    lines = [kind.line for kind in one.planned.kinds]
    sizes = [line.size.name if isinstance(line, CapLine) else line.name for line in lines]
    if len(set(sizes)) == len(sizes):
        return sizes
    return [
        f"{line.style} {line.size.name} {line.edge}{line.mark}"
        if isinstance(line, CapLine)
        else f"{line.name} ({line.number})"
        for line in lines
    ]


def _mix_text(one: ClothPlan, lay: SpreadLay) -> str:
    return ", ".join(
        f"{count} {kind}" for count, kind in zip(lay.mix, _kinds(one), strict=True) if count
    )


def _lines(job: Job, plans: tuple[ClothPlan, ...], rows: list[_Row]) -> Iterator[str]:
    unit = job.length_unit
    in_a_ply = "caps and panels" if any(one.planned.has_panels for one in plans) else "caps"
    cells = [("lay", "cloth", f"{in_a_ply} in one ply", "plies", "length", "cloth in all", "time")]
    for name, one, lay, time_s in rows:
        cells.append(
            (
                name,
                one.planned.cloth.each_roll[lay.roll].called,
                _mix_text(one, lay),
                str(lay.plies),
                format_length(lay.length_mm, unit),
                format_length(lay.drawn_mm, unit),
                f"{math.ceil(time_s / 60)} min",
            )
        )
    widths = [max(len(row[column]) for row in cells) for column in range(len(cells[0]))]
    for row in cells:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
    yield ""
    for one in plans:
        plan, before = one.plan, sum(lay.drawn_mm for lay in one.in_order)
        yield (
            f"{one.planned.cloth.name}: {_cut_text(one)} in "
            f"{counted(len(plan.lays), 'lay')} on {format_length(plan.cloth_mm, unit)}; one-size "
            f"lays cut in order: {counted(len(one.in_order), 'lay')} on "
            f"{format_length(before, unit)}; saved {1.0 - plan.cloth_mm / before:.1%}; at most "
            f"{plan.gap:.1%} above the least of the lays that were nested"
        )
    yield "Lengths are from nests; cloth in all counts the ends of every ply."


def _cut(one: ClothPlan) -> list[tuple[Kind, int]]:
    """What is cut of every kind."""
    layers = one.plan.caps(one.planned.terms.layers)
    return [(k, k.cut(n)) for k, n in zip(one.planned.kinds, layers, strict=True)]


def _cut_text(one: ClothPlan) -> str:
    caps = sum(count for kind, count in _cut(one) if not kind.panels)
    panels = sum(count * len(kind.panels) for kind, count in _cut(one) if kind.panels)
    parts = {
        piece for k in one.planned.kinds if isinstance(k.line, CapLine) for piece in k.line.pieces
    }
    of_them = f" ({', '.join(sorted(parts))})" if parts else ""
    return format_order(caps, panels) + of_them


def _cut_rows(one: ClothPlan) -> dict[str, Any]:
    """What is ordered and cut of a cloth: caps, and panels if there are any."""
    caps: list[dict[str, Any]] = []
    panels: list[dict[str, Any]] = []
    for kind, cut in _cut(one):
        line, counts = kind.line, {"ordered": kind.ordered, "cut": cut}
        if isinstance(line, CapLine):
            row: dict[str, Any] = {"line": line.number, "style": line.style, "size": line.size.name}
            row |= {"edge": line.edge, **({"pieces": line.pieces} if line.pieces else {})}
            caps.append(row | counts)
        else:
            panels.append({"table": line.number, "name": line.name} | counts)
    return {"caps": caps} | ({"panels": panels} if panels else {})


def _laid_rows(one: ClothPlan, lay: SpreadLay) -> dict[str, Any]:
    """What lies in a lay: caps, and panels if there are any."""
    caps, panels = [], []
    for kind, count in zip(one.planned.kinds, lay.mix, strict=True):
        layers = count * lay.plies * one.planned.terms.layers
        row = {"in_one_layer": count, "cut": kind.cut(layers)}
        if count and kind.panels:
            panels.append({"table": kind.line.number} | row)
        elif count:
            caps.append({"line": kind.line.number} | row)
    return {"caps": caps} | ({"panels": panels} if panels else {})


def _roll_of(one: ClothPlan, lay: SpreadLay) -> dict[str, str]:
    """Which roll a lay is spread from, where it has a name."""
    roll = one.planned.cloth.each_roll[lay.roll].roll
    return {} if roll is None else {"roll": roll}


def _table(
    job: Job, plans: tuple[ClothPlan, ...], rows: list[_Row], findings: list[Finding]
) -> dict[str, Any]:
    return {
        "format": PLAN_FORMAT,
        "title": job.title,
        "cloths": [
            {
                "cloth": one.planned.cloth.name,
                "most_plies": one.planned.terms.most_plies,
                "lay_worth_mm": one.plan.lay_worth_mm,
                "lays": len(one.plan.lays),
                "cloth_mm": round(one.plan.cloth_mm, 1),
                "gap": round(one.plan.gap, 5),
                **_cut_rows(one),
                "one_size_lays": {
                    "lays": len(one.in_order),
                    "cloth_mm": round(sum(lay.drawn_mm for lay in one.in_order), 1),
                },
            }
            for one in plans
        ],
        "lays": [
            {
                "name": name,
                "cloth": one.planned.cloth.name,
                **_roll_of(one, lay),
                "plies": lay.plies,
                **_laid_rows(one, lay),
                "length_mm": round(lay.length_mm, 3),
                "cloth_mm": round(lay.drawn_mm, 3),
                "time_s": round(time_s, 1),
                "file": f"{name}.toml",
            }
            for name, one, lay, time_s in rows
        ],
        "findings": [finding.table() for finding in findings],
    }
