"""`make`: what it leaves, and that every kind of order is cut and proved."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pyogrio
import pytest
import shapely

from tests.cli.program import WriteJob, cutfiles, names
from tests.conftest import LASER, ONE_CAP, ONE_CLOTH, ROOT, SMALL_JOB


def test_make_leaves_what_it_promises(job_file: WriteJob, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run = cutfiles("make", job_file(SMALL_JOB), "--out", out, "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    assert names(out) == ["lay-01.dxf", "lay-01.svg", "preview.html", "summary.json"]
    assert "1 cap; every cut file was read back and found right." in run.stdout
    assert str(out / "preview.html") in run.stdout


def test_the_summary_has_the_agreed_form(demo_made: Path) -> None:
    table = json.loads((demo_made / "summary.json").read_text(encoding="utf-8"))
    assert table["format"] == "cutfiles-summary/1"
    assert table["seed"] == 1
    assert table["machine"] == {"kind": "laser", "kerf_mm": 0.2}
    assert set(table["roles"]) == {"outline", "inner", "notch", "stitch", "grain", "label", "cloth"}
    (lay,) = table["lays"]
    assert {"name", "cloth", "plies", "width_mm", "length_mm", "efficiency", "pieces",
            "cut_length_mm", "travel_mm", "time_s", "files"} <= set(lay)  # fmt: skip
    assert lay["files"] == {"dxf": "lay-01.dxf", "svg": "lay-01.svg"}
    assert lay["width_mm"] == pytest.approx(43 * 25.4)
    assert table["totals"]["caps_ordered"] == table["totals"]["caps"] == 12
    assert table["totals"]["cloth_length_mm"] == pytest.approx(lay["length_mm"], abs=0.01)
    area = sum(piece["area_mm2"] for piece in lay["pieces"])
    assert lay["efficiency"] == pytest.approx(area / lay["width_mm"] / lay["length_mm"], abs=1e-4)
    assert len({piece["id"] for piece in lay["pieces"]}) == 12 * 2 + 8 * 2 + 4
    assert {piece["grain_deg"] for piece in lay["pieces"]} <= {0.0, 180.0}


def test_the_demo_opens_in_gdal_and_its_pieces_are_disjoint(demo_made: Path) -> None:
    # reference: GDAL's DXF driver, by pyogrio
    table = json.loads((demo_made / "summary.json").read_text(encoding="utf-8"))
    _, _, shapes, (layers,) = pyogrio.raw.read(demo_made / "lay-01.dxf", columns=["Layer"])
    outlines = [
        shapely.Polygon(shape)
        for shape, layer in zip(shapely.from_wkb(shapes), layers, strict=True)
        if layer == table["roles"]["outline"]
    ]
    assert len(outlines) == len(table["lays"][0]["pieces"])
    union = shapely.union_all(outlines)
    assert union.area == pytest.approx(sum(outline.area for outline in outlines), rel=1e-9)
    for one in outlines:
        others = [other for other in outlines if other is not one]
        assert shapely.distance(one, others).min() >= 1.0 - 0.02


def test_the_preview_stands_alone(demo_made: Path) -> None:
    page = (demo_made / "preview.html").read_text(encoding="utf-8")
    assert "http://" not in page.replace("http://www.w3.org", "")
    assert "https://" not in page
    assert "not certified protective equipment" in page
    assert "trained staff" in page
    assert page.count("tie-back M / crown 1 of 1") == 5


def test_plies_and_short_cloth_are_told(job_file: WriteJob, tmp_path: Path) -> None:
    text = SMALL_JOB.replace("quantity = 1", "quantity = 7").replace(
        'fibre = "cotton"', 'fibre = "cotton"\nplies = 2\nlength = 700'
    )
    run = cutfiles("make", job_file(text), "--out", tmp_path / "out", "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    assert "2 plies do not divide 7 caps: 8 are cut, 1 more than ordered" in run.stderr
    assert "the order takes" in run.stderr
    table = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert table["totals"]["caps_ordered"] == 7
    assert table["totals"]["caps"] == 8
    assert all(lay["plies"] == 2 and lay["length_mm"] <= 350 for lay in table["lays"])
    lengths = sum(lay["length_mm"] for lay in table["lays"])
    assert table["totals"]["cloth_length_mm"] == pytest.approx(2 * lengths, abs=0.01)
    assert {finding["code"] for finding in table["findings"]} == {
        "over-cut", "cloth-short", "end-loss",
    }  # fmt: skip


def test_one_of_a_kind_is_told_as_one(job_file: WriteJob, tmp_path: Path) -> None:
    shutil.copy(ROOT / "fixtures" / "pieces" / "pocket.svg", tmp_path)
    panel = '[[panels]]\nfile = "pocket.svg"\nquantity = 1\n'
    out = tmp_path / "out"
    job = job_file(ONE_CLOTH + panel + LASER)
    run = cutfiles("make", job, "--out", out, "--seconds", "0.1", "--png")
    assert run.returncode == 0, run.stderr
    assert run.stdout.startswith("lay-01: 1 piece on ")
    preview = (out / "preview.html").read_text("utf-8")
    assert "of the cloth used; 1 piece, " in preview
    assert "lay-01: 1 piece on the cloth, to scale" in preview
    assert "lay-01.png: compared with its fingerprint only" in cutfiles("check", out).stderr


def test_a_head_count_becomes_a_size_mix(job_file: WriteJob, tmp_path: Path) -> None:
    text = ONE_CLOTH + LASER + '[[caps]]\nstyle = "bouffant"\nwearers = 4\nwomen = 1\n'
    run = cutfiles("make", job_file(text), "--out", tmp_path / "out", "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    table = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert table["totals"]["caps"] == table["totals"]["caps_ordered"] == 4
    caps = sorted(piece["cap"] for piece in table["lays"][0]["pieces"])
    # derived: of four women 1.3 S, 1.7 M, 0.6 L and 0.2 each of XS and XL are due
    assert caps == ["bouffant L", "bouffant M", "bouffant M", "bouffant S"]


def test_bias_bindings_are_cut_and_proved(job_file: WriteJob, tmp_path: Path) -> None:
    text = SMALL_JOB.replace(
        "quantity = 1", 'quantity = 2\nedge = "binding"\nbinding_grain = "bias"'
    )
    out = tmp_path / "out"
    run = cutfiles("make", job_file(text), "--out", out, "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    assert cutfiles("check", out).returncode == 0


@pytest.mark.parametrize("style", ["three-panel", "bouffant", "long-hair"])
@pytest.mark.parametrize("edge", ["hem", "binding"])
def test_every_style_is_cut_and_proved(
    style: str, edge: str, job_file: WriteJob, tmp_path: Path
) -> None:
    text = SMALL_JOB.replace("tie-back", style).replace(
        "quantity = 1", f'quantity = 1\nedge = "{edge}"'
    )
    run = cutfiles("make", job_file(text), "--out", tmp_path / "out", "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    assert cutfiles("check", tmp_path / "out").returncode == 0


@pytest.mark.parametrize("pleats", [1, 2])
def test_pleats_are_cut_drawn_and_proved(pleats: int, job_file: WriteJob, tmp_path: Path) -> None:
    measures = f'measures = {{ pleat_depth = "3/8 in", pleats = {pleats} }}'
    job = job_file(SMALL_JOB.replace("quantity = 1", f"quantity = 1\n{measures}"))
    for command, words in (("make", ["--seconds", "0.1"]), ("draft", [])):
        out = tmp_path / command
        run = cutfiles(command, job, "--out", out, *words)
        assert run.returncode == 0, run.stderr
        assert cutfiles("check", out).returncode == 0
    table = json.loads((tmp_path / "make" / "summary.json").read_text())
    notches = {p["name"]: len(p["notch_ends_mm"]) for p in table["lays"][0]["pieces"]}
    # derived: five on the crown seam, and every fold and its meeting line
    assert notches == {"crown": 9, "band": 5, "tie": 0}
    (sheet,) = (tmp_path / "draft").glob("*-sewing.txt")
    assert ("One box pleat" if pleats == 1 else "Two knife pleats") in sheet.read_text("utf-8")


def test_one_way_cloth_and_two_cloths(job_file: WriteJob, tmp_path: Path) -> None:
    text = (
        ONE_CLOTH + "one_way = true\n" + ONE_CLOTH.replace("kelp-print", "gull-grey")
        + ONE_CAP + 'cloth = "kelp-print cotton"\n' + ONE_CAP + 'cloth = "gull-grey cotton"\n'
        + LASER
    )  # fmt: skip
    run = cutfiles("make", job_file(text), "--out", tmp_path / "out", "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    table = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert [lay["cloth"] for lay in table["lays"]] == ["kelp-print cotton", "gull-grey cotton"]
    assert {piece["grain_deg"] for piece in table["lays"][0]["pieces"]} == {0.0}
    ids = [piece["id"] for lay in table["lays"] for piece in lay["pieces"]]
    assert len(set(ids)) == len(ids) == 8
    assert cutfiles("check", tmp_path / "out").returncode == 0


@pytest.mark.parametrize("far_end", ["first", "last"])
def test_the_far_end_is_cut_in_its_turn(far_end: str, job_file: WriteJob, tmp_path: Path) -> None:
    text = SMALL_JOB.replace("width = 1117.6", "width = 600").replace("ity = 1", "ity = 4")
    out = tmp_path / "out"
    job = job_file(f'{text}far_end = "{far_end}"\nlabels = "none"\n')
    run = cutfiles("make", job, "--out", out, "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    # reference: GDAL's DXF driver, by pyogrio, reads entities in the order of the file
    _, _, shapes, (layers,) = pyogrio.raw.read(out / "lay-01.dxf", columns=["Layer"])
    roles = json.loads((out / "summary.json").read_text(encoding="utf-8"))["roles"]
    by_layer: dict[str, list[shapely.Geometry]] = {}
    for shape, layer in zip(shapely.from_wkb(shapes), layers, strict=True):
        by_layer.setdefault(layer, []).append(shape)
    edges = shapely.bounds(by_layer[roles["outline"]])[:, 2]
    # derived: bands of 300 mm from the far end on, those of the far end first or last; an edge
    # within 0.1 mm of the end of a band, where the fit of curves decides, would be bad luck
    bands = ((edges.max() - edges) // 300.0).tolist()
    assert bands == sorted(bands, reverse=far_end == "last")
    assert len(set(bands)) > 1
    assert roles["label"] not in by_layer


def test_shared_edges_are_cut_once(job_file: WriteJob, tmp_path: Path) -> None:
    text = SMALL_JOB.replace("ity = 1", "ity = 2") + "shared_edges = true\n"
    out = tmp_path / "out"
    run = cutfiles("make", job_file(text), "--out", out, "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    assert "files = { tool_path = true }" in run.stderr
    run = cutfiles(
        "make", job_file(text + "files = { tool_path = true }\n"), "--out", out, "--seconds", "0.1"
    )
    assert run.returncode == 0, run.stderr
    assert "m of edges cut once for two" in run.stdout
    (lay,) = json.loads((out / "summary.json").read_text(encoding="utf-8"))["lays"]
    # reference: GDAL's DXF driver, by pyogrio, and shapely's union on a grid of 1 micrometre
    roles = json.loads((out / "summary.json").read_text(encoding="utf-8"))["roles"]
    lengths = []
    for name in ("lay-01.dxf", "lay-01-tool.dxf"):
        _, _, shapes, (layers,) = pyogrio.raw.read(out / name, columns=["Layer"])
        lines = zip(shapely.from_wkb(shapes), layers, strict=True)
        lengths.append([line for line, layer in lines if layer == roles["outline"]])
    drawn, made = (sum(line.length for line in lines) for lines in lengths)
    once = shapely.union_all(lengths[0], grid_size=1e-3).length
    assert drawn - once == pytest.approx(lay["shared_mm"], abs=1.0)
    # ways in and overlaps of 3.2 mm come to it where a cut closes, and so goes over its start; a
    # way in may be shorter where there is little room for it
    closed = sum(not line.is_simple for line in lengths[1])
    assert closed > 0
    assert made - once == pytest.approx(3.2 * closed, abs=1.0)
    assert cutfiles("check", out).returncode == 0
    assert lay["shared_mm"] > 0


@pytest.mark.parametrize("labels", ["text", "none"])
def test_labels_of_each_kind(labels: str, job_file: WriteJob, tmp_path: Path) -> None:
    out = tmp_path / "out"
    job = job_file(f'{SMALL_JOB}labels = "{labels}"\n')
    run = cutfiles("make", job, "--out", out, "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    table = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    # reference: GDAL's DXF driver, by pyogrio
    columns = ["Layer", "Text"]
    _, _, _, (layers, texts) = pyogrio.raw.read(out / "lay-01.dxf", columns=columns)
    read = [text for layer, text in zip(layers, texts, strict=True)
            if layer == table["roles"]["label"]]  # fmt: skip
    names = [piece["name"] for piece in table["lays"][0]["pieces"]]
    assert len(read) == (len(names) if labels == "text" else 0)
    assert all(any(name in text for text in read) for name in names if labels == "text")
    assert cutfiles("check", out).returncode == 0
