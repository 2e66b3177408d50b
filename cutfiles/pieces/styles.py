"""The styles of cap by name, each with what drafts it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from cutfiles.job.job import CapLine, Style
from cutfiles.pieces.bouffant import draft_bouffant
from cutfiles.pieces.long_hair import draft_long_hair
from cutfiles.pieces.piece import Draft
from cutfiles.pieces.three_panel import draft_three_panel
from cutfiles.pieces.tie_back import draft_tie_back

_Drafter = Callable[[CapLine, float], Draft]

_DRAFTERS: Final[Mapping[Style, _Drafter]] = {
    "tie-back": lambda c, strip: draft_tie_back(
        c.size, c.edge, longest_strip_mm=strip, binding_grain=c.binding_grain
    ),
    "three-panel": lambda c, strip: draft_three_panel(
        c.size, c.edge, longest_strip_mm=strip, binding_grain=c.binding_grain
    ),
    "bouffant": lambda c, _strip: draft_bouffant(c.size, c.edge),
    "long-hair": lambda c, strip: draft_long_hair(
        c.size, c.edge, longest_strip_mm=strip, binding_grain=c.binding_grain
    ),
}


def draft_style(line: CapLine, *, longest_strip_mm: float) -> Draft:
    """Draft the cap of an order line; strips are no longer than stated.

    Raises
    ------
    ValueError
        If it cannot be drafted.
    """
    return _DRAFTERS[line.style](line, longest_strip_mm)
