"""DXF of release 12, layers of one's own, marks apart and the tool's path: written, then read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from ezdxf.filemanagement import readfile
from hypothesis import given, settings
from hypothesis import strategies as st

from cutfiles.cuts.plan import CUT_ROLES, CutPlan, Lettering, Pass, Stroke
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.roles import INKS, inks_of
from cutfiles.files.svg import svg_bytes
from cutfiles.job.written import LAYER_NAMES, Written, layer_fault
from cutfiles.verdict.apart import joined
from cutfiles.verdict.expected import ExpectedLay
from cutfiles.verdict.judge_tool import judge_passes
from cutfiles.verdict.read_dxf import read_dxf
from cutfiles.verdict.read_svg import read_svg
from cutfiles.verdict.tool_run import drawn
from tests.apart import apart_mm

RING = ((10.0, 20.0), (110.0, 20.0), (60.0, 90.0))
STROKES = (
    Stroke("stitch", "p", RING[:2], closed=False),
    Stroke("grain", "p", RING[1:], closed=False),
    Stroke("notch", "p", RING[:2], closed=False),
    Stroke("outline", "p", RING, closed=True, bulges=(0.0, 0.3, 0.0)),
)
PLAN = CutPlan(
    "lay-01", 900.0, 1200.0, STROKES, (Lettering("p", "tie-back M", (60.0, 40.0), 0.0, 8.0),),
    0.0, 0.0, 0.0,
)  # fmt: skip
EXPECTED = ExpectedLay("lay-01", 900.0, 1200.0, 0.0, 0.0, LAYER_NAMES, ())

apart = st.lists(
    st.tuples(st.integers(0, 400), st.integers(0, 400)), min_size=3, max_size=8, unique=True
)
bulges = st.floats(-2.5, 2.5).map(lambda b: b if abs(b) > 0.01 else 0.0)


@settings(max_examples=30)
@given(data=st.data(), where=apart, closed=st.booleans())
def test_release_12_is_read_like_any_other(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject,
    where: list[tuple[float, float]], closed: bool,
) -> None:  # fmt: skip
    count = len(where) - (not closed)
    bends = tuple(data.draw(st.lists(bulges, min_size=count, max_size=count)))
    stroke = Stroke("outline", "p", tuple(where), closed=closed, bulges=bends)
    path = tmp_path_factory.mktemp("old") / "a.dxf"
    path.write_bytes(dxf_bytes(replace(PLAN, strokes=(stroke,)), release="R12"))
    drawing = read_dxf(path)
    assert drawing.findings == ()
    (line,) = drawing.on(INKS["outline"].layer)
    # reference: shapely's distance between the read line and the arcs, flattened finely
    there = shapely.LineString(np.vstack([span.flattened(1e-3) for span in stroke.spans]))
    assert apart_mm(shapely.LineString(line.points), there) <= 0.0085
    assert line.is_closed == closed


def test_release_12_has_what_it_knows_and_no_more(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    # AC1009 is R12, LWPOLYLINE came with R14 and $INSUNITS with AC1015: the format owner's
    # header reference, the releases from memory
    content = dxf_bytes(PLAN, release="R12")
    assert content == dxf_bytes(PLAN, release="R12")
    assert content.startswith(b"999\nAll lengths are in millimetres\n")
    assert b"INSUNITS" not in content
    assert b"LWPOLYLINE" not in content
    path = tmp_path / "a.dxf"
    path.write_bytes(content)
    document = readfile(path)
    assert document.dxfversion == "AC1009"
    assert not document.audit().errors
    (text,) = read_dxf(path).texts
    assert (text.text, text.layer) == ("tie-back M", INKS["label"].layer)
    assert capfd.readouterr().err == ""


@pytest.mark.parametrize(
    ("comment", "found"),
    [
        (b"999\nAll lengths are in millimetres\n", set()),
        (b"999\nby hand\n999\nunits: Millimeters\n", set()),
        (b"", {"no-unit"}),
        (b"999\nAll lengths are in inches\n", {"no-unit"}),
    ],
)
def test_release_12_is_in_millimetres_only_where_it_says_so(
    comment: bytes, found: set[str], tmp_path: Path
) -> None:
    content = dxf_bytes(PLAN, release="R12").removeprefix(b"999\nAll lengths are in millimetres\n")
    path = tmp_path / "a.dxf"
    path.write_bytes(comment + content)
    assert {finding.code for finding in read_dxf(path).findings} == found


def test_layers_and_colours_of_ones_own(tmp_path: Path) -> None:
    written = Written(
        layers=(("outline", "CUT 1"), ("stitch", "R&D")), colours=(("outline", "#ff0000"),)
    )
    inks = inks_of(written)
    dxf, svg = tmp_path / "a.dxf", tmp_path / "a.svg"
    dxf.write_bytes(dxf_bytes(PLAN, inks=inks))
    svg.write_bytes(svg_bytes(PLAN, "t", inks=inks))
    for drawing in (read_dxf(dxf), read_svg(svg)):
        assert drawing.findings == ()
        assert len(drawing.on("CUT 1")) == len(drawing.on("R&D")) == 1
        assert not drawing.on(INKS["outline"].layer)
    # red is number 1 of DXF's colours: from memory
    assert readfile(dxf).layers.get("CUT 1").color == 1
    assert 'id="CUT 1" fill="none" stroke="#ff0000"' in svg.read_text("utf-8")
    assert dxf_bytes(PLAN, inks=inks_of(Written())) == dxf_bytes(PLAN)


@pytest.mark.parametrize(
    ("name", "release", "words"),
    [
        ("CUT 1", "R2000", None),
        ("CUT 1", "R12", "holds what no layer of a DXF R12"),
        ("x" * 31, "R12", None),
        ("x" * 32, "R12", "has 32 letters"),
        ("x" * 256, "R2000", "has 256 letters"),
        ("a/b", "R2000", "holds what no layer"),
        ("a*", "R2000", "holds what no layer"),
        ("a|b", "R2000", "holds what no layer"),
        ("a`b", "R2000", "holds what no layer"),
        ("a\\b", "R2000", "holds what no layer"),
        ('a"b', "R2000", "holds what no layer"),
        ("schnitt-ä", "R2000", "holds what no layer"),
        (" cut", "R2000", "holds what no layer"),
        ("0", "R2000", "keep for themselves"),
        ("DefPoints", "R2000", "keep for themselves"),
        ("A-z_0.9+(x)#", "R2000", None),
    ],
)
def test_names_of_layers(name: str, release: str, words: str | None, tmp_path: Path) -> None:
    assert release in ("R2000", "R12")
    fault = layer_fault(name, "R12" if release == "R12" else "R2000")
    if words is not None:
        assert fault is not None
        assert words in fault
        return
    assert fault is None
    path = tmp_path / "a.dxf"
    path.write_bytes(dxf_bytes(PLAN, inks=inks_of(Written(layers=(("outline", name),)))))
    # reference: ezdxf reads it and finds nothing to mend; GDAL finds the line on it
    assert not readfile(path).audit().errors
    assert len(read_dxf(path).on(name)) == 1


def pair(folder: Path, suffix: str, marks: set[str], first: set[str]) -> set[str]:
    """The findings on a lay in two drawings of these roles."""
    drawings = []
    for name, roles in (("a", first), ("a-marks", marks)):
        inks = {role: ink for role, ink in INKS.items() if role in roles}
        path = folder / f"{name}.{suffix}"
        path.write_bytes(
            dxf_bytes(PLAN, inks=inks) if suffix == "dxf" else svg_bytes(PLAN, "t", inks=inks)
        )
        drawings.append(read_dxf(path) if suffix == "dxf" else read_svg(path))
    whole = joined(drawings[0], drawings[1], EXPECTED, ("stitch", "grain", "label"))
    assert len(whole.on(INKS["cloth"].layer)) == 1
    assert len(whole.texts) == 1
    return {finding.code for finding in whole.findings}


@pytest.mark.parametrize("suffix", ["dxf", "svg"])
def test_marks_apart_are_put_together_again(suffix: str, tmp_path: Path) -> None:
    cuts, marks = {"cloth", "outline", "notch", "inner"}, {"cloth", "stitch", "grain", "label"}
    assert pair(tmp_path, suffix, marks, cuts) == set()
    assert pair(tmp_path, suffix, marks - {"grain"}, {*cuts, "grain"}) == {"apart"}
    assert pair(tmp_path, suffix, {*marks, "notch"}, cuts - {"notch"}) == {"apart"}
    assert pair(tmp_path, suffix, marks - {"label"}, {*cuts, "label"}) == {"apart"}
    assert pair(tmp_path, suffix, marks - {"cloth"}, cuts) == {"cloth"}


@pytest.mark.parametrize("release", ["R2000", "R12"])
def test_the_path_of_the_tool_is_read_in_order(release: str, tmp_path: Path) -> None:
    passes = (
        Pass(2, "notch", "p", RING[:2]),
        Pass(3, "outline", "p", ((0.0, 0.0), *RING, RING[0]), (0.1, 0.0, 1.5, -0.3)),
    )
    plan = replace(PLAN, passes=passes)
    cuts = {role: ink for role, ink in INKS.items() if role in ("cloth", *CUT_ROLES)}
    path = tmp_path / "a-tool.dxf"
    path.write_bytes(
        dxf_bytes(plan.of_passes, inks=cuts, release="R12" if release == "R12" else "R2000")
    )
    run = drawn(path, LAYER_NAMES)
    assert judge_passes(run, passes) == ()
    # tampered: another order, a pass less, another place, another layer
    for other in (passes[::-1], passes[:1], (passes[0], replace(passes[1], bulges=())),
                  (passes[0], replace(passes[1], role="inner"))):  # fmt: skip
        assert {finding.code for finding in judge_passes(run, other)} == {"passes"}
    path.write_bytes(dxf_bytes(PLAN))
    strange = drawn(path, LAYER_NAMES).drawing.findings
    assert [finding.code for finding in strange] == ["strange-layer"]
