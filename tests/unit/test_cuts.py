"""Cuts: half a kerf aside."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from cutfiles.geometry.kerf import inner_path, waste_side_path


def test_the_path_runs_half_a_kerf_outside_an_outline() -> None:
    # derived: kerf 0.2: a 200 x 100 outline gives a path of 200.2 x 100.2
    x0, y0, x1, y1 = waste_side_path(box(0, 0, 200, 100), 0.2).bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((200.2, 100.2), abs=1e-9)


def test_the_path_runs_half_a_kerf_inside_a_cut_out() -> None:
    # derived: a 30 mm hole gives a path of 29.8
    x0, y0, x1, y1 = inner_path(box(0, 0, 30, 30), 0.2).bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((29.8, 29.8), abs=1e-9)


def test_the_path_of_a_smooth_convex_outline_is_pi_k_longer() -> None:
    # derived (Steiner): 0.628 mm at k = 0.2
    oval = Polygon(
        [(120 * math.cos(t), 80 * math.sin(t)) for t in np.linspace(0, 2 * math.pi, 2001)]
    )
    path = waste_side_path(oval, 0.2)
    assert path.exterior.length - oval.exterior.length == pytest.approx(math.pi * 0.2, abs=1e-3)


def test_an_outline_cut_without_offset_would_be_small() -> None:
    # derived: the tool takes half the kerf off each side of its path
    small = box(0, 0, 200, 100).buffer(-0.1, join_style="mitre").bounds
    assert small[2] - small[0] == pytest.approx(199.8)
    right = waste_side_path(box(0, 0, 200, 100), 0.2).buffer(-0.1, join_style="mitre").bounds
    assert right[2] - right[0] == pytest.approx(200.0)


def test_a_cut_out_or_opening_narrower_than_the_kerf_is_refused() -> None:
    # derived (the note under the kerf rule): it would vanish
    with pytest.raises(ValueError, match="narrower than the kerf"):
        inner_path(box(0, 0, 0.3, 30), 0.4)
    dumbbell = box(0, 0, 10, 10).union(box(9, 4.9, 21, 5.1)).union(box(20, 0, 30, 10))
    assert isinstance(dumbbell, Polygon)
    with pytest.raises(ValueError, match="narrower than the kerf"):
        inner_path(dumbbell, 0.5)
    ring_with_slit = (
        box(0, 0, 30, 30).difference(box(10, 10, 20, 20)).difference(box(14.9, 20, 15.1, 30))
    )
    assert isinstance(ring_with_slit, Polygon)
    with pytest.raises(ValueError, match="narrower than the kerf"):
        waste_side_path(ring_with_slit, 0.5)
