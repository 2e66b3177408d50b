"""What lays take off a shelf, judged: a rest of a remnant, or a length, that was changed."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.program import Table, cutfiles, made_from_shelf
from tests.conftest import LASER

SHELF = """[[stock]]
name = "print"
width = 1100
length = 3000
fibre = "cotton"

[[stock]]
name = "offcuts"
fibre = "cotton"
outline = [[0, 0], [900, 0], [900, 300], [600, 560], [0, 560]]
"""
JOB = """shelf = "shelf.toml"
[[cloth]]
name = "print"
[[cloth]]
name = "offcuts"
[[caps]]
style = "tie-back"
size = "M"
quantity = 1
cloth = "print"
[[caps]]
style = "tie-back"
size = "C1"
quantity = 1
cloth = "offcuts"
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Lays on a length and on a remnant with a sloping edge. Read only."""
    return made_from_shelf(tmp_path_factory.mktemp("made"), SHELF, JOB + LASER)


def takes_of(table: Table) -> tuple[Table, Table]:
    """Of the length, and of the remnant."""
    one, other = table["shelf"]["takes"]
    return one, other


def test_what_is_taken_is_sound(made: Path) -> None:
    run = cutfiles("check", made)
    assert run.returncode == 0, run.stderr
    table = json.loads((made / "summary.json").read_text("utf-8"))
    length, remnant = takes_of(table)
    lays = {lay["cloth"]: lay for lay in table["lays"]}
    assert remnant["lay"] == lays["offcuts"]["name"]
    assert len(remnant["rest_mm"]) >= 4
    assert length["length_mm"] == lays["print"]["length_mm"]


def _moved(table: Table, by: float) -> None:
    rest = takes_of(table)[1]["rest_mm"]
    takes_of(table)[1]["rest_mm"] = [[x - by, y] for x, y in rest]


def _smaller(table: Table) -> None:
    remnant = takes_of(table)[1]
    left = min(x for x, _ in remnant["rest_mm"])
    remnant["rest_mm"] = [[left, 0], [left + 60, 0], [left + 60, 60], [left, 60]]


CHANGES: list[tuple[str, Callable[[Table], object], str]] = [
    # derived: a rest that reaches a millimetre further takes in what a piece keeps clear of
    ("nearer", lambda t: _moved(t, 1.0), "is not what a straight cut leaves"),
    ("further", lambda t: _moved(t, -1.0), "is not what a straight cut leaves"),
    ("smaller", _smaller, "is not what a straight cut leaves"),
    ("whole", lambda t: takes_of(t)[1].update(rest_mm=t["lays"][1]["remnant_mm"]),
     "is not what a straight cut leaves"),
    ("two corners", lambda t: takes_of(t)[1].update(rest_mm=[[0, 0], [5, 5]]),
     "is not what a straight cut leaves"),
    ("crossed", lambda t: takes_of(t)[1]["rest_mm"].sort(), "is not what a straight cut leaves"),
    ("no rest", lambda t: takes_of(t)[1].pop("rest_mm"), "no rest is left of"),
    ("of no lay", lambda t: takes_of(t)[1].update(lay="lay-09"), "is no lay on a remnant of it"),
    ("of a length", lambda t: takes_of(t)[1].update(lay="lay-01"), "is no lay on a remnant of it"),
    ("length", lambda t: takes_of(t)[0].update(length_mm=10.0), "length_mm is 10.0 and its lays"),
    ("no length", lambda t: takes_of(t)[0].pop("length_mm"), "length_mm is None and its lays"),
    ("twice", lambda t: t["shelf"]["takes"].append(takes_of(t)[1]), "is listed 2 times"),
    ("unknown", lambda t: takes_of(t)[0].update(name="kelp"), "lay-01 is cut of 'print'"),
    ("other stock", lambda t: takes_of(t)[0].update(stock=7), "its lays take 0.000"),
    ("left out", lambda t: t["shelf"]["takes"].pop(0), "nothing is taken off stock 1, of which"),
    ("remnant left out", lambda t: t["shelf"]["takes"].pop(), "nothing is taken off stock 2, of"),
    ("nothing", lambda t: t.pop("shelf"), "nothing is taken off stock 1, of which lay-01 is cut"),
    ("lay of no stock", lambda t: t["lays"][0].pop("stock"), "its lays take 0.000"),
    ("remnant of no stock", lambda t: t["lays"][1].pop("stock"), "is no lay on a remnant of it"),
    ("another's lay", lambda t: t["lays"][1].update(stock=1), "lay-02 is cut of"),
    ("two of a remnant", lambda t: t["lays"][0].update(stock=2), "or not the only one"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "words"), [c[1:] for c in CHANGES], ids=[c[0] for c in CHANGES])
def test_what_is_taken_is_judged(
    change: Callable[[Table], object], words: str, made: Path, tmp_path: Path
) -> None:
    out = Path(shutil.copytree(made, tmp_path / "out"))
    path = out / "summary.json"
    table = json.loads(path.read_text("utf-8"))
    change(table)
    path.write_text(json.dumps(table), "utf-8")
    run = cutfiles("check", out)
    assert run.returncode == 1, run.stdout + run.stderr
    assert words in run.stderr, run.stderr
    assert "Traceback" not in run.stderr
