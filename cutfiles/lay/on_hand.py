"""What to fill the cloth on hand with, where the order says only in what proportions."""

from __future__ import annotations

from dataclasses import replace

from cutfiles.lay.table import Kind, Table
from cutfiles.pieces.ordered import CutList, OrderedCap


def on_hand_list(cuts: CutList, table: Table) -> CutList:
    """What to fill the cloth on hand with: the panels, and then more caps than it gives, in the
    proportions of the order at every place. A list that is to be filled up already stays.

    Of caps that have pieces from other cloths, those from this one count as whole."""
    if cuts.optional:
        return cuts
    panels = [cap for cap in cuts.caps if cap.is_panel]
    kinds: dict[tuple[str, tuple[Kind, ...]], list[OrderedCap]] = {}
    for cap in cuts.caps:
        if not cap.is_panel:
            kinds.setdefault((cap.kind, table.kinds(cap)), []).append(cap)
    if not kinds:
        return replace(cuts, pins=())
    ordered = [len(caps) for caps in kinds.values()]
    models = [caps[0] for caps in kinds.values()]
    areas = [sum(table.outlines(p)[0].area for p in cap.pieces) for cap in models]
    room = table.surface_mm2
    taken = [0] * len(models)
    filled: list[OrderedCap] = []
    while room > 0.0:
        number = len(filled) + 1
        behind = [number * n / sum(ordered) - t for n, t in zip(ordered, taken, strict=True)]
        next_one = behind.index(max(behind))
        taken[next_one] += 1
        room -= areas[next_one]
        filled.append(_numbered(models[next_one], number))
    return replace(cuts, caps=(*panels, *filled), optional=len(filled), pins=())


def _numbered(cap: OrderedCap, number: int) -> OrderedCap:
    pieces = tuple(
        replace(
            piece,
            cap_number=number,
            cap_pieces=len(cap.pieces),
            id=f"cap-{number:03d}-{index}-{piece.name}",
        )
        for index, piece in enumerate(cap.pieces, 1)
    )
    return replace(cap, pieces=pieces)
