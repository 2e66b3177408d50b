"""Measures of one's own at and between their limits: sewn, or refused in words that help."""

from __future__ import annotations

from itertools import combinations
from typing import get_args

import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st

from cutfiles.errors import JobError
from cutfiles.geometry.path import Path
from cutfiles.geometry.polygons import polygon_of
from cutfiles.job.job import CapLine, EdgeFinish, Style
from cutfiles.job.measures import MEASURES, Measure, read_measures
from cutfiles.job.sizes import (
    LARGEST_GIRTH_MM,
    SMALLEST_GIRTH_MM,
    Size,
    made_to_measure,
    size_named,
)
from cutfiles.pieces.cut_list import draft_line
from cutfiles.pieces.piece import Draft
from cutfiles.pieces.walk import sewn_angle_deg, walk_seam

PAIRS = [(style, *pair) for style in get_args(Style) for pair in combinations(MEASURES[style], 2)]
EDGES = get_args(EdgeFinish)


def ends_of(measure: Measure) -> tuple[float, float]:
    """Both limits as a job would give them: counts are whole numbers."""
    if measure.kind == "count":
        return int(measure.low), int(measure.high)
    return measure.low, measure.high


def sewn_or_refused(style: Style, size: Size, edge: EdgeFinish, written: dict[str, object]) -> str:
    """The words of the refusal, empty where the cap was drafted and is sound."""
    values, faults = read_measures(style, written, default_unit="mm")
    if faults:
        return "\n".join(faults)
    line = CapLine(style, size, 1, edge, "any", measures=tuple(values.items()), number=3)
    try:
        draft = draft_line(line)
    except JobError as error:
        return str(error)
    check_soundness(draft)
    return ""


def check_soundness(draft: Draft) -> None:
    """What a sewer would check with a ruler, by shapely where it can tell."""
    # a seam walks within 0.1 mm and a corner is true within a degree (common practice, no source)
    for seam in draft.seams:
        assert walk_seam(draft, seam).worst_error_mm <= 0.1, seam.name
    for corner in draft.corners:
        assert abs(sewn_angle_deg(draft, corner) - 180.0) <= 1.0, corner.name
    for part in draft.parts:
        piece = part.piece
        stitch = Path(tuple(s for edge in piece.edges for s in edge.stitch.segments))
        for path in (piece.cut, stitch):
            # without its last point, which is the first but for rounding
            ring = shapely.LinearRing(path.flattened(0.05)[:-1])
            assert ring.is_simple, piece.name
            assert ring.is_ccw, piece.name
        cut = polygon_of(piece.cut)
        for notch in piece.notches:
            assert cut.exterior.distance(shapely.Point(notch.at.x, notch.at.y)) < 0.02
            tip = notch.at + notch.inward * notch.depth_mm
            assert cut.contains(shapely.Point(tip.x, tip.y)), piece.name
        for mark in piece.marks:
            assert cut.contains(shapely.LineString(mark.flattened(0.05))), piece.name
    fit = draft.fit
    assert fit.smallest_girth_mm <= draft.girth_low_mm + 0.1
    assert fit.largest_girth_mm >= draft.girth_high_mm - 0.1


@pytest.mark.parametrize(("style", "one", "other"), PAIRS)
def test_two_measures_at_their_limits_are_sewn_or_refused(
    style: Style, one: str, other: str
) -> None:
    edges = EDGES if style == "bouffant" else EDGES[:1]  # only its crown depends on the edge
    for edge in edges:
        for first in ends_of(MEASURES[style][one]):
            for second in ends_of(MEASURES[style][other]):
                written: dict[str, object] = {one: first, other: second}
                refused = sewn_or_refused(style, size_named("M"), edge, written)
                # what is refused is the fault of one of the two, and the words name it
                assert not refused or one in refused or other in refused, (written, refused)


@st.composite
def changed_measures(draw: st.DrawFn) -> tuple[Style, dict[str, object]]:
    """A style and any of its measures, each within its limits."""
    style: Style = draw(st.sampled_from(get_args(Style)))
    names = draw(st.lists(st.sampled_from(sorted(MEASURES[style])), unique=True, min_size=1))
    written: dict[str, object] = {}
    for name in names:
        measure = MEASURES[style][name]
        low, high = ends_of(measure)
        if measure.kind == "count":
            written[name] = draw(st.integers(int(low), int(high)))
        else:
            written[name] = draw(st.floats(low, high))
    return style, written


# a crown too narrow for its head curves more sharply than its seam allowance
@example(
    changed=("tie-back", {"ease_percent": 0.0, "crown_width": 218.0, "crown_back": 100.0}),
    girth=441.0,
    edge="hem",
)
@settings(max_examples=40)
@given(
    changed=changed_measures(),
    girth=st.floats(SMALLEST_GIRTH_MM, LARGEST_GIRTH_MM, exclude_min=True),
    edge=st.sampled_from(EDGES),
)
def test_any_measures_together_are_sewn_or_refused(
    changed: tuple[Style, dict[str, object]], girth: float, edge: EdgeFinish
) -> None:
    style, written = changed
    refused = sewn_or_refused(style, made_to_measure(girth), edge, written)
    assert not refused or any(name in refused for name in written), (written, refused)


@settings(max_examples=15)
@given(data=st.data(), style=st.sampled_from(get_args(Style)), edge=st.sampled_from(EDGES))
def test_ordinary_measures_together_are_always_sewn(
    data: st.DataObject, style: Style, edge: EdgeFinish
) -> None:
    """Near the measures that a style has by itself, nothing is refused."""
    written: dict[str, object] = {}
    for name, (low, high) in ORDINARY[style].items():
        written[name] = data.draw(st.floats(low, high), label=name)
    assert sewn_or_refused(style, size_named("M"), edge, written) == ""


ORDINARY: dict[Style, dict[str, tuple[float, float]]] = {
    "tie-back": {
        "snug": (14, 24), "elastic_stretch": (1.55, 1.8), "front_height": (125, 160),
        "end_height": (62, 85), "crown_width": (206, 225), "crown_back": (140, 164),
        "ease_percent": (0, 2), "pleat_depth": (5, 10),
    },
    "long-hair": {
        "snug": (14, 24), "elastic_stretch": (1.55, 1.8), "front_height": (125, 160),
        "end_height": (62, 85), "crown_width": (170, 190), "crown_back": (140, 164),
        "ease_percent": (0, 2), "side_gather": (1.2, 1.8), "top_width": (1.2, 1.5),
        "fullness": (30, 60),
    },
    "three-panel": {
        "snug": (16, 22), "elastic_stretch": (1.6, 1.8), "front_width": (100, 125),
        "nape_width": (110, 125), "belly": (8, 26), "side_height": (140, 165),
        "ease_percent": (0, 2),
    },
    "bouffant": {
        "snug": (18, 35), "fullness": (1.8, 3.0), "longer": (1.0, 1.25),
        "elastic_stretch": (1.5, 1.8), "band_height": (18, 36), "band_back": (150, 170),
    },
}  # fmt: skip
"""Ranges round each style's measures for size M, in mm, percent or times."""
