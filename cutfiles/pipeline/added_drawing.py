"""A drawing that somebody adds to a job: read as its panels will be, before any table names it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from cutfiles.errors import Finding, JobError
from cutfiles.job.fields import PANEL_FORMATS
from cutfiles.job.job import PanelLine
from cutfiles.pieces.panel import read_panels
from cutfiles.pipeline.pattern import piece_row


@dataclass(frozen=True, slots=True)
class AddedDrawing:
    """The panels of a drawing as lines, in mm, none where something is still to be said of it, and
    what was found."""

    panels: tuple[dict[str, Any], ...]
    findings: tuple[Finding, ...]


def drawing_ending(said: str) -> str:
    """The ending of a drawing that somebody calls so: ``.svg`` or ``.dxf``.

    Raises
    ------
    JobError
        If it is another.
    """
    for ending in PANEL_FORMATS:
        if said.lower().endswith(ending):
            return ending
    text = f"{said[-80:]!r}: must be an SVG or DXF file: give one with .svg or .dxf"
    raise JobError.of("bad-value", text)


def added_drawing(content: bytes, name: str) -> AddedDrawing:
    """A drawing read as panels, under the name that it is to be kept by.

    Raises
    ------
    JobError
        If it can never be read, whatever a job says of it.
    """
    line = PanelLine(1, name, "panel", 1, "", grain_deg=0.0)
    read, said = read_panels(content, line, source="drawing")
    where = f"drawing: [[panels]] {line.number}: {name}: "
    findings = tuple(replace(f, text=f.text.removeprefix(where)) for f in said)
    if any(finding.code == "unreadable" for finding in findings):
        raise JobError(findings)
    rows = ({"name": panel.name} | piece_row(panel.piece) for panel in read)
    return AddedDrawing(tuple(rows), findings)
