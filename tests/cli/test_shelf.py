"""The shelf: cloth drawn from it by name, and taken off it once lays were cut."""

from __future__ import annotations

import json
import os
import shutil
import tomllib
from pathlib import Path

import pytest

from cutfiles.files.shelf_text import Taken, shelf_after
from tests.cli.program import cutfiles, made_from_shelf, names
from tests.conftest import LASER

SHELF = """# What lies on the shelf (invented).
length_unit = "in"

[[stock]]  # a gift
name   = "kelp print"
width  = 44          # selvedge to selvedge
length = "3 yd"
selvedge = 0.5
fibre = "cotton"

# two left-overs
[[stock]]
name = "offcuts"
fibre = "cotton"
outline = [[0, 0], [18, 0], [18, 22], [0, 22]]

[[stock]]
name = "offcuts"
fibre = "cotton"
outline = [[0, 0], [12, 0], [12, 12], [0, 12]]
"""
JOB = """
shelf = "shelf.toml"
[[cloth]]
name = "kelp print"
[[cloth]]
name = "offcuts"
[[caps]]
style = "tie-back"
size = "M"
quantity = 2
cloth = "kelp print"
[[caps]]
style = "tie-back"
size = "C1"
quantity = 1
cloth = "offcuts"
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a shelf, a job and its lays. Read only."""
    return made_from_shelf(tmp_path_factory.mktemp("made"), SHELF, JOB + LASER).parent


@pytest.fixture
def shop(made: Path, tmp_path: Path) -> Path:
    """A copy to change."""
    return Path(shutil.copytree(made, tmp_path / "shop"))


def test_cloth_is_drawn_and_taken_off(shop: Path) -> None:
    summary = json.loads((shop / "out" / "summary.json").read_bytes())
    lays = {lay["cloth"]: lay for lay in summary["lays"]}
    # derived: 44 in less two selvedges of half an inch; two boxes of remnants
    assert lays["kelp print"]["width_mm"] == pytest.approx(43 * 25.4)
    assert lays["offcuts"]["width_mm"] == pytest.approx(22 * 25.4)
    assert cutfiles("check", shop / "out").returncode == 0
    run = cutfiles("take", shop / "out")
    assert run.returncode == 0, run.stderr
    assert (shop / "shelf.toml.before").read_text() == SHELF
    after = (shop / "shelf.toml").read_text()
    # derived: three yards less the lay, in yards to three decimals, rounded down
    left = 3.0 - lays["kelp print"]["length_mm"] / 914.4
    kelp, rest, scrap = tomllib.loads(after)["stock"]
    assert f"left: {kelp['length']} of 3 yd" in run.stdout
    # derived: one straight cut leaves a rectangle of the quarter, as long or as wide as that
    xs, ys = ({corner[k] for corner in rest["outline"]} for k in (0, 1))
    assert min(xs) == min(ys) == 0
    assert max(xs) == pytest.approx(18) or max(ys) == pytest.approx(22)
    assert (
        f"offcuts: the remnant; left: {max(xs):g} in by {max(ys):g} in of 18 in by 22 in"
        in run.stdout
    )
    pieces = sum(piece["area_mm2"] for piece in lays["offcuts"]["pieces"])
    assert 0 < max(xs) * max(ys) * 25.4**2 <= 18 * 22 * 25.4**2 - pieces
    assert kelp["length"].endswith(" yd")
    assert left - 0.0011 <= float(kelp["length"][:-3]) <= left
    assert scrap["outline"] == [[0, 0], [12, 0], [12, 12], [0, 12]]
    for line in (
        "# What lies on the shelf (invented).",
        "[[stock]]  # a gift",
        'name   = "kelp print"',
        "width  = 44          # selvedge to selvedge",
    ):
        assert line in after
    assert names(shop) == ["job.toml", "out", "shelf.toml", "shelf.toml.before"]
    # a second time it is refused, and nothing changes
    run = cutfiles("take", shop / "out")
    assert run.returncode == 2
    assert "is not the shelf that" in run.stderr
    assert (shop / "shelf.toml").read_text() == after


def test_a_shelf_changed_in_between_is_refused(shop: Path) -> None:
    changed = SHELF.replace('"3 yd"', '"2 yd"')
    (shop / "shelf.toml").write_text(changed)
    run = cutfiles("take", shop / "out")
    assert run.returncode == 2
    assert "somebody changed it; make the job again" in run.stderr
    assert (shop / "shelf.toml").read_text() == changed
    assert not (shop / "shelf.toml.before").exists()


def test_one_run_at_a_time(shop: Path) -> None:
    (shop / "shelf.toml.in-use").touch()
    run = cutfiles("take", shop / "out")
    assert run.returncode == 2
    assert "another run is writing the shelf" in run.stderr
    assert (shop / "shelf.toml").read_text() == SHELF


def test_an_interrupted_write_leaves_the_old_shelf(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(_number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", no_room)
    run = cutfiles("take", shop / "out")
    assert run.returncode == 2
    assert "No space left on device" in run.stderr
    assert (shop / "shelf.toml").read_text() == SHELF
    assert names(shop) == ["job.toml", "out", "shelf.toml"]


def test_folders_without_a_shelf(shop: Path, demo_made: Path, tmp_path: Path) -> None:
    run = cutfiles("take", demo_made)
    assert run.returncode == 2
    assert "the job drew no cloth from a shelf: name one in the job" in run.stderr
    (shop / "shelf.toml").unlink()
    run = cutfiles("take", shop / "out")
    assert run.returncode == 2
    assert "put the shelf back" in run.stderr
    run = cutfiles("take", tmp_path)
    assert run.returncode == 2
    assert "No such file or directory; give a folder that cutfiles has written" in run.stderr


def test_flaws_and_prints_move_with_the_end() -> None:
    text = """[[stock]]
name = "a"
width = 1000
length = 2000
flaws = [
    { at = [100, 5], size = [20, 20] },
    { at = ["49 cm", 5], size = [30, 20] },
    { at = [900, 300], diameter = 10 }, # a hole
    { at = [505, 300], diameter = 20 },
]
print_repeat = { along = 320 }
print_starts = { along = 100 }
"""
    # derived: 500 mm were cut; the second flaw is left from 0 to 20 mm, the round one from 0 to 15
    table = tomllib.loads(shelf_after(text.encode(), {1: Taken(500.0)}).content.decode())["stock"][
        0
    ]
    assert table["length"] == 1500.0
    assert table["flaws"] == [
        {"at": ["0 cm", 5], "size": ["20.000 mm", 20]},
        {"at": [400.0, 300], "diameter": 10},
        {"at": [0, 290.0], "size": ["15.000 mm", "20.000 mm"]},
    ]
    assert table["print_starts"]["along"] == pytest.approx((100.0 - 500.0) % 320.0)
    thread = shelf_after(text.encode(), {1: Taken(1960.0)})  # 40 mm are left
    assert tomllib.loads(thread.content.decode()) == {"stock": []}
    with pytest.raises(ValueError, match="100 mm shorter than what was cut"):
        shelf_after(text.encode(), {1: Taken(2100.0)})


def test_flaws_move_with_the_rest_of_a_remnant() -> None:
    text = """[[stock]]
name = "a"
outline = [[0, 0], [460, 0], [460, 560], [0, 560]]
flaws = [
    { at = [10, 5], size = [20, 20] },
    { at = [90, 300], size = [30, 20] }, # cut through
    { at = [200, 10], diameter = 40 },
]

[[stock]]
name = "b"
outline = "b.svg"
"""
    # derived: the first 100 mm are cut off, the lowest 20 mm, too; of the round one that is half
    rest = ((100.0, 20.0), (460.0, 20.0), (460.0, 560.0), (100.0, 560.0))
    done = shelf_after(text.encode(), {1: Taken(rest_mm=rest), 2: Taken()})
    (table,) = tomllib.loads(done.content.decode())["stock"]
    assert table["outline"] == [[0, 0], [360, 0], [360, 540], [0, 540]]
    assert table["flaws"] == [
        {"at": [0, 280.0], "size": ["20.000 mm", 20]},
        {"at": [80.0, 0], "size": ["40.000 mm", "10.000 mm"]},
    ]
    assert done.left == {
        1: "360 mm by 540 mm of 460 mm by 560 mm",
        2: "nothing of 'b.svg', since less than 50 mm goes",
    }


BAD = [
    ("no such cloth", JOB.replace('name = "offcuts"', 'name = "ofcuts"'), "did you mean 'offcuts'"),
    ("said twice", JOB.replace('name = "kelp print"\n', 'name = "kelp print"\nwidth = 9\n', 1),
     "width: 'kelp print' is on the shelf"),
    ("drawn twice", JOB.replace('[[cloth]]\n', '[[cloth]]\nname = "offcuts"\n[[cloth]]\n', 1),
     "[[cloth]] 3: name: [[stock]] 2 is drawn by a table before"),
    ("no shelf", JOB.replace("shelf.toml", "other.toml"), "'other.toml' cannot be read"),
]  # fmt: skip


@pytest.mark.parametrize(("_name", "text", "words"), BAD, ids=[row[0] for row in BAD])
def test_jobs_that_are_refused(_name: str, text: str, words: str, shop: Path) -> None:
    (shop / "job.toml").write_text(text + LASER)
    run = cutfiles("estimate", shop / "job.toml")
    assert run.returncode == 2
    assert words in run.stderr


def test_what_is_wrong_beside_the_shelf_is_said_with_it(shop: Path) -> None:
    text = JOB.replace("shelf.toml", "other.toml").replace("quantity = 1", "quantity = 0")
    (shop / "job.toml").write_text(text + LASER + 'file = "none.toml"\n')
    run = cutfiles("estimate", shop / "job.toml")
    assert run.returncode == 2
    assert len(run.stderr.splitlines()) == 3, run.stderr
    for words in (
        "shelf: 'other.toml' cannot",
        "'none.toml' cannot be read",
        "2: quantity: 0 must",
    ):
        assert words in run.stderr


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("width  = 44", "widht = 44", "did you mean 'width'?"),
        ("width  = 44", "width = -44", "shelf.toml: [[stock]] 1: width"),
        ("selvedge = 0.5", "selvedge = 30", "shelf.toml: [[stock]] 1: selvedge"),
        ("[[stock]]  # a gift", "[[stock]", "shelf.toml: not a TOML file"),
    ],
)
def test_shelves_that_are_refused(old: str, new: str, words: str, shop: Path) -> None:
    assert old in SHELF
    (shop / "shelf.toml").write_text(SHELF.replace(old, new))
    run = cutfiles("estimate", shop / "job.toml")
    assert run.returncode == 2
    assert words in run.stderr


def test_a_remnant_in_stock_is_named_as_the_files_have_it(tmp_path: Path) -> None:
    # the second table of cloth is two remnants, of which the shelf's third table is the wrong one
    (tmp_path / "shelf.toml").write_text(
        '[[stock]]\nname = "plain"\nwidth = 900\nfibre = "cotton"\n'
        '[[stock]]\nname = "scraps"\noutline = [[0, 0], [900, 0], [900, 600], [0, 600]]\n'
        '[[stock]]\nname = "scraps"\noutline = "gone.svg"\n'
    )
    job = tmp_path / "job.toml"
    job.write_text(
        'shelf = "shelf.toml"\n[[cloth]]\nname = "plain"\n[[cloth]]\nname = "scraps"\n'
        '[[caps]]\nstyle = "tie-back"\nsize = "M"\nquantity = 1\ncloth = "scraps"\n' + LASER
    )
    run = cutfiles("estimate", job)
    assert run.returncode == 2
    assert f"{job.name}: [[cloth]] 2, [[stock]] 3: outline: 'gone.svg'" in run.stderr
    (tmp_path / "gone.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">'
        '<g id="outline"><path d="M 0 0 H 40 V 40 H 0 Z"/></g></svg>'
    )
    run = cutfiles("estimate", job)
    assert f"{job.name}: [[cloth]] 2, [[stock]] 3: outline: is 40 by 40 mm" in run.stderr
