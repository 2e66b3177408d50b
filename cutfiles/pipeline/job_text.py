"""The text of a job that is being written: what is wrong with it now, and in which place."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from cutfiles.errors import Finding, JobError
from cutfiles.job.cautions import check_safety
from cutfiles.job.document import JobDocument
from cutfiles.job.job import Job
from cutfiles.job.toml_text import parsed_toml
from cutfiles.pipeline.load import cuttable, order_of

SOURCE = "job.toml"
"""The name of a job's file in findings, and in its folder."""

PlacePath = tuple[str | int, ...]


def job_of_text(text: str, folder: Path, drawings: Collection[str]) -> Job:
    """A job from its text, as `load_job` reads it; the only files that it may name are drawings in
    its folder.

    Raises
    ------
    JobError
        If anything in it is wrong or refused.
    """
    content = text.encode("utf-8")
    strange = list(_strange_files(parsed_toml(content, SOURCE), drawings))
    if strange:
        raise JobError(strange)
    return cuttable(order_of(content, folder / SOURCE))


def text_findings(text: str, folder: Path, drawings: Collection[str]) -> tuple[Finding, ...]:
    """All that a job's text has to be told before anything is drafted."""
    try:
        return tuple(check_safety(job_of_text(text, folder, drawings)))
    except JobError as error:
        return error.findings


def _strange_files(tables: Mapping[str, Any], drawings: Collection[str]) -> Iterator[Finding]:
    """Files that a job names and that were not added to it."""
    for where, name, mend in _files_named(tables):
        if name not in drawings:
            text = f"{SOURCE}: {where}: {name!r} is no file that was added to this job: {mend}"
            yield Finding("no-file", "error", text)


def _files_named(tables: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    """Every name of a file in a job's tables: where it stands, the name, what mends it."""
    add = "add the drawing here, and give the name that it is then kept under"
    alone = "files of machines and shelves are for the command line; write what it says here"
    for table, key in (("panels", "file"), ("cloth", "outline")):
        rows = tables.get(table)
        for number, row in enumerate(rows if isinstance(rows, list) else [], 1):
            if isinstance(row, dict) and isinstance(row.get(key), str):
                yield f"[[{table}]] {number}: {key}", row[key], add
    machine = tables.get("machine")
    if isinstance(machine, dict) and isinstance(machine.get("file"), str):
        yield "[machine]: file", machine["file"], alone
    if isinstance(tables.get("shelf"), str):
        yield "shelf", tables["shelf"], alone


_TABLE = re.compile(r"(?:\[\[(?P<many>\w+)\]\] (?P<number>\d+)|\[(?P<one>\w+)\])(?:: )?")
_KEYS = re.compile(r"(?P<keys>[\w.-]+)(?: (?P<entry>\d+)(?:: (?P<key>\w+)(?=:))?)?(?=:)")
_UNKNOWN = ": is no key"


def place_of(finding: Finding) -> PlacePath:
    """The place in the job's tables that a finding names at its beginning, lists counted from 0;
    empty where it names none."""
    rest = finding.text.removeprefix(f"{SOURCE}: ")
    if rest == finding.text:
        return ()
    table = _TABLE.match(rest)
    path: list[str | int] = []
    if table:
        rest = rest[table.end() :]
        path = [table["one"]] if table["one"] else [table["many"], int(table["number"]) - 1]
    keys = _KEYS.match(rest)
    if keys is None:
        return tuple(path)
    form = _form_at([part for part in path if isinstance(part, str)])
    parts = keys["keys"].split(".")
    is_unknown = rest[keys.end() :].startswith(_UNKNOWN)
    if form is None or not (is_unknown or parts[0] in _names(form)):
        return tuple(path)
    path += [int(part) if part.isdigit() else part for part in parts]
    if keys["entry"]:
        path.append(int(keys["entry"]) - 1)
    return (*path, keys["key"]) if keys["key"] else tuple(path)


def _form_at(path: list[str]) -> type[BaseModel] | None:
    if not path:
        return JobDocument
    field = JobDocument.model_fields.get(path[0])
    return next(iter(models_in(field.annotation)), None) if field else None


def _names(form: type[BaseModel]) -> set[str]:
    return {field.alias or name for name, field in form.model_fields.items()}


def models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    """The forms of tables in a type: itself, or within a list or a choice of types."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in getattr(annotation, "__args__", ()):
        yield from models_in(part)
