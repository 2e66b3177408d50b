"""A TOML text as its lines: headings, keys with their values, and what lies between, each with its
place in the text and its path in the tables.

Only texts that can be read are cut up so: what a statement is need not be checked here.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final, Literal

Key = str | int
Path = tuple[Key, ...]

_TOKEN: Final = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|' + r"'''.*?'{3,5}|"
    r'"(?:\\.|[^"\\])*"|' + r"'[^']*'|#[^\n]*|\n|.",
    re.DOTALL,
)
_PART: Final = re.compile(r"""\s*("(?:\\.|[^"\\])*"|'[^']*'|[^\s.=\]"']+)\s*""")
_OPENING, _CLOSING = "[{", "]}"


@dataclass(frozen=True, slots=True)
class Line:
    """One statement, or an empty line or comment, with the end of its line.

    ``path`` is a heading's table, list entries by number, or the way from there to a key. The value
    lies from ``value_start`` to ``value_end``.
    """

    kind: Literal["heading", "key", "between"]
    start: int
    end: int
    path: Path = ()
    value_start: int = 0
    value_end: int = 0
    is_blank: bool = False


@dataclass(frozen=True, slots=True)
class Section:
    """A table that has a heading, and the lines from there to the next; the first one has none."""

    path: Path
    lines: tuple[Line, ...]

    @property
    def keys(self) -> list[Line]:
        """Its keys with values."""
        return [line for line in self.lines if line.kind == "key"]

    @property
    def full_end(self) -> int | None:
        """Where its last statement ends; None if it has none."""
        ends = [line.end for line in self.lines if line.kind != "between"]
        return ends[-1] if ends else None


def tables_of(text: str) -> dict[str, Any]:
    """The plain tables of a text.

    Raises
    ------
    ValueError
        If it is no TOML.
    """
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise ValueError("its tables are nested without end") from None


def sections_of(text: str) -> list[Section]:
    """The sections of a text, in their order."""
    found: list[Section] = []
    path: Path = ()
    lines: list[Line] = []
    counts: dict[Path, int] = {}
    for line in _lines(text, counts):
        if line.kind == "heading":
            found.append(Section(path, tuple(lines)))
            path, lines = line.path, []
        lines.append(line)
    found.append(Section(path, tuple(lines)))
    return found


def _lines(text: str, counts: dict[Path, int]) -> Iterator[Line]:
    start = 0
    while start < len(text):
        end, value_end = _statement_end(text, start)
        said = text[start:end].strip()
        if not said or said.startswith("#"):
            yield Line("between", start, end, is_blank=not said)
        elif said.startswith("["):
            yield Line("heading", start, end, _heading_path(said, counts))
        else:
            keys, value = _key_path(text, start)
            yield Line("key", start, end, keys, value, value_end)
        start = end


def _statement_end(text: str, start: int) -> tuple[int, int]:
    """Where a statement's line ends, and where before that its last word does."""
    depth, word_end = 0, start
    for token in _TOKEN.finditer(text, start):
        said = token[0]
        if said == "\n" and depth <= 0:
            return token.end(), word_end
        if said.startswith("#") or said.isspace():
            continue
        word_end = token.end()
        depth += (said in _OPENING) - (said in _CLOSING)
    return len(text), word_end


def _heading_path(said: str, counts: dict[Path, int]) -> Path:
    """The table of a heading: what stands in double brackets is the next entry of a list, and
    what is named below a list belongs to its last entry."""
    is_entry = said.startswith("[[")
    keys, _ = _parts(said, 2 if is_entry else 1)
    path: list[Key] = []
    for number, key in enumerate(keys, 1):
        path.append(key)
        if is_entry and number == len(keys):
            counts[tuple(path)] = counts.get(tuple(path), 0) + 1
        if tuple(path) in counts:
            path.append(counts[tuple(path)] - 1)
    return tuple(path)


def _key_path(text: str, start: int) -> tuple[Path, int]:
    """The keys before an equals sign, and where the value behind it begins."""
    keys, at = _parts(text, start)
    at += 1
    while text[at] in " \t":
        at += 1
    return tuple(keys), at


def _parts(text: str, at: int) -> tuple[list[str], int]:
    """The keys that stand here with dots between them, and where the last one ends."""
    keys = []
    while True:
        part = _PART.match(text, at)
        if part is None:
            raise ValueError(f"no key at {at}")
        keys.append(_plain_key(part[1]))
        at = part.end()
        if at >= len(text) or text[at] != ".":
            return keys, at
        at += 1


def _plain_key(written: str) -> str:
    if written[0] not in "\"'":
        return written
    return next(iter(tables_of(f"{written} = 0")))
