"""Lays as they are drawn on a page."""

from __future__ import annotations

from collections.abc import Iterable

from cutfiles.effort import ShownLay
from cutfiles.lay.lay import Lay
from cutfiles.lay.shown import shown


def shown_lays(lays: Iterable[Lay]) -> tuple[ShownLay, ...]:
    """Finished lays, to be drawn."""
    return tuple(map(shown, lays))
