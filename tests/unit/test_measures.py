"""Measures of one's own: which there are, what they change, what is said of wrong ones."""

from __future__ import annotations

import math
from dataclasses import fields
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutfiles.job.job import CapLine, Style
from cutfiles.job.measures import MEASURES, Measure, read_measures
from cutfiles.job.sizes import size_named
from cutfiles.pieces.bouffant import Bouffant
from cutfiles.pieces.cut_list import draft_line
from cutfiles.pieces.long_hair import LongHair
from cutfiles.pieces.piece import Draft
from cutfiles.pieces.three_panel import ThreePanel
from cutfiles.pieces.tie_back import TieBack
from cutfiles.pieces.walk import check_draft
from tests.conftest import ROOT

NOUNS: dict[Style, tuple[type, ...]] = {
    "tie-back": (TieBack,),
    "three-panel": (ThreePanel,),
    "bouffant": (Bouffant,),
    "long-hair": (LongHair, TieBack),
}
EVERY = [(style, name) for style in get_args(Style) for name in MEASURES[style]]


def end_of(measure: Measure, end: str) -> float:
    """A limit as a job would give it: counts are whole numbers."""
    value = measure.low if end == "low" else measure.high
    return int(value) if measure.kind == "count" else value


def line_of(style: Style, measures: dict[str, object]) -> CapLine:
    values, faults = read_measures(style, measures, default_unit="mm")
    assert faults == []
    return CapLine(
        style, size_named("M"), 1, "hem", "any", measures=tuple(values.items()), number=3
    )


@pytest.mark.parametrize(("style", "name"), EVERY)
def test_every_measure_is_one_of_its_style(style: Style, name: str) -> None:
    measure = MEASURES[style][name]
    values, _ = read_measures(style, {name: end_of(measure, "low")}, default_unit="mm")
    (field,) = values
    known = {field.name for noun in NOUNS[style] for field in fields(noun)}
    assert field in known


@settings(max_examples=25)
@given(
    height=st.floats(120, 170), ends=st.floats(60, 90), ease=st.floats(0, 2), snug=st.floats(12, 30)
)
def test_ordinary_changes_are_always_sewn(
    height: float, ends: float, ease: float, snug: float
) -> None:
    measures: dict[str, object] = {
        "front_height": height, "end_height": ends, "ease_percent": ease, "snug": snug,
    }  # fmt: skip
    assert check_draft(draft_line(line_of("tie-back", measures))) == ()


def test_a_changed_measure_is_cut_and_marked() -> None:
    draft: Draft = draft_line(line_of("tie-back", {"front_height": "6 in"}))
    top = draft.piece("band").edge("crown seam").stitch
    assert top.point_at(top.length() / 2).x == pytest.approx(152.4)
    assert draft.title == "tie-back M line 3"
    plain = draft_line(CapLine("tie-back", size_named("M"), 1, "hem", "any", number=3))
    assert plain.title == "tie-back M"


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ({"front_hight": 150}, "did you mean 'front_height'?"),
        ({"nose": 150}, "is no measure of the tie-back cap"),
        ({"front_height": "3 ells"}, "no unit known here"),
        ({"front_height": 900}, "must be 90 to 220 mm: it is the band at the centre front"),
        ({"ease_percent": "2 mm"}, "write it without a unit"),
        ({"ease_percent": math.nan}, "must be 0 to 4 percent"),
        ({"elastic_stretch": True}, "is not a number"),
    ],
)
def test_what_is_wrong_with_a_measure(written: dict[str, object], words: str) -> None:
    _, faults = read_measures("tie-back", written, default_unit="mm")
    assert len(faults) == 1
    assert words in faults[0]


def test_the_reference_lists_every_measure() -> None:
    text = (ROOT / "docs" / "reference" / "styles.md").read_text("utf-8")

    def shown(measure: Measure, value: float) -> str:
        unit = {"length": " mm", "percent": " %", "times": " times", "count": ""}[measure.kind]
        return f"{value:g}{unit}"

    for style, measures in MEASURES.items():
        section = text[text.index(f"### {style}\n") :]
        for name, m in measures.items():
            row = f"| `{name}` | {m.meaning} | {shown(m, m.low)} | {shown(m, m.high)} |"
            assert row in section, row
