"""``pieces.csv``: a row a placed piece, for spreadsheets (RFC 4180, in UTF-8)."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from cutfiles.sheets.sheet import CSV_HEADER, Bundle, CutLay

_STARTS = ("=", "+", "-", "@", "\t", "\r")


def pieces_csv(lays: Sequence[CutLay], bundles: Sequence[Bundle]) -> bytes:
    """All pieces of all lays in the order of the summary; lengths in mm, areas in mm2. Names that a
    spreadsheet would take for a formula begin with an apostrophe."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(CSV_HEADER)
    bundle_of = {piece: bundle.id for bundle in bundles for piece in bundle.ids}
    for lay in lays:
        for piece in lay.pieces:
            along, across = piece.middle
            writer.writerow(
                (
                    lay.name, bundle_of[piece.id], piece.id, _text(piece.cap), _text(piece.style),
                    _text(piece.size), piece.edge, _text(piece.name), lay.plies, piece.cut,
                    f"{piece.grain_deg:.3f}", f"{along:.3f}", f"{across:.3f}",
                    f"{piece.area_mm2:.1f}", _text(piece.label),
                )
            )  # fmt: skip
    return stream.getvalue().encode("utf-8")


def _text(name: str) -> str:
    # names of imported pieces are anybody's, and spreadsheets run what begins like this
    # (OWASP, "CSV injection"; from memory)
    return f"'{name}" if name.startswith(_STARTS) else name
