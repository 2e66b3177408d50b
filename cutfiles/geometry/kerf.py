"""The kerf: the tool's middle runs half a kerf to the waste side of every line that is cut."""

from __future__ import annotations

from shapely.geometry import Polygon

_MITRE_LIMIT = 5.0


def waste_side_path(outline: Polygon, kerf_mm: float) -> Polygon:
    """Where the middle of the tool runs round an outline, half a kerf outside; corners mitred.

    Raises
    ------
    ValueError
        If the path is not one simple loop: a gap or slot narrower than the kerf.
    """
    if kerf_mm == 0.0:
        return outline
    path = outline.buffer(kerf_mm / 2.0, join_style="mitre", mitre_limit=_MITRE_LIMIT)
    return _one_loop(path, f"an opening of the outline is narrower than the kerf of {kerf_mm} mm")


def inner_path(cut_out: Polygon, kerf_mm: float) -> Polygon:
    """Where the middle of the tool runs round a cut-out, half a kerf inside.

    Raises
    ------
    ValueError
        If nothing, or more than one loop, is left: the cut-out is narrower than the kerf.
    """
    if kerf_mm == 0.0:
        return cut_out
    path = cut_out.buffer(-kerf_mm / 2.0, join_style="mitre", mitre_limit=_MITRE_LIMIT)
    return _one_loop(path, f"a cut-out is narrower than the kerf of {kerf_mm} mm")


def _one_loop(path: object, otherwise: str) -> Polygon:
    if not isinstance(path, Polygon) or path.is_empty or path.interiors:
        raise ValueError(f"{otherwise}: widen it, or use a finer tool")
    return path
