"""``ruler`` and ``strips`` as a person calls them."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.cli.program import WriteJob, cutfiles, cutfiles_alone, names
from tests.conftest import LASER, ROOT

CLOTH = """
length_unit = "in"
[[cloth]]
name = "kelp-print cotton"
width = 45
selvedge = "1/2 in"
fibre = "cotton"
"""
CAPS = """
[[caps]]
style = "tie-back"
size = "M"
quantity = 5
"""
HAND = """
[machine]
kind = "rotary blade"
"""
YARD = CLOTH + 'length = "1 yd"\n' + CAPS + HAND
FILES = ["ruler-plan.json", "ruler-plan.svg", "ruler-plan.txt"]


def test_five_caps_from_a_yard(job_file: WriteJob, tmp_path: Path) -> None:
    # common practice, no source: five caps with ties from one yard of 44 to 45 in cloth
    path = job_file(YARD.replace("quantity = 5", 'quantity = "as many as fit"'))
    run = cutfiles_alone("ruler", path, "--out", tmp_path / "out")
    assert run.returncode == 0, run.stderr
    assert "as blocks: 5 caps, proved to be the most" in run.stderr
    assert "proved to be the least" in run.stdout
    for words in ("1. Square off the end", "2. Cut 1 strip", "close a hand-held rotary blade",
                  "cut-resistant glove", "cut away from the body", "local rules"):  # fmt: skip
        assert words.lower() in run.stdout.lower(), words
    assert names(tmp_path / "out") == FILES
    table = json.loads((tmp_path / "out" / "ruler-plan.json").read_bytes())
    assert table["totals"] == {"caps": 5, "panels": 0}
    (plan,) = table["plans"]
    assert plan["length_mm"] <= 914.4
    assert [(row["name"], row["count"]) for row in plan["blocks"]] == [
        ("tie-back M hem: crown", 5),
        ("tie-back M hem: band", 5),
        ("tie-back M hem: tie", 10),
    ]
    assert (tmp_path / "out" / "ruler-plan.txt").read_text("utf-8") == run.stdout


def test_the_same_job_gives_the_same_bytes(job_file: WriteJob, tmp_path: Path) -> None:
    path = job_file(YARD)
    for out in ("one", "two"):
        assert cutfiles("ruler", path, "--out", tmp_path / out).returncode == 0
    for name in FILES:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_a_panel_may_be_called_spare(job_file: WriteJob, tmp_path: Path) -> None:
    shutil.copy(ROOT / "fixtures" / "pieces" / "pocket.svg", tmp_path / "spare.svg")
    path = job_file(CLOTH + '[[panels]]\nfile = "spare.svg"\nquantity = 3\n' + HAND)
    run = cutfiles("ruler", path, "--out", tmp_path / "out", "--folded")
    assert run.returncode == 0, run.stderr
    (plan,) = json.loads((tmp_path / "out" / "ruler-plan.json").read_bytes())["plans"]
    layers = sorted(placed["names"] for placed in plan["placed"])
    assert layers == [["spare", "(spare)"], ["spare", "spare"]]


def test_a_cap_of_two_cloths_is_one_cap(job_file: WriteJob, tmp_path: Path) -> None:
    other = '[[cloth]]\nname = "blue"\nwidth = 45\nfibre = "cotton"\n'
    line = (
        CAPS.replace("quantity = 5", "quantity = 2")
        + 'edge = "binding"\ncloth = "kelp-print cotton"\nfrom = { binding = "blue" }\n'
    )
    run = cutfiles("ruler", job_file(CLOTH + other + line + HAND), "--out", tmp_path / "out")
    assert run.returncode == 0, run.stderr
    table = json.loads((tmp_path / "out" / "ruler-plan.json").read_bytes())
    assert table["totals"] == {"caps": 2, "panels": 0}
    assert [[row["count"] for row in plan["blocks"]] for plan in table["plans"]] == [[2, 2], [2]]


def test_two_stages_folded(job_file: WriteJob, tmp_path: Path) -> None:
    path = job_file(CLOTH + CAPS + HAND)
    run = cutfiles("ruler", path, "--out", tmp_path / "out", "--folded", "--stages", "2")
    assert run.returncode == 0, run.stderr
    assert "2 layers cut at once, cuts in 2 stages" in run.stdout
    assert "from fold to selvedges" in run.stdout
    assert "trim the fold off (1/8 in)" in run.stdout
    assert "Trim " not in run.stdout
    (plan,) = json.loads((tmp_path / "out" / "ruler-plan.json").read_bytes())["plans"]
    wanted = {row["name"]: row["count"] for row in plan["blocks"]}
    found = [name for placed in plan["placed"] for name in placed["names"]]
    assert {name: found.count(name) for name in wanted} == wanted
    assert found.count("(spare)") == 2  # of five crowns and of five bands cut two at a time


def test_what_the_nest_saves(job_file: WriteJob, tmp_path: Path) -> None:
    path = job_file(CLOTH + CAPS.replace("5", "1") + HAND)
    run = cutfiles("ruler", path, "--out", tmp_path / "out", "--nest", "0.1")
    assert run.returncode == 0, run.stderr
    assert "Nested by their outlines and cut by machine, the same caps take" in run.stdout
    (plan,) = json.loads((tmp_path / "out" / "ruler-plan.json").read_bytes())["plans"]
    assert plan["nested_length_mm"] > 0.0


def test_a_plan_is_checked_again(job_file: WriteJob, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert cutfiles("ruler", job_file(YARD), "--out", out).returncode == 0
    for path in (out, out / "ruler-plan.svg"):
        run = cutfiles("check", path)
        assert (run.returncode, run.stderr) == (0, "")
        assert "Sound: ruler-plan.svg" in run.stdout
    drawing = out / "ruler-plan.svg"
    drawing.write_text(drawing.read_text("utf-8").replace(">2</text>", ">6</text>"), "utf-8")
    run = cutfiles("check", out)
    assert run.returncode == 1
    assert "is not the file that was written" in run.stderr
    assert "does not go through one part of the cloth from end to end" in run.stderr
    (out / "ruler-plan.json").write_text('{"format": "cutfiles-ruler/1", "plans": []}', "utf-8")
    run = cutfiles("check", out)
    assert run.returncode == 2
    assert "plans: List should have at least 1 item" in run.stderr


BAD = [
    ("narrow", YARD.replace("width = 45", "width = 20"), (),
     "tie-back M hem: band: its block is 21 1/8 in across and 6 3/8 in along, and cloth"),
    ("narrow when folded", YARD.replace("width = 45", "width = 42"), ("--folded",),
     "as it is folded gives 20 3/8 in across"),
    ("short", YARD.replace("quantity = 5", "quantity = 9"), (),
     "and there are 36 in: have more cloth, order less, or give quantity"),
    ("short in two stages", YARD, ("--stages", "2"), "order less, use --stages 3, or give"),
    ("as many of endless cloth", CLOTH + CAPS.replace("5", '"as many as fit"') + HAND, (),
     "has no end: give its length, or a number of caps"),
    ("not one cap", YARD.replace("= 45", "= 24").replace("1 yd", "13 in")
     .replace("= 5", '= "as many as fit"'), (),
     "not one more fit what there is of cloth"),
    ("one-way and folded", YARD.replace("fibre", "one_way = true\nfibre").replace(
        "quantity = 5", 'quantity = 5\ngrain = { tie = "either" }'), ("--folded",),
     "one_way: tie is not cut along the grain, and on cloth spread 'folded' the print"),
    ("flaws", CLOTH + "flaws = [{ at = [9, 9], size = [1, 1] }]\n" + CAPS + HAND, (),
     "flaws: blocks are cut from whole cloth: cut the flawed stretch out"),
    ("remnant", CLOTH.replace("width = 45", "outline = [[0, 0], [30, 0], [30, 30], [0, 30]]")
     .replace('selvedge = "1/2 in"\n', "") + CAPS + HAND, (),
     "give width and length, and selvedge = 0"),
    ("bias", CLOTH + CAPS + 'edge = "binding"\nbinding_grain = "bias"\n' + HAND, (),
     'a bias binding is no block: give "straight"'),
    ("print", CLOTH + "print_repeat = { along = 4 }\n" + CAPS + 'match = "crown"\n' + HAND, (),
     "match: blocks by ruler do not keep to a print"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "words", "said"), [b[1:] for b in BAD], ids=[b[0] for b in BAD])
def test_a_bad_order_says_what_is_wrong_and_writes_nothing(
    text: str, words: tuple[str, ...], said: str, job_file: WriteJob, tmp_path: Path
) -> None:
    run = cutfiles("ruler", job_file(text), "--out", tmp_path / "out", *words)
    assert run.returncode == 2, run.stderr
    assert said in run.stderr
    assert "error: job.toml" in run.stderr
    assert names(tmp_path / "out") == []


def test_cloth_that_a_laser_refuses_is_cut_by_ruler(job_file: WriteJob, tmp_path: Path) -> None:
    path = job_file((CLOTH + CAPS).replace('"cotton"', '"PVC"') + LASER)
    assert cutfiles("make", path, "--out", tmp_path / "made").returncode == 2
    assert cutfiles("ruler", path, "--out", tmp_path / "out").returncode == 0


def test_one_way_cloth_and_grain_are_told(job_file: WriteJob, tmp_path: Path) -> None:
    text = YARD.replace("fibre", "one_way = true\nfibre").replace(
        "quantity = 5", 'quantity = 2\ngrain = { crown = "across", tie = "either" }'
    )
    run = cutfiles("ruler", job_file(text), "--out", tmp_path / "out")
    assert run.returncode == 0, run.stderr
    assert (
        "2 x tie-back M hem: crown: 7 1/2 in x 9 1/2 in, grain line across the cloth" in run.stdout
    )
    assert "12 in x 1 1/2 in or 1 1/2 in x 12 in, grain line along or across" in run.stdout
    assert "mark on it which way the print points" in run.stdout


def test_two_cloths_are_drawn_one_by_one(job_file: WriteJob, tmp_path: Path) -> None:
    second = CLOTH.replace("kelp-print", "plain").replace('length_unit = "in"', "")
    caps = CAPS + 'cloth = "plain cotton"\n' + CAPS + 'cloth = "kelp-print cotton"\n'
    out = tmp_path / "out"
    run = cutfiles("ruler", job_file(CLOTH + second + caps + HAND), "--out", out)
    assert run.returncode == 0, run.stderr
    assert names(out) == ["ruler-plan-2.svg", *FILES]
    # a later run with one cloth takes the second drawing away again
    assert cutfiles("ruler", job_file(CLOTH + CAPS + HAND), "--out", out).returncode == 0
    assert names(out) == FILES


def test_strips_for_a_yard_of_bias() -> None:
    words = ("--width", "1 1/2 in", "--length", "1 yd", "--from", "22 in x 18 in", "--bias")
    run = cutfiles_alone("strips", *words)
    assert run.returncode == 0, run.stderr
    assert "Cut 2 bias strips 1.5 in wide" in run.stdout
    # 396 / 1.5 (craft pages), and 0.80 of it
    assert "gives up to 264.0 in; plan on 211.2 in" in run.stdout


def test_straight_strips_in_millimetres() -> None:
    words = ("--width", "38", "--length", "1000", "--from", "600 x 300", "--unit", "mm")
    run = cutfiles("strips", *words)
    assert run.returncode == 0, run.stderr
    assert "Cut 2 straight strips 38 mm wide" in run.stdout
    assert "600 mm by 224 mm is left whole" in run.stdout


@pytest.mark.parametrize(
    ("width", "length", "offcut", "said"),
    [
        ("x", "1 yd", "9 x 9", "--width: 'x' is not a length"),
        ("1 in", "0", "9 x 9", "--length: '0' is 0 mm, and must be more than 0"),
        ("1 in", "1 yd", "9", "--from: '9' is no width and height: write it like"),
        ("1 in", "1 yd", "9 x 9 furlongs", "no unit known here"),
        ("1 in", "99 yd", "9 x 9", "gives at most"),
        ("0.01 in", "1 in", "9 x 9", "must be more than 3"),
    ],
)
def test_strips_that_cannot_be(width: str, length: str, offcut: str, said: str) -> None:
    run = cutfiles("strips", "--width", width, "--length", length, "--from", offcut)
    assert run.returncode == 2
    assert said in run.stderr
    assert "Traceback" not in run.stderr
