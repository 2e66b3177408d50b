"""The nouns of the cut list: ordered caps and their pieces."""

from __future__ import annotations

from dataclasses import dataclass

from cutfiles.errors import Finding
from cutfiles.job.job import Cloth, EdgeFinish
from cutfiles.pieces.piece import Piece


@dataclass(frozen=True, slots=True)
class OrderedPiece:
    """One outline to place; it is cut once in every ply.

    ``cap`` is the style and size, ``label`` what is written on the piece: style, size, piece,
    count and cap number.
    """

    id: str
    name: str
    cap: str
    cap_number: int
    label: str
    piece: Piece


@dataclass(frozen=True, slots=True)
class OrderedCap:
    """The pieces of one cap; they stay in one lay."""

    title: str
    edge: EdgeFinish
    pieces: tuple[OrderedPiece, ...]


@dataclass(frozen=True, slots=True)
class CutList:
    """The caps to place on one cloth, and what was found while drafting them."""

    cloth: Cloth
    caps: tuple[OrderedCap, ...]
    findings: tuple[Finding, ...]
