"""The cloth that plies take beyond their lay: what is lost at their ends."""

from __future__ import annotations

from typing import Final

END_LOSS_MM: Final = 40.0
"""Of cloth at the ends of every ply, about 20 mm at each (I. Vilumsone-Nemes, "Industrial Cutting
of Textile Materials", p. 37)."""


def drawn_mm(lay_mm: float, plies: int) -> float:
    """The cloth drawn from the bolt for a lay in so many plies, their ends included."""
    return plies * (lay_mm + END_LOSS_MM)
