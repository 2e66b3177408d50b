"""The program as a person runs it: commands, messages, exit statuses, what is left behind."""

from __future__ import annotations

import json
import math
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyogrio
import pypdfium2
import pytest
import shapely

from tests.conftest import DEMO, LASER, ONE_CAP, ONE_CLOTH, SMALL_JOB

WriteJob = Callable[[str], Path]


Table = dict[str, Any]


def cutfiles(*words: str | Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "cutfiles", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=100)


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


def test_make_leaves_what_it_promises(job_file: WriteJob, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run = cutfiles("make", job_file(SMALL_JOB), "--out", out, "--quick")
    assert run.returncode == 0, run.stderr
    assert names(out) == ["lay-01.dxf", "lay-01.svg", "preview.html", "summary.json"]
    assert "1 caps; every cut file was read back and found right." in run.stdout
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


def test_check_says_a_finished_folder_is_sound(demo_made: Path) -> None:
    run = cutfiles("check", demo_made)
    assert run.returncode == 0, run.stderr
    assert run.stdout == "Sound: lay-01.dxf, lay-01.svg\n"
    assert cutfiles("check", demo_made / "lay-01.svg").returncode == 0


def test_check_finds_what_was_changed_since(demo_copy: Path) -> None:
    text = (demo_copy / "lay-01.svg").read_text(encoding="utf-8")
    group = text.index('id="piece-outlines"')
    start = text.index("<path", group)
    end = text.index("/>", start) + 2
    (demo_copy / "lay-01.svg").write_text(text[:start] + text[end:], encoding="utf-8")
    run = cutfiles("check", demo_copy)
    assert run.returncode == 1
    assert "lay-01.svg: is not the file that was written" in run.stderr
    assert "is there 0 times, not once" in run.stderr
    assert "lay-01.dxf:" not in run.stderr


def test_check_of_a_file_alone(demo_made: Path, tmp_path: Path) -> None:
    alone = tmp_path / "alone.dxf"
    alone.write_bytes((demo_made / "lay-01.dxf").read_bytes())
    run = cutfiles("check", alone)
    assert run.returncode == 0
    assert run.stdout == "Closed and apart, no more is known: alone.dxf\n"
    assert "its scale, pieces and grain are not known" in run.stderr


SUMMARY_CHANGES: list[tuple[str, Callable[[Table], object], str]] = [
    ("longer", lambda t: t["lays"][0].update(length_mm=9999.0), "efficiency is"),
    ("efficient", lambda t: t["lays"][0].update(efficiency=0.99), "efficiency is 0.99"),
    ("no lays", lambda t: t.update(lays=[]), "lays: List should have at least 1 item"),
    ("no files", lambda t: t["lays"][0].update(files={}), "files.dxf"),
    ("a path", lambda t: t["lays"][0]["files"].update(dxf="../lay-01.dxf"), "files.dxf"),
    ("a page", lambda t: t["lays"][0]["files"].update(dxf="preview.html"), "as a DXF or SVG file"),
    ("infinite", lambda t: t["machine"].update(kerf_mm=math.inf), "machine.kerf_mm"),
    ("wide kerf", lambda t: t["machine"].update(kerf_mm=0.4), "is no piece of the lay"),
    ("roles", lambda t: t["roles"].pop("notch"), "roles: must name"),
    ("layer", lambda t: t["roles"].update(notch="else"), "has 0 notches, not 3"),
    ("twice", lambda t: t["lays"].append(t["lays"][0]), "is listed 2 times"),
    ("label", lambda t: t["lays"][0]["pieces"][0].update(label="XL"), "is labelled"),
    ("totals", lambda t: t["totals"].update(cloth_length_mm=1.0), "cloth_length_mm is 1.0"),
    ("caps", lambda t: t["totals"].update(caps=13), "caps is 13 and the lays hold"),
    ("panels", lambda t: t["totals"].update(panels=1), "panels is 1 and the lays hold 0"),
    ("ordered", lambda t: t["totals"].update(panels_ordered=2), "panels_ordered is 2 and the"),
    ("no panel", lambda t: t["lays"][0]["pieces"][0].update(cap_number=None), "panels is 0 and"),
    ("moved", lambda t: t["lays"][0]["pieces"][0].update(centre_mm=[1, 1]), "no piece of the lay"),
]


@pytest.mark.parametrize(
    ("change", "words"), [c[1:] for c in SUMMARY_CHANGES], ids=[c[0] for c in SUMMARY_CHANGES]
)
def test_check_of_a_changed_summary(
    change: Callable[[Table], object], words: str, demo_copy: Path
) -> None:
    path = demo_copy / "summary.json"
    table = json.loads(path.read_text(encoding="utf-8"))
    change(table)
    path.write_text(json.dumps(table), encoding="utf-8")
    run = cutfiles("check", demo_copy)
    assert run.returncode in (1, 2)
    assert words in run.stderr
    assert "Traceback" not in run.stderr


def test_check_names_a_stray_lay(demo_copy: Path) -> None:
    (demo_copy / "lay-07.dxf").write_bytes((demo_copy / "lay-01.dxf").read_bytes())
    run = cutfiles("check", demo_copy)
    assert run.returncode == 0
    assert "lay-07.dxf: is in the folder and no summary names it" in run.stderr


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("missing.dxf", None, "is no DXF or SVG file"),
        ("notes.txt", b"hello", "is no DXF or SVG file"),
        ("empty.dxf", b"", "is no DXF file that can be read"),
        ("torn.svg", b"<svg ", "is no SVG file that can be read"),
    ],
)
def test_check_of_what_cannot_be_judged(
    name: str, content: bytes | None, words: str, tmp_path: Path
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    run = cutfiles("check", path)
    assert run.returncode in (1, 2)
    assert words in run.stderr
    assert "Traceback" not in run.stderr


def test_check_of_a_folder_that_is_not_ours(tmp_path: Path) -> None:
    run = cutfiles("check", tmp_path)
    assert run.returncode == 2
    assert "holds no summary.json" in run.stderr
    (tmp_path / "summary.json").write_text('{"format": "else"}')
    run = cutfiles("check", tmp_path)
    assert run.returncode == 2
    assert "summary.json: format:" in run.stderr


def test_draft_writes_the_pattern_at_full_size(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "lay-01.dxf").write_text("a lay, not a pattern")
    (out / "pattern-shirt.dxf").write_text("somebody's pattern")
    run = cutfiles("draft", DEMO, "--out", out)
    assert run.returncode == 0, run.stderr
    lines = ("L-binding", "M-hem", "S-hem")
    kinds = (".astm.dxf", ".dxf", ".pdf", ".svg", "-sewing.txt")
    files = [f"pattern-tie-back-{line}{kind}" for line in lines for kind in kinds]
    assert names(out) == sorted(["lay-01.dxf", "pattern-shirt.dxf", "pattern.json", *files])
    assert cutfiles("check", out).returncode == 0
    _, _, shapes, (layers,) = pyogrio.raw.read(
        out / "pattern-tie-back-M-hem.dxf", columns=["Layer"]
    )
    outlines = [
        shapely.Polygon(shape).bounds
        for shape, layer in zip(shapely.from_wkb(shapes), layers, strict=True)
        if layer == "piece-outlines"
    ]
    sizes = sorted((round(x1 - x0), round(y1 - y0)) for x0, y0, x1, y1 in outlines)
    # as drafted, without the shrinkage of the demo's cloth: the tie is 12 x 1 1/2 in
    assert len(sizes) == 3
    assert (305, 38) in sizes


def test_draft_prints_all_sizes_together_on_letter_paper(tmp_path: Path) -> None:
    out = tmp_path / "out"
    run = cutfiles("draft", DEMO, "--out", out, "--paper", "letter", "--together")
    assert run.returncode == 0, run.stderr
    papers = [name for name in names(out) if name.endswith(".pdf")]
    assert papers == [f"pattern-tie-back-{edge}-together.pdf" for edge in ("binding", "hem")]
    document = pypdfium2.PdfDocument(out / papers[1])
    # Letter, 8.5 x 11 in at 72 points an inch (ANSI/ASME Y14.1)
    assert {page.get_size() for page in document} == {(612.0, 792.0)}
    assert "Sizes: S, M." in document[0].get_textpage().get_text_range()


def test_draft_on_a_paper_that_is_not_known(tmp_path: Path) -> None:
    run = cutfiles("draft", DEMO, "--out", tmp_path / "out", "--paper", "A5")
    assert run.returncode == 2
    assert "--paper: 'A5' is not known: use A4 or Letter" in run.stderr
    assert not (tmp_path / "out").exists()


def test_check_takes_no_pattern_for_exchange(tmp_path: Path) -> None:
    path = tmp_path / "pattern.astm.dxf"
    path.write_text("")
    run = cutfiles("check", path)
    assert run.returncode == 2
    assert "is a pattern for exchange and no cut file" in run.stderr


def test_sizes_prints_the_chart() -> None:
    run = cutfiles("sizes")
    assert run.returncode == 0
    assert "M     55.4-57.6 cm   56.5 cm      7 1/8     56          42.5%   45.0%" in run.stdout


CLOTH_AND_MACHINE = ONE_CLOTH + LASER
CAPS_AND_MACHINE = ONE_CAP + LASER
CLOTH_AND_CAPS = ONE_CLOTH + ONE_CAP


def with_cloth(lines: str) -> str:
    return f'[[cloth]]\nname = "kelp"\nfibre = "cotton"\n{lines}\n' + CAPS_AND_MACHINE


def with_caps(lines: str) -> str:
    return CLOTH_AND_MACHINE + f"[[caps]]\n{lines}\n"


BAD_JOBS = [
    ("not TOML", "width = = 3", "not a TOML file"),
    ("unknown key", with_cloth("width = 1100\nlenght = 900"), "did you mean 'length'?"),
    ("unknown table", SMALL_JOB + "[machin]\n", "did you mean 'machine'?"),
    ("a later key", with_cloth('width = 1100\nspread = "folded"'), "does not read yet"),
    ("missing key", with_cloth(""), "[[cloth]] 1: width: is missing"),
    ("no machine", CLOTH_AND_CAPS, "machine: is missing"),
    ("no caps", CLOTH_AND_MACHINE, "caps: is missing"),
    ("negative", with_cloth("width = -3"), "must be more than 0 and at most 5000 mm"),
    ("zero", with_cloth("width = 0"), "must be more than 0 and at most 5000 mm"),
    ("not a number", with_cloth("width = nan"), "nan is not a finite length"),
    ("infinite", with_cloth("width = inf"), "inf is not a finite length"),
    ("absurd", with_cloth('width = "900 yd"'), "at most 5000 mm"),
    ("no such unit", with_cloth('width = "3 furlongs"'), "no unit known here"),
    ("selvedge", with_cloth("width = 100\nselvedge = 60"), "less than half the width"),
    ("plies", with_cloth("width = 1100\nplies = 0"), "plies: 0 must be 1 to 200"),
    ("shrinkage", with_cloth("width = 1100\nshrinkage_percent = { along = 99 }"), "-5 to 25"),
    ("too wide", with_cloth("width = 400"), "the band is"),
    ("too short", with_cloth("width = 1100\nlength = 250"), "the tie is 305 mm long"),
    ("one cap too long", with_cloth("width = 600\nlength = 310"), "the pieces of one cap"),
    ("small bed", SMALL_JOB + "bed = { along = 900, across = 90 }", "the machine's bed"),
    ("kerf", SMALL_JOB.replace("kerf = 0.2", "kerf = 3.0"), "as wide as the notch"),
    ("kerf absurd", SMALL_JOB.replace("kerf = 0.2", "kerf = 300"), "at most 20 mm"),
    ("no caps wanted", with_caps('style = "tie-back"\nsize = "M"\nquantity = 0'), "1 to 20000"),
    (
        "a billion",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 1000000000'),
        "1000000000 must be 1 to 20000",
    ),
    ("size", with_caps('style = "tie-back"\nsize = "XXL"\nquantity = 1'), 'one of "C1"'),
    ("style", with_caps('style = "tieback"\nsize = "M"\nquantity = 1'), 'did you mean "tie-back"?'),
    ("no size", with_caps('style = "tie-back"\nquantity = 1'), "none is given"),
    (
        "two sizes",
        with_caps('style = "tie-back"\nsize = "M"\nhead_girth = 570\nquantity = 1'),
        "size and head_girth are given",
    ),
    (
        "girth",
        with_caps('style = "tie-back"\nhead_girth = "57 mm"\nquantity = 1'),
        "must be more than 440 and at most 660 mm",
    ),
    (
        "wearers and quantity",
        with_caps('style = "tie-back"\nwearers = 9\nquantity = 9'),
        "wearers says how many",
    ),
    (
        "women alone",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 9\nwomen = 0.7'),
        "goes with wearers only",
    ),
    (
        "too many women",
        with_caps('style = "tie-back"\nwearers = 9\nwomen = 70'),
        "women: 70 must be 0 to 1",
    ),
    (
        "measure",
        with_caps(
            'style = "tie-back"\nsize = "M"\nquantity = 9\nmeasures = { front_height = 900 }'
        ),
        "[[caps]] 1: measures.front_height: 900 must be 90 to 220 mm",
    ),
    (
        "unsewable",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 9\nmeasures = { snug = 0 }'),
        "the open edge goes round heads of",
    ),
    (
        "bias hem",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 9\nbinding_grain = "bias"'),
        'goes with edge = "binding" only',
    ),
    ("no quantity", with_caps('style = "tie-back"\nsize = "M"'), "quantity: is missing"),
    (
        "no such cloth",
        with_caps('style = "tie-back"\nsize = "M"\nquantity = 1\ncloth = "kelp print"'),
        "did you mean 'kelp-print cotton'?",
    ),
    ("same name", ONE_CLOTH + SMALL_JOB, "is used twice"),
    ("huge", with_cloth("width = 1" + "0" * 400), "is not a finite length"),
    ("digits", with_cloth("width = " + "9" * 5001), "not a TOML file"),
    ("nested", "a = " + "[" * 20000, "nested without end"),
    ("control character", 'title = "a\\u0001b"\n' + SMALL_JOB, "control characters"),
    ("blank name", SMALL_JOB.replace("kelp-print cotton", "  "), "must not be empty"),
    ("PVC", SMALL_JOB.replace('"cotton"', '"PVC"'), "is refused on a laser"),
]


@pytest.mark.parametrize(("text", "words"), [b[1:] for b in BAD_JOBS], ids=[b[0] for b in BAD_JOBS])
def test_a_bad_job_says_what_is_wrong_and_writes_nothing(
    text: str, words: str, job_file: WriteJob, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    run = cutfiles("make", job_file(text), "--out", out, "--quick")
    assert run.returncode == 2, run.stderr
    assert words in run.stderr
    assert "error: job.toml" in run.stderr
    assert "Traceback" not in run.stderr
    assert names(out) == []


def test_all_findings_come_at_once(job_file: WriteJob, tmp_path: Path) -> None:
    text = with_cloth('width = -3\nselvedge = "1 ell"\nplies = true') + "[machin]\n"
    run = cutfiles("make", job_file(text), "--out", tmp_path / "out")
    assert run.returncode == 2
    for words in ("width", "selvedge", "plies", "machin"):
        assert any(words in line for line in run.stderr.splitlines()), words
    assert len(run.stderr.splitlines()) == 4


def test_a_missing_file(tmp_path: Path) -> None:
    run = cutfiles("make", tmp_path / "nowhere.toml", "--out", tmp_path / "out")
    assert run.returncode == 2
    assert "nowhere.toml: cannot be read: No such file" in run.stderr
    assert "Traceback" not in run.stderr


def test_a_file_that_is_not_text(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_bytes(b"\xff\xfe\x00")
    run = cutfiles("make", tmp_path / "job.toml", "--out", tmp_path / "out")
    assert run.returncode == 2
    assert "not UTF-8 text" in run.stderr


def test_an_output_folder_that_cannot_be(job_file: WriteJob, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("in the way")
    run = cutfiles("make", job_file(SMALL_JOB), "--out", tmp_path / "out", "--quick")
    assert run.returncode == 2
    assert "a file stands in the way" in run.stderr
    assert (tmp_path / "out").read_text() == "in the way"
    run = cutfiles("make", job_file(SMALL_JOB), "--out", "/proc/nowhere", "--quick")
    assert run.returncode == 2
    assert "cannot be written" in run.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="file size limits are not known there")
def test_a_disk_that_fills_up_while_writing(job_file: WriteJob, tmp_path: Path) -> None:
    # a limit on file size makes the write itself fail half-way, as a full disk does
    import resource

    out = tmp_path / "out"
    assert cutfiles("make", job_file(SMALL_JOB), "--out", out, "--quick").returncode == 0
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    command = [sys.executable, "-m", "cutfiles", "make", str(job_file(SMALL_JOB)),
               "--out", str(out), "--quick"]  # fmt: skip
    run = subprocess.run(
        command, capture_output=True, text=True, check=False, timeout=100,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000)),
    )  # fmt: skip
    assert run.returncode == 2, run.stderr
    assert "lay-01.dxf: cannot be written: File too large" in run.stderr
    assert "Traceback" not in run.stderr
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


def test_files_of_others_are_never_replaced(job_file: WriteJob, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "lay-01.svg").write_text("mine")
    run = cutfiles("make", job_file(SMALL_JOB), "--out", out, "--quick")
    assert run.returncode == 2
    assert "lay-01.svg: is there already and was not written by cutfiles" in run.stderr
    assert names(out) == ["lay-01.svg"]


def test_wrong_calls_end_with_2(job_file: WriteJob, tmp_path: Path) -> None:
    assert cutfiles("make").returncode == 2
    assert cutfiles("make", job_file(SMALL_JOB)).returncode == 2
    assert cutfiles("mke").returncode == 2
    run = cutfiles("make", job_file(SMALL_JOB), "--out", tmp_path / "o", "--seconds", "-1")
    assert run.returncode == 2


def test_older_results_are_replaced(job_file: WriteJob, tmp_path: Path) -> None:
    out = tmp_path / "out"
    two_lays = SMALL_JOB.replace("quantity = 1", "quantity = 4") + "bed = { along = 320 }"
    assert cutfiles("make", job_file(two_lays), "--out", out, "--quick").returncode == 0
    assert "lay-02.dxf" in names(out)
    (out / "my-notes.txt").write_text("mine")
    assert cutfiles("make", job_file(SMALL_JOB), "--out", out, "--quick").returncode == 0
    assert names(out) == [
        "lay-01.dxf",
        "lay-01.svg",
        "my-notes.txt",
        "preview.html",
        "summary.json",
    ]


def test_a_bad_job_leaves_older_results(job_file: WriteJob, demo_copy: Path) -> None:
    before = {path.name: path.read_bytes() for path in demo_copy.iterdir()}
    assert cutfiles("make", job_file("width = = 3"), "--out", demo_copy).returncode == 2
    assert {path.name: path.read_bytes() for path in demo_copy.iterdir()} == before


def test_plies_and_short_cloth_are_told(job_file: WriteJob, tmp_path: Path) -> None:
    text = SMALL_JOB.replace("quantity = 1", "quantity = 7").replace(
        'fibre = "cotton"', 'fibre = "cotton"\nplies = 2\nlength = 700'
    )
    run = cutfiles("make", job_file(text), "--out", tmp_path / "out", "--quick")
    assert run.returncode == 0, run.stderr
    assert "2 plies do not divide 7 caps: 8 are cut, 1 more than ordered" in run.stderr
    assert "the order takes" in run.stderr
    table = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert table["totals"]["caps_ordered"] == 7
    assert table["totals"]["caps"] == 8
    assert all(lay["plies"] == 2 and lay["length_mm"] <= 350 for lay in table["lays"])
    lengths = sum(lay["length_mm"] for lay in table["lays"])
    assert table["totals"]["cloth_length_mm"] == pytest.approx(2 * lengths, abs=0.01)
    assert {finding["code"] for finding in table["findings"]} == {"over-cut", "cloth-short"}


def test_a_head_count_becomes_a_size_mix(job_file: WriteJob, tmp_path: Path) -> None:
    text = CLOTH_AND_MACHINE + '[[caps]]\nstyle = "bouffant"\nwearers = 4\nwomen = 1\n'
    run = cutfiles("make", job_file(text), "--out", tmp_path / "out", "--quick")
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
    run = cutfiles("make", job_file(text), "--out", out, "--seconds", "0.5")
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


def test_one_way_cloth_and_two_cloths(job_file: WriteJob, tmp_path: Path) -> None:
    text = (
        ONE_CLOTH + "one_way = true\n" + ONE_CLOTH.replace("kelp-print", "gull-grey")
        + ONE_CAP + 'cloth = "kelp-print cotton"\n' + ONE_CAP + 'cloth = "gull-grey cotton"\n'
        + LASER
    )  # fmt: skip
    run = cutfiles("make", job_file(text), "--out", tmp_path / "out", "--quick")
    assert run.returncode == 0, run.stderr
    table = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert [lay["cloth"] for lay in table["lays"]] == ["kelp-print cotton", "gull-grey cotton"]
    assert {piece["grain_deg"] for piece in table["lays"][0]["pieces"]} == {0.0}
    ids = [piece["id"] for lay in table["lays"] for piece in lay["pieces"]]
    assert len(set(ids)) == len(ids) == 8
    assert cutfiles("check", tmp_path / "out").returncode == 0


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are not known there")
def test_ctrl_c_keeps_the_best_so_far(tmp_path: Path) -> None:
    out = tmp_path / "out"
    command = [sys.executable, "-m", "cutfiles", "make", str(DEMO), "--out", str(out),
               "--seconds", "80"]  # fmt: skip
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True
    )
    time.sleep(4.0)
    os.killpg(process.pid, signal.SIGINT)
    said, complaints = process.communicate(timeout=30)
    assert process.returncode == 130, complaints
    assert b"Stopped early" in said
    assert names(out) == ["lay-01.dxf", "lay-01.svg", "preview.html", "summary.json"]
    assert cutfiles("check", out).returncode == 0


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are not known there")
@pytest.mark.parametrize("seconds", [0.15, 0.4])
def test_ctrl_c_while_loading(seconds: float, tmp_path: Path) -> None:
    out = tmp_path / "out"
    command = [sys.executable, "-m", "cutfiles", "make", str(DEMO), "--out", str(out)]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, start_new_session=True)
    time.sleep(seconds)
    os.killpg(process.pid, signal.SIGINT)
    _, complaints = process.communicate(timeout=30)
    assert process.returncode == 130, complaints
    assert b"Traceback" not in complaints


@pytest.mark.skipif(sys.platform == "win32", reason="signals of this kind are not known there")
def test_a_terminated_run_leaves_nothing(tmp_path: Path) -> None:
    out = tmp_path / "out"
    command = [sys.executable, "-m", "cutfiles", "make", str(DEMO), "--out", str(out)]
    process = subprocess.Popen(command, stderr=subprocess.PIPE, start_new_session=True)
    time.sleep(3.0)
    process.terminate()
    _, complaints = process.communicate(timeout=30)
    assert process.returncode == 128 + signal.SIGTERM, complaints
    assert names(out) == []


def test_help_names_every_command() -> None:
    run = cutfiles("--help")
    assert run.returncode == 0
    for command in ("make", "draft", "check", "sizes"):
        assert command in run.stdout
