"""What is left of a remnant that was cut."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import Polygon, box

from cutfiles.job.cloth import LEAST_CLOTH_MM


def rest_of(remnant: Polygon, cut: Sequence[Polygon], gap_mm: float) -> Polygon | None:
    """The largest of the four rests of a remnant that one straight cut leaves beside all that was
    cut: past its far end, its near end, its upper or its lower one. In the remnant's frame.

    Of equal ones the first counts. The cut keeps ``gap_mm`` from the pieces. None where the
    largest is less than `LEAST_CLOTH_MM` along or across.
    """
    left, low = (min(piece.bounds[k] for piece in cut) - gap_mm for k in (0, 1))
    right, high = (max(piece.bounds[k] for piece in cut) + gap_mm for k in (2, 3))
    x0, y0, x1, y1 = remnant.bounds
    sides = (
        (right, y0, x1, y1),
        (x0, y0, left, y1),
        (x0, high, x1, y1),
        (x0, y0, x1, low),
    )
    rests = [
        part
        for x, y, x_end, y_end in sides
        if x < x_end and y < y_end
        for part in _parts(remnant, box(x, y, x_end, y_end))
    ]
    largest = max(rests, key=lambda rest: round(rest.area, 3), default=None)
    return largest if largest is not None and _is_cloth(largest) else None


def _parts(outline: Polygon, side: Polygon) -> list[Polygon]:
    common = outline.intersection(side)
    return [part for part in getattr(common, "geoms", [common]) if isinstance(part, Polygon)]


def _is_cloth(region: Polygon) -> bool:
    x0, y0, x1, y1 = region.bounds
    return bool(min(x1 - x0, y1 - y0) >= LEAST_CLOTH_MM)
