"""Labels as strokes: within their piece, clear of what is cut and sewn, whatever they say."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from cutfiles.cuts.lettering import LabelPlaces, letters_of, writable
from cutfiles.cuts.plan import Lettering
from cutfiles.cuts.plan_cuts import letter_findings
from cutfiles.effort import Effort
from cutfiles.geometry.vector import Motion, Point, Vector
from cutfiles.job.job import CapLine, Cloth, EdgeFinish, Job, PanelLine, Style
from cutfiles.job.sizes import SIZES
from cutfiles.lay.arrange import arrange
from cutfiles.lay.lay import Lay, PlacedPiece, cut_outs_of
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.panel import read_panels
from tests.small_lay import LASER, small_lay

CLOTH = Cloth("kelp", 1500.0, 0.0, None, False, 1, 3.0, 2.0, "cotton")


def strokes_of(text: str, turn_deg: float = 0.0, height_mm: float = 21.0) -> list[np.ndarray]:
    label = Lettering("p", text, (100.0, 50.0), turn_deg, height_mm)
    return [np.array(stroke.points) for stroke in letters_of(label).strokes]


def test_a_capital_is_as_high_as_asked_and_about_its_middle() -> None:
    # the font's own measure, as its tables give it (NBS Special Publication 424): a capital of
    # the normal size reaches from -9 to 12, so a letter of 21 mm has units of 1 mm
    points = np.vstack(strokes_of("H"))
    assert points.min(axis=0) == pytest.approx((93.0, 39.5))
    assert points.max(axis=0) == pytest.approx((107.0, 60.5))
    assert len(strokes_of("H")) == 3  # two uprights and a bar


def test_letters_read_the_way_they_are_turned() -> None:
    # derived: L has its upright first in the direction of reading, and stands on its foot
    (upright, foot) = strokes_of("L")
    assert upright[:, 0].mean() < foot[:, 0].mean()
    assert upright[:, 1].mean() > foot[:, 1].mean()
    (upright, foot) = strokes_of("L", turn_deg=90.0)
    assert upright[:, 1].mean() < foot[:, 1].mean()
    assert upright[:, 0].mean() < foot[:, 0].mean()


def test_letters_that_the_font_lacks_are_underscores() -> None:
    assert writable("café 1/2") == "caf_ 1/2"
    assert writable("帽子") == "__"


def lay_of(style: Style, edge: EdgeFinish, number: int) -> Lay:
    return small_lay(CapLine(style, SIZES[number], 1, edge, "kelp"), cloth=CLOTH)


def faults(placed: PlacedPiece) -> list[str]:
    """What is wrong with the label of a piece (reference: shapely)."""
    label = LabelPlaces().drawn(placed)
    drawn = shapely.MultiLineString([s.points for s in letters_of(label).strokes])
    wrong = []
    if not placed.placed_outline.covers(drawn):
        wrong.append("outside")
    for notch in placed.ordered.piece.notches:
        tip = notch.at + notch.inward * notch.depth_mm
        slit = [placed.motion.point(p) for p in (notch.at, tip)]
        if drawn.distance(shapely.LineString([(p.x, p.y) for p in slit])) < 0.5:
            wrong.append("across a notch")
    a, b, d, e, x, y = placed.motion.matrix
    for hole in cut_outs_of(placed.ordered):
        if drawn.intersects(shapely.affinity.affine_transform(hole, [a, b, d, e, x, y])):
            wrong.append("in a cut-out")
    if 90.0 < label.angle_deg <= 270.0:
        wrong.append("upside down")
    return wrong


@pytest.mark.parametrize("style", get_args(Style))
@pytest.mark.parametrize("edge", get_args(EdgeFinish))
def test_labels_of_every_style(style: Style, edge: EdgeFinish) -> None:
    for number in (0, len(SIZES) - 1):
        for placed in lay_of(style, edge, number).placed:
            assert faults(placed) == []
            label = LabelPlaces().drawn(placed)
            assert label.height_mm >= 1.5, placed.ordered.name  # legible
            drawn = shapely.MultiLineString([s.points for s in letters_of(label).strokes])
            for path in placed.ordered.piece.stitch_lines:
                flat = (Point(x, y) for x, y in path.flattened(0.1).tolist())
                points = [placed.motion.point(point) for point in flat]
                assert drawn.distance(shapely.LineString([(p.x, p.y) for p in points])) > 0.3
            grain = placed.ordered.piece.grain
            shaft = [placed.motion.point(point) for point in (grain.start, grain.end)]
            away = drawn.distance(shapely.LineString([(p.x, p.y) for p in shaft]))
            assert away > 0.3, placed.ordered.name  # every style has room beside it


corner = st.tuples(st.integers(0, 60), st.integers(0, 60))
texts = st.text(st.characters(min_codepoint=33, max_codepoint=383), min_size=1, max_size=40)


@settings(max_examples=40)
@given(corners=st.lists(corner, min_size=3, max_size=6, unique=True), text=texts,
       turn=st.integers(0, 359), with_hole=st.booleans())  # fmt: skip
def test_labels_of_any_panel(
    corners: list[tuple[float, float]], text: str, turn: int, with_hole: bool
) -> None:
    shape = Polygon(corners)
    if not shape.is_valid or shape.buffer(-3.0).is_empty:
        return
    body = "M" + " L".join(f"{x},{y}" for x, y in corners) + " Z"
    middle = shape.buffer(-2.5).representative_point()
    hole = f'<circle id="cut-out" cx="{middle.x}" cy="{middle.y}" r="1"/>' if with_hole else ""
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">'
        f'<path d="{body}"/>{hole}</svg>'
    )
    line = PanelLine(1, "a.svg", "panel", 1, "kelp")
    panels, _ = read_panels(svg.encode(), line, source="job.toml")
    cuts = cut_list(Job("j", "t", "mm", (CLOTH,), (), LASER, (line,)), CLOTH, panels)
    (cap,) = cuts.caps
    ordered = replace(cap.pieces[0], label=text)
    outline = arrange(cuts, LASER, Effort(0.0, 1), unit="mm", source="j")[0].placed[0].outline
    assert faults(PlacedPiece(ordered, outline, Motion(float(turn), Vector(70.0, 9.0)))) == []


def test_letters_that_are_lacking_are_said_once() -> None:
    lay = lay_of("bouffant", "hem", 3)
    named = tuple(
        replace(p, ordered=replace(p.ordered, label=f"Mütze ü {k}"))
        for k, p in enumerate(lay.placed * 2)
    )
    lays = (replace(lay, placed=named),)
    (finding,) = letter_findings(lays, LASER, source="job.toml")
    assert finding.severity == "note"
    assert "labels hold ü," in finding.text
    assert letter_findings(lays, replace(LASER, labels="text"), source="job.toml") == ()
    assert letter_findings((lay,), LASER, source="job.toml") == ()
