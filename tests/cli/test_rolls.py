"""Several rolls of one cloth: estimated, made, planned and taken, each by its name."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from tests.cli.program import NestsHere, Table, cutfiles, names
from tests.conftest import LASER

SHELF = """# Two rolls of one cloth (invented).
[[stock]]
name = "kelp print"
roll = "A"
width = 1100
selvedge = 10
length = "60 cm"
fibre = "cotton"

[[stock]]
name = "kelp print"  # the later one
roll = "B"
width = 1100
selvedge = 10
length = "0.8 m"
fibre = "cotton"
"""
JOB = """title = "Two rolls (invented)"
shelf = "shelf.toml"
[[cloth]]
name = "kelp print"
[[caps]]
style = "tie-back"
size = "M"
quantity = 7
"""


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    (tmp_path / "shelf.toml").write_text(SHELF)
    (tmp_path / "job.toml").write_text(JOB + LASER)
    return tmp_path


def changed(shop: Path, old: str, new: str, *, name: str = "job.toml") -> Path:
    """The job, or another file, with something else in it."""
    path = shop / name
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    return shop / "job.toml"


def figures_of(job: Path) -> Table:
    out = job.with_name("figures.json")
    run = cutfiles("estimate", job, "--json", out)
    assert run.returncode == 0, run.stderr
    (row,) = json.loads(out.read_text("utf-8"))["cloths"]
    assert isinstance(row, dict)
    return row


def made_of(job: Path, *words: str) -> tuple[Table, str]:
    out = job.with_name("out")
    run = cutfiles("make", job, "--out", out, *words)
    assert run.returncode == 0, run.stderr
    table: Table = json.loads((out / "summary.json").read_text("utf-8"))
    return table, run.stdout


def test_both_rolls_give_what_each_gives(shop: Path) -> None:
    job = shop / "job.toml"
    both = figures_of(job)
    each = []
    for roll in "AB":
        changed(shop, 'name = "kelp print"', f'name = "kelp print"\nroll = "{roll}"')
        each.append(figures_of(job))
        job.write_text(JOB + LASER)
    # derived: caps are alike, and none lies on two rolls
    for key in ("least", "likely"):
        assert both["gives"][key] == sum(one["gives"][key] for one in each)
    # derived: by area alone there is as much as on one length of both
    assert 0 <= both["gives"]["most"] - sum(one["gives"]["most"] for one in each) <= 1
    assert "1400 mm on hand in 2 rolls for about" in cutfiles("estimate", job).stdout


def test_a_roll_that_is_too_short_for_a_cap_is_left(shop: Path) -> None:
    # derived: a crown is longer on its grain than 5 cm
    changed(shop, 'length = "60 cm"', 'length = "5 cm"', name="shelf.toml")
    job = changed(shop, "quantity = 7", "quantity = 2")
    both = figures_of(job)["gives"]
    summary, _ = made_of(job, "--quick")
    assert [lay["roll"] for lay in summary["lays"]] == ["B"]
    changed(shop, 'name = "kelp print"', 'name = "kelp print"\nroll = "B"')
    alone = figures_of(job)["gives"]
    assert both["least"] == alone["least"]
    assert both["likely"] == alone["likely"]


def test_the_nest_lies_on_the_rolls(shop: Path) -> None:
    run = cutfiles("estimate", shop / "job.toml", "--nest", "1")
    assert run.returncode == 0, run.stderr
    assert run.stderr == ""
    assert "7 caps, nested on " in run.stdout
    assert " in 2 lays (at least " in run.stdout


@pytest.mark.usefixtures("short_last_try")
def test_an_estimate_says_what_the_rolls_lack(shop: Path) -> None:
    run = cutfiles("estimate", changed(shop, "quantity = 7", "quantity = 12"))
    assert run.returncode == 0
    assert "more than its 2 rolls of 1400 mm in all give: have another roll" in run.stderr
    # derived: 12 caps take no less than their area, which a lay of one length shows as well
    figures = figures_of(shop / "job.toml")
    assert figures["takes"]["likely_mm"] >= figures["takes"]["least_mm"]
    assert figures["takes"]["lays"] >= 3
    run = cutfiles("estimate", shop / "job.toml", "--nest", "1")
    assert run.returncode == 0, run.stderr
    assert "warning: job.toml: cloth 'kelp print': there is not enough for the 12" in run.stderr
    assert "caps, nested (at least" in run.stdout


def test_lays_are_cut_from_the_longest_roll_first(shop: Path) -> None:
    summary, said = made_of(shop / "job.toml", "--seconds", "1")
    lays = summary["lays"]
    assert [lay["roll"] for lay in lays] == ["B", "A"]
    assert [lay["cloth"] for lay in lays] == ["kelp print"] * 2
    assert all(lay["starts_at_mm"] == 0 for lay in lays)
    # derived: a lay is on its roll as a whole
    assert lays[0]["length_mm"] <= 800.0
    assert lays[1]["length_mm"] <= 600.0
    assert summary["totals"]["caps"] == 7
    assert f"{lays[1]['length_mm']:.0f} mm of kelp print, roll A, 1 ply" in said
    assert "kelp print, roll B, 1 ply" in (shop / "out" / "preview.html").read_text("utf-8")
    run = cutfiles("check", shop / "out")
    assert run.returncode == 0, run.stderr
    assert "of kelp print, roll A, 1 ply" in cutfiles("show", shop / "out").stdout
    assert cutfiles("sheets", shop / "out").returncode == 0
    run = cutfiles("check", shop / "out")
    assert run.returncode == 0, run.stderr
    # derived: on one roll both lays would begin at its end
    text = (shop / "out" / "summary.json").read_text("utf-8")
    (shop / "out" / "summary.json").write_text(text.replace('"roll": "A"', '"roll": "B"'))
    run = cutfiles("check", shop / "out")
    assert run.returncode == 1
    assert "takes the cloth up to" in run.stderr
    (shop / "out" / "summary.json").write_text(text)
    # each roll loses its own lay
    run = cutfiles("take", shop / "out")
    assert run.returncode == 0, run.stderr
    assert "kelp print, roll A: " in run.stdout
    text = (shop / "shelf.toml").read_text()
    stock = {row["roll"]: row for row in tomllib.loads(text)["stock"]}
    for roll, before, lay in (("A", 600.0, lays[1]), ("B", 800.0, lays[0])):
        left = before - lay["length_mm"]
        if left < 50.0:  # derived: that is no cloth
            assert roll not in stock
            continue
        value, unit = stock[roll]["length"].split()
        mm = float(value) * {"cm": 10.0, "m": 1000.0}[unit]
        assert left - 1.01 <= mm <= left + 1e-6
    assert "# Two rolls of one cloth (invented)." in text


def test_what_fits_one_roll_is_cut_from_it(shop: Path) -> None:
    summary, _ = made_of(changed(shop, "quantity = 7", "quantity = 2"), "--quick")
    (lay,) = summary["lays"]
    assert lay["roll"] == "B"
    assert [take["stock"] for take in summary["shelf"]["takes"]] == [2]
    summary, _ = made_of(
        changed(shop, 'name = "kelp print"', 'name = "kelp print"\nroll = "A"'), "--quick"
    )
    (lay,) = summary["lays"]
    assert lay["roll"] == "A"
    (take,) = summary["shelf"]["takes"]
    assert (take["stock"], take["name"]) == (1, "kelp print, roll A")
    assert take["length_mm"] == pytest.approx(lay["length_mm"], abs=1e-3)


def test_as_many_as_fit_fill_both_rolls(shop: Path) -> None:
    job = changed(shop, "quantity = 7", 'quantity = "as many as fit"')
    least = figures_of(job)["gives"]["least"]
    summary, _ = made_of(job, "--seconds", "1")
    assert [lay["roll"] for lay in summary["lays"]] == ["B", "A"]
    assert summary["totals"]["caps"] >= least
    assert cutfiles("check", shop / "out").returncode == 0


def test_pinned_pieces_lie_on_the_longest_roll(shop: Path) -> None:
    changed(shop, "quantity = 7", "quantity = 3")
    pin = '[[pinned]]\npiece = "cap-001-crown"\nat = [300, 300]\n'
    changed(shop, "[machine]", pin + "[machine]")
    summary, _ = made_of(shop / "job.toml", "--seconds", "1")
    (lay,) = summary["lays"]
    assert lay["roll"] == "B"
    assert lay["length_mm"] <= 800.0
    assert [piece["id"] for piece in lay["pieces"] if piece.get("pinned")] == ["cap-001-crown"]
    # what both rolls give is told without pins
    assert "1400 mm on hand in 2 rolls for about" in cutfiles("estimate", shop / "job.toml").stdout
    assert cutfiles("check", shop / "out").returncode == 0


@pytest.mark.usefixtures("short_last_try")
def test_rolls_that_do_not_do_are_refused(shop: Path) -> None:
    run = cutfiles("make", changed(shop, "quantity = 7", "quantity = 14"), "--out", shop / "out")
    assert run.returncode == 2
    assert "there is not enough for the 14 caps and panels ordered" in run.stderr
    assert "share the caps out to the rolls by a plan" in run.stderr
    assert names(shop / "out") == []


def test_rolls_without_a_shelf_have_flaws_and_prints_of_their_own(shop: Path) -> None:
    tables = "".join(
        f"""[[cloth]]
name = "kelp print"
roll = "{roll}"
width = 1100
length = {length}
fibre = "cotton"
print_repeat = {{ along = 100 }}
print_starts = {{ along = {start} }}
{flaws}
"""
        for roll, length, start, flaws in (
            ("near", 500, 30, ""),
            ("far", 700, 70, "flaws = [{ at = [100, 500], size = [40, 40] }]"),
        )
    )
    order = '[[caps]]\nstyle = "tie-back"\nsize = "M"\nquantity = 5\nmatch = ["crown"]\n'
    (shop / "job.toml").write_text(tables + order + LASER)
    summary, _ = made_of(shop / "job.toml", "--seconds", "1")
    lays = {lay["roll"]: lay for lay in summary["lays"]}
    assert set(lays) == {"far", "near"}
    assert len(lays["far"]["flaws_mm"]) == 1
    assert "flaws_mm" not in lays["near"]
    # derived: crowns lie in the middle of a repeat, 70 and 30 mm in by the tables above
    for roll, start in (("far", 70), ("near", 30)):
        crowns = [piece for piece in lays[roll]["pieces"] if "match_mm" in piece]
        assert crowns
        for piece in crowns:
            assert (piece["match_mm"][0] - start) % 100 == pytest.approx(50, abs=0.1)
    assert cutfiles("check", shop / "out").returncode == 0
    run = cutfiles("plan", shop / "job.toml", "--out", shop / "plan")
    assert run.returncode == 2
    assert "print_starts: differs from roll to roll" in run.stderr


@pytest.mark.usefixtures("short_nests_of_plans")
def test_a_plan_takes_its_lays_off_the_rolls(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cutfiles.pipeline.plan.nests_on", NestsHere)
    monkeypatch.setenv("CUTFILES_KEPT_LAYS", str(shop / "kept"))
    run = cutfiles("plan", shop / "job.toml", "--out", shop / "plan", "--seconds", "1")
    assert run.returncode == 0, run.stderr
    table = json.loads((shop / "plan" / "plan.json").read_text("utf-8"))
    taken = {"A": 0.0, "B": 0.0}
    for lay in table["lays"]:
        taken[lay["roll"]] += lay["length_mm"] * lay["plies"]
        assert f"kelp print, roll {lay['roll']}" in run.stdout
    assert 0.0 < taken["A"] <= 600.0
    assert 0.0 < taken["B"] <= 800.0
    for lay in table["lays"]:
        out = shop / lay["name"]
        run = cutfiles("make", shop / "plan" / lay["file"], "--out", out, "--quick")
        assert run.returncode == 0, run.stderr
        (row,) = json.loads((out / "summary.json").read_text("utf-8"))["lays"]
        assert row["roll"] == lay["roll"]
        run = cutfiles("take", out)
        assert run.returncode == 0, run.stderr
        assert f"roll {lay['roll']}: " in run.stdout


BAD = [
    ("no name", "shelf.toml", 'roll = "A"\n', "", "is used twice and has no roll"),
    ("one name", "shelf.toml", '"A"', '"B"', "is used twice and roll 'B' is used twice"),
    ("no end", "shelf.toml", 'length = "60 cm"\n', "", "one of several rolls has a length"),
    ("widths", "shelf.toml", "width = 1100", "width = 900", "width: differs from the first roll"),
    ("remnant", "shelf.toml", 'roll = "A"\nwidth = 1100\nselvedge = 10\nlength = "60 cm"',
     "outline = [[0, 0], [200, 0], [0, 200]]", "is the name of a length and of a remnant"),
    ("unknown", "job.toml", 'name = "kelp print"', 'name = "kelp print"\nroll = "C"',
     "roll: 'C' of 'kelp print' is not on the shelf 'shelf.toml'"),
    ("given in full", "job.toml", 'name = "kelp print"',
     'name = "kelp print"\nroll = "C"\nwidth = 1100\nlength = 900',
     "roll: 'C' of 'kelp print' is not on the shelf 'shelf.toml'"),
    ("no name there", "job.toml", 'name = "kelp print"', "name = 7", "name: 7 must be text"),
    ("no roll there", "job.toml", 'name = "kelp print"', 'name = "kelp print"\nroll = ""',
     "roll"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("file", "old", "new", "words"), [row[1:] for row in BAD], ids=[row[0] for row in BAD]
)
def test_rolls_that_are_wrong(file: str, old: str, new: str, words: str, shop: Path) -> None:
    text = (shop / file).read_text()
    assert old in text
    (shop / file).write_text(text.replace(old, new, 1))
    run = cutfiles("estimate", shop / "job.toml")
    assert run.returncode == 2
    assert words in run.stderr, run.stderr
    assert "Traceback" not in run.stderr


def test_a_name_that_is_no_text_is_not_looked_for(shop: Path) -> None:
    changed(shop, "kelp print", "7", name="shelf.toml")
    run = cutfiles("estimate", changed(shop, '"kelp print"', "7"))
    assert run.returncode == 2
    assert "[[cloth]] 1: name: 7 must be text in quotes" in run.stderr


def test_tables_are_counted_as_they_are_written(shop: Path) -> None:
    # derived: the shelf makes two of the job's first table, and the second stays the second
    more = '[[cloth]]\nname = "lining"\nwidth = {}\n[[caps]]'
    job = changed(shop, "[[caps]]", more.format(-4))
    run = cutfiles("estimate", job)
    assert run.returncode == 2
    assert "job.toml: [[cloth]] 2: width: -4 is" in run.stderr
    job.write_text((JOB + LASER).replace('print"\n', 'print"\nplies = 0\n'))
    run = cutfiles("estimate", job)
    (line,) = run.stderr.splitlines()
    assert line.startswith("error: job.toml: [[cloth]] 1: plies: 0 ")
    job.write_text((JOB + LASER).replace("quantity = 7", 'quantity = 7\ncloth = "kelp print"'))
    vinyl = more.format('1000\nfibre = "vinyl"')
    run = cutfiles("estimate", changed(shop, "[[caps]]", vinyl))
    assert run.returncode == 2
    assert "job.toml: [[cloth]] 2: " in run.stderr


def test_a_ruler_cuts_one_roll(shop: Path) -> None:
    run = cutfiles("ruler", shop / "job.toml", "--out", shop / "out")
    assert run.returncode == 2
    assert "blocks are cut from one length: draw from one of them: roll = 'B' or 'A'" in run.stderr
