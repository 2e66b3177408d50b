"""Properties of cloth: what the job allows, what the verdict lets pass."""

from __future__ import annotations

from typing import get_args

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from cutfiles.job.cloth import Flaw, Grain, GrainRule
from cutfiles.job.job import CapLine, Cloth, Style
from cutfiles.job.sizes import size_named
from cutfiles.lay.lay import Lay
from cutfiles.lay.obstacles import clipped, flaws_on_lay
from cutfiles.lay.remnants import convex_parts
from cutfiles.pieces.hands import one_handed
from cutfiles.pieces.styles import draft_style
from cutfiles.verdict.expected import flaws_of
from cutfiles.verdict.grain import off_grain

Place = tuple[float, float]

grains: st.SearchStrategy[Grain] = st.sampled_from(get_args(Grain))
rules = st.builds(GrainRule, grains, st.floats(0.0, 3.0))


@given(rule=rules, one_way=st.booleans(), drawn_deg=st.floats(0.0, 360.0))
def test_the_verdict_lets_pass_what_the_rule_allows_and_no_more(
    rule: GrainRule, one_way: bool, drawn_deg: float
) -> None:
    # derived: every turn that a nest may use is sound, and a sound line lies between the turns
    # to both sides of an allowed direction
    for turn in rule.turns_deg(one_way=one_way):
        assert off_grain(turn, rule, one_way=one_way) is None
    straight = GrainRule(rule.grain).turns_deg(one_way=one_way)
    away = min(abs((drawn_deg - turn + 180.0) % 360.0 - 180.0) for turn in straight)
    if abs(away - rule.tilt_deg) > 0.02:
        assert (off_grain(drawn_deg, rule, one_way=one_way) is None) == (away < rule.tilt_deg)


corner = st.tuples(st.floats(0.0, 900.0), st.floats(0.0, 480.0))
extents = st.tuples(st.floats(1.0, 300.0), st.floats(1.0, 480.0))
flaws = st.builds(Flaw, corner, extents)


@given(flaw=flaws, folded=st.booleans(), begins=st.floats(0.0, 500.0))
def test_a_flaw_is_where_it_was_measured(flaw: Flaw, folded: bool, begins: float) -> None:
    # derived: a place of the cloth is a flaw if and only if it is one on the table, and the
    # verdict, which measures anew, says the same
    cloth = Cloth(
        "any", 1000.0, 10.0, None, False, 1, 0.0, 0.0, None,
        spread="folded" if folded else "single", flaws=(flaw,),
    )  # fmt: skip
    width = cloth.lay_width_mm
    lay = Lay("lay-01", cloth, width, 700.0, begins, 1.0, 0.1, (), "rows")
    on_table = shapely.union_all(clipped(flaws_on_lay(cloth, begins), 700.0, width))
    anew = shapely.union_all(flaws_of(lay))
    assert on_table.symmetric_difference(anew).area < 1e-6 * max(1.0, anew.area)
    (x0, y0), (x1, y1) = flaw.at, flaw.far
    for x, y in (((x0 + x1) / 2, (y0 + y1) / 2), (x0 - 1.0, y0 - 1.0), (x1 + 1.0, y1 + 1.0)):
        across = abs(y - 500.0) if folded else y - 10.0
        place = shapely.Point(x - begins, across)
        # folded, the place lies on its twin at the same distance beyond the fold, 500 mm up
        layers = (y, 1000.0 - y) if folded else (y,)
        bad = x0 < x < x1 and any(y0 < layer < y1 for layer in layers)
        if bad and 0.0 < place.x < 700.0 and 0.0 < across < width:
            assert on_table.covers(place)
        else:
            assert not on_table.contains(place)


@given(st.lists(corner, min_size=4, max_size=12))
def test_what_is_no_cloth_is_covered_by_parts_without_bays(corners: list[Place]) -> None:
    # derived: the parts are a partition, each its own hull
    # corners to a millionth of a millimetre: shapely's union, the judge here, loses parts that
    # differ by 1e-266
    rounded = [(round(x, 6), round(y, 6)) for x, y in corners]
    hull = shapely.MultiPoint(rounded).convex_hull
    assume(isinstance(hull, Polygon) and hull.area > 100.0)
    around = shapely.box(-5.0, -5.0, 905.0, 485.0).difference(hull)
    parts = convex_parts(around)
    assert sum(part.area for part in parts) == pytest.approx(around.area, rel=1e-6)
    assert shapely.union_all(parts).symmetric_difference(around).area < 1e-4 * around.area
    for part in parts:
        assert part.convex_hull.area == pytest.approx(part.area, rel=1e-6)


@settings(max_examples=20)
@given(style=st.sampled_from(get_args(Style)), grain=grains, one_way=st.booleans())
def test_every_cap_can_be_cut_in_pairs(style: Style, grain: Grain, one_way: bool) -> None:
    # derived: a cap is the same left and right, so its pieces are mirror images of themselves or
    # of each other (one-way prints: the mirror in the grain line)
    draft = draft_style(CapLine(style, size_named("M"), 1, "hem", "any"), longest_strip_mm=9e9)
    cloth = Cloth("any", 1000.0, 0.0, None, one_way, 2, 0.0, 0.0, None, spread="face to face")
    rule = GrainRule(grain)
    wanted = [(part.piece, rule, part.count) for part in draft.parts]
    assert list(one_handed(wanted, cloth, what="job.toml")) == []
    lonely = [item for item in wanted if item[0].name == "left side"]
    assert len(list(one_handed(lonely, cloth, what="job.toml"))) == len(lonely)
