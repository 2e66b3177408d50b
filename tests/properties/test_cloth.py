"""Properties of cloth: what the job allows, what the verdict lets pass."""

from __future__ import annotations

from typing import get_args

from hypothesis import given
from hypothesis import strategies as st

from cutfiles.job.cloth import Grain, GrainRule
from cutfiles.verdict.grain import off_grain

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
