"""The shelf: cloth in stock, and how a job's tables of cloth are filled in from it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any, Final

from pydantic import ValidationError

from cutfiles.errors import Finding, JobError, did_you_mean, nearest
from cutfiles.job.cloth_checks import cloth_checks
from cutfiles.job.document import LENGTH_UNITS, ClothTable, ShelfDocument, StockTable
from cutfiles.job.job import ShelfUse
from cutfiles.job.toml_text import parsed_toml, validation_findings
from cutfiles.units import parse_length_mm

_LENGTHS: Final = {
    "width", "length", "selvedge", "thickness", "flaws", "print_repeat", "print_starts", "outline",
}  # fmt: skip
_ON_THE_SHELF: Final = set(StockTable.model_fields) - {"name", "roll"}


@dataclass(frozen=True, slots=True)
class Shelf:
    """A shelf as read: its file's name as the job gives it, the hash of its bytes, and its tables
    of stock as written, lengths with their unit."""

    file: str
    sha256: str
    tables: tuple[Mapping[str, Any], ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Of the cloths in stock."""
        return tuple(str(table["name"]) for table in self.tables)

    def rolls_of(self, name: str) -> tuple[str, ...]:
        """The names of the rolls of a cloth in stock."""
        tables = [table for table in self.tables if table["name"] == name]
        return tuple(str(table["roll"]) for table in tables if "roll" in table)


def read_shelf(content: bytes, *, file: str) -> Shelf:
    """Read and check a shelf.

    Raises
    ------
    JobError
        With one finding for everything that is wrong.
    """
    table = parsed_toml(content, file)
    unit = table.get("length_unit", "mm")
    unit = unit if unit in LENGTH_UNITS else "mm"
    try:
        document = ShelfDocument.model_validate(table, context={"length_unit": unit})
    except ValidationError as error:
        raise JobError(validation_findings(error, file, ShelfDocument, "shelf")) from None
    cloths = [ClothTable.model_construct(None, **dict(stock)) for stock in document.stock]
    findings = [
        finding
        for number, cloth in enumerate(cloths, 1)
        for finding in cloth_checks(cloths, cloth, f"{file}: [[stock]] {number}")
    ]
    if findings:
        raise JobError(findings)
    tables = tuple(_spelled_out(stock, unit, file) for stock in table.get("stock", []))
    return Shelf(file, hashlib.sha256(content).hexdigest(), tables)


def drawn_from(
    cloths: Sequence[Any], shelf: Shelf, source: str
) -> tuple[list[dict[str, Any]], ShelfUse]:
    """A job's tables of cloth, those that are in stock filled in, one for each remnant and each
    roll, or the roll that the table names; and which table of stock each comes from.

    Raises
    ------
    JobError
        If a table gives what the shelf says, or has no measures and is not in stock.
    """
    filled: list[dict[str, Any]] = []
    numbers: list[int] = []
    written: list[int] = []
    wrong: list[Finding] = []
    for number, cloth in enumerate(cloths, 1):
        where = f"{source}: [[cloth]] {number}"
        stock = _stock_of(cloth, shelf)
        if not stock:
            wrong.extend(_not_in_stock(cloth, shelf, where))
            filled.append(cloth)
            numbers.append(0)
            written.append(number)
            continue
        if taken := set(stock) & set(numbers):
            text = (
                f"{where}: name: [[stock]] {min(taken)} is drawn by a table before: leave one of "
                "them out"
            )
            wrong.append(Finding("bad-value", "error", text))
        for key in sorted(_ON_THE_SHELF & set(cloth)):
            text = (
                f"{where}: {key}: {cloth['name']!r} is on the shelf, which says it: leave it "
                "out, or give the cloth a name that is not on the shelf"
            )
            wrong.append(Finding("bad-value", "error", text))
        filled.extend({**shelf.tables[one - 1], **cloth} for one in stock)
        numbers.extend(stock)
        written.extend([number] * len(stock))
    if wrong:
        raise JobError(wrong)
    return filled, ShelfUse(shelf.file, shelf.sha256, tuple(numbers), tuple(written))


def _stock_of(cloth: Any, shelf: Shelf) -> list[int]:
    if not isinstance(cloth, dict):
        return []
    return [
        number
        for number, table in enumerate(shelf.tables, 1)
        if table["name"] == cloth.get("name")
        and ("roll" not in cloth or table.get("roll") == cloth["roll"])
    ]


def _not_in_stock(cloth: Any, shelf: Shelf, where: str) -> Iterator[Finding]:
    """A table without measures is meant to be in stock, and one of a cloth that is there names one
    of its rolls."""
    name = cloth.get("name") if isinstance(cloth, dict) else None
    if not isinstance(name, str):
        return
    if name in shelf.names:
        roll, rolls = str(cloth["roll"]), shelf.rolls_of(name)
        near = nearest(roll, rolls)
        listed = ", ".join(map(repr, rolls)) or "none has a name"
        hint = did_you_mean(roll, [near] if near else [], f"rolls in stock: {listed}")
        text = f"{where}: roll: {roll!r} of {name!r} is not on the shelf {shelf.file!r}; {hint}"
        yield Finding("bad-value", "error", text)
        return
    if {"width", "outline"} & set(cloth):
        return
    near = nearest(name, shelf.names)
    listed = ", ".join(map(repr, dict.fromkeys(shelf.names))) or "nothing"
    hint = did_you_mean(name, [near] if near else [], f"in stock: {listed}")
    text = f"{where}: name: {name!r} is not on the shelf {shelf.file!r}; {hint}"
    yield Finding("bad-value", "error", text)


def _spelled_out(stock: Mapping[str, Any], unit: str, file: str) -> dict[str, Any]:
    """A table of stock whose lengths carry their unit, and whose drawing is named from the job's
    folder."""
    table = {
        key: _with_unit(value, unit) if key in _LENGTHS else value for key, value in stock.items()
    }
    if isinstance(table.get("outline"), str):
        table["outline"] = str(PurePosixPath(file).parent / table["outline"])
    return table


def _with_unit(value: Any, unit: str) -> Any:
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, int | float):
        return f"{parse_length_mm(value, default_unit=unit):.6f} mm"
    if isinstance(value, list):
        return [_with_unit(part, unit) for part in value]
    if isinstance(value, dict):
        return {key: _with_unit(part, unit) for key, part in value.items()}
    return value
