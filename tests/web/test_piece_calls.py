"""Pieces as data, tried by hand, pinned: judged by shapely alone, and by what was asked for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import shapely
from shapely.affinity import rotate, translate
from starlette.testclient import TestClient

from cutfiles.effort import Effort
from cutfiles.pipeline.make import make_job
from cutfiles.pipeline.shown_lays import lay_rows, shown_lays
from cutfiles.web.desk import Desk
from tests.conftest import SMALL_JOB
from tests.web.page import changed, new_job, refusal

Lay = dict[str, Any]
TWO_CAPS = SMALL_JOB.replace("quantity = 1", "quantity = 2 # two")


@pytest.fixture(scope="module")
def lays(tmp_path_factory: pytest.TempPathFactory) -> list[Lay]:
    """The lay of two caps, as a run leaves it."""
    folder = tmp_path_factory.mktemp("two caps")
    (folder / "job.toml").write_text(TWO_CAPS, encoding="utf-8")
    made = make_job(folder / "job.toml", folder / "out", Effort(0.0, 1))
    return lay_rows(shown_lays(made.lays))


@pytest.fixture
def laid(page: TestClient, desk: Desk, lays: list[Lay]) -> tuple[str, Lay]:
    """A job with a run that has ended, and the lay that is shown."""
    job = new_job(page, TWO_CAPS)
    name = job.rpartition("/")[2]
    desk.runs.order(name, 1, seconds=1.0, seed=1, anew=True)
    (run,) = desk.index.runs(name)
    progress = {"state": "done", "began": 0.0, "ended": 1.0, "step": 1, "findings": []}
    desk.runs.folder_of(run).say(progress | {"lays": lays})
    desk.index.set_run(run.job, run.number, "done")
    (lay,) = page.get(f"{job}/run").json()["lays"]
    return job, lay


def outlines(lay: Lay) -> dict[str, shapely.Polygon]:
    return {piece["id"]: shapely.Polygon(piece["outline"]) for piece in lay["pieces"]}


def place(lay: Lay, name: str, dx: float = 0.0, dy: float = 0.0) -> dict[str, Any]:
    """The words of a trial or pin: a piece where it lies, or so far from there."""
    (piece,) = [piece for piece in lay["pieces"] if piece["id"] == name]
    x, y = piece["at_mm"]
    return {"piece": name, "x_mm": x + dx, "y_mm": y + dy, "turn_deg": piece["turn_deg"]}


def test_the_pattern_is_what_is_drafted(page: TestClient) -> None:
    """Areas and lengths of the demo of docs/reference/tie-back.md are tested elsewhere: here the
    data hangs together, by shapely."""
    job = new_job(page, SMALL_JOB.replace('size = "M"\nquantity = 1', "wearers = 30"))
    table = page.get(f"{job}/pattern").json()
    assert (table["revision"], table["findings"], table["panels"]) == (1, [], [])
    assert sum(line["quantity"] for line in table["lines"]) == 30
    assert len({line["size"] for line in table["lines"]}) == len(table["lines"]) > 1
    for line in table["lines"]:
        low, high = line["fit"]["head_mm"]
        assert (
            line["fit"]["goes_round_mm"][0]
            <= low + 0.1
            < high - 0.1
            <= line["fit"]["goes_round_mm"][1]
        )
        assert low <= line["girth_mm"] <= high
        for seam in line["walk"]:
            ends = [seam["spans"][0]["from"], seam["spans"][-1]["to"]]
            assert ends == [0.0, 1.0]
            assert seam["worst_error_mm"] <= 0.1
        for corner in line["corners"]:
            assert corner["angle_deg"] == pytest.approx(180.0, abs=1.0)
        for piece in line["pieces"]:
            outline = shapely.Polygon(piece["outline"])
            assert outline.is_valid
            x0, y0, x1, y1 = outline.bounds
            assert piece["size_mm"] == pytest.approx([x1 - x0, y1 - y0], abs=0.002)
            near = outline.buffer(0.1)
            marks = [*piece["stitch"], *piece["notches"], piece["grain"]]
            assert all(near.covers(shapely.LineString(mark)) for mark in marks)
            assert near.covers(shapely.Point(piece["label_at"]))


def test_a_line_that_cannot_be_drafted_says_so_and_the_others_are_shown(page: TestClient) -> None:
    text = SMALL_JOB.replace(
        "[machine]", '[[caps]]\nstyle = "tie-back"\nsize = "S"\nquantity = 1\n'
        "measures = { snug = 0, elastic_relaxed = 199 }\n[machine]",
    )  # fmt: skip
    table = page.get(f"{new_job(page, text)}/pattern").json()
    assert [line["line"] for line in table["lines"]] == [1]
    assert {tuple(finding["path"]) for finding in table["findings"]} == {("caps", 1)}


def test_every_piece_may_stay_where_it_lies(page: TestClient, laid: tuple[str, Lay]) -> None:
    job, lay = laid
    for name in outlines(lay):
        tried = page.post(f"{job}/trial", json=place(lay, name)).json()
        assert tried["fits"], tried
        assert (tried["against"], tried["reasons"]) == ([], [])


def test_a_piece_dragged_over_others_names_them(page: TestClient, laid: tuple[str, Lay]) -> None:
    """By shapely: what it is against are the outlines that it then overlaps, or comes near."""
    job, lay = laid
    there = outlines(lay)
    seen = 0
    for name, outline in there.items():
        for dx, dy in ((3.0, 0.0), (0.0, -40.0), (-150.0, 60.0), (5000.0, 0.0)):
            tried = page.post(f"{job}/trial", json=place(lay, name, dx, dy)).json()
            moved = translate(outline, dx, dy)
            apart = {other: moved.distance(o) for other, o in there.items() if other != name}
            # derived: 0.2 mm of kerf and 1 mm between two kerfs; drawn outlines are 0.1 mm off
            assert {other for other, mm in apart.items() if mm < 0.9} <= set(tried["against"])
            assert set(tried["against"]) <= {other for other, mm in apart.items() if mm < 1.5}
            x0, y0, _, y1 = moved.bounds
            inside = min(x0, y0, lay["width_mm"] - y1)
            if inside < -0.1:
                assert not tried["fits"]
            if tried["fits"]:
                assert inside > -0.1
                seen += 1
    assert seen >= len(there)  # far along the cloth there is room for any


def test_a_turn_goes_to_the_grain(page: TestClient, laid: tuple[str, Lay]) -> None:
    """Derived: plain cloth lets a piece lie along it, or end for end."""
    job, lay = laid
    for turn, near in ((10.0, 0.0), (-80.0, 0.0), (95.0, 180.0), (181.0, 180.0), (359.0, 0.0)):
        row = place(lay, "cap-001-crown", 3000.0) | {"turn_deg": turn}
        tried = page.post(f"{job}/trial", json=row).json()
        assert tried["turn_deg"] == near
    crown = outlines(lay)["cap-001-crown"]
    x, y = (place(lay, "cap-001-crown")[key] for key in ("x_mm", "y_mm"))
    turned = rotate(crown, 180.0, origin=(x, y))
    tried = page.post(f"{job}/trial", json=place(lay, "cap-001-crown") | {"turn_deg": 180.0}).json()
    apart = min(turned.distance(o) for n, o in outlines(lay).items() if n != "cap-001-crown")
    assert tried["fits"] == (apart > 1.1 and turned.bounds[0] > 0.0)


def test_other_pieces_that_were_dragged_count_where_they_are(
    page: TestClient, laid: tuple[str, Lay]
) -> None:
    job, lay = laid
    far = place(lay, "cap-001-crown", 4000.0)
    both = place(lay, "cap-002-crown", 4000.0)
    assert page.post(f"{job}/trial", json=both).json()["fits"]
    same = {**both, "x_mm": far["x_mm"] + 5.0, "y_mm": far["y_mm"], "turn_deg": far["turn_deg"]}
    tried = page.post(f"{job}/trial", json={**same, "moved": [far]}).json()
    assert tried["against"] == ["cap-001-crown"]


def test_pins_are_written_into_the_job(page: TestClient, laid: tuple[str, Lay]) -> None:
    job, lay = laid
    rows = [place(lay, "cap-001-crown"), place(lay, "cap-002-band")]
    answer = page.post(f"{job}/pin", json={"revision": 1, "pieces": rows})
    assert answer.status_code == 200, answer.text
    table = answer.json()
    assert table["findings"] == []
    assert table["toml"].startswith(TWO_CAPS)
    assert [pin["piece"] for pin in table["tables"]["pinned"]] == ["cap-001-crown", "cap-002-band"]
    moved = place(lay, "cap-001-crown", 4000.0)
    table = page.post(f"{job}/pin", json={"revision": 2, "pieces": [moved]}).json()
    assert len(table["tables"]["pinned"]) == 2
    assert table["tables"]["pinned"][0]["at"][0] == pytest.approx(moved["x_mm"], abs=1e-4)
    names = ["cap-002-band", "cap-001-crown"]
    table = page.post(f"{job}/unpin", json={"revision": 3, "pieces": names}).json()
    assert table["toml"] == TWO_CAPS
    refusal(page.post(f"{job}/unpin", json={"revision": 4, "pieces": names}), 404)


def test_pins_carry_their_unit_where_the_job_counts_in_another(
    page: TestClient, laid: tuple[str, Lay]
) -> None:
    _, lay = laid
    inches = TWO_CAPS.replace("1117.6", "44").replace("12.7", "0.5").replace("0.2", '"0.2 mm"')
    job = new_job(page, 'length_unit = "in"\n' + inches)
    row = place(lay, "cap-001-crown")
    table = page.post(f"{job}/pin", json={"revision": 1, "pieces": [row]}).json()
    at = table["tables"]["pinned"][0]["at"]
    assert at == [f"{row['x_mm']:.4f} mm", f"{row['y_mm']:.4f} mm"]


def test_some_pins_are_moved_and_taken_out_among_others(
    page: TestClient, laid: tuple[str, Lay]
) -> None:
    job, lay = laid
    names = sorted(outlines(lay))
    rows = [place(lay, name) for name in names]
    page.post(f"{job}/pin", json={"revision": 1, "pieces": rows[:3]})
    again = [place(lay, names[1]) | {"x_mm": rows[1]["x_mm"] + 4000.0}, *rows[3:]]
    table = page.post(f"{job}/pin", json={"revision": 2, "pieces": again}).json()
    pins = table["tables"]["pinned"]
    assert [pin["piece"] for pin in pins] == names
    assert pins[1]["at"][0] == pytest.approx(rows[1]["x_mm"] + 4000.0, abs=1e-4)
    out = {"revision": 3, "pieces": [names[0], names[2]]}
    table = page.post(f"{job}/unpin", json=out).json()
    left = [pins[1], *pins[3:]]
    assert table["tables"]["pinned"] == left
    same = page.post(f"{job}/unpin", json={"revision": 4, "pieces": []}).json()
    assert (same["revision"], same["tables"]["pinned"]) == (4, left)


@pytest.mark.parametrize("call", ["pin", "unpin"])
def test_pins_of_a_text_that_cannot_be_read(call: str, page: TestClient) -> None:
    job = new_job(page, "title = = 3")
    row = {"piece": "cap-001-crown", "x_mm": 1, "y_mm": 1, "turn_deg": 0}
    pieces = [row] if call == "pin" else [row["piece"]]
    answer = page.post(f"{job}/{call}", json={"revision": 1, "pieces": pieces})
    assert "mend it first" in refusal(answer, 422)["text"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"turn_deg": 90.0}, "against its grain"),
        ({"y_mm": -500.0}, "mm across"),
        ({"piece": "cap-009-crown"}, "is no piece of this order"),
    ],
)
def test_a_pin_that_cannot_be_is_refused_with_its_reason(
    change: dict[str, Any], words: str, page: TestClient, laid: tuple[str, Lay]
) -> None:
    job, lay = laid
    row = place(lay, "cap-001-crown") | change
    answer = page.post(f"{job}/pin", json={"revision": 1, "pieces": [row]})
    assert answer.status_code == 422
    findings = answer.json()["findings"]
    assert any(words in finding["text"] for finding in findings)
    assert all(finding["path"][:2] == ["pinned", 0] for finding in findings)
    assert page.get(job).json()["toml"] == TWO_CAPS


def test_two_pins_on_each_other_are_refused(page: TestClient, laid: tuple[str, Lay]) -> None:
    job, lay = laid
    one = place(lay, "cap-001-crown")
    other = one | {"piece": "cap-002-crown", "x_mm": one["x_mm"] + 1.0}
    answer = page.post(f"{job}/pin", json={"revision": 1, "pieces": [one, other]})
    assert "overlaps" in refusal(answer, 422)["text"]


Breaks = Callable[[dict[str, Any]], dict[str, Any]]


@pytest.mark.parametrize(
    ("breaks", "status"),
    [
        (lambda row: row | {"piece": "nobody"}, 404),
        (lambda row: row | {"piece": 3}, 400),
        (lambda row: row | {"x_mm": "far"}, 400),
        (lambda row: row | {"x_mm": 1e9}, 400),
        (lambda row: row | {"turn_deg": True}, 400),
        (lambda row: row | {"moved": 3}, 400),
        (lambda row: row | {"moved": [{}]}, 400),
        (lambda row: row | {"result": 7}, 409),
    ],
)
def test_a_trial_of_nothing(
    breaks: Breaks, status: int, page: TestClient, laid: tuple[str, Lay]
) -> None:
    job, lay = laid
    revision = page.get(job).json()["revision"]
    refusal(page.post(f"{job}/trial", json=breaks(place(lay, "cap-001-crown"))), status)
    assert page.get(job).json()["revision"] == revision


def test_a_trial_before_any_lay(page: TestClient) -> None:
    row = {"piece": "cap-001-crown", "x_mm": 1, "y_mm": 1, "turn_deg": 0}
    job = new_job(page, SMALL_JOB)
    refusal(page.post(f"{job}/trial", json=row), 409)
    assert "pinned" not in page.get(job).json()["tables"]


def test_a_trial_is_of_the_lay_shown_whatever_the_job_is_by_then(
    page: TestClient, laid: tuple[str, Lay]
) -> None:
    job, lay = laid
    changed(page, job, {"path": ["cloth", 0, "width"], "value": 20})
    assert page.post(f"{job}/trial", json=place(lay, "cap-001-crown")).json()["fits"]
