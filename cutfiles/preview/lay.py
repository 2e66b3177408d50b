"""What a picture of a lay is made of: its lines as they were read back, each with its piece.

Frame and unit are the lay's: millimetres on the usable cloth, y up.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from shapely.geometry import Polygon

from cutfiles.cuts.plan import CutPlan, Role
from cutfiles.verdict.drawing import ReadDrawing, ReadLine

PIECE_ROLES: Final[tuple[Role, ...]] = ("stitch", "grain", "label", "notch", "inner", "outline")
"""Roles whose lines belong to pieces, in the order in which they are drawn over each other."""


@dataclass(frozen=True)
class PreviewLay:
    """One lay to show: its drawing as read, its row of the summary, and its plan, which knows whose
    each line is and how long it takes. ``layers`` gives the layer of every role.

    A reader keeps the order of a file, and a file has the lines of a layer in the order of the
    plan: the first line of a layer is the plan's first stroke of its role.
    """

    drawing: ReadDrawing
    row: Mapping[str, Any]
    plan: CutPlan
    layers: Mapping[str, str]

    @property
    def width_mm(self) -> float:
        """Across."""
        return float(self.row["width_mm"])

    @property
    def length_mm(self) -> float:
        """Along."""
        return float(self.row["length_mm"])

    @cached_property
    def lines(self) -> dict[Role, tuple[tuple[str, ReadLine], ...]]:
        """The lines of every role of `PIECE_ROLES` as read, each with the id of its piece.

        Raises
        ------
        ValueError
            If a layer holds other lines than the plan has, which `judge_lay` finds before.
        """
        owners: dict[Role, list[str]] = {role: [] for role in PIECE_ROLES}
        for stroke in self.plan.strokes:
            owners[stroke.role].append(stroke.piece_id)
        for label in self.plan.letters:
            owners["label"] += [label.piece_id] * (len(label.starts) - 1)
        return {
            role: tuple(zip(owners[role], self.drawing.on(self.layers[role]), strict=True))
            for role in PIECE_ROLES
        }

    @cached_property
    def pieces(self) -> tuple[Mapping[str, Any], ...]:
        """The rows of the pieces in the order in which their outlines are cut."""
        rows = {row["id"]: row for row in self.row["pieces"]}
        return tuple(rows[piece_id] for piece_id, _ in self.lines["outline"])

    @cached_property
    def outlines(self) -> tuple[Polygon, ...]:
        """Of the pieces, as written: half a kerf outside their cut lines."""
        return tuple(Polygon(line.points) for _, line in self.lines["outline"])
