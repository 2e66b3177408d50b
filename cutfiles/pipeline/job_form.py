"""The keys of the job file as data for a form, from the models that check it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from cutfiles.job.document import JobDocument
from cutfiles.job.fields import Rule
from cutfiles.job.measures import MEASURES
from cutfiles.job.read_machine import TOOL_KEYS, usual_keys
from cutfiles.job.sizes import SIZES
from cutfiles.pipeline.job_text import models_in

_UNITS = {"length": "mm", "speed": "mm/s", "acceleration": "mm/s2", "time": "s"}


def job_form() -> dict[str, Any]:
    """The form: ``keys`` of the whole file; by style, ``measures``; ``sizes`` of the chart, from
    and to which head girth in mm; and what is ``usual``, by kind of machine and key.

    A key has ``name``, ``kind``, ``needed``, ``default`` (as a user would write it) and ``help``;
    by kind also ``choices``, ``low`` and ``high`` (with their ``unit``), ``most`` entries, or the
    ``keys`` of a ``table`` or of the ``tables`` of a list. ``by name`` is a table whose keys a user
    gives, each ``of`` one kind. A key of the machine may say which kinds alone have it:
    ``only_for``.
    """
    measures = {
        style: [_measure_row(name, asdict(measure)) for name, measure in known.items()]
        for style, known in MEASURES.items()
    }
    sizes = [
        {"name": size.name, "from_mm": size.girth_low_mm, "to_mm": size.girth_high_mm}
        for size in SIZES
    ]
    keys = _keys(JobDocument)
    (machine,) = (key for key in keys if key["name"] == "machine")
    for key in machine["keys"]:
        kinds = [kind for kind, known in TOOL_KEYS.items() if key["name"] in known]
        if kinds:
            key["only_for"] = kinds
    usual = {kind: usual_keys(kind) for kind in TOOL_KEYS}
    return {"keys": keys, "measures": measures, "sizes": sizes, "usual": usual}


def _measure_row(name: str, measure: dict[str, Any]) -> dict[str, Any]:
    unit = {"length": "mm"}.get(measure["kind"], "")
    kind = "length" if unit else "count" if measure["kind"] == "count" else "number"
    row = {"name": name, "kind": kind, "low": measure["low"], "high": measure["high"]}
    return row | {"unit": unit or measure["kind"], "help": measure["meaning"]}


def _keys(form: type[BaseModel]) -> list[dict[str, Any]]:
    return [_key(field.alias or name, field) for name, field in form.model_fields.items()]


def _key(name: str, field: FieldInfo) -> dict[str, Any]:
    kind = _kind(field.annotation, list(field.metadata))
    row = {"name": name, "needed": field.is_required(), **kind}
    default = _default(field, row)
    return row if default is None else row | {"default": default}


def _default(field: FieldInfo, row: dict[str, Any]) -> Any:
    default = None if field.is_required() else field.get_default(call_default_factory=True)
    if default is None or isinstance(default, BaseModel) or default in ([], (), {}):
        return None
    unit = row.get("unit")
    return f"{default:g} {unit}" if unit else default


def _kind(annotation: Any, metadata: list[Any]) -> dict[str, Any]:
    """What a value of a type is to whoever fills it in."""
    origin, inner = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _kind(inner[0], [*inner[1:], *metadata])
    rule = next((one for one in metadata if isinstance(one, Rule)), None)
    most = next((one.max_length for one in metadata if hasattr(one, "max_length")), None)
    models = list(models_in(annotation))
    if models:
        is_list = origin is list
        row: dict[str, Any] = {"kind": "tables" if is_list else "table", "help": ""}
        return row | {"keys": _keys(models[0])} | ({"most": most} if is_list else {})
    if rule is None and origin is list:
        return {"kind": "list", "of": _kind(inner[0], []), "help": ""}
    if rule is None and origin is dict:
        return {"kind": "by name", "of": _kind(inner[1], []), "help": ""}
    if rule is None:
        return {"kind": "yes or no" if annotation is bool else "text", "help": ""}
    row = {"kind": rule.kind, "help": rule.mend}
    if rule.choices:
        row["choices"] = list(rule.choices)
    if rule.low is not None:
        row["low"] = rule.low
    if rule.high is not None:
        row["high"] = rule.high
    if rule.kind in _UNITS:
        row["unit"] = _UNITS[rule.kind]
    return row
