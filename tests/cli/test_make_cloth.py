"""The whole way on cloth of all kinds: grain, spreads, flaws, prints and remnants."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from cutfiles.verdict.read_dxf import read_dxf
from tests.cli.program import Table, WriteJob, cutfiles, names
from tests.conftest import LASER, ONE_CAP, ONE_CLOTH, SMALL_JOB


def made(text: str, job_file: WriteJob, out: Path, seconds: str = "0.1") -> Table:
    """The summary of a job that is made, and checked once more."""
    run = cutfiles("make", job_file(text), "--out", out, "--seconds", seconds)
    assert run.returncode == 0, run.stderr
    again = cutfiles("check", out)
    assert again.returncode == 0, again.stderr
    table: Table = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    return table


def half_panel(folder: Path) -> None:
    """A drawing of half a bib, its fold the lowest edge, 240 mm long."""
    (folder / "bib.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="120mm" '
        'viewBox="0 0 300 120"><g id="outline"><path d="M 10 110 H 250 V 60 Q 200 10 100 20 '
        'L 10 60 Z"/></g></svg>'
    )


def regions(lay: Table, folder: Path) -> list[Polygon]:
    """The outlines of a lay as GDAL reads them."""
    drawing = read_dxf(folder / lay["files"]["dxf"])
    return [Polygon(line.points) for line in drawing.on("piece-outlines")]


def angles(table: Table, name: str) -> set[float]:
    """How the pieces of a name lie, of which there are some."""
    lying = [p["grain_deg"] for lay in table["lays"] for p in lay["pieces"] if p["name"] == name]
    assert lying, name
    return set(lying)


def test_grain_and_tilt_of_every_piece(job_file: WriteJob, tmp_path: Path) -> None:
    # derived: what the job allows, either way up
    text = SMALL_JOB.replace(
        "quantity = 1", 'quantity = 2\ngrain = { tie = "across" }\ntilt = { band = 1.5 }'
    )
    table = made(text, job_file, tmp_path / "out")
    assert angles(table, "crown") <= {0.0, 180.0}
    assert angles(table, "tie") <= {90.0, 270.0}
    assert angles(table, "band") <= {0.0, 1.5, 358.5, 180.0, 178.5, 181.5}


def test_a_panel_on_the_bias(job_file: WriteJob, tmp_path: Path) -> None:
    (tmp_path / "patch.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="60mm" viewBox="0 0 90 60">'
        '<path d="M 5 5 H 85 V 55 H 5 Z"/></svg>'
    )
    panels = '[[panels]]\nfile = "patch.svg"\nquantity = 3\ngrain_deg = 0\ngrain = "bias"\n'
    table = made(ONE_CLOTH + panels + LASER, job_file, tmp_path / "out")
    # derived: the bias is halfway between along and across
    assert angles(table, "panel") <= {45.0, 135.0, 225.0, 315.0}


BIB = '[[panels]]\nfile = "bib.svg"\nquantity = 3\ngrain_deg = 0\non_fold = true\n'


def test_folded_cloth(job_file: WriteJob, tmp_path: Path) -> None:
    half_panel(tmp_path)
    cloth = ONE_CLOTH.replace("1117.6", "1300") + 'spread = "folded"\n'
    out = tmp_path / "out"
    text = cloth + ONE_CAP.replace("quantity = 1", "quantity = 4") + BIB + LASER
    table = made(text, job_file, out)
    (lay,) = table["lays"]
    # derived: two layers at once; half the usable width; two positions give four caps, and each
    # half on the fold one whole bib
    assert (lay["plies"], lay["spread"]) == (2, "folded")
    assert lay["width_mm"] == pytest.approx((1300.0 - 2 * 12.7) / 2.0)
    totals = table["totals"]
    assert (totals["caps"], totals["panels"]) == (4, 3)
    assert sum(piece["name"] == "crown" for piece in lay["pieces"]) == 2
    assert totals["cloth_length_mm"] == pytest.approx(lay["length_mm"], abs=0.001)
    halves = [region for region in regions(lay, out) if region.bounds[1] < 0.0]
    assert len(halves) == 3
    for half in halves:
        # the fold, y = 0, is crossed twice and never followed: the cut runs 5 mm and half a kerf
        # past it
        assert half.bounds[1] == pytest.approx(-5.1, abs=0.02)
        crossed = half.exterior.intersection(LineString([(0, 0), (lay["length_mm"], 0)]))
        assert sorted(place.geom_type for place in shapely.get_parts(crossed)) == ["Point", "Point"]
        assert half.intersection(box(0, 0, 9e9, 9e9)).bounds[2] > 240.0


def test_a_bib_on_single_cloth_is_opened(job_file: WriteJob, tmp_path: Path) -> None:
    half_panel(tmp_path)
    table = made(ONE_CLOTH + BIB + LASER, job_file, tmp_path / "out")
    (area,) = {round(piece["area_mm2"]) for piece in table["lays"][0]["pieces"]}
    folded = ONE_CLOTH + 'spread = "folded"\n' + BIB + LASER
    (lay,) = made(folded, job_file, tmp_path / "folded")["lays"]
    for piece in lay["pieces"]:
        # derived: two halves are the whole
        assert 2.0 * (piece["area_mm2"] - piece["past_fold_mm2"]) == pytest.approx(area, abs=1.0)
        assert piece["past_fold_mm2"] == pytest.approx(5.0 * 240.0, abs=0.5)


def test_the_pattern_of_a_half_is_opened(job_file: WriteJob, tmp_path: Path) -> None:
    half_panel(tmp_path)
    bib = BIB + 'grain = "along"\ntilt = 1\n'
    text = ONE_CLOTH + 'spread = "folded"\n' + ONE_CAP + bib + LASER
    out = tmp_path / "out"
    run = cutfiles("draft", job_file(text), "--out", out)
    assert run.returncode == 0, run.stderr
    rows = json.loads((out / "pattern.json").read_text(encoding="utf-8"))["lays"]
    (bib_row,) = [row for row in rows if row["cloth"] == "paper" and "bib" in row["name"]]
    (region,) = regions(bib_row, out)
    # derived: the edge opposite the fold is highest on the curve from (250, 60) over (200, 10) to
    # (100, 20), and the bib is twice as high
    curve = np.linspace(0.0, 1.0, 100001)
    y = 60 * (1 - curve) ** 2 + 20 * curve * (1 - curve) + 20 * curve**2
    x0, y0, x1, y1 = region.bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((240.0, 2.0 * (110.0 - y.min())), abs=0.03)
    assert cutfiles("check", out).returncode == 0


def test_a_half_off_its_grain_cannot_lie_on_the_fold(job_file: WriteJob, tmp_path: Path) -> None:
    # derived: the fold runs along the cloth, so what lies on it lies along the grain or not at all
    half_panel(tmp_path)
    off = BIB.replace("grain_deg = 0", "grain_deg = 30")
    text = ONE_CLOTH + 'spread = "folded"\n' + off + LASER
    run = cutfiles("make", job_file(text), "--out", tmp_path / "out", "--seconds", "0.1")
    assert run.returncode == 2
    assert "it does not lie on the grain, which is 'along' on the cloth" in run.stderr
    assert names(tmp_path / "out") == []


def test_left_and_right_come_in_pairs_or_not_at_all(job_file: WriteJob, tmp_path: Path) -> None:
    # derived: each outline is cut through two layers, so two caps take one strip and, as a side and
    # its mirror image are cut by one outline, two sides
    cloth = ONE_CLOTH + 'spread = "face to face"\nplies = 2\n'
    caps = ONE_CAP.replace("tie-back", "three-panel").replace("quantity = 1", "quantity = 2")
    table = made(cloth + caps + LASER, job_file, tmp_path / "out")
    assert table["totals"]["caps"] == 2
    assert len(table["lays"][0]["pieces"]) == 3
    (tmp_path / "left.svg").write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="60mm" viewBox="0 0 90 60">'
        '<path d="M 5 5 H 85 V 55 Z"/></svg>'
    )
    panel = '[[panels]]\nfile = "left.svg"\nquantity = 2\ngrain_deg = 0\n'
    run = cutfiles(
        "make", job_file(cloth + panel + LASER), "--out", tmp_path / "one", "--seconds", "0.1"
    )
    assert run.returncode == 2
    assert "left is neither its own mirror image nor one of a left and right pair" in run.stderr
    assert 'give spread = "single"' in run.stderr
    (tmp_path / "right.svg").write_text(
        (tmp_path / "left.svg").read_text().replace("H 85 V 55", "H 85 L 5 55")
    )
    both = cloth + panel + panel.replace("left", "right") + LASER
    # face to face, one position of either gives one left and one right
    assert made(both, job_file, tmp_path / "both")["totals"]["panels"] == 4


def test_flaws_are_kept_clear_of(job_file: WriteJob, tmp_path: Path) -> None:
    flaws = (
        'length = "2 yd"\nflaws = [{ at = ["20 cm", "30 cm"], size = ["4 cm", "5 cm"] }, '
        "{ at = [450, 700], diameter = 60, hole = true }]\n"
    )
    text = ONE_CLOTH + flaws + ONE_CAP.replace("quantity = 1", "quantity = 4") + LASER
    out = tmp_path / "out"
    table = made(text, job_file, out, "0.3")
    (lay,) = table["lays"]
    # derived: the selvedge of 12.7 mm is taken off
    known = [box(200, 300 - 12.7, 240, 350 - 12.7), Point(450, 700 - 12.7).buffer(30.0)]
    for region in regions(lay, out):
        assert all(region.distance(flaw) > 0.0 or region.touches(flaw) for flaw in known)
    (grade,) = [f["text"] for f in table["findings"] if f["code"] == "cloth-grade"]
    assert "2 flaws make 4 points (ASTM D5430, four points)" in grade


def test_flaws_of_both_layers_count_on_folded_cloth(job_file: WriteJob, tmp_path: Path) -> None:
    # derived: the middle of 1400 mm is the fold, one flaw 200 mm below it, one 300 mm above
    flaws = "flaws = [{ at = [90, 450], size = [80, 50] }, { at = [400, 1000], size = [50, 50] }]\n"
    text = ONE_CLOTH.replace("1117.6", "1400") + 'spread = "folded"\n' + flaws
    out = tmp_path / "out"
    table = made(text + ONE_CAP.replace("= 1", "= 8") + LASER, job_file, out, "0.3")
    (lay,) = table["lays"]
    shown = sorted([min(x for x, _ in flaw), min(y for _, y in flaw)] for flaw in lay["flaws_mm"])
    assert shown == [[90, 200], [400, 300]]
    for region in regions(lay, out):
        for flaw in (box(90, 200, 170, 250), box(400, 300, 450, 350)):
            assert region.intersection(flaw).area < 0.1


def test_lays_on_flawed_cloth_are_nested_in_order(job_file: WriteJob, tmp_path: Path) -> None:
    cloth = ONE_CLOTH + "flaws = [{ at = [600, 0], size = [30, 1117.6] }]\n"
    text = cloth + ONE_CAP.replace("= 1", "= 6") + LASER + "bed = { along = 450 }\n"
    out = tmp_path / "out"
    table = made(text, job_file, out, "0.3")
    assert len(table["lays"]) >= 2
    assert table["totals"]["caps"] == 6
    assert "flaw-skipped" in {finding["code"] for finding in table["findings"]}
    for lay in table["lays"]:
        for region in regions(lay, out):
            # derived: no piece lies on the strip of bad cloth, wherever on it its lay begins
            begins, ends = (region.bounds[k] + lay["starts_at_mm"] for k in (0, 2))
            assert ends <= 600.01 or begins >= 629.99


def test_pieces_keep_to_a_print(job_file: WriteJob, tmp_path: Path) -> None:
    cloth = ONE_CLOTH + "print_repeat = { along = 160, across = 120 }\n"
    caps = ONE_CAP.replace("quantity = 1", 'quantity = 2\nmatch = ["crown", "band"]')
    table = made(cloth + caps + LASER, job_file, tmp_path / "out", "0.3")
    (lay,) = table["lays"]
    # derived on I. Vilumsone-Nemes, pp. 228 and 256: a lay takes whole repeats
    assert lay["length_mm"] % 160.0 == pytest.approx(0.0, abs=1e-6)
    matched = [piece for piece in lay["pieces"] if piece["name"] in ("crown", "band")]
    assert len(matched) == 4
    for piece in matched:
        along, across = piece["match_mm"]
        assert along % 160.0 == pytest.approx(80.0, abs=0.02)
        assert across % 120.0 == pytest.approx(60.0, abs=0.02)
        assert piece["matched_by"] == "notch"
        assert [along, across] in piece["notch_ends_mm"]


def test_a_print_that_begins_elsewhere(job_file: WriteJob, tmp_path: Path) -> None:
    cloth = ONE_CLOTH + "print_repeat = { along = 160, across = 120 }\n"
    cloth += 'print_starts = { along = "3 cm", across = 5 }\n'
    caps = ONE_CAP.replace("quantity = 1", 'quantity = 1\nmatch = "crown"')
    out = tmp_path / "out"
    (lay,) = made(cloth + caps + LASER, job_file, out)["lays"]
    (crown,) = [piece for piece in lay["pieces"] if piece["name"] == "crown"]
    # derived: half a repeat from where one begins, and across less the selvedge of 12.7 mm
    along, across = crown["match_mm"]
    assert along % 160.0 == pytest.approx(30.0 + 80.0, abs=0.02)
    assert (across + 12.7) % 120.0 == pytest.approx(5.0 + 60.0, abs=0.02)
    assert lay["length_mm"] % 160.0 == pytest.approx(0.0, abs=1e-6)
    page = (out / "preview.html").read_text(encoding="utf-8")
    # derived: 30 mm along the first repeat begins, 5 - 12.7 + 120 = 112.3 mm up the second
    assert '<path class="repeat" d="M30.00 0V' in page
    assert f'<path class="repeat" d="M0 {lay["width_mm"] - 112.3:.2f}H' in page


REMNANTS = """
[[cloth]]
name = "offcuts"
fibre = "cotton"
outline = "scrap.svg"
[[cloth]]
name = "offcuts"
fibre = "cotton"
outline = [[0, 0], ["60 cm", 0], [600, 300], [300, 560], [0, 560]]
flaws = [{ at = [100, 100], size = [60, 60] }]
"""
SCRAP = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="900mm" height="600mm" viewBox="0 0 900 600">'
    '<path d="M 10 590 H 890 V 260 Q 600 10 300 20 L 10 160 Z"/></svg>'
)


def test_remnants_give_as_many_caps_as_fit(job_file: WriteJob, tmp_path: Path) -> None:
    (tmp_path / "scrap.svg").write_text(SCRAP)
    caps = ONE_CAP.replace("quantity = 1", 'quantity = "as many as fit"')
    out = tmp_path / "out"
    table = made(REMNANTS + caps + LASER, job_file, out)
    totals = table["totals"]
    assert totals["caps"] == totals["caps_ordered"] >= 2
    numbers = [p["cap_number"] for lay in table["lays"] for p in lay["pieces"]]
    # derived: a cap counts only when all its four pieces are cut, on whatever remnant
    assert set(Counter(numbers).values()) == {4}
    for lay in table["lays"]:
        remnant = Polygon(lay["remnant_mm"])
        for region in regions(lay, out):
            assert remnant.buffer(0.01).covers(region)
    # derived: the second remnant is 560 mm high, and its flaw lies where the job says
    (flawed,) = [lay for lay in table["lays"] if lay["width_mm"] == pytest.approx(560.0)]
    for region in regions(flawed, out):
        assert region.intersection(box(100, 100, 160, 160)).area < 0.1


def test_a_limited_length_gives_as_many_caps_as_fit(job_file: WriteJob, tmp_path: Path) -> None:
    cloth = ONE_CLOTH + 'length = "70 cm"\n'
    caps = ONE_CAP.replace("quantity = 1", 'quantity = "as many as fit"')
    table = made(cloth + caps + LASER, job_file, tmp_path / "out")
    assert sum(lay["length_mm"] for lay in table["lays"]) <= 700.0
    # derived: consumption is area over efficiency times width; rows alone reach 70 %
    each = sum(p["area_mm2"] for p in table["lays"][0]["pieces"]) / table["totals"]["caps"]
    usable = 700.0 * (1117.6 - 2 * 12.7)
    assert 0.6 * usable / each - 1 <= table["totals"]["caps"] <= usable / each
    assert [f["code"] for f in table["findings"]] == ["as-many-as-fit"]


def test_as_many_as_fit_before_and_behind_a_flaw(job_file: WriteJob, tmp_path: Path) -> None:
    # derived: a tie is 12 in long on the grain, so no cap has room on the 200 mm before the bad
    # stretch, and the first lay begins behind it
    cloth = ONE_CLOTH + "length = 900\nflaws = [{ at = [200, 0], size = [50, 1117.6] }]\n"
    caps = ONE_CAP.replace("quantity = 1", 'quantity = "as many as fit"')
    bed = LASER + "bed = { along = 450 }\n"
    table = made(cloth + caps + bed, job_file, tmp_path / "out")
    assert table["totals"]["caps"] >= 2
    assert table["lays"][0]["starts_at_mm"] == 250.0
    last = table["lays"][-1]
    assert last["starts_at_mm"] + last["length_mm"] <= 900.0


def test_a_bed_that_moves_the_cloth_on_cuts_one_lay_in_frames(
    job_file: WriteJob, tmp_path: Path
) -> None:
    text = ONE_CLOTH + ONE_CAP.replace("= 1", "= 6") + LASER
    text += "bed = { along = 420, advance = true }\nfiles = { tool_path = true }\n"
    table = made(text, job_file, tmp_path / "out")
    (lay,) = table["lays"]
    starts = lay["frames_mm"]
    assert lay["length_mm"] > 420.0
    assert starts[0] == 0.0
    assert len(starts) >= 2
    assert {piece["frame"] for piece in lay["pieces"]} == set(range(1, len(starts) + 1))
    assert table["machine"]["bed_advances"]
