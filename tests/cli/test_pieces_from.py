"""Pieces of a cap from other cloths: cut there, counted once, and refused where they do not fit."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.program import Table, WriteJob, cutfiles
from tests.conftest import LASER

TWO_CLOTHS = """
[[cloth]]
name = "kelp print"
width = 1117.6
fibre = "cotton"
shrinkage_percent = { along = 3 }
[[cloth]]
name = "plain cotton"
width = 900
fibre = "cotton"
"""
BOUND = """
[[caps]]
style = "tie-back"
size = "M"
quantity = 2
edge = "binding"
cloth = "kelp print"
from = { binding = "plain cotton" }
"""


def read(path: Path) -> Table:
    table: Table = json.loads(path.read_bytes())
    return table


def test_a_binding_from_plain_cloth(job_file: WriteJob, tmp_path: Path) -> None:
    hemmed = '[[caps]]\nstyle = "tie-back"\nsize = "S"\nquantity = 1\ncloth = "plain cotton"\n'
    job = job_file(TWO_CLOTHS + hemmed + BOUND + LASER)
    out = tmp_path / "out"
    run = cutfiles("make", job, "--out", out, "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    summary = read(out / "summary.json")
    names = {
        lay["cloth"]: sorted((row["cap_number"], row["name"]) for row in lay["pieces"])
        for lay in summary["lays"]
    }
    assert names == {
        "kelp print": [(1, "band"), (1, "crown"), (2, "band"), (2, "crown")],
        "plain cotton": [
            (1, "binding"),
            (2, "binding"),
            (3, "band"),
            (3, "crown"),
            (3, "tie"),
            (3, "tie"),
        ],
    }
    assert (summary["totals"]["caps"], summary["totals"]["caps_ordered"]) == (3, 3)
    assert cutfiles("check", out).returncode == 0
    # a cap counts when all its parts are cut: without its binding it does not
    plain = next(lay for lay in summary["lays"] if lay["cloth"] == "plain cotton")
    lost = next(row for row in plain["pieces"] if row["name"] == "binding")
    plain["pieces"].remove(lost)
    (out / "summary.json").write_text(json.dumps(summary))
    run = cutfiles("check", out)
    assert run.returncode == 1
    assert "caps is 3 and the lays hold 2" in run.stderr


def test_an_estimate_of_both_cloths(job_file: WriteJob, tmp_path: Path) -> None:
    place = tmp_path / "figures.json"
    job = job_file(TWO_CLOTHS + BOUND + LASER)
    assert cutfiles("estimate", job, "--json", place).returncode == 0
    kelp, plain = read(place)["cloths"]
    assert (kelp["caps"], plain["caps"]) == (2, 2)
    # derived: two strips, 38.1 mm wide, of the lower edge and two ties and turned-in ends
    assert plain["pieces_area_mm2"] == pytest.approx(2 * 38.1 * (305 + 12.7) * 2 * 1.7, rel=0.2)
    assert plain["takes"]["likely_mm"] > 1000.0 > kelp["takes"]["least_mm"]


def test_complete_caps_of_both_cloths(job_file: WriteJob, tmp_path: Path) -> None:
    place = tmp_path / "figures.json"
    lengths = TWO_CLOTHS.replace("width = 1117.6", "width = 1117.6\nlength = 3000")
    lengths = lengths.replace("width = 900", "width = 900\nlength = 1500")
    job = job_file(lengths + BOUND + LASER)
    run = cutfiles("estimate", job, "--nest", "0.1", "--json", place)
    assert run.returncode == 0, run.stderr
    kelp, plain = (row["gives"] for row in read(place)["cloths"])
    complete = read(place)["complete_caps"]
    # derived: a cap needs parts of both, so there are as many as the scarcer cloth gives
    for key in ("least", "likely", "most", "nested"):
        assert complete[key] == min(kelp[key], plain[key]) > 0
    assert "kelp print: parts of 2 caps, nested on " in run.stdout
    assert f"all cloths on hand together for {complete['nested']} caps, nested " in run.stdout


BAD = [
    ("no such cloth", BOUND.replace('"plain cotton" }', '"plane cotton" }'), "'plain cotton'?"),
    ("no such piece", BOUND.replace("binding = ", "bindings = ", 1), "did you mean 'binding'?"),
    (
        "a piece that a hemmed cap has not",
        BOUND.replace('edge = "binding"\n', ""),
        "from: 'binding' is no piece of tie-back M",
    ),
    (
        "every piece",
        BOUND.replace(
            "{ binding",
            '{ crown = "plain cotton", band = "plain cotton", binding',
        ),
        "none from 'kelp print'",
    ),
    (
        "as many as fit",
        BOUND.replace("quantity = 2", 'quantity = "as many as fit"'),
        "from: does not go with quantity",
    ),
    ("not a name", BOUND.replace('= "plain cotton" }', "= 3 }"), "from.binding: 3: must be text"),
]


@pytest.mark.parametrize(("_name", "caps", "words"), BAD, ids=[row[0] for row in BAD])
def test_what_is_refused(_name: str, caps: str, words: str, job_file: WriteJob) -> None:
    run = cutfiles("estimate", job_file(TWO_CLOTHS + caps + LASER))
    assert run.returncode == 2
    assert words in run.stderr
    lines = run.stderr.splitlines()
    assert len(set(lines)) == len(lines), "each finding once, though the line is of two cloths"


def test_layers_must_be_equal(job_file: WriteJob) -> None:
    plies = TWO_CLOTHS.replace("width = 900", "width = 900\nplies = 2")
    run = cutfiles("estimate", job_file(plies + BOUND + LASER))
    assert run.returncode == 2
    assert "is cut in 2 layers at once and 'kelp print' in 1" in run.stderr
    folded = plies.replace("width = 1117.6", 'width = 1117.6\nspread = "folded"')
    assert cutfiles("estimate", job_file(folded + BOUND + LASER)).returncode == 0


def test_the_nearest_key_is_offered(job_file: WriteJob) -> None:
    run = cutfiles("estimate", job_file(TWO_CLOTHS + BOUND.replace("from =", "form =") + LASER))
    assert run.returncode == 2
    assert "did you mean 'from'?" in run.stderr
