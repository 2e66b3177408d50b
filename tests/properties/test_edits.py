"""Properties of changes in a job's text, by Python's own reader of TOML: the tables are those of
the same changes made to plain ones, and every line that no change names is there as it was."""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Sequence
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from cutfiles.web.edits import Change, changed_plainly, edited

Path = tuple[str | int, ...]
Row = tuple[Path, str]
"""A line of a text, or several, and the place in the tables that it is about."""

SPELLINGS = [
    "44", "4_400", "0x2c", "1.50", '"1 1/2 in"', "'16.5 cm'", "true", '"""two\nlines"""',
    '[1, "2 in"]', "[ # so\n  1,\n  2, # many\n]", "{ along = 3, across = '3 mm' }",
]  # fmt: skip
KEYS = ["width", "selvedge", "a b", "size", "plies", "fibre", "at.x"]
VALUES: list[Any] = [7, 1.25, "5 in", True, [1, 2], {"along": 3.0}, 'a "quoted" \\ word', "é\n#no"]

spelling = st.sampled_from(SPELLINGS)
value = st.sampled_from(VALUES)


def written(key: str) -> str:
    return key if key.isalnum() else f'"{key}"'


@st.composite
def keyed(draw: st.DrawFn, table: Path) -> list[Row]:
    """Some keys of a table with their values, in several spellings, with comments between."""
    rows: list[Row] = []
    for key in draw(st.lists(st.sampled_from(KEYS), unique=True, max_size=4)):
        if draw(st.booleans()):
            rows.append((("#",), f"# before {table} {key}\n"))
        gap = " " * draw(st.integers(0, 3))
        end = draw(st.sampled_from(["", "  # behind it"]))
        rows.append(((*table, key), f"{gap}{written(key)}{gap}={gap}{draw(spelling)}{end}\n"))
    if draw(st.booleans()):
        rows.append(((*table, "bed", "along"), "bed.along = 900 # dotted\n"))
    if draw(st.booleans()):
        rows.append((("#",), draw(st.sampled_from(["\n", "# at the end\n", "\n# then\n\n"]))))
    return rows


@st.composite
def texts(draw: st.DrawFn) -> list[Row]:
    """A text like a job's: keys, entries of lists with tables below them, a machine."""
    rows: list[Row] = [(("#",), "# the top\n")] if draw(st.booleans()) else []
    rows += draw(keyed(()))
    for name in ("cloth", "caps"):
        for number in range(draw(st.integers(0, 3))):
            rows.append(((name, number), f"[[{name}]] # {number}\n"))
            rows += draw(keyed((name, number)))
            if draw(st.booleans()):
                rows.append(((name, number, "measures"), f"[{name}.measures]\n"))
                rows += draw(keyed((name, number, "measures")))
    if draw(st.booleans()):
        rows.append((("machine",), "[machine]\n"))
        rows += draw(keyed(("machine",)))
    return rows


def text_of(rows: Sequence[Row]) -> str:
    return "".join(text for _, text in rows)


def places(tables: Any, path: Path = ()) -> list[Path]:
    """Every place of some tables but the whole."""
    parts = (
        tables.items()
        if isinstance(tables, dict)
        else enumerate(tables)
        if isinstance(tables, list)
        else ()
    )
    found: list[Path] = []
    for key, part in parts:
        found += [(*path, key), *places(part, (*path, key))]
    return found


@st.composite
def changes(draw: st.DrawFn, tables: dict[str, Any]) -> Change:
    """A change that can be made to these tables."""
    known = places(tables)
    at: Any
    if bool(known) and draw(st.booleans()):
        path = draw(st.sampled_from(known))
        deed = draw(st.sampled_from(["set", "remove", "append"]))
        at = tables
        for key in path:
            at = at[key]
        is_entry = isinstance(at, dict) and isinstance(path[-1], int) and len(path) == 2
        if deed == "append" and isinstance(at, list):
            # a list of headings takes tables only
            headed = len(path) == 1 and path[0] in ("cloth", "caps")
            return Change(path, "append", {"size": "S"} if headed else draw(value))
        if deed == "set" and not isinstance(at, dict | list) and not is_entry:
            return Change(path, "set", draw(value))
        return Change(path, "remove", True)
    homes: list[Path] = [()]
    for place in known:
        at = tables
        for key in place:
            at = at[key]
        if isinstance(at, dict):
            homes.append(place)
    home = draw(st.sampled_from(homes))
    return Change((*home, draw(st.sampled_from(["new", "new one", "né"]))), "set", draw(value))


def touches(change: Change, path: Path) -> bool:
    """Whether a change may alter a line that is about a place."""
    shared = min(len(change.path), len(path))
    return path[:shared] == change.path[:shared] and len(path) > 0 and path[0] != "#"


@settings(max_examples=150)
@given(data=st.data(), rows=texts())
def test_a_change_does_what_it_does_to_plain_tables_and_nothing_else(
    data: st.DataObject, rows: list[Row]
) -> None:
    text = text_of(rows)
    tables = tomllib.loads(text)
    change = data.draw(changes(tables))
    new = edited(text, [change])
    assert tomllib.loads(new) == changed_plainly(copy.deepcopy(tables), change)
    gone = [number for number, (path, _) in enumerate(rows) if touches(change, path)]
    is_gone = change.deed == "remove"
    at = 0
    for number, (path, line) in enumerate(rows):
        if touches(change, path) and (is_gone or len(path) >= len(change.path)):
            continue
        if path[0] == "#" and is_gone and gone and gone[0] < number < gone[-1]:
            continue  # inside a table that goes
        if not line.strip():
            continue  # an empty line before a table goes with it
        if touches(change, path) and "=" in line and not line.startswith("["):
            continue  # the value that the change is inside of
        found = new.find(line.strip(), at)
        assert found >= at, (line, new)
        at = found + len(line.strip())


@settings(max_examples=50)
@given(data=st.data(), rows=texts(), count=st.integers(2, 6))
def test_many_changes_come_to_the_same(data: st.DataObject, rows: list[Row], count: int) -> None:
    text = text_of(rows)
    tables = tomllib.loads(text)
    made = []
    for _ in range(count):
        made.append(data.draw(changes(tables)))
        tables = changed_plainly(copy.deepcopy(tables), made[-1])
    assert tomllib.loads(edited(text, made)) == tables
