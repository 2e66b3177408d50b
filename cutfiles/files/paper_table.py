"""What ``pattern.json`` says of a pattern on paper: enough to judge it by the drawings."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

from cutfiles.geometry.vector import Motion, Point
from cutfiles.lay.lay import PlacedPiece
from cutfiles.paper.sheet import PaperSheet, upright_deg

_DECIMALS = 6


def paper_table(
    sheet: PaperSheet, placed: Mapping[str, PlacedPiece], file: str, content: bytes
) -> dict[str, Any]:
    """One row of ``papers``; lengths in mm, places on the sheet. ``placed`` are the pieces of the
    drawings by id, each where it lies in its drawing."""
    return {
        "file": file,
        "sha256": hashlib.sha256(content).hexdigest(),
        "paper": sheet.paper.name,
        "rows": sheet.rows,
        "columns": sheet.columns,
        "tiles": [
            {
                "row": tile.row,
                "column": tile.column,
                "left_mm": round(tile.left_mm, _DECIMALS),
                "bottom_mm": round(tile.bottom_mm, _DECIMALS),
            }
            for tile in sheet.tiles
        ],
        "marks": [{"name": mark.name, "at_mm": _place(mark.at)} for mark in sheet.marks],
        "square_at_mm": _place(sheet.square_at),
        "sizes": list(sheet.sizes) if len(sheet.sizes) > 1 else [],
        "pieces": [
            {
                "id": drawn.id,
                "size": drawn.size_number,
                **_from_drawing(placed[drawn.id].motion, drawn.motion),
            }
            for drawn in sheet.pieces
        ],
        "labels": [
            {
                "text": " ".join(label.text.split()),
                "piece": label.drawn.id,
                "middle_mm": _place(label.drawn.motion.point(label.drawn.piece.label.centre)),
                "angle_deg": round(
                    upright_deg(label.drawn.piece.label.angle_deg + label.drawn.motion.turn_deg),
                    _DECIMALS,
                ),
                "room_mm": round(label.drawn.piece.label.room_mm, _DECIMALS),
                "height_mm": round(label.drawn.piece.label.height_mm, _DECIMALS),
            }
            for label in sheet.labels
        ],
    }


def _from_drawing(in_drawing: Motion, on_sheet: Motion) -> dict[str, Any]:
    """The motion that takes a piece from its place in the drawing to its place on the sheet."""
    turn = Motion(on_sheet.turn_deg - in_drawing.turn_deg, on_sheet.shift)
    shift = on_sheet.shift + -turn.vector(in_drawing.shift)
    return {
        "turn_deg": turn.turn_deg,
        "shift_mm": [round(shift.x, _DECIMALS), round(shift.y, _DECIMALS)],
    }


def _place(point: Point) -> list[float]:
    return [round(point.x, _DECIMALS), round(point.y, _DECIMALS)]
