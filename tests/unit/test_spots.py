"""Where grain lines and labels go on pieces of awkward shapes."""

from __future__ import annotations

import pytest
import shapely
from shapely.geometry import Polygon

from cutfiles.pieces.spots import grain_line, label_spot

SHAPES = {
    # the line beside its heart only touches it in a corner, or meets it there and beyond a bay
    "a boomerang": [(11, 21), (2, 35), (5, 29), (0, 21)],
    "two horns": [(0, 0), (60, 0), (60, 40), (50, 12), (10, 12), (0, 40)],
    "a plain box": [(0, 0), (80, 0), (80, 50), (0, 50)],
    "a tall box": [(0, 0), (20, 0), (20, 90), (0, 90)],
}


@pytest.mark.parametrize("name", SHAPES)
def test_labels_and_grain_lines_lie_within(name: str) -> None:
    shape = Polygon(SHAPES[name])
    spot, grain = label_spot(shape), grain_line(shape)
    middle = shapely.Point(spot.centre.x, spot.centre.y)
    assert shape.contains(middle)
    assert spot.height_mm > 0.0
    # by shapely: the whole line that the label may take is inside
    half = spot.room_mm / 2.0
    along = (half, 0.0) if spot.angle_deg == 0.0 else (0.0, half)
    ends = [(middle.x - along[0], middle.y - along[1]), (middle.x + along[0], middle.y + along[1])]
    assert shape.covers(shapely.LineString(ends))
    assert shape.covers(shapely.LineString([(p.x, p.y) for p in (grain.start, grain.end)]))
