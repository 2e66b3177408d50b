"""Panels of one's own as a person runs them: a pocket in SVG and a flap in DXF."""

from __future__ import annotations

import json
from pathlib import Path

import pyogrio
import pytest
import shapely
from ezdxf.filemanagement import new

from tests.cli.program import cutfiles
from tests.conftest import LASER, ONE_CAP, ONE_CLOTH, ROOT

POCKET = ROOT / "fixtures" / "pieces" / "pocket.svg"
PANELS = """
[[panels]]
file = "pocket.svg"
quantity = 3

[[panels]]
file = "drawings/flap.dxf"
quantity = 4
on_fold = true
grain_deg = 90
unit = "cm"
gap_tolerance = "0.5 mm"
roles = { outline = "cut here", inner = ["holes"] }
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A pocket and half a flap: 80 by 50 mm to the fold, of loose lines with a small gap."""
    (tmp_path / "pocket.svg").write_bytes(POCKET.read_bytes())
    (tmp_path / "drawings").mkdir()
    document = new("R2000")
    document.header["$INSUNITS"] = 0
    space = document.modelspace()
    cut = {"layer": "cut here"}
    space.add_line((0, 0), (0, 8), dxfattribs=cut)
    space.add_line((0, 8), (3, 8), dxfattribs=cut)
    space.add_arc((3, 6), 2, 0, 90, dxfattribs=cut)
    space.add_line((5, 6.02), (5, 0), dxfattribs=cut)
    space.add_line((5, 0), (0, 0), dxfattribs=cut)
    space.add_circle((2.5, 4), 0.5, dxfattribs={"layer": "holes"})
    document.saveas(tmp_path / "drawings" / "flap.dxf")
    return tmp_path


def job(folder: Path, text: str) -> Path:
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_panels_alone_are_made_and_checked(folder: Path) -> None:
    out = folder / "out"
    run = cutfiles(
        "make", job(folder, ONE_CLOTH + PANELS + LASER), "--out", out, "--seconds", "0.1"
    )
    assert run.returncode == 0, run.stderr
    assert "7 panels; every cut file was read back and found right." in run.stdout
    assert "1 gap closed, the widest 0.200 mm" in run.stderr
    table = json.loads((out / "summary.json").read_text("utf-8"))
    assert table["totals"]["caps"] == table["totals"]["caps_ordered"] == 0
    assert table["totals"]["panels"] == table["totals"]["panels_ordered"] == 7
    (lay,) = table["lays"]
    caps = sorted(piece["cap"] for piece in lay["pieces"])
    assert caps == ["flap"] * 4 + ["pocket"] * 3
    flap = next(piece for piece in lay["pieces"] if piece["cap"] == "flap")
    assert flap["area_mm2"] == pytest.approx(2 * (80 * 50 - 400 * (1 - 3.14159265 / 4)), rel=1e-3)
    assert flap["cut_outs_mm2"] == pytest.approx([78.54, 78.54], rel=5e-3)
    assert len(flap["cut_outs_centre_mm"]) == 2
    check = cutfiles("check", out)
    assert check.returncode == 0, check.stderr
    assert check.stdout == "Sound: lay-01.dxf, lay-01.svg\n"
    page = (out / "preview.html").read_text("utf-8")
    assert "pocket / 3 of 3" in page
    assert "<b>7 panels</b> of 7 ordered" in page

    # reference: GDAL's DXF driver, by pyogrio
    _, _, shapes, (layers,) = pyogrio.raw.read(out / "lay-01.dxf", columns=["Layer"])
    holes = [
        shapely.Polygon(shape)
        for shape, layer in zip(shapely.from_wkb(shapes), layers, strict=True)
        if layer == table["roles"]["inner"]
    ]
    assert len(holes) == 3 + 4 * 2
    # half a kerf of 0.2 mm inside the cut line all round
    assert sorted(hole.area for hole in holes)[0] == pytest.approx(3.14159265 * 4.9**2, rel=5e-3)


def test_panels_beside_caps(folder: Path) -> None:
    out = folder / "out"
    path = job(folder, ONE_CLOTH + ONE_CAP + PANELS + LASER)
    run = cutfiles("make", path, "--out", out, "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    assert "1 cap and 7 panels; every cut file" in run.stdout
    totals = json.loads((out / "summary.json").read_text("utf-8"))["totals"]
    assert (totals["caps"], totals["panels"]) == (1, 7)
    assert cutfiles("check", out).returncode == 0


def test_patterns_of_panels(folder: Path) -> None:
    out = folder / "out"
    run = cutfiles("draft", job(folder, ONE_CLOTH + PANELS + LASER), "--out", out)
    assert run.returncode == 0, run.stderr
    kinds = ("dxf", "svg", "pdf")
    names = {f"pattern-{name}.{kind}" for name in ("pocket", "flap") for kind in kinds}
    # what was assumed and mended is said as make says it
    assert "1 gap closed, the widest 0.200 mm" in run.stderr
    assert {path.name for path in out.iterdir()} == names | {"pattern.json"}
    assert "flap / cut 4" in (out / "pattern-flap.svg").read_text("utf-8")
    listed = json.loads((out / "pattern.json").read_text("utf-8"))
    assert set(listed["written"]) == names | {"pattern.json"}
    assert "gap-closed" in {finding["code"] for finding in listed["findings"]}
    assert (listed["totals"]["caps"], listed["totals"]["panels"]) == (0, 2)
    check = cutfiles("check", out)
    assert check.returncode == 0, check.stderr


def test_patterns_of_panels_beside_caps(folder: Path) -> None:
    (folder / "tie-back-M-hem.svg").write_bytes(POCKET.read_bytes())
    (folder / "Tie-back M hem.svg").write_bytes(POCKET.read_bytes())
    tables = "".join(
        f'[[panels]]\nfile = "{name}.svg"\nquantity = 1\n'
        for name in ("tie-back-M-hem", "Tie-back M hem", "pocket", "pocket")
    )
    out = folder / "out"
    run = cutfiles("draft", job(folder, ONE_CLOTH + ONE_CAP + tables + LASER), "--out", out)
    assert run.returncode == 0, run.stderr
    drawings = {path.stem for path in out.glob("*.svg")}
    assert drawings == {
        "pattern-tie-back-M-hem",
        "pattern-tie-back-M-hem-2",
        "pattern-Tie-back-M-hem-3",
        "pattern-pocket",
        "pattern-pocket-2",
    }
    assert {path.stem for path in out.glob("*.pdf")} == drawings
    assert [path.name for path in out.glob("*.astm.dxf")] == ["pattern-tie-back-M-hem.astm.dxf"]
    assert cutfiles("check", out).returncode == 0


def test_names_that_are_alike_or_foreign(folder: Path) -> None:
    (folder / "tasche ü 口袋.svg").write_bytes(POCKET.read_bytes())
    tables = "".join(
        f'[[panels]]\nfile = "{name}"\nquantity = 1\n'
        for name in ("pocket.svg", "pocket.svg", "tasche ü 口袋.svg")
    )
    out = folder / "out"
    path = job(folder, ONE_CLOTH + tables + LASER)
    run = cutfiles("make", path, "--out", out, "--seconds", "0.1")
    assert run.returncode == 0, run.stderr
    (lay,) = json.loads((out / "summary.json").read_text("utf-8"))["lays"]
    names = sorted(piece["cap"] for piece in lay["pieces"])
    assert names == ["pocket", "pocket (2)", "tasche ü __"]
    assert cutfiles("check", out).returncode == 0


def with_panel(lines: str) -> str:
    return f"{ONE_CLOTH}[[panels]]\nquantity = 2\n{lines}\n{LASER}"


SHARP = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" viewBox="0 0 90 90">'
    '<path d="M0 0H40L45 60L45.5 0H90V90H0Z"/></svg>'
)
SMALL_HOLE = SHARP.replace("H40L45 60L45.5 0", "").replace(
    "</svg>", '<rect x="30" y="30" width="0.6" height="30"/></svg>'
)


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ('file = "sleeve.svg"', "'sleeve.svg' cannot be read: No such file"),
        ('file = "pocket.pdf"', "must be an SVG or DXF file"),
        ('file = "torn.svg"', "is no SVG file that can be read"),
        ('file = "pocket.svg"\nunit = "ell"', 'must be one of "mm"'),
        ('file = "pocket.svg"\ngrain_deg = 720', "must be -360 to 360"),
        ('file = "pocket.svg"\ngap_tolerance = "9 mm"', "at most 5 mm"),
        ('file = "pocket.svg"\nroles = { outlin = "a" }', "did you mean 'outline'?"),
        ('file = "pocket.svg"\nroles = { outline = 3 }', "is no name"),
        ('file = "pocket.svg"\nroles = { outline = "cut" }', "found: 'grain', 'inner'"),
        ('file = "pocket.svg"\ncloth = "kelp print"', "did you mean 'kelp-print cotton'?"),
        ('file = "pocket.svg"\non_fold = "yes"', "must be true or false"),
        ('file = "drawings/flap.dxf"', "names no unit ($INSUNITS)"),
        ('file = "drawings/flap.dxf"\nunit = "cm"', "the nearest end is 0.200 mm away"),
        ('file = "sharp.svg"', "a bay of the outline is too sharp for a kerf of 0.2 mm"),
        ('file = "hole.svg"\n[machine]\nkind = "laser"\nkerf = 0.7\n#', "a cut-out is narrower"),
        ("", "file: is missing"),
    ],
)
def test_a_bad_panel_says_what_is_wrong_and_writes_nothing(
    lines: str, words: str, folder: Path
) -> None:
    (folder / "torn.svg").write_text("<svg ")
    (folder / "sharp.svg").write_text(SHARP)
    (folder / "hole.svg").write_text(SMALL_HOLE)
    text = with_panel(lines) if "[machine]" not in lines else (
        with_panel(lines).removesuffix(LASER + "\n").removesuffix(LASER)
    )  # fmt: skip
    out = folder / "out"
    run = cutfiles("make", job(folder, text), "--out", out, "--seconds", "0.1")
    assert run.returncode == 2, run.stderr
    assert words in run.stderr
    assert "error: job.toml" in run.stderr
    assert "Traceback" not in run.stderr
    assert not out.exists()
