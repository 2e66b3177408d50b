"""Lays as they are drawn on a page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from typing import Any

from cutfiles.effort import ShownLay
from cutfiles.lay.lay import Lay
from cutfiles.lay.shown import shown


def shown_lays(lays: Iterable[Lay]) -> tuple[ShownLay, ...]:
    """Finished lays, to be drawn."""
    return tuple(map(shown, lays))


def lay_rows(lays: Iterable[ShownLay]) -> list[dict[str, Any]]:
    """Lays to be drawn as plain tables; corners as they are, since there are many of them."""
    pieces = ((lay, [_row(piece) for piece in lay.pieces]) for lay in lays)
    return [{**_row(lay), "pieces": rows} for lay, rows in pieces]


def _row(one: Any) -> dict[str, Any]:
    return {field.name: getattr(one, field.name) for field in fields(one)}
