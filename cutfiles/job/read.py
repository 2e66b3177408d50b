"""From the bytes of a job file to a `Job`, or to every finding at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence, Set
from typing import Any, Final, cast

from pydantic import BaseModel, ValidationError

from cutfiles.errors import Finding, JobError, did_you_mean
from cutfiles.job.checks import cross_checks
from cutfiles.job.cloth import Flaw, Grain, GrainRule, PrintRepeat, Remnant, Spread, at_origin
from cutfiles.job.document import (
    AS_MANY,
    LENGTH_UNITS,
    CapsTable,
    ClothTable,
    JobDocument,
    MachineTable,
    PanelsTable,
    PinnedTable,
)
from cutfiles.job.head_girths import size_mix
from cutfiles.job.job import (
    PANEL_ROLES,
    CapLine,
    Cloth,
    EdgeFinish,
    Job,
    PanelLine,
    PinnedPiece,
    StripGrain,
    Style,
    plain_name,
)
from cutfiles.job.machine import DEFAULT_KERF_MM, Machine, MachineKind
from cutfiles.job.measures import read_measures
from cutfiles.job.sizes import Size, made_to_measure, size_named

_LARGEST_FILE: Final = 1_000_000

EVEN_SHARE: Final = 0.5
"""Of women among the wearers, where the job gives none."""


def read_job(content: bytes, *, source: str) -> Job:
    """Read and check a whole job file.

    Parameters
    ----------
    content
        The file's bytes, TOML in UTF-8.
    source
        Its name, for messages.

    Raises
    ------
    JobError
        With one finding for everything that is wrong: file, field, value, limit and mend.
    """
    table = _parsed(content, source)
    unit = table.get("length_unit", "mm")
    context = {"length_unit": unit if unit in LENGTH_UNITS else "mm"}
    try:
        document = JobDocument.model_validate(table, context=context)
    except ValidationError as error:
        raise JobError(_findings(error, source)) from None
    findings = list(cross_checks(document, source))
    if findings:
        raise JobError(findings)
    return _job(document, source)


def _parsed(content: bytes, source: str) -> dict[str, Any]:
    if len(content) > _LARGEST_FILE:
        raise JobError.of(
            "too-large",
            f"{source}: {len(content)} bytes are too many for a job file (limit {_LARGEST_FILE}): "
            "give a job file, or split the order",
        )
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise JobError.of(
            "not-text",
            f"{source}: byte {error.start} is not UTF-8 text: a job file is plain text (TOML)",
        ) from None
    except RecursionError:
        text = f"{source}: not a job file: its tables are nested without end"
        raise JobError.of("not-toml", text) from None
    except ValueError as error:  # TOMLDecodeError, or a number of thousands of digits
        raise JobError.of(
            "not-toml",
            f"{source}: not a TOML file: {error}; see docs/reference/job-file.md for the form",
        ) from None


def _findings(error: ValidationError, source: str) -> Iterator[Finding]:
    for item in error.errors(include_url=False):
        where = _field_path(item["loc"])
        kind, value = item["type"], item["input"]
        if kind == "extra_forbidden":
            yield Finding("unknown-key", "error", f"{source}: {where}: {_unknown_key(item['loc'])}")
        elif kind == "missing":
            yield Finding("missing-key", "error", f"{source}: {where}: is missing: add it")
        elif kind == "value_error":
            yield Finding(
                "bad-value", "error", f"{source}: {where}: {_short(value)} {_reason(item)}"
            )
        else:
            text = f"{source}: {where}: {_short(value)}: {_plain(item)}"
            yield Finding("bad-value", "error", text)


def _reason(item: Any) -> str:
    return str(item["ctx"]["error"])


def _plain(item: Any) -> str:
    """pydantic's remaining messages, in the words of a TOML file."""
    context = item.get("ctx", {})
    return {
        "bool_type": "must be true or false",
        "string_type": "must be text in quotes",
        "string_too_short": "must not be empty",
        "string_too_long": f"must be at most {context.get('max_length')} characters",
        "list_type": "must be a list of tables: write its heading in double brackets",
        "too_short": "must have at least one entry",
        "too_long": f"must have at most {context.get('max_length')} entries",
        "model_type": "must be a table of keys",
        "model_attributes_type": "must be a table of keys",
    }.get(item["type"], str(item["msg"]))


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _field_path(loc: tuple[int | str, ...]) -> str:
    """``('cloth', 0, 'width')`` to ``[[cloth]] 1: width``."""
    parts: list[str] = []
    rest = list(loc)
    if len(rest) >= 2 and isinstance(rest[1], int):
        parts.append(f"[[{rest[0]}]] {rest[1] + 1}")
        rest = rest[2:]
    elif len(rest) >= 2:
        parts.append(f"[{rest[0]}]")
        rest = rest[1:]
    if rest:
        parts.append(".".join(str(part) for part in rest))
    return ": ".join(parts)


def _unknown_key(loc: tuple[int | str, ...]) -> str:
    key = str(loc[-1])
    fields = _table_at(loc[:-1]).model_fields
    known = sorted(field.alias or name for name, field in fields.items())
    hint = did_you_mean(key, known, f"known here: {', '.join(known)}")
    return f"is no key of a job file; {hint}"


def _table_at(loc: tuple[int | str, ...]) -> type[BaseModel]:
    table: type[BaseModel] = JobDocument
    for part in loc:
        if isinstance(part, str):
            annotation: Any = table.model_fields[part].annotation
            table = getattr(annotation, "__args__", (annotation,))[0]
    return table


def _job(document: JobDocument, source: str) -> Job:
    only = document.cloth[0].name
    folded = {table.name for table in document.cloth if table.spread == "folded"}
    tables: dict[str, list[tuple[int, ClothTable]]] = {}
    for number, table in enumerate(document.cloth, 1):
        tables.setdefault(table.name, []).append((number, table))
    return Job(
        source=source,
        title=document.title,
        length_unit=document.length_unit,
        cloths=tuple(_cloth(numbered) for numbered in tables.values()),
        caps=tuple(
            line
            for number, table in enumerate(document.caps, 1)
            for line in _cap_lines(table, number, only, document.length_unit)
        ),
        machine=_machine(document.machine),
        panels=tuple(
            _panel_line(table, number, only, folded)
            for number, table in enumerate(document.panels, 1)
        ),
        pinned=tuple(_pinned(table, number) for number, table in enumerate(document.pinned, 1)),
    )


def _pinned(table: PinnedTable, number: int) -> PinnedPiece:
    return PinnedPiece(number, table.piece, table.at, table.turn_deg % 360.0)


def _cloth(numbered: Sequence[tuple[int, ClothTable]]) -> Cloth:
    """One cloth of the tables of a name: one, or one for each remnant."""
    table = numbered[0][1]
    starts = table.print_starts
    repeat = PrintRepeat(
        table.print_repeat.along, table.print_repeat.across, starts.along or 0.0, starts.across
    )
    remnants = tuple(_remnant(number, one) for number, one in numbered if one.outline)
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
    )


def _remnant(number: int, table: ClothTable) -> Remnant:
    if isinstance(table.outline, str):
        return Remnant(number, table.outline, (), _flaws(table))
    return Remnant(number, None, at_origin(table.outline or ()), _flaws(table))


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


def _machine(table: MachineTable) -> Machine:
    kind = cast(MachineKind, table.kind)
    kerf_mm = DEFAULT_KERF_MM[kind] if table.kerf is None else table.kerf
    return Machine(kind, kerf_mm, table.bed.along, table.bed.across)
