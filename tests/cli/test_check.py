"""`check`: finished folders and single files, sound, changed or not ours."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path

import ezdxf.filemanagement
import numpy as np
import pytest

from tests.cli.program import Table, cutfiles


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
    ("wide", lambda t: t["lays"][0].update(width_mm=1e9, length_mm=1e-3), "width_mm: Input should"),
    ("long", lambda t: t["lays"][0].update(length_mm=9e6), "efficiency is"),
    ("efficient", lambda t: t["lays"][0].update(efficiency=0.99), "efficiency is 0.99"),
    ("no lays", lambda t: t.update(lays=[]), "lays: List should have at least 1 item"),
    ("no files", lambda t: t["lays"][0].update(files={}), "files.dxf"),
    ("a path", lambda t: t["lays"][0]["files"].update(dxf="../lay-01.dxf"), "files.dxf"),
    ("a page", lambda t: t["lays"][0]["files"].update(dxf="preview.html"), "as a DXF or SVG file"),
    ("infinite", lambda t: t["machine"].update(kerf_mm=math.inf), "machine.kerf_mm"),
    ("wide kerf", lambda t: t["machine"].update(kerf_mm=0.4), "is no piece of the lay"),
    ("roles", lambda t: t["roles"].pop("notch"), "roles: must name"),
    ("layer", lambda t: t["roles"].update(notch="else"), "has 0 notches, not 5"),
    ("twice", lambda t: t["lays"].append(t["lays"][0]), "is listed 2 times"),
    ("label", lambda t: t["lays"][0]["pieces"][0].update(label="XL"), "other strokes than"),
    ("totals", lambda t: t["totals"].update(cloth_length_mm=1.0), "cloth_length_mm is 1.0"),
    ("caps", lambda t: t["totals"].update(caps=13), "caps is 13 and the lays hold"),
    ("panels", lambda t: t["totals"].update(panels=1), "panels is 1 and the lays hold 0"),
    ("ordered", lambda t: t["totals"].update(panels_ordered=2), "panels_ordered is 2 and the"),
    ("no panel", lambda t: t["lays"][0]["pieces"][0].update(cap_number=None), "panels is 0 and"),
    (
        "stretch",
        lambda t: t["lays"].append(t["lays"][0] | {"name": "lay-02", "starts_at_mm": 10.0}),
        "starts_at_mm is 10.0 and lay-01 takes the cloth up to",
    ),
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


@pytest.mark.parametrize("name", ["lay-07.dxf", "lay-07.nc", "lay-07.pdf"])
def test_check_names_a_stray_lay(name: str, demo_copy: Path) -> None:
    (demo_copy / name).write_bytes((demo_copy / "lay-01.dxf").read_bytes())
    run = cutfiles("check", demo_copy)
    assert run.returncode == 0
    assert f"{name}: is in the folder and no summary names it" in run.stderr


PAGE = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
)  # fmt: skip
JUNK = b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("missing.dxf", None, "is no DXF or SVG file"),
        ("notes.txt", b"hello", "is no DXF or SVG file"),
        ("empty.dxf", b"", "is no DXF file that can be read"),
        ("torn.svg", b"<svg ", "is no SVG file that can be read"),
        ("torn.svg", PAGE + b'<g id="piece-outlines"><path d="M0 0L9 0', "is no SVG file"),
        ("empty.svg", b"", "is no SVG file that can be read"),
        ("empty.pdf", b"", "is no PDF file that can be read"),
        ("junk.svg", JUNK, "is no SVG file that can be read"),
        ("junk.dxf", JUNK, "is no DXF file that can be read"),
        ("junk.pdf", JUNK, "is no PDF file that can be read"),
        ("tags.svg", PAGE + b"<g/>" * 500_001 + b"</svg>", "has more than 500000 tags"),
        ("large.svg", b" " * 50_000_001, "has 50000001 bytes, and more than 50000000"),
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


def test_check_takes_no_pattern_for_exchange(tmp_path: Path) -> None:
    path = tmp_path / "pattern.astm.dxf"
    path.write_text("")
    run = cutfiles("check", path)
    assert run.returncode == 2
    assert "is a pattern for exchange and no cut file" in run.stderr


def test_check_of_a_drawing_without_outlines(tmp_path: Path) -> None:
    path = tmp_path / "lines.dxf"
    document = ezdxf.filemanagement.new("R2000", units=4)
    document.modelspace().add_line((0, 0), (9, 9), dxfattribs={"layer": "else"})
    document.saveas(path)
    run = cutfiles("check", path)
    assert run.returncode == 1
    assert "no outlines on layer 'piece-outlines' (layers found: else)" in run.stderr


def test_check_of_a_path_of_very_many_nodes(tmp_path: Path) -> None:
    # a circle of 100,000 nodes is read, and is one outline: closed, and nothing else on it
    angles = np.linspace(0.0, 2.0 * np.pi, 100_000, endpoint=False)
    places = " L".join(f"{4 + 3 * np.cos(a):.5f},{4 + 3 * np.sin(a):.5f}" for a in angles)
    path = tmp_path / "many.svg"
    path.write_bytes(PAGE + f'<g id="piece-outlines"><path d="M{places}Z"/></g></svg>'.encode())
    run = cutfiles("check", path)
    assert "Closed and apart" in run.stdout, run.stderr
