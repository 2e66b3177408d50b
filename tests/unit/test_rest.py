"""What is left of a remnant beside what was cut, against plain cases and a grid of points."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from cutfiles.lay.rest import rest_of

QUARTER = box(0, 0, 460, 560)


@pytest.mark.parametrize(
    ("cut", "rest"),
    [
        # derived: past the far end 460 - 152 by 560 are left, above 460 by 560 - 302
        ([box(0, 0, 100, 300), box(100, 0, 150, 90)], (152, 0, 460, 560)),
        # derived: a low wide piece leaves more above it
        ([box(0, 0, 440, 100)], (0, 102, 460, 560)),
        # derived: at the far end, so what is left lies before it
        ([box(400, 20, 458, 540)], (0, 0, 398, 560)),
        # derived: at the top
        ([box(20, 500, 440, 556)], (0, 0, 460, 498)),
    ],
)
def test_the_largest_of_four_straight_rests(
    cut: list[Polygon], rest: tuple[float, float, float, float]
) -> None:
    found = rest_of(QUARTER, cut, 2.0)
    assert found is not None
    assert found.bounds == pytest.approx(rest)
    assert found.area == pytest.approx(box(*rest).area)


def test_thread_is_no_rest() -> None:
    # derived: 49 mm are left on every side, and 50 mm are the least of a remnant
    assert rest_of(box(0, 0, 300, 300), [box(50, 50, 250, 250)], 1.0) is None
    found = rest_of(box(0, 0, 300, 300), [box(51, 50, 250, 250)], 1.0)
    assert found is not None
    assert found.bounds == pytest.approx((0, 0, 50, 300))


def test_a_rest_is_one_piece_of_cloth() -> None:
    #  ___     ___
    # |   |___|   |  derived: above the bar two towers are left, the right one of 100 by 200 mm
    # |___________|
    outline = Polygon(
        [(0, 0), (300, 0), (300, 300), (200, 300), (200, 100), (80, 100), (80, 300), (0, 300)]
    )
    found = rest_of(outline, [box(0, 0, 300, 100)], 0.0)
    assert found is not None
    assert found.bounds == pytest.approx((200, 100, 300, 300))


boxes = st.tuples(
    st.integers(0, 400), st.integers(0, 500), st.integers(10, 200), st.integers(10, 200)
).map(lambda b: box(b[0], b[1], b[0] + b[2], b[1] + b[3]).intersection(QUARTER))


@given(st.lists(boxes, min_size=1, max_size=5), st.integers(0, 5))
def test_a_rest_is_clear_of_all_that_was_cut(cut: list[Polygon], gap: int) -> None:
    rest = rest_of(QUARTER, cut, gap)
    if rest is None:
        return
    assert min(piece.distance(rest) for piece in cut) >= gap - 1e-9
    x0, y0, x1, y1 = rest.bounds
    # derived: a straight cut through a rectangle leaves a rectangle, whose middle is cloth
    assert QUARTER.covers(rest)
    assert rest.covers(Point((x0 + x1) / 2, (y0 + y1) / 2))
    assert rest.area == pytest.approx((x1 - x0) * (y1 - y0))
    # derived: no strip from an edge to the nearest piece is larger
    far = 460 - max(piece.bounds[2] for piece in cut) - gap
    top = 560 - max(piece.bounds[3] for piece in cut) - gap
    assert rest.area >= max(far * 560, top * 460) - 1e-6
