"""The styles of cap by name, each with what drafts it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from typing import Final

from cutfiles.job.job import CapLine, Style
from cutfiles.pieces.bouffant import Bouffant, draft_bouffant
from cutfiles.pieces.long_hair import LongHair, draft_long_hair, long_hair_for
from cutfiles.pieces.piece import Draft
from cutfiles.pieces.three_panel import draft_three_panel, three_panel_for
from cutfiles.pieces.tie_back import draft_tie_back, tie_back_for

_Drafter = Callable[[CapLine, float], Draft]


def _tie_back(line: CapLine, strip_mm: float) -> Draft:
    measures = replace(tie_back_for(line.size.girth_mm), **dict(line.measures))
    return draft_tie_back(
        line.size,
        line.edge,
        measures,
        longest_strip_mm=strip_mm,
        binding_grain=line.binding_grain,
    )


def _three_panel(line: CapLine, strip_mm: float) -> Draft:
    measures = replace(three_panel_for(line.size.girth_mm), **dict(line.measures))
    return draft_three_panel(
        line.size,
        line.edge,
        measures,
        longest_strip_mm=strip_mm,
        binding_grain=line.binding_grain,
    )


def _bouffant(line: CapLine, _strip_mm: float) -> Draft:
    measures = replace(Bouffant(line.size.girth_mm), **dict(line.measures))
    return draft_bouffant(line.size, line.edge, measures)


def _long_hair(line: CapLine, strip_mm: float) -> Draft:
    hair = long_hair_for(line.size.girth_mm)
    own = {field.name for field in fields(LongHair)}
    changed = dict(line.measures)
    cap = replace(hair.cap, **{k: v for k, v in changed.items() if k not in own})
    pocket = {key: value for key, value in changed.items() if key in own}
    return draft_long_hair(
        line.size,
        line.edge,
        replace(hair, cap=cap, **pocket),
        longest_strip_mm=strip_mm,
        binding_grain=line.binding_grain,
    )


_DRAFTERS: Final[Mapping[Style, _Drafter]] = {
    "tie-back": _tie_back,
    "three-panel": _three_panel,
    "bouffant": _bouffant,
    "long-hair": _long_hair,
}


def draft_style(line: CapLine, *, longest_strip_mm: float) -> Draft:
    """Draft the cap of an order line; strips are no longer than stated. A line with measures of
    its own is marked in the title, so that its pieces are not taken for the plain size's.

    Raises
    ------
    ValueError
        If it cannot be drafted.
    """
    draft = _DRAFTERS[line.style](line, longest_strip_mm)
    return replace(draft, title=draft.title + line.mark)
