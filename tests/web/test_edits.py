"""Changes of a text in place: what they do is what they would do to plain tables, and everything
else stays as it was written. Derived: the plain tables are those of Python's own reader of TOML."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from cutfiles.web.edits import EditError, change_of, edited

TEXT = """\
# our job
title = 'Caps'   # shown

[[cloth]] # the kelp
name = "kelp"
width   = 44   # inches
flaws = [{ at = [1, 2], diameter = 3 }, # by the fold
  { at = [3, 4], diameter = 5 }] # two in all
print_repeat.along = 0x20
# that was the kelp

# caps for everybody
[[caps]]
size = "M"

[caps.measures]
fullness = 1_000.0 # wide

# big ones
[[caps]]
size = "L"
# and that is all

# the laser
[machine]
kind = "laser"

[machine.files]
dxf = "R12"
"""


def after(*changes: dict[str, Any], text: str = TEXT) -> str:
    return edited(text, [change_of(change) for change in changes])


@pytest.mark.parametrize(
    ("change", "old", "new"),
    [
        ({"path": ["title"], "value": "Ours"}, "'Caps' ", '"Ours" '),
        ({"path": ["cloth", 0, "width"], "value": "1 yd"}, "= 44 ", '= "1 yd" '),
        ({"path": ["length_unit"], "value": "in"}, "# shown\n", '# shown\nlength_unit = "in"\n'),
        (
            {"path": ["cloth", 0, "plies"], "value": 2},
            "0x20\n",
            "0x20\nplies = 2\n",
        ),
        ({"path": ["cloth", 0, "flaws", 0, "at", 1], "value": 2.5}, "[1, 2]", "[1, 2.5]"),
        (
            {"path": ["cloth", 0, "print_repeat", "across"], "value": 9},
            "0x20\n",
            "0x20\nprint_repeat.across = 9\n",
        ),
        (
            {"path": ["caps", 0, "measures", "longer"], "value": 1.5},
            "# wide\n",
            "# wide\nlonger = 1.5\n",
        ),
        (
            {"path": ["caps", 1, "measures", "longer"], "value": 1.5},
            'size = "L"\n',
            'size = "L"\nmeasures = {longer = 1.5}\n',
        ),
        (
            {"path": ["machine", "bed", "along"], "value": 900},
            'kind = "laser"\n',
            'kind = "laser"\nbed = {along = 900}\n',
        ),
        (
            {"path": ["machine", "files", "layers", "outline"], "value": "CUT"},
            'dxf = "R12"\n',
            'dxf = "R12"\nlayers = {outline = "CUT"}\n',
        ),
        (
            {"path": ["caps"], "append": {"size": "S", "measures": {"longer": 1.1}}},
            "# and that is all\n",
            '# and that is all\n\n[[caps]]\nsize = "S"\nmeasures = {longer = 1.1}\n',
        ),
        (
            {"path": ["panels"], "append": {"file": "a.svg"}},
            'dxf = "R12"\n',
            'dxf = "R12"\n\n[[panels]]\nfile = "a.svg"\n',
        ),
        (
            {"path": ["costs", "currency"], "value": "EUR"},
            'dxf = "R12"\n',
            'dxf = "R12"\n\n[costs]\ncurrency = "EUR"\n',
        ),
        ({"path": ["cloth", 0, "print_repeat"], "remove": True}, "print_repeat.along = 0x20\n", ""),
        ({"path": ["machine", "files"], "remove": True}, '\n[machine.files]\ndxf = "R12"\n', ""),
        (
            {"path": ["caps", 0], "remove": True},
            '[[caps]]\nsize = "M"\n\n[caps.measures]\nfullness = 1_000.0 # wide\n',
            "",
        ),
        ({"path": ["caps", 1], "remove": True}, '[[caps]]\nsize = "L"\n', ""),
    ],
)
def test_a_change_is_made_in_its_place_alone(change: dict[str, Any], old: str, new: str) -> None:
    assert TEXT.count(old) == 1
    # where a table goes, so does the empty line before it, if another one follows
    expected = {TEXT.replace(old, new), TEXT.replace("\n" + old, new)}
    assert after(change) in expected


def test_what_is_added_and_taken_out_again_leaves_nothing() -> None:
    pin = {"path": ["pinned"], "append": {"piece": "crown", "at": [1.5, "2 mm"], "turn_deg": 180.0}}
    pinned = after(pin)
    assert pinned.endswith('[[pinned]]\npiece = "crown"\nat = [1.5, "2 mm"]\nturn_deg = 180.0\n')
    assert after({"path": ["pinned", 0], "remove": True}, text=pinned) == TEXT


def test_a_list_goes_with_its_last_entry() -> None:
    flaw = {"path": ["cloth", 0, "flaws", 0], "remove": True}
    once, twice = after(flaw), after(flaw, flaw)
    assert len(tomllib.loads(once)["cloth"][0]["flaws"]) == 1
    assert "flaws" not in tomllib.loads(twice)["cloth"][0]
    assert "# that was the kelp" in twice


def test_ends_of_lines_are_as_the_text_has_them() -> None:
    text = TEXT.replace("\n", "\r\n")
    new = after({"path": ["caps"], "append": {"size": "S"}}, text=text)
    assert new.replace("\r\n", "").count("\n") == 0
    assert tomllib.loads(new)["caps"][2] == {"size": "S"}


def test_an_empty_text_can_be_filled() -> None:
    new = after(
        {"path": ["cloth"], "append": {"name": "a"}}, {"path": ["title"], "value": "t"}, text=""
    )
    assert new == 'title = "t"\n\n[[cloth]]\nname = "a"\n'


def test_a_title_goes_below_the_words_at_the_top() -> None:
    text = "# ours\n# and yours\n\n[machine]\n"
    new = after({"path": ["title"], "value": "t"}, text=text)
    assert new == '# ours\n# and yours\n\ntitle = "t"\n\n[machine]\n'


def test_a_text_without_a_last_end_of_line() -> None:
    new = after({"path": ["machine", "kerf"], "value": 0.2}, text='[machine]\nkind = "laser"')
    assert new == '[machine]\nkind = "laser"\nkerf = 0.2\n'


@pytest.mark.parametrize("path", [["a", 0, "b"], ["cloth", 9, "name"], ["cloth", -1, "name"]])
def test_a_path_that_leads_nowhere(path: list[Any]) -> None:
    with pytest.raises(EditError, match="there is no such place"):
        after({"path": path, "value": 1})


@pytest.mark.parametrize(
    "change",
    [
        {"path": ["title", "x"], "value": 1},
        {"path": ["title"], "append": 1},
        {"path": ["cloth", "x"], "value": 1},
        {"path": ["nothing"], "remove": True},
        {"path": [0], "value": 1},
    ],
)
def test_a_change_that_fits_no_table(change: dict[str, Any]) -> None:
    with pytest.raises(EditError):
        after(change)


@pytest.mark.parametrize(
    "row",
    [
        3,
        {},
        {"path": []},
        {"path": "title", "value": 1},
        {"path": [True], "value": 1},
        {"path": [1.5], "value": 1},
        {"path": ["title"]},
        {"path": ["title"], "value": None},
        {"path": ["title"], "value": [1, {"a": None}]},
        {"path": ["title"], "remove": False},
        {"path": ["title"], "value": 1, "remove": True},
        {"path": ["title"], "value": 1, "more": 1},
    ],
)
def test_what_is_no_change(row: object) -> None:
    with pytest.raises(EditError):
        change_of(row)


def test_a_text_that_is_no_toml_is_left_alone() -> None:
    with pytest.raises(EditError, match="mend it first"):
        after({"path": ["title"], "value": 1}, text="title = = 3")


@pytest.mark.parametrize("value", ["\ud800", float("nan")])
def test_a_value_that_cannot_be_written_is_refused(value: object) -> None:
    with pytest.raises(EditError, match="only be changed in the text itself"):
        after({"path": ["title"], "value": value})
