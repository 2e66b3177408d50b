"""Reading a TOML file and saying what is wrong with it, in plain words."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any, Final

from pydantic import BaseModel, ValidationError

from cutfiles.errors import Finding, JobError, did_you_mean

_LARGEST_FILE: Final = 1_000_000


def parsed_toml(content: bytes, source: str) -> dict[str, Any]:
    """The tables of a TOML file in UTF-8.

    Raises
    ------
    JobError
        If it is none.
    """
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


def validation_findings(
    error: ValidationError, source: str, form: type[BaseModel], what: str
) -> Iterator[Finding]:
    """What a form of a file found wrong with it, in words, each with its place; ``what`` is the
    kind of file."""
    for item in error.errors(include_url=False):
        where = _field_path(item["loc"])
        kind, value = item["type"], item["input"]
        if kind == "extra_forbidden":
            text = f"{source}: {where}: {_unknown_key(item['loc'], form, what)}"
            yield Finding("unknown-key", "error", text)
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
    """``("cloth", 0, "width")`` to ``[[cloth]] 1: width``, and ``("cloth", 0, "flaws", 1, "at")``
    to ``[[cloth]] 1: flaws 2: at``."""
    parts: list[str] = []
    rest = list(loc)
    if len(rest) >= 2 and isinstance(rest[1], int):
        parts.append(f"[[{rest[0]}]] {rest[1] + 1}")
        rest = rest[2:]
    elif len(rest) >= 2:
        parts.append(f"[{rest[0]}]")
        rest = rest[1:]
    keys: list[str] = []
    for part in rest:
        if isinstance(part, int):  # entries of a list are counted from 1, as tables are
            parts.append(f"{'.'.join(keys)} {part + 1}")
            keys = []
        else:
            keys.append(part)
    return ": ".join([*parts, *([".".join(keys)] if keys else [])])


def _unknown_key(loc: tuple[int | str, ...], form: type[BaseModel], what: str) -> str:
    key = str(loc[-1])
    fields = _table_at(loc[:-1], form).model_fields
    known = sorted(field.alias or name for name, field in fields.items())
    hint = did_you_mean(key, known, f"known here: {', '.join(known)}")
    return f"is no key of a {what}; {hint}"


def _table_at(loc: tuple[int | str, ...], table: type[BaseModel]) -> type[BaseModel]:
    for part in loc:
        if isinstance(part, str):
            annotation: Any = table.model_fields[part].annotation
            table = getattr(annotation, "__args__", (annotation,))[0]
    return table
