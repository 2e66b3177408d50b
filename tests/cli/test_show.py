"""Pictures of lays: `make --png`, and `show` on the terminal."""

from __future__ import annotations

import hashlib
import io
import json
import re
from pathlib import Path

import pytest
from PIL import Image

from tests.cli.program import WriteJob, cutfiles, cutfiles_alone, names
from tests.conftest import SMALL_JOB

LAYS = ["lay-01.dxf", "lay-01.svg", "preview.html", "summary.json"]


def test_a_picture_of_each_lay(
    job_file: WriteJob, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("cutfiles.cli.QUICK_SECONDS", 0.1)
    # the bed takes one cap at a time
    job = job_file(
        SMALL_JOB.replace("quantity = 1", "quantity = 2") + "bed = { along = 450, across = 1200 }\n"
    )
    out = tmp_path / "out"
    run = cutfiles("make", job, "--out", out, "--seconds", "0.1", "--png")
    assert run.returncode == 0, run.stderr
    table = json.loads((out / "summary.json").read_text("utf-8"))
    pictures = [lay["name"] + ".png" for lay in table["lays"]]
    assert set(pictures) <= set(table["written"])
    assert set(pictures) == {path.name for path in out.glob("*.png")}
    assert table["others"] == {
        name: hashlib.sha256((out / name).read_bytes()).hexdigest() for name in pictures
    }
    with Image.open(out / "lay-01.png") as image:
        lay = table["lays"][0]
        # margins of 12 mm all round, selvedges of 12.7 mm
        wide, high = lay["length_mm"] + 24.0, lay["usable_width_mm"] + 24.0 + 25.4
        assert image.width / image.height == pytest.approx(wide / high, rel=0.01)
    assert cutfiles("check", out).returncode == 0
    assert "As it was written" in cutfiles("check", out / "lay-01.png").stdout

    other = io.BytesIO()
    Image.new("RGB", (10, 10)).save(other, "png")
    (out / "lay-01.png").write_bytes(other.getvalue())
    for path in (out, out / "lay-01.png"):
        run = cutfiles("check", path)
        assert run.returncode == 1
        assert "lay-01.png: is not the file that was written" in run.stderr
    (out / "lay-01.png").unlink()
    assert "lay-01.png: is named in the summary and is not there" in cutfiles("check", out).stderr
    # without the word no pictures are left that could be of other lays
    assert cutfiles("make", job, "--out", out, "--seconds", "0.1").returncode == 0
    assert not list(out.glob("*.png"))


def test_a_picture_in_the_way_is_not_replaced(job_file: WriteJob, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "lay-01.png").write_bytes(b"mine")
    run = cutfiles("make", job_file(SMALL_JOB), "--out", out, "--seconds", "0.1", "--png")
    assert run.returncode == 2
    assert "lay-01.png: is there already" in run.stderr
    assert names(out) == ["lay-01.png"]


def test_a_stray_picture_is_no_file_of_ours(demo_copy: Path) -> None:
    (demo_copy / "holiday.png").write_bytes(b"")
    run = cutfiles("check", demo_copy / "holiday.png")
    assert run.returncode == 2
    assert "is no DXF or SVG file" in run.stderr


def test_show_prints_every_kind_of_piece(demo_made: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "90")
    run = cutfiles("show", demo_made)
    assert run.returncode == 0, run.stderr
    table = json.loads((demo_made / "summary.json").read_text("utf-8"))
    rows = [piece for lay in table["lays"] for piece in lay["pieces"]]
    legend = dict(re.findall(r"^[A-Z]  (.*): (\d+)$", run.stdout, re.MULTILINE))
    kinds = [f"{row['name']}, {row['cap']}" for row in rows]
    assert {kind: int(count) for kind, count in legend.items()} == {
        kind: kinds.count(kind) for kind in kinds
    }
    assert max(map(len, run.stdout.splitlines())) <= 90
    one = cutfiles("show", demo_made / "lay-01.svg")
    assert one.stdout == run.stdout


def test_show_without_colour_and_as_a_process(
    demo_made: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # NO_COLOR: any value that is not empty means no colour (no-color.org)
    monkeypatch.setenv("FORCE_COLOR", "1")
    coloured = cutfiles("show", demo_made)
    monkeypatch.setenv("NO_COLOR", "1")
    plain = cutfiles_alone("show", demo_made)
    assert plain.returncode == coloured.returncode == 0
    # ECMA-48, "select graphic rendition": 30 to 38 colour letters, 90 to 97 brightly
    colours = re.compile(r"\x1b\[[39]\d")
    assert colours.search(coloured.stdout)
    assert not colours.search(plain.stdout)
    assert "A  band, tie-back L: 4" in plain.stdout


@pytest.mark.parametrize(
    ("name", "words"),
    [("no-such-folder", "holds no summary.json"), ("lay-09.dxf", "give one of lay-01.dxf")],
)
def test_show_says_what_it_wants(name: str, words: str, demo_made: Path) -> None:
    run = cutfiles("show", (demo_made if "." in name else demo_made.parent) / name)
    assert run.returncode == 2
    assert words in run.stderr


def test_show_warns_of_a_changed_file(demo_copy: Path) -> None:
    path = demo_copy / "lay-01.dxf"
    path.write_bytes(path.read_bytes().replace(b"EOF", b"EOF\n", 1))
    run = cutfiles("show", demo_copy)
    assert run.returncode == 0
    assert "warning: lay-01.dxf: is not the file that was written" in run.stderr
    path.write_bytes(b"")
    assert cutfiles("show", demo_copy).returncode == 2
    path.unlink()
    assert "is not there: make it again" in cutfiles("show", demo_copy).stderr


def test_orders_to_the_terminal_in_a_file_are_not_passed_on(demo_copy: Path) -> None:
    # ECMA-48: ESC begins orders
    path = demo_copy / "lay-01.dxf"
    path.write_bytes(path.read_bytes().replace(b"piece-outlines", b"p\x1b[2J-outlines"))
    run = cutfiles("check", path)
    assert run.returncode == 1
    assert "p?[2J-outlines" in run.stderr
    assert "\x1b" not in run.stderr


def test_a_terminal_of_few_letters_shows_what_it_can(
    demo_copy: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PYTHONIOENCODING", "ascii")
    path = demo_copy / "summary.json"
    path.write_text(path.read_text("utf-8").replace("tie-back L", "naïve"), "utf-8")
    run = cutfiles_alone("show", demo_copy)
    assert run.returncode == 0, run.stderr
    assert "A  band, na?ve: 4" in run.stdout


def test_words_that_a_terminal_lacks_are_no_end_of_it(
    job_file: WriteJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PYTHONIOENCODING", "cp1252")
    job = job_file(SMALL_JOB.replace("kelp-print", "łask"))
    run = cutfiles_alone("estimate", job)
    assert run.returncode == 0, run.stderr
    assert "?ask" in run.stdout
