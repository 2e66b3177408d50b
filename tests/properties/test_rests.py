"""What is left of any remnant: what is written and what a check works out anew, on any outlines."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from cutfiles.job.cloth import LEAST_CLOTH_MM
from cutfiles.lay.rest import rest_of
from cutfiles.verdict.drawing import ReadDrawing, ReadLine, lines_of
from cutfiles.verdict.judge_takes import judge_rest
from cutfiles.verdict.read_summary import LayRow, SummaryFile, TakeRow, read_summary
from tests.cli.program import made_from_shelf
from tests.conftest import LASER

SHELF = """[[stock]]
name = "offcuts"
fibre = "cotton"
outline = [[0, 0], [900, 0], [900, 300], [600, 560], [0, 560]]
"""
JOB = """shelf = "shelf.toml"
[[cloth]]
name = "offcuts"
[[caps]]
style = "tie-back"
size = "C1"
quantity = 1
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[SummaryFile, LayRow]:
    """A summary of a lay on a remnant, to take other remnants and pieces."""
    out: Path = made_from_shelf(tmp_path_factory.mktemp("made"), SHELF, JOB + LASER)
    summary = read_summary(out / "summary.json")
    return summary, summary.lays[0]


@st.composite
def remnants(draw: st.DrawFn) -> Polygon:
    """Outlines about a middle, of three to nine corners, 200 to 1600 mm across."""
    radii = draw(st.lists(st.floats(100.0, 800.0), min_size=3, max_size=9))
    angles = [2.0 * math.pi * number / len(radii) for number in range(len(radii))]
    corners = zip(radii, angles, strict=True)
    return Polygon([(800 + r * math.cos(a), 800 + r * math.sin(a)) for r, a in corners])


@st.composite
def pieces(draw: st.DrawFn) -> list[Polygon]:
    """A small box about the middle of such a remnant, and up to two larger ones anywhere."""
    half = draw(st.floats(10.0, 30.0))
    places = st.tuples(*[st.floats(100.0, 1400.0)] * 2, *[st.floats(20.0, 300.0)] * 2)
    boxes = draw(st.lists(places, max_size=2))
    middle = box(800 - half, 800 - half, 800 + half, 800 + half)
    return [middle, *(box(x, y, x + along, y + across) for x, y, along, across in boxes)]


def _drawn(cut: list[Polygon], role: str, kerf_mm: float) -> ReadDrawing:
    paths = [piece.buffer(kerf_mm / 2.0, join_style="mitre").exterior.coords for piece in cut]
    lines = lines_of(ReadLine(role, np.array(path)) for path in paths)
    return ReadDrawing("lay-01.dxf", lines, (), ())


@given(remnants(), pieces())
def test_a_check_finds_the_rest_that_is_written(
    made: tuple[SummaryFile, LayRow], remnant: Polygon, cut: list[Polygon]
) -> None:
    summary, row = made
    kerf = summary.machine.kerf_mm
    lay = row.model_copy(update={"remnant_mm": list(remnant.exterior.coords)[:-1]})
    drawing = _drawn(cut, summary.roles["outline"], kerf)
    rest = rest_of(remnant, cut, lay.clearance_mm + kerf)
    take = TakeRow.model_validate_json(
        json.dumps({"stock": 1, "name": "offcuts", "lay": lay.name, "rest_mm": _corners(rest)})
    )
    assert not list(judge_rest(drawing, lay, take, summary))
    # and half a box round it, or none, or more than there is, is found wrong
    wrong = [remnant]
    if rest is not None:
        x0, y0, x1, y1 = rest.bounds
        if min(x1 - x0, y1 - y0) >= LEAST_CLOTH_MM + 1.0:
            wrong.append(Polygon())
        wrong.append(Polygon([(x0, y0), (x1, y0), (x0, y1)]))
    for other in wrong:
        changed = take.model_copy(update={"rest_mm": _corners(other)})
        assert list(judge_rest(drawing, lay, changed, summary))


def _corners(rest: Polygon | None) -> list[tuple[float, float]]:
    return [(x, y) for x, y in rest.exterior.coords][:-1] if rest is not None else []
