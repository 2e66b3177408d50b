"""The styles of cap by name, each with what drafts it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from functools import lru_cache
from typing import Final, Protocol, TypeVar

from cutfiles.job.job import CapLine, EdgeFinish, StripGrain, Style
from cutfiles.job.sizes import Size
from cutfiles.pieces.piece import Draft

_DRAFTS_KEPT: Final = 100
"""A job has few sizes, and drafts them for its pieces, its sheets and its plan."""

_Drafter = Callable[[CapLine, float], Draft]
_Measures = TypeVar("_Measures")
_Measures_contra = TypeVar("_Measures_contra", contravariant=True)


class _DraftsWithStrips(Protocol[_Measures_contra]):
    """What drafts a style that may be bound: its strips are no longer than stated."""

    def __call__(
        self,
        size: Size,
        edge: EdgeFinish,
        measures: _Measures_contra | None = None,
        *,
        longest_strip_mm: float,
        binding_grain: StripGrain,
    ) -> Draft: ...


def _with_strips(
    measures_with: Callable[[float, Mapping[str, float]], _Measures],
    draft: _DraftsWithStrips[_Measures],
) -> _Drafter:
    """Drafts a line of a style whose lower edge may be bound with strips."""

    def drafted(line: CapLine, strip_mm: float) -> Draft:
        return draft(
            line.size,
            line.edge,
            measures_with(line.size.girth_mm, dict(line.measures)),
            longest_strip_mm=strip_mm,
            binding_grain=line.binding_grain,
        )

    return drafted


def _tie_back() -> _Drafter:
    from cutfiles.pieces.tie_back import draft_tie_back, tie_back_with

    return _with_strips(tie_back_with, draft_tie_back)


def _three_panel() -> _Drafter:
    from cutfiles.pieces.three_panel import ThreePanel, draft_three_panel, three_panel_for

    def measures_with(girth_mm: float, changed: Mapping[str, float]) -> ThreePanel:
        return replace(three_panel_for(girth_mm), **changed)

    return _with_strips(measures_with, draft_three_panel)


def _bouffant() -> _Drafter:
    from cutfiles.pieces.bouffant import Bouffant, draft_bouffant

    def drafted(line: CapLine, _strip_mm: float) -> Draft:
        measures = replace(Bouffant(line.size.girth_mm), **dict(line.measures))
        return draft_bouffant(line.size, line.edge, measures)

    return drafted


def _long_hair() -> _Drafter:
    from cutfiles.pieces.long_hair import LongHair, draft_long_hair
    from cutfiles.pieces.tie_back import tie_back_with

    def measures_with(girth_mm: float, changed: Mapping[str, float]) -> LongHair:
        own = {field.name for field in fields(LongHair)}
        cap = tie_back_with(girth_mm, {k: v for k, v in changed.items() if k not in own})
        return LongHair(cap, **{k: v for k, v in changed.items() if k in own})

    return _with_strips(measures_with, draft_long_hair)


# each loads its module when it is asked for: most jobs are of one style
_DRAFTERS: Final[Mapping[Style, Callable[[], _Drafter]]] = {
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
    # what a draft depends on, so that alike lines are drafted once
    plain = CapLine(line.style, line.size, 1, line.edge, "", line.binding_grain, line.measures)
    draft = _draft_of(plain, longest_strip_mm)
    return replace(draft, title=draft.title + line.mark)


@lru_cache(maxsize=_DRAFTS_KEPT)
def _draft_of(line: CapLine, longest_strip_mm: float) -> Draft:
    return _DRAFTERS[line.style]()(line, longest_strip_mm)
