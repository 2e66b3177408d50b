"""The way of the tool as read from a file: a program that is replayed, or a drawing of passes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from cutfiles.cuts.plan import CUT_ROLES, Role
from cutfiles.errors import Finding
from cutfiles.tolerances import READ_BACK_MM
from cutfiles.verdict.drawing import ReadDrawing, ReadLine
from cutfiles.verdict.read_dxf import read_dxf
from cutfiles.verdict.read_motion import CUT, TRAVEL, read_motion


@dataclass(frozen=True, slots=True)
class ToolRun:
    """What a tool does, in order: its ``cuts``, and where it is known the ways between them.

    ``layers`` gives the layer of a role, where the file has layers; ``off_mm`` is how far a sound
    line may be from what was meant, by rounding and by how its reader flattens arcs.
    """

    drawing: ReadDrawing
    cuts: tuple[ReadLine, ...]
    travels: tuple[ReadLine, ...]
    off_mm: float
    layers: Mapping[Role, str] | None = None


def replayed(path: Path) -> ToolRun:
    """Of motion code."""
    drawing = read_motion(path)
    return ToolRun(drawing, drawing.on(CUT), drawing.on(TRAVEL), READ_BACK_MM)


def drawn(path: Path, layers: Mapping[Role, str]) -> ToolRun:
    """Of a DXF of passes; what is neither a cut nor the cloth is a finding."""
    drawing = read_dxf(path)
    known = {layers[role] for role in CUT_ROLES}
    cuts = tuple(drawing.lines.on(*known))
    strange = sorted(drawing.layers - known - {layers["cloth"]})
    if strange:
        text = f"{drawing.name}: holds {', '.join(strange)}, which no tool cuts"
        findings = (*drawing.findings, Finding("strange-layer", "error", text))
        drawing = replace(drawing, findings=findings)
    return ToolRun(drawing, cuts, (), 2.0 * READ_BACK_MM, layers)
