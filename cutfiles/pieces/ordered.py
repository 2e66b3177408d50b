"""The nouns of the cut list: ordered caps and panels, and their pieces."""

from __future__ import annotations

from dataclasses import dataclass

from cutfiles.errors import Finding
from cutfiles.geometry.vector import Point
from cutfiles.job.cloth import ON_GRAIN, GrainRule
from cutfiles.job.job import CapLine, Cloth, EdgeFinish, PanelLine, PinnedPiece
from cutfiles.pieces.piece import Piece


@dataclass(frozen=True, slots=True)
class Panel:
    """A panel as read from somebody's drawing, not grown, the table that asked for it, and how many
    are wanted.

    Of a half that stays on the fold, ``fold_turn_deg`` lays its fold, which runs through the
    origin, along the fold of the cloth.
    """

    name: str
    line: PanelLine
    piece: Piece
    quantity: int
    fold_turn_deg: float | None = None


@dataclass(frozen=True, slots=True)
class MatchPoint:
    """The point of a piece that comes to lie at the same place of every repeat: where the slot of
    a notch ends, or the middle of the piece's box along its grain."""

    at: Point
    is_notch: bool


@dataclass(frozen=True, slots=True)
class OrderedPiece:
    """One outline to place; it is cut once in every ply.

    ``cap`` is the style and size, ``label`` what is written on the piece: style, size, piece,
    count and cap number. A panel has its own name for a ``cap``, and no cap number. ``grain`` is
    how its grain line may lie on the cloth, ``fold_turn_deg`` a panel's. ``match`` is the point
    that keeps to the print. ``cap_pieces`` is how many pieces make its whole cap, over all
    cloths, and ``line`` the line of the order that asks for it.
    """

    id: str
    name: str
    cap: str
    cap_number: int | None
    label: str
    piece: Piece
    grain: GrainRule = ON_GRAIN
    fold_turn_deg: float | None = None
    match: MatchPoint | None = None
    cap_pieces: int = 0
    line: CapLine | None = None


@dataclass(frozen=True, slots=True)
class OrderedCap:
    """The pieces of one cap that come from one cloth, which stay in one lay; or one panel, whose
    edge is None."""

    title: str
    edge: EdgeFinish | None
    pieces: tuple[OrderedPiece, ...]

    @property
    def is_panel(self) -> bool:
        """Whether it is a panel and no cap."""
        return self.edge is None

    @property
    def kind(self) -> str:
        """What it is among its like: style, size and edge, or a panel's name."""
        return self.title if self.edge is None else f"{self.title} {self.edge}"


@dataclass(frozen=True, slots=True)
class CutList:
    """The caps and panels to place on one cloth, and what was found while drafting them.

    The last ``optional`` of the caps are placed as far as there is cloth for them. ``pins`` are
    those of the job that hold one of these pieces; ``numbers`` gives the number of the first cap of
    every line.
    """

    cloth: Cloth
    caps: tuple[OrderedCap, ...]
    findings: tuple[Finding, ...]
    optional: int = 0
    pins: tuple[PinnedPiece, ...] = ()
    numbers: tuple[tuple[CapLine, int], ...] = ()

    @property
    def fixed(self) -> tuple[OrderedCap, ...]:
        """The caps and panels that must all be placed."""
        return self.caps[: len(self.caps) - self.optional]

    @property
    def piece_ids(self) -> frozenset[str]:
        """Of every piece to place."""
        return frozenset(piece.id for cap in self.caps for piece in cap.pieces)
