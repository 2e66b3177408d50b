"""Changes of a job file's text from the form: every other byte of it stays as it was.

A change is a path of keys and list numbers (from 0), and what is to be done there. Every new text
is read again and compared with the same change made to plain tables, so that a text that cannot be
changed in place is refused and never damaged.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

import tomlkit
from tomlkit import items
from tomlkit.exceptions import TOMLKitError

from cutfiles.web.toml_lines import Key, Line, Path, Section, sections_of, tables_of

Deed = Literal["set", "remove", "append"]

_ENTRIES: Final = ("cloth", "caps", "panels", "pinned")
"""What is written with a heading in double brackets for each entry."""

_HEADED: Final = ("machine", "costs")
"""What is written with a heading of its own."""

_FAULTS: Final = (TOMLKitError, LookupError, TypeError, ValueError, AttributeError, RecursionError)
"""What comes of a text that is written oddly."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change; the value is plain (text, numbers, yes or no, lists and tables of these), and of
    what is appended a list of that."""

    path: Path
    deed: Deed
    value: Any = None


class EditError(ValueError):
    """A change that cannot be made in place."""


def change_of(row: object) -> Change:
    """A change from its row of JSON.

    Raises
    ------
    EditError
        If it is none.
    """
    path = row.get("path") if isinstance(row, dict) else None
    if not isinstance(row, dict) or not isinstance(path, list) or not path:
        raise EditError("a change needs a path: a list of keys and numbers")
    if not all(isinstance(key, str | int) and not isinstance(key, bool) for key in path):
        raise EditError(f"path: {path!r}: must be keys and numbers")
    deeds: dict[str, Deed] = {"value": "set", "remove": "remove", "append": "append"}
    given = [name for name in deeds if name in row]
    if len(given) != 1 or set(row) - {"path", *deeds}:
        raise EditError(f"path: {path!r}: give one of value, remove and append with it")
    (name,) = given
    value = row[name]
    if _has_nothing(value) or (name == "remove" and value is not True):
        raise EditError(f"path: {path!r}: {name}: {value!r} is no value of a job file")
    return Change(tuple(path), deeds[name], [value] if name == "append" else value)


def _has_nothing(value: Any) -> bool:
    """Whether a value is or holds null, which a job file has not."""
    parts = [value]
    for part in parts:  # grows with what lies in it, however deep that is
        if isinstance(part, list | dict):
            parts += part.values() if isinstance(part, dict) else part
    return any(part is None for part in parts)


def edited(text: str, changes: Sequence[Change]) -> str:
    """The text after some changes, one after the other.

    Raises
    ------
    EditError
        If a path leads nowhere, or the text cannot be changed there without loss.
    """
    for change in changes:
        text = _edited_once(text, change)
    return text


def _edited_once(text: str, change: Change) -> str:
    where = f"path: {list(change.path)!r}"
    plain = readable_tables(text)
    try:
        wanted = changed_plainly(copy.deepcopy(plain), change)
    except (LookupError, TypeError, AttributeError):
        raise EditError(f"{where}: there is no such place in the job") from None
    try:
        new = _Text(text).after(change)
        new.encode("utf-8")
        kept = tables_of(new) == wanted
    except _FAULTS:
        kept = False
    if not kept:
        raise EditError(f"{where}: is written so that it can only be changed in the text itself")
    return new


def readable_tables(text: str) -> dict[str, Any]:
    """The plain tables of a text that is to be changed.

    Raises
    ------
    EditError
        If it is no TOML.
    """
    try:
        return tables_of(text)
    except ValueError as error:
        raise EditError(f"the text is no TOML, mend it first: {error}") from None


def changed_plainly(tables: Any, change: Change) -> Any:
    """Plain tables after a change; a list that loses its last entry goes with it.

    Raises
    ------
    LookupError, TypeError, AttributeError
        If the path leads nowhere.
    """
    *way, last = change.path
    at, owner = tables, None
    for key in way:
        owner = at, key
        at = at.setdefault(_name(key), {}) if isinstance(at, dict) else at[_number(at, key)]
    if change.deed == "append":
        if isinstance(at, dict):
            at.setdefault(_name(last), [])
        at[last if isinstance(at, dict) else _number(at, last)].extend(change.value)
    elif change.deed == "set":
        at[_name(last) if isinstance(at, dict) else _number(at, last)] = change.value
    else:
        del at[last if isinstance(at, dict) else _number(at, last)]
        if at == [] and owner is not None and isinstance(owner[0], dict):
            del owner[0][owner[1]]
    return tables


def _number(at: Any, key: Key) -> int:
    if not isinstance(at, list) or not isinstance(key, int) or not 0 <= key < len(at):
        raise LookupError
    return key


def _name(key: Key) -> str:
    if not isinstance(key, str):
        raise TypeError
    return key


class _Text:
    """A text that can be read, and its sections."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._end_of_line = "\r\n" if "\r\n" in text else "\n"
        self._sections = sections_of(text)

    def after(self, change: Change) -> str:
        path = change.path
        for section in self._sections:
            for line in section.keys:
                whole = section.path + line.path
                if path[: len(whole)] == whole:
                    inside = Change(path[len(whole) :], change.deed, change.value)
                    return self._within(section, line, inside)
        if change.deed == "remove":
            return self._without(path)
        if change.deed == "append" and self._entries(path):
            return self._with_entries(path, change.value)
        return self._with_new(path, change.value)

    def _within(self, section: Section, line: Line, change: Change) -> str:
        """A key's own value changed, or something inside it."""
        written = self._text[line.value_start : line.value_end]
        if not change.path:
            if change.deed == "remove":
                table = line.path[:-1]
                if table and sum(one.path[: len(table)] == table for one in section.keys) == 1:
                    row = f"{_dotted(table)} = {{}}"  # it was the table's last key
                    return self._spliced(line.start, line.value_end, row)
                return self._text[: line.start] + self._text[line.end :]
            if change.deed == "set":
                return self._spliced(line.value_start, line.value_end, _written(change.value))
        document = tomlkit.parse(f"value = {written}\n")
        _change_item(document, Change(("value", *change.path), change.deed, change.value))
        if "value" not in document:
            return self._text[: line.start] + self._text[line.end :]
        new = tomlkit.dumps(document)[len("value = ") :].removesuffix("\n")
        return self._spliced(line.value_start, line.value_end, new)

    def _spliced(self, start: int, end: int, new: str) -> str:
        return self._text[:start] + new + self._text[end:]

    def _entries(self, path: Path) -> list[Section]:
        """The sections of a list that has a heading for each entry, and what is below them."""
        return [
            section
            for section in self._sections
            if section.path[: len(path)] == path
            and len(section.path) > len(path)
            and isinstance(section.path[len(path)], int)
        ]

    def _without(self, path: Path) -> str:
        """The text without a table, a list or an entry; comments behind it stay."""
        text = self._text
        for section in reversed(self._sections):
            if section.path[: len(path)] == path:
                start, end = section.lines[0].start, section.full_end or 0
                text = self._before_gap(text, start, end) + text[end:]
                continue
            for line in reversed(section.keys):  # a table of keys with dots
                if (section.path + line.path)[: len(path)] == path:
                    text = text[: line.start] + text[line.end :]
        return text

    @staticmethod
    def _before_gap(text: str, start: int, end: int) -> str:
        """What stands before a table, without the empty line that was there for its sake."""
        before, behind = text[:start], text[end:].lstrip(" \t")
        for gap in ("\n\n", "\n\r\n"):
            if before.endswith(gap) and (not behind or behind[0] in "\r\n"):
                return before[: -len(gap) + 1]
        return before

    def _with_entries(self, path: Path, values: Sequence[dict[str, Any]]) -> str:
        """New entries behind the last one of a list and the comments that belong to that."""
        last = self._entries(path)[-1]
        at = last.full_end or 0
        for line in last.lines:
            if line.start >= at and line.is_blank:
                break
            at = max(at, line.end)
        return self._with_blocks(at, f"[[{_dotted(path)}]]", values)

    def _with_blocks(self, at: int, heading: str, values: Sequence[dict[str, Any]]) -> str:
        rows: list[str] = []
        for value in values:
            rows += ["", heading] if rows else [heading]
            rows += [f"{_key(key)} = {_written(part)}" for key, part in value.items()]
        before = self._text[:at]
        gap = [""] if before.strip() and not before.endswith(("\n\n", "\n\r\n")) else []
        open_line = [""] if before and not before.endswith("\n") else []
        block = self._end_of_line.join([*open_line, *gap, *rows, ""])
        return self._spliced(at, at, block)

    def _with_new(self, path: Path, value: Any) -> str:
        """A key, list or table that is not there yet."""
        first = path[0]
        if len(path) == 1 and first in _ENTRIES and _are_tables(value):
            return self._with_blocks(len(self._text), f"[[{_dotted(path)}]]", value)
        home = max(
            (s for s in self._sections if s.path == path[: len(s.path)]),
            key=lambda section: len(section.path),
        )
        rest = path[len(home.path) :]
        if not home.path and first in _HEADED and (len(rest) > 1 or isinstance(value, dict)):
            table = _nested(rest[1:], value)
            return self._with_blocks(len(self._text), f"[{_dotted(path[:1])}]", [table])
        dotted = self._dotted_already(home, rest)
        row = f"{_dotted(rest[:dotted])} = {_written(_nested(rest[dotted:], value))}"
        return self._with_row(home, row)

    @staticmethod
    def _dotted_already(home: Section, rest: Path) -> int:
        """How many keys of a path are to be written with dots, as other keys of the table are."""
        shared = 0
        for line in home.keys:
            common = 0
            for one, other in zip(line.path[:-1], rest[:-1], strict=False):
                if one != other:
                    break
                common += 1
            shared = max(shared, common)
        return shared + 1

    def _with_row(self, home: Section, row: str) -> str:
        """A new key behind the last one of its section."""
        text = self._text
        if home.full_end is not None:
            at = home.full_end
            last = next(line for line in reversed(home.lines) if line.end == at)
            indent = re.match(r"[ \t]*", text[last.start :])
            open_line = "" if text[:at].endswith("\n") else self._end_of_line
            lead = indent[0] if indent else ""
            return self._spliced(at, at, f"{open_line}{lead}{row}{self._end_of_line}")
        at = next((line.start for line in home.lines if line.is_blank), 0)
        gap = self._end_of_line if text[at:].strip() else ""
        before = self._end_of_line if at else ""
        return self._spliced(at, at, f"{before}{row}{self._end_of_line}{'' if before else gap}")


def _are_tables(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(part, dict) for part in value)


def _nested(path: Path, value: Any) -> Any:
    """A value inside tables of these keys."""
    for key in reversed(path):
        value = {_name(key): value}
    return value


def _change_item(document: Any, change: Change) -> None:
    """A change inside one value, written in one statement."""
    *way, last = change.path
    at, owner = document, None
    for key in way:
        if isinstance(key, str) and isinstance(at, items.InlineTable) and key not in at:
            at[key] = tomlkit.inline_table()
        owner = at, key
        at = at[key]
    if change.deed == "append":
        if isinstance(last, str) and last not in at:
            at[last] = tomlkit.array()
        for part in change.value:
            at[last].append(_item(part))
    elif change.deed == "set":
        at[last] = _item(change.value)
    else:
        del at[last]
        if isinstance(at, items.Array) and not len(at) and owner is not None:
            del owner[0][owner[1]]


def _item(value: Any) -> items.Item:
    """A value as written behind an equals sign: tables in braces."""
    if isinstance(value, dict):
        table = tomlkit.inline_table()
        for key, part in value.items():
            table.append(key, _item(part))
        return table
    if isinstance(value, list):
        array = tomlkit.array()
        for part in value:
            array.append(_item(part))
        return array
    plain: items.Item = tomlkit.item(value)
    return plain


def _written(value: Any) -> str:
    return _item(value).as_string()


def _dotted(path: Path) -> str:
    return ".".join(_key(_name(key)) for key in path)


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else tomlkit.item(key).as_string()
