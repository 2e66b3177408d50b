"""Frames along a lay longer than the bed: every piece whole in one, or the judge sees it."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutfiles.cuts.frames import windows_of
from cutfiles.cuts.motion_time import cutting_legs
from cutfiles.cuts.plan import CUT_ROLES, CutPlan
from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.lay.lay import Lay
from cutfiles.verdict.expected import ExpectedLay, expected_of, in_frames
from tests.small_lay import LASER, LAYERS, small_lay, tie_backs
from tests.unit.tampering import codes

MOVING = replace(LASER, bed_along_mm=420.0, advances=True)

spans = st.tuples(st.integers(0, 60), st.integers(1, 10)).map(lambda s: (s[0], s[0] + s[1]))


def fewest(extents: list[tuple[int, int]], bed: int) -> int:
    """The fewest windows that hold every stretch, all sets of whole starts tried."""
    starts = range(max(end for _, end in extents) + 1)
    for count in itertools.count(1):
        for chosen in itertools.combinations(starts, count):
            if all(any(s <= a and b <= s + bed for s in chosen) for a, b in extents):
                return count
    raise AssertionError


@given(st.lists(spans, min_size=1, max_size=30))
def test_every_piece_is_in_one_window_and_windows_go_on(stretches: list[tuple[int, int]]) -> None:
    extents = {f"p{k}": (float(a), float(b)) for k, (a, b) in enumerate(stretches)}
    windows = windows_of(extents, 12.0)
    starts = [start for start, _ in windows]
    assert starts == sorted(set(starts))
    assert sorted(name for _, names in windows for name in names) == sorted(extents)
    for start, names in windows:
        assert names
        for name in names:
            assert start <= extents[name][0]
            assert extents[name][1] <= start + 12.0


@given(st.lists(st.tuples(st.integers(0, 12), st.integers(1, 5)), min_size=1, max_size=8))
def test_there_are_as_few_windows_as_can_be(pieces: list[tuple[int, int]]) -> None:
    # reference: every set of windows; the first of ours is at 0, which may hold one more
    stretches = [(at, at + size) for at, size in pieces]
    extents = {f"p{k}": (float(a), float(b)) for k, (a, b) in enumerate(stretches)}
    least = fewest(stretches, 6)
    found = windows_of(extents, 6.0)
    assert least <= len(found) <= least + 1
    if all(a == 0 for a, _ in stretches) or min(a for a, _ in stretches) == 0:
        assert len(found) == least


def test_a_piece_longer_than_the_bed_is_refused() -> None:
    with pytest.raises(ValueError, match=r"long is 13.0 mm long and the bed 12 mm"):
        windows_of({"short": (0.0, 5.0), "long": (2.0, 15.0)}, 12.0)


@given(st.floats(0.0, 3000.0), st.floats(300.0, 1200.0))
def test_a_piece_as_long_as_the_bed_fits_it(at_mm: float, bed_mm: float) -> None:
    # derived: its two ends, worked out each by itself, may be a rounding further apart
    middle = at_mm + bed_mm / 2.0
    ends = middle - bed_mm / 2.0, middle + bed_mm / 2.0
    (*_, (start, names)) = windows_of({"long": ends}, bed_mm)
    assert names == {"long"}
    assert start == pytest.approx(ends[0], abs=1e-9) or start == 0.0


@pytest.fixture(scope="module")
def lay() -> Lay:
    return small_lay(tie_backs(4), machine=MOVING)


@pytest.fixture(scope="module")
def plan(lay: Lay) -> CutPlan:
    return cut_plan(lay, MOVING, seed=1)


def test_a_long_lay_is_cut_in_frames(lay: Lay, plan: CutPlan) -> None:
    assert lay.length_mm > 420.0
    assert len(plan.frames) >= 2
    numbers = plan.frame_numbers
    assert set(numbers) == {placed.ordered.id for placed in lay.placed}
    ends = [*(frame.first_stroke for frame in plan.frames[1:]), len(plan.strokes)]
    for frame, end in zip(plan.frames, ends, strict=True):
        strokes = plan.strokes[frame.first_stroke : end]
        xs = [x for s in strokes if s.role in CUT_ROLES for x, _ in s.points]
        assert frame.start_mm <= min(xs)
        assert max(xs) <= frame.start_mm + 420.0
    pieces = [s.piece_id for s in plan.strokes]
    runs = [name for name, _ in itertools.groupby(pieces, key=lambda p: numbers[p])]
    assert runs == sorted(set(runs))
    # the time is the pieces' and 100 mm/s of moving on
    moved = (plan.frames[-1].start_mm - plan.frames[0].start_mm) / 100.0
    legs = cutting_legs(plan.passes, MOVING.pace, plan.frames)
    assert legs == plan.legs
    total_s = sum(leg.total_s for leg in legs)
    assert total_s == pytest.approx(sum(plan.piece_s.values()) + moved)


def test_a_lay_that_fits_the_bed_needs_none(lay: Lay) -> None:
    assert cut_plan(lay, replace(MOVING, bed_along_mm=lay.length_mm), seed=1).frames == ()
    assert cut_plan(lay, LASER, seed=1).frames == ()


def first_piece_in_frame(expected: ExpectedLay, to: int | None) -> ExpectedLay:
    """One piece of the last frame said to be in another."""
    last = max(piece.frame or 0 for piece in expected.pieces)
    late = next(piece for piece in expected.pieces if piece.frame == last)
    pieces = (replace(p, frame=to) if p is late else p for p in expected.pieces)
    return replace(expected, pieces=tuple(pieces))


@pytest.mark.parametrize(
    ("change", "found"),
    [
        (lambda e: e, set()),
        (lambda e: replace(e, bed_advances=False), {"frame", "bed"}),
        (lambda e: replace(e, frames_mm=()), {"bed"}),
        (lambda e: replace(e, bed_mm=(300.0, None)), {"frame"}),
        (lambda e: replace(e, frames_mm=e.frames_mm[::-1]), {"frame"}),
        (lambda e: replace(e, frames_mm=tuple(s + 1.0 for s in e.frames_mm)), {"frame"}),
        (lambda e: first_piece_in_frame(e, 1), {"frame"}),
        (lambda e: first_piece_in_frame(e, None), {"frame"}),
        (lambda e: first_piece_in_frame(e, 99), {"frame"}),
    ],
)
def test_a_piece_out_of_its_frame_is_found(
    change: Callable[[ExpectedLay], ExpectedLay],
    found: set[str],
    lay: Lay,
    plan: CutPlan,
    tmp_path: Path,
) -> None:
    expected = change(in_frames(expected_of(lay, MOVING, LAYERS), plan))
    assert codes(plan, expected, tmp_path) == found


def test_frames_out_of_order_are_found(lay: Lay, plan: CutPlan, tmp_path: Path) -> None:
    expected = in_frames(expected_of(lay, MOVING, LAYERS), plan)
    first, second = plan.frames[0].first_stroke, plan.frames[1].first_stroke
    assert first == 0
    turned = replace(plan, strokes=plan.strokes[second:] + plan.strokes[:second])
    assert codes(turned, expected, tmp_path) == {"frame"}
