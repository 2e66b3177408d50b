"""A fixed order on remnants: searched on after the first lay that fits."""

from __future__ import annotations

from shapely.geometry import Polygon

from cutfiles.effort import Effort
from cutfiles.job.cloth import GrainRule, Remnant
from cutfiles.job.job import CapLine, Cloth, Job
from cutfiles.job.machine import Machine
from cutfiles.job.sizes import size_named
from cutfiles.lay.arrange import arrange
from cutfiles.lay.lay import Lay
from cutfiles.pieces.cut_list import cut_list

LASER = Machine("laser", 0.2, None, None)
LARGE = Remnant(1, None, ((0.0, 0.0), (900.0, 0.0), (900.0, 570.0), (0.0, 570.0)))
SMALL = Remnant(2, None, ((0.0, 0.0), (600.0, 0.0), (600.0, 300.0), (300.0, 560.0), (0.0, 560.0)))
OFFCUTS = Cloth(
    "offcuts", 570.0, 0.0, None, False, 1, 0.0, 0.0, "cotton", remnants=(LARGE, SMALL)
)  # fmt: skip
EITHER = (("band", GrainRule("either")), ("tie", GrainRule("either")))


def laid(effort: Effort) -> tuple[Lay, ...]:
    """Three caps on two remnants."""
    line = CapLine("tie-back", size_named("M"), 3, "hem", "offcuts", grains=EITHER)
    job = Job("job.toml", "t", "mm", (OFFCUTS,), (line,), LASER)
    cuts = cut_list(job, OFFCUTS)
    return arrange(cuts, LASER, effort, unit="mm", source="job.toml")


def taken_mm(lays: tuple[Lay, ...]) -> float:
    """How far along the remnants, one after the other, there are pieces."""
    last = lays[-1]
    reach = max(one.placed_outline.bounds[2] for one in last.placed)
    before = 900.0 if last.remnant_number == 2 else 0.0
    return before + reach


def test_a_fixed_order_on_remnants_is_searched_on() -> None:
    hasty = laid(Effort(0.0, 1))
    heard: list[float] = []

    def is_shorter() -> bool:
        # the first lay that is heard of fits, and ends the first search: nothing better is heard
        # of where there is no other
        return bool(heard) and min(heard) < heard[0]

    effort = Effort(120.0, 1, is_shorter, lambda news: heard.append(news.length_mm))
    patient = laid(effort)
    for lays in (hasty, patient):
        assert sum(len(lay.placed) for lay in lays) == 12
        for lay in lays:
            remnant = Polygon({1: LARGE, 2: SMALL}[lay.remnant_number or 0].corners)
            grown = remnant.buffer(0.01, join_style="mitre")
            assert all(grown.covers(one.placed_outline) for one in lay.placed)
    # derived: what is found later is taken where it takes less of the remnants, and only there;
    # what is laid plainly, at once, is never the shortest of twelve such pieces
    assert taken_mm(patient) < taken_mm(hasty)
