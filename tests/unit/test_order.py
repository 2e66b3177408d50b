"""The order of strokes: nothing loose too early, entries as allowed, the far end in its turn."""

from __future__ import annotations

import random

import pytest

from cutfiles.cuts.order import ordered_strokes, travel_mm
from cutfiles.cuts.plan import CUT_ROLES, Role, Stroke
from cutfiles.job.machine import FarEnd

pytestmark = pytest.mark.usefixtures("all_kicks")


def square(role: Role, name: str, x: float, y: float, size: float) -> Stroke:
    corners = ((x, y), (x + size, y), (x + size, y + size), (x, y + size))
    return Stroke(role, name, corners, closed=True)


def pieces(count: int, seed: int) -> list[Stroke]:
    """Squares strewn about, each with two notches, a cut-out, a grain arrow and a stitch line."""
    rng = random.Random(seed)
    strokes = []
    for number in range(count):
        x, y, size = rng.uniform(0, 900), rng.uniform(0, 900), rng.choice([10.0, 60.0])
        name = f"piece-{number}"
        strokes += [
            square("outline", name, x, y, size),
            Stroke("notch", name, ((x, y), (x + 1, y + 1)), closed=False),
            Stroke("notch", name, ((x + size, y), (x + size - 1, y + 1)), closed=False),
            square("inner", name, x + 2, y + 2, size - 4),
            Stroke("grain", name, ((x, y), (x + 5, y), (x + 4, y)), closed=False),
            Stroke("stitch", name, ((x, y + 1), (x + size, y + 1)), closed=False),
        ]
    return strokes


def key(stroke: Stroke) -> tuple[str, str, tuple[tuple[float, float], ...]]:
    """What stays of a stroke however it is entered and turned."""
    return stroke.role, stroke.piece_id, tuple(sorted(stroke.points))


@pytest.mark.parametrize("seed", range(3))
def test_marks_then_every_piece_from_the_inside_out(seed: int) -> None:
    # common practice, no source: marks first; of a piece notches, cut-outs, outline
    strokes = pieces(20, seed)
    ordered = ordered_strokes(strokes, seed=1)
    assert sorted(map(key, ordered)) == sorted(map(key, strokes))
    roles = [stroke.role in CUT_ROLES for stroke in ordered]
    assert roles == sorted(roles)
    last: dict[str, int] = {}
    for stroke in ordered:
        if stroke.role in CUT_ROLES:
            rank = CUT_ROLES.index(stroke.role)
            assert rank >= last.get(stroke.piece_id, 0)
            last[stroke.piece_id] = rank


def test_pieces_mix_unless_another_tool_cuts_the_notches() -> None:
    strokes = pieces(20, 4)
    mixed = [s.role for s in ordered_strokes(strokes, seed=1) if s.role in CUT_ROLES]
    assert mixed.index("outline") < len(mixed) - 1 - mixed[::-1].index("notch")
    apart = ordered_strokes(strokes, seed=1, notches_apart=True)
    roles = [s.role for s in apart if s.role in CUT_ROLES]
    assert roles[:40] == ["notch"] * 40
    assert "notch" not in roles[40:]
    assert sorted(map(key, apart)) == sorted(map(key, strokes))


def test_a_piece_in_a_cut_out_comes_before_it() -> None:
    # derived: after the cut-out nothing holds what lies in it; the short way would be outside in
    strokes = [
        square("outline", "far", 200, 0, 100),
        square("inner", "far", 210, 10, 80),
        square("outline", "held", 220, 20, 60),
        square("inner", "held", 230, 30, 40),
        square("outline", "least", 240, 40, 20),
        Stroke("notch", "held", ((280, 50), (276, 50)), closed=False),
    ]
    ordered = ordered_strokes(strokes, seed=1)
    at = {(s.piece_id, s.role): k for k, s in enumerate(ordered)}
    assert at["least", "outline"] < at["held", "inner"] < at["held", "outline"]
    assert at["held", "notch"] < at["held", "inner"]
    assert at["held", "outline"] < at["far", "inner"] < at["far", "outline"]


def test_arcs_are_entered_at_their_ends_and_kept() -> None:
    round_one = Stroke("outline", "a", ((10, 0), (30, 0)), closed=True, bulges=(1.0, 1.0))
    far = Stroke("outline", "b", ((40, 0), (60, 0), (50, 9)), closed=True)
    ordered = ordered_strokes([far, round_one], seed=1)
    # derived: in at (10, 0) and out again, or in at (30, 0): 30 + 10 against 10 + 30, and the
    # way's end is nearest to (40, 0)
    assert travel_mm(ordered) == pytest.approx(40.0)
    (circle,) = (s for s in ordered if s.piece_id == "a")
    assert circle.length_mm() == pytest.approx(round_one.length_mm())
    assert set(circle.points) == set(round_one.points)


def test_strokes_are_begun_where_they_may_be() -> None:
    strokes = pieces(12, 7)
    outlines = [n for n, s in enumerate(strokes) if s.role == "outline"]
    stitches = [n for n, s in enumerate(strokes) if s.role == "stitch"]
    entries = {n: [2] for n in outlines} | {n: [1] for n in stitches}
    ordered = ordered_strokes(strokes, seed=1, allowed=entries)
    begun = {(s.role, s.piece_id): s.points[0] for s in ordered}
    for n, picks in entries.items():
        assert begun[strokes[n].role, strokes[n].piece_id] == strokes[n].points[picks[0]]


@pytest.mark.parametrize("picks", [[], [4], [-1, 0]])
def test_a_stroke_that_may_be_begun_nowhere_is_refused(picks: list[int]) -> None:
    with pytest.raises(ValueError, match="may not be begun at"):
        ordered_strokes([square("outline", "a", 0, 0, 9)], seed=1, allowed={0: picks})


def test_a_grain_arrow_and_a_slit_keep_their_direction() -> None:
    strokes = pieces(12, 2)
    one_way = {key(s): s.points for s in strokes if s.role in ("grain", "notch")}
    ordered = ordered_strokes(strokes, seed=1)
    assert {key(s): s.points for s in ordered if s.role in ("grain", "notch")} == one_way
    stitches = {key(s): s.points for s in strokes if s.role == "stitch"}
    turned = [s for s in ordered if s.role == "stitch" and s.points != stitches[key(s)]]
    assert turned  # a stitch line may be drawn either way


ENDS: tuple[FarEnd, ...] = ("first", "last")


def test_the_far_end_in_its_turn() -> None:
    strokes = [s for s in pieces(60, 3) if s.role == "outline"]
    for far_end in ENDS:
        ordered = ordered_strokes(strokes, seed=1, far_end=far_end)
        assert sorted(map(key, ordered)) == sorted(map(key, strokes))
        edges = [max(x for x, _ in s.points) for s in ordered]
        ends = edges if far_end == "first" else edges[::-1]
        # bands of 300 mm from the far end on: nothing of a later one before an earlier one
        bands = [int((max(edges) - edge) // 300.0) for edge in ends]
        assert bands == sorted(bands)
        assert len(set(bands)) > 2


def test_a_piece_in_a_cut_out_goes_with_what_holds_it() -> None:
    # the ring reaches into the first band from the far end, the piece in its cut-out does not
    ring = [square("outline", "ring", 0, 0, 1000), square("inner", "ring", 10, 10, 980)]
    held, other = square("outline", "held", 20, 20, 50), square("outline", "other", 1500, 0, 50)
    for far_end in ENDS:
        ordered = ordered_strokes([*ring, held, other], seed=1, far_end=far_end)
        names = [(s.piece_id, s.role) for s in ordered]
        assert names.index(("held", "outline")) < names.index(("ring", "inner"))


def test_the_order_shortens_travel() -> None:
    strokes = [s for s in pieces(40, 9) if s.role in CUT_ROLES]
    in_stages = sorted(strokes, key=lambda s: CUT_ROLES.index(s.role))
    ordered = ordered_strokes(strokes, seed=1)
    assert travel_mm(ordered) < 0.3 * travel_mm(in_stages)
    assert sum(s.length_mm() for s in ordered) == pytest.approx(sum(s.length_mm() for s in strokes))


def test_the_same_strokes_give_the_same_order() -> None:
    strokes = pieces(30, 5)
    assert ordered_strokes(strokes, seed=1) == ordered_strokes(strokes, seed=1)
    assert ordered_strokes([], seed=1) == ()
    assert travel_mm(()) == 0.0
