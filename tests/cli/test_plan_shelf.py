"""`plan` of cloth from a shelf, of pieces from another cloth and of panels, to the last `take`."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from cutfiles.pipeline.many_nests import Stop
from cutfiles.pipeline.nest_task import NestResult, NestTask
from tests.cli.program import NestsHere, Table, cutfiles, names
from tests.conftest import LASER

POCKET = Path(__file__).parents[2] / "fixtures" / "pieces" / "pocket.svg"
SHELF = """# What lies on the shelf (invented).
[[stock]]
name = "kelp print"
width = 1100
selvedge = 10
length = "4 m"
fibre = "cotton"

[[stock]]
name = "plain"
width = 900
fibre = "cotton"
length = 2500
"""
JOB = """title = "The late shift (invented)"
shelf = "stock/shelf.toml"
[[cloth]]
name = "kelp print"
[[cloth]]
name = "plain"
plies = 1
[[caps]]
style = "tie-back"
size = "M"
quantity = 3
edge = "binding"
cloth = "kelp print"
grain = { crown = "either" }
from = { binding = "plain" }
[[caps]]
style = "three-panel"
size = "S"
quantity = 2
cloth = "plain"
[[panels]]
file = "pocket.svg"
quantity = 6
cloth = "kelp print"
"""


@pytest.fixture(autouse=True)
def nests_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plans start no processes."""
    monkeypatch.setattr("cutfiles.pipeline.plan.nests_on", NestsHere)


def write_shop(folder: Path, job: str = JOB, shelf: str = SHELF) -> Path:
    (folder / "stock").mkdir()
    (folder / "stock" / "shelf.toml").write_text(shelf)
    (folder / "pocket.svg").write_bytes(POCKET.read_bytes())
    path = folder / "job.toml"
    path.write_text(job + LASER + "most_plies = 2\n")
    return path


def two_caps(*, of_mm: int) -> str:
    """A job that draws from no shelf, with so much cloth."""
    return f"""[[cloth]]
name = "kelp print"
width = 1100
length = {of_mm}
fibre = "cotton"
[[caps]]
style = "tie-back"
size = "M"
quantity = 2
"""


def plan_of(job: Path) -> Table:
    run = cutfiles("plan", job, "--out", job.parent / "plan", "--seconds", "1")
    assert run.returncode == 0, run.stderr
    table: Table = json.loads((job.parent / "plan" / "plan.json").read_text("utf-8"))
    return table


@pytest.mark.usefixtures("short_nests_of_plans")
def test_a_plan_from_the_shelf_is_cut_lay_by_lay(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CUTFILES_KEPT_LAYS", str(tmp_path / "kept"))
    table = plan_of(write_shop(tmp_path))
    cloths = {row["cloth"]: row for row in table["cloths"]}
    # derived: of three bound caps the bindings lie on the plain cloth, the rest on the print
    (print_row,) = cloths["kelp print"]["caps"]
    assert (print_row["line"], print_row["cut"]) == (1, 3)
    assert "binding" not in print_row["pieces"]
    plain_rows = cloths["plain"]["caps"]
    assert [(row["line"], row["cut"]) for row in plain_rows] == [(1, 3), (2, 2)]
    assert plain_rows[0]["pieces"] == ["binding"]
    (pockets,) = cloths["kelp print"]["panels"]
    assert (pockets["ordered"], pockets["cut"]) == (6, 6)
    cut: dict[str, int] = {}
    taken = {"kelp print": 0.0, "plain": 0.0}
    for lay in table["lays"]:
        out = tmp_path / lay["name"]
        run = cutfiles("make", tmp_path / "plan" / lay["file"], "--out", out, "--seconds", "0.1")
        assert run.returncode == 0, run.stderr
        assert "found before and kept" in run.stderr
        made = json.loads((out / "summary.json").read_text("utf-8"))
        (row,) = made["lays"]
        assert row["length_mm"] == pytest.approx(lay["length_mm"], abs=0.01)
        taken[lay["cloth"]] += row["length_mm"] * lay["plies"]
        for piece in row["pieces"]:
            kind = f"{lay['cloth']} {piece['cap']} {piece['name']}"
            cut[kind] = cut.get(kind, 0) + row["plies"]
        assert cutfiles("check", out).returncode == 0
        assert cutfiles("take", out).returncode == 0
        run = cutfiles("take", out)
        assert run.returncode == 2
        assert "is not the shelf that" in run.stderr
    # derived: a tie-back cap has one crown and its binding in one or more strips
    assert cut["kelp print tie-back M crown"] == 3
    assert cut["plain tie-back M binding"] % 3 == 0
    assert "kelp print tie-back M binding" not in cut
    assert "plain tie-back M crown" not in cut
    assert sum(n for kind, n in cut.items() if kind.endswith("panel")) == 6
    stock = tomllib.loads((tmp_path / "stock" / "shelf.toml").read_text())["stock"]
    # derived: what is left, less 1 mm for every lay at most, since metres are rounded down
    left = float(stock[0]["length"].removesuffix(" m")) * 1000.0
    lays = sum(lay["cloth"] == "kelp print" for lay in table["lays"])
    assert 0.0 <= 4000.0 - taken["kelp print"] - left <= lays + 0.01
    assert stock[1]["length"] == pytest.approx(2500.0 - taken["plain"], abs=0.1)


@pytest.mark.usefixtures("short_nests_of_plans")
def test_the_shelf_is_the_limit(tmp_path: Path) -> None:
    more = JOB.replace("quantity = 2", "quantity = 20")
    job = write_shop(tmp_path, more, SHELF.replace("length = 2500", "length = 1200"))
    run = cutfiles("plan", job, "--out", tmp_path / "plan", "--seconds", "1")
    assert run.returncode == 2
    assert "cloth 'plain': length: 1200 mm: the order takes at least" in run.stderr
    assert names(tmp_path / "plan") == []


HALF = """<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm"
viewBox="0 0 200 100">
<rect x="10" y="10" width="180" height="80" fill="none" stroke="black"/></svg>"""
FOLDED = """[[cloth]]
name = "kelp print"
width = 1100
fibre = "cotton"
spread = "folded"
[[panels]]
file = "half.svg"
quantity = 3
grain_deg = 0
"""


@pytest.mark.usefixtures("short_nests_of_plans")
def test_panels_of_folded_cloth_come_in_twos(tmp_path: Path) -> None:
    (tmp_path / "half.svg").write_text(HALF)
    job = write_shop(tmp_path, FOLDED)
    run = cutfiles("plan", job, "--out", tmp_path / "plan", "--seconds", "1")
    assert run.returncode == 2
    # derived: folded cloth gives two of everything
    assert "[[panels]] 1: quantity: 3: cloth 'kelp print' is cut 2 layers at once" in run.stderr
    assert "which gives 2 or 4: order one of these" in run.stderr
    assert "overcut" not in run.stderr
    assert names(tmp_path / "plan") == []


@pytest.mark.usefixtures("short_nests_of_plans")
def test_a_half_on_the_fold_takes_both_layers(tmp_path: Path) -> None:
    # derived: opened it lies over both layers of a ply, so three are three places or plies
    (tmp_path / "half.svg").write_text(HALF)
    job = write_shop(tmp_path, FOLDED + "on_fold = true\n")
    job.write_text(job.read_text().replace("most_plies = 2", "most_plies = 4"))
    table = plan_of(job)
    (row,) = table["cloths"][0]["panels"]
    assert (row["ordered"], row["cut"]) == (3, 3)
    for lay in table["lays"]:
        (laid,) = lay["panels"]
        assert laid["cut"] == laid["in_one_layer"] * lay["plies"]
        out = tmp_path / lay["name"]
        run = cutfiles("make", tmp_path / "plan" / lay["file"], "--out", out, "--quick")
        assert run.returncode == 0, run.stderr
        made = json.loads((out / "summary.json").read_text("utf-8"))
        assert made["totals"]["panels"] == laid["cut"]
        taken = lay["length_mm"] * lay["plies"]
        assert made["totals"]["cloth_length_mm"] == pytest.approx(taken, abs=0.1)


@pytest.mark.usefixtures("short_nests_of_plans")
def test_a_length_for_fewer_plies_than_the_machine_cuts_will_do(tmp_path: Path) -> None:
    # derived: a cap is longer than a tenth of the metre, and a ply at a time has room
    job = write_shop(tmp_path, two_caps(of_mm=1000))
    job.write_text(job.read_text().replace("most_plies = 2", "most_plies = 10"))
    table = plan_of(job)
    assert table["cloths"][0]["caps"][0]["cut"] == 2
    assert sum(lay["length_mm"] * lay["plies"] for lay in table["lays"]) <= 1000.0


class LongNests(NestsHere):
    """All lays come out longer than they are."""

    def results(
        self, tasks: Sequence[NestTask], stop: Stop
    ) -> Iterator[tuple[int, NestResult | None]]:
        """Half as long again."""
        for number, result in super().results(tasks, stop):
            assert result is not None
            yield number, replace(result, length_mm=1.5 * result.length_mm)


@pytest.mark.usefixtures("short_nests_of_plans")
def test_nests_that_are_longer_than_was_likely(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # derived: two caps in a lay are likely to have room on 400 mm, and not on half as much again
    monkeypatch.setattr("cutfiles.pipeline.plan.nests_on", LongNests)
    job = write_shop(tmp_path, two_caps(of_mm=400))
    run = cutfiles("plan", job, "--out", tmp_path / "plan", "--seconds", "1")
    assert run.returncode == 2, run.stdout
    assert "cloth 'kelp print': length: 400 mm: the order takes at least" in run.stderr
    assert "more: have more cloth, or order less" in run.stderr
    assert "overcut" not in run.stderr


WHOLE = """[[cloth]]
name = "kelp print"
width = 1100
fibre = "cotton"
spread = "folded"
[[cloth]]
name = "plain"
width = 900
fibre = "cotton"
plies = 2
[[caps]]
style = "tie-back"
size = "M"
quantity = 3
overcut = 1
edge = "binding"
cloth = "kelp print"
from = { binding = "plain" }
"""


@pytest.mark.usefixtures("short_nests_of_plans")
def test_a_cap_too_many_is_cut_of_all_its_cloths(tmp_path: Path) -> None:
    # derived: folded cloth gives caps in twos, so three are four, and four have four bindings;
    # the plain cloth alone would be cut for three
    table = plan_of(write_shop(tmp_path, WHOLE))
    assert {row["cloth"]: row["caps"][0]["cut"] for row in table["cloths"]} == {
        "kelp print": 4,
        "plain": 4,
    }


@pytest.mark.usefixtures("short_nests_of_plans")
def test_cloth_for_no_whole_cap_too_many(tmp_path: Path) -> None:
    # derived: three crowns of 239 by less than 233 mm lie side by side on 700 mm, a fourth needs
    # as much length again; and folded cloth gives two or four
    text = WHOLE.replace("binding = ", "crown = ").replace(
        "width = 900", "width = 700\nlength = 300"
    )
    job = write_shop(tmp_path, text)
    run = cutfiles("plan", job, "--out", tmp_path / "plan", "--seconds", "1")
    assert run.returncode == 2, run.stdout
    assert "'kelp print', 'plain': no plan cuts the pieces of as many caps of each" in run.stderr
    assert names(tmp_path / "plan") == []
    # more cloth mends it
    job.write_text(job.read_text().replace("length = 300", "length = 500"))
    cut = {row["cloth"]: row["caps"][0]["cut"] for row in plan_of(job)["cloths"]}
    assert cut == {"kelp print": 4, "plain": 4}
