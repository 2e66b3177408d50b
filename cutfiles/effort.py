"""How much to search, who may stop it, and who hears of its progress."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class ShownPiece:
    """A piece to be drawn where it lies in its lay: the origin of its own frame, in mm, how far it
    is turned about that, and the corners of its outline there."""

    id: str
    name: str
    cap: str
    at_mm: tuple[float, float]
    turn_deg: float
    outline: Corners


@dataclass(frozen=True, slots=True)
class ShownLay:
    """A lay to be drawn, in its own frame; millimetres, efficiency from 0 to 1."""

    name: str
    cloth: str
    layers: int
    width_mm: float
    length_mm: float
    efficiency: float
    pieces: tuple[ShownPiece, ...]
    flaws: tuple[Corners, ...]
    remnant: Corners | None


@dataclass(frozen=True, slots=True)
class Progress:
    """News from a nest: the best lay so far. Length in mm, efficiency from 0 to 1. ``lays`` works
    out how it looks; of remnants there is one for each."""

    cloth: str
    caps: int
    panels: int
    length_mm: float
    efficiency: float
    seconds_left: float
    lays: Callable[[], tuple[ShownLay, ...]]


def _never() -> bool:
    return False


def _nothing(_key: str) -> str | None:
    return None


def _let_go(_key: str, _text: str) -> None:
    return None


def _unheard(_progress: Progress) -> None:
    return None


@dataclass(frozen=True, slots=True)
class Effort:
    """How long and from which seed to nest. ``stop`` is asked often, and a yes ends the search
    with the best so far; ``report`` hears of every better lay, from any thread. ``recall`` gives
    the text kept under a name before, and ``keep`` keeps one."""

    seconds: float
    seed: int
    stop: Callable[[], bool] = _never
    report: Callable[[Progress], None] = _unheard
    recall: Callable[[str], str | None] = _nothing
    keep: Callable[[str, str], None] = _let_go
