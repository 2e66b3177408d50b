"""From the bytes of a job file to a `Job`, or to every finding at once."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence, Set
from dataclasses import replace
from typing import Any, Final, TypeVar, cast

from pydantic import BaseModel, ValidationError

from cutfiles.errors import Finding, JobError
from cutfiles.job.checks import cross_checks
from cutfiles.job.cloth import Flaw, Grain, GrainRule, PrintRepeat, Remnant, Spread, at_origin
from cutfiles.job.document import (
    LENGTH_UNITS,
    CapsTable,
    ClothTable,
    CostsTable,
    JobDocument,
    MachineFile,
    MachineKeys,
    PanelsTable,
    PinnedTable,
)
from cutfiles.job.fields import AS_MANY
from cutfiles.job.head_girths import size_mix
from cutfiles.job.job import (
    PANEL_ROLES,
    CapLine,
    Cloth,
    Costs,
    EdgeFinish,
    Job,
    PanelLine,
    PinnedPiece,
    ShelfUse,
    StripGrain,
    Style,
    plain_name,
)
from cutfiles.job.machine import Machine
from cutfiles.job.measures import read_measures
from cutfiles.job.read_machine import GivenMachine
from cutfiles.job.shelf import drawn_from, read_shelf
from cutfiles.job.sizes import Size, made_to_measure, size_named
from cutfiles.job.toml_text import parsed_toml, validation_findings
from cutfiles.units import priced_mm

EVEN_SHARE: Final = 0.5
"""Of women among the wearers, where the job gives none."""


def machine_file_of(content: bytes, *, source: str) -> str | None:
    """The name of the machine's file that a job file names; None where it names none that can be.

    Raises
    ------
    JobError
        If it is no TOML file.
    """
    machine = parsed_toml(content, source).get("machine")
    name = machine.get("file") if isinstance(machine, dict) else None
    return name if isinstance(name, str) else None


def read_job(
    content: bytes,
    *,
    source: str,
    machine_file: tuple[str, bytes] | None = None,
    open_shelf: Callable[[str], bytes] | None = None,
) -> Job:
    """Read and check a whole job file.

    Parameters
    ----------
    content
        The file's bytes, TOML in UTF-8.
    source
        Its name, for messages.
    machine_file
        Name and bytes of the file that the job's machine names, where it names one.
    open_shelf
        Gives the bytes of the shelf that the job names; needed if it names one.

    Raises
    ------
    JobError
        With one finding for everything that is wrong: file, field, value, limit and mend.
    """
    findings: list[Finding] = []
    table, use = parsed_toml(content, source), None
    if open_shelf is not None and isinstance(table.get("shelf"), str):
        try:
            shelf = read_shelf(open_shelf(table["shelf"]), file=table["shelf"])
            if isinstance(table.get("cloth"), list):
                table["cloth"], use = drawn_from(table["cloth"], shelf, source)
        except JobError as error:
            findings.extend(error.findings)
    has_cloth = not findings
    document = _read(JobDocument, table, source, findings)
    file: tuple[str, MachineKeys] | None = None
    if machine_file is not None:
        name, said = machine_file
        try:
            keys = _read(MachineFile, parsed_toml(said, name), name, findings)
        except JobError as error:
            raise JobError(_as_written([*findings, *error.findings], source, use)) from None
        file = None if keys is None else (name, keys)
    if document is None or not has_cloth:
        raise JobError(_as_written(findings, source, use))
    findings.extend(cross_checks(document, source))
    given = GivenMachine(source, document.machine, file)
    if document.machine.file is not None and machine_file is None:
        text = f"{source}: [machine]: file: {document.machine.file!r} is not there to be read"
        findings.append(Finding("no-file", "error", f"{text}: give its path"))
    elif machine_file is None or file is not None:
        wrong = list(given.findings())
        findings.extend(wrong or given.stack_findings(document, source))
    if findings:
        raise JobError(_as_written(findings, source, use))
    return _job(document, source, given.machine(), use)


def _as_written(findings: Sequence[Finding], source: str, use: ShelfUse | None) -> list[Finding]:
    """Findings that name tables of cloth by their numbers in the job's file, not among those that
    the shelf has made of them; what is then said twice, once."""
    if use is None:
        return list(findings)
    written = use.written
    head = re.compile(rf"(?<=^{re.escape(source)}: \[\[cloth\]\] )\d+")
    named = [
        replace(one, text=head.sub(lambda found: str(written[int(found[0]) - 1]), one.text))
        for one in findings
    ]
    return list(dict.fromkeys(named))


_Read = TypeVar("_Read", bound=BaseModel)


def _read(
    form: type[_Read], table: dict[str, Any], source: str, findings: list[Finding]
) -> _Read | None:
    """A table in its form; None, and what is wrong among the findings, where it is not in it."""
    unit = table.get("length_unit", "mm")
    context = {"length_unit": unit if unit in LENGTH_UNITS else "mm"}
    try:
        return form.model_validate(table, context=context)
    except ValidationError as error:
        what = "job file" if form is JobDocument else "machine's file"
        findings.extend(validation_findings(error, source, form, what))
        return None


def _job(document: JobDocument, source: str, machine: Machine, use: ShelfUse | None) -> Job:
    only = document.cloth[0].name
    folded = {table.name for table in document.cloth if table.spread == "folded"}
    tables: dict[str, list[tuple[int, ClothTable]]] = {}
    for number, table in enumerate(document.cloth, 1):
        tables.setdefault(table.name, []).append((number, table))
    return Job(
        source=source,
        title=document.title,
        length_unit=document.length_unit,
        cloths=tuple(_cloth(numbered, document.length_unit, use) for numbered in tables.values()),
        caps=tuple(
            line
            for number, table in enumerate(document.caps, 1)
            for line in _cap_lines(table, number, only, document.length_unit)
        ),
        machine=machine,
        panels=tuple(
            _panel_line(table, number, only, folded)
            for number, table in enumerate(document.panels, 1)
        ),
        pinned=tuple(_pinned(table, number) for number, table in enumerate(document.pinned, 1)),
        shelf=use,
        costs=None if document.costs is None else _costs(document.costs, document.length_unit),
    )


def _costs(table: CostsTable, unit: str) -> Costs:
    return Costs(
        currency=table.currency,
        elastic_mm=table.elastic / priced_mm(unit),
        thread_mm=table.thread / priced_mm(unit),
        machine_hour=table.machine_hour,
        hands_hour=table.hands_hour,
        minutes_a_cap=table.minutes_a_cap,
    )


def _pinned(table: PinnedTable, number: int) -> PinnedPiece:
    return PinnedPiece(number, table.piece, table.at, table.turn_deg % 360.0)


def _cloth(numbered: Sequence[tuple[int, ClothTable]], unit: str, use: ShelfUse | None) -> Cloth:
    """One cloth of the tables of a name: one, or one for each remnant or roll."""
    if len(numbered) > 1 and not numbered[0][1].outline:
        lengths = sorted(numbered, key=lambda one: -(one[1].length or 0.0))
        rolls = tuple(_cloth([one], unit, use) for one in lengths)
        total = sum(roll.length_mm or 0.0 for roll in rolls)
        return replace(rolls[0], length_mm=total, flaws=(), roll=None, rolls=rolls)
    number, table = numbered[0]
    starts = table.print_starts
    repeat = PrintRepeat(
        table.print_repeat.along, table.print_repeat.across, starts.along or 0.0, starts.across
    )
    remnants = tuple(_remnant(number, one, use) for number, one in numbered if one.outline)
    return Cloth(
        name=table.name,
        width_mm=table.width or max((r.size_mm[1] for r in remnants if r.corners), default=0.0),
        selvedge_mm=table.selvedge,
        length_mm=table.length,
        one_way=table.one_way,
        plies=table.plies,
        shrinkage_along_percent=table.shrinkage_percent.along,
        shrinkage_across_percent=table.shrinkage_percent.across,
        fibre=table.fibre,
        spread=cast(Spread, table.spread),
        flaws=() if remnants else _flaws(table),
        print_repeat=repeat if repeat != PrintRepeat() else None,
        remnants=remnants,
        price_mm=None if table.price is None else table.price / priced_mm(unit),
        thickness_mm=table.thickness,
        lay_worth_mm=table.lay_worth,
        number=number,
        roll=table.roll,
    )


def _remnant(number: int, table: ClothTable, use: ShelfUse | None) -> Remnant:
    called = use.called(number) if use else f"[[cloth]] {number}"
    if isinstance(table.outline, str):
        return Remnant(number, table.outline, (), _flaws(table), called)
    return Remnant(number, None, at_origin(table.outline or ()), _flaws(table), called)


def _flaws(table: ClothTable) -> tuple[Flaw, ...]:
    flaws = []
    for flaw in table.flaws:
        if flaw.size is not None:
            flaws.append(Flaw(flaw.at, flaw.size, is_hole=flaw.hole))
        elif flaw.diameter is not None:
            across = flaw.diameter
            corner = flaw.at[0] - across / 2.0, flaw.at[1] - across / 2.0
            flaws.append(Flaw(corner, (across, across), is_round=True, is_hole=flaw.hole))
    return tuple(flaws)


def _cap_lines(table: CapsTable, number: int, only_cloth: str, unit: str) -> Iterator[CapLine]:
    style = cast(Style, table.style)
    measures, _ = read_measures(style, table.measures, default_unit=unit)
    for size, quantity in _sizes(table):
        yield CapLine(
            style=style,
            size=size,
            quantity=quantity,
            edge=cast(EdgeFinish, table.edge),
            cloth=table.cloth or only_cloth,
            binding_grain=cast(StripGrain, table.binding_grain or "straight"),
            measures=tuple(sorted(measures.items())),
            number=number,
            grains=_grains(table),
            matched=table.match,
            as_many=table.quantity == AS_MANY,
            sources=_sources(table, table.cloth or only_cloth),
            pieces=table.pieces,
            overcut=table.overcut,
        )


def _sources(table: CapsTable, cloth: str) -> tuple[tuple[str, str], ...]:
    """The pieces that come from another cloth, and which."""
    return tuple(sorted((name, other) for name, other in table.sources.items() if other != cloth))


def _grains(table: CapsTable) -> tuple[tuple[str, GrainRule], ...]:
    """The rule of every piece that the table names."""
    return tuple(
        (name, GrainRule(cast(Grain, table.grain.get(name, "along")), table.tilt.get(name, 0.0)))
        for name in sorted({*table.grain, *table.tilt})
    )


def _panel_line(table: PanelsTable, number: int, only_cloth: str, folded: Set[str]) -> PanelLine:
    roles = ((role, getattr(table.roles, role)) for role in PANEL_ROLES)
    return PanelLine(
        number=number,
        file=table.file,
        name=plain_name(re.split(r"[/\\]", table.file)[-1].rpartition(".")[0]),
        quantity=table.quantity,
        cloth=table.cloth or only_cloth,
        grain_deg=table.grain_deg,
        unit=table.unit,
        on_fold=table.on_fold,
        gap_tolerance_mm=table.gap_tolerance,
        roles=tuple((role, names) for role, names in roles if names),
        grain=GrainRule(cast(Grain, table.grain), table.tilt),
        is_matched=table.match,
        stays_folded=table.on_fold and (table.cloth or only_cloth) in folded,
        size=table.size,
        sets=table.sets,
    )


def _sizes(table: CapsTable) -> tuple[tuple[Size, int], ...]:
    if table.wearers is not None:
        return size_mix(table.wearers, EVEN_SHARE if table.women is None else table.women)
    quantity = table.quantity if isinstance(table.quantity, int) else 1
    if table.head_girth is not None:
        return ((made_to_measure(table.head_girth), quantity),)
    return ((size_named(table.size or ""), quantity),)
