"""The outline of a remnant, read from a drawing like a panel's."""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely.geometry import Polygon

from cutfiles.errors import Finding
from cutfiles.geometry.polygons import polygon_of
from cutfiles.job.cloth import LEAST_CLOTH_MM, Remnant, at_origin
from cutfiles.job.job import PanelLine
from cutfiles.pieces.panel import read_panels


def read_remnant(
    content: bytes, remnant: Remnant, *, source: str
) -> tuple[Remnant, tuple[Finding, ...]]:
    """A remnant with the corners of its drawing, whose x axis is along the cloth, and what was
    found; without corners where a finding is an error.

    Parameters
    ----------
    content
        The bytes of an SVG or DXF file, by the ending of the remnant's file.
    source
        The job file's name, for messages.
    """
    where = f"{source}: {remnant.table}: outline: {remnant.file}"
    line = PanelLine(0, remnant.file or "", "remnant", 1, "", grain_deg=0.0)
    panels, findings = read_panels(content, line, source=source)
    said = [
        Finding(
            f.code, f.severity, f.text.replace(f"{source}: [[panels]] 0: {remnant.file}", where)
        )
        for f in findings
    ]
    if len(panels) == 1 and panels[0].piece.inner:
        text = f"{where}: has a cut-out: a hole in a remnant is a flaw: give it under flaws"
        said.append(Finding("bad-remnant", "error", text))
    elif len(panels) > 1:
        text = f"{where}: has {len(panels)} outlines: give each remnant its own drawing and table"
        said.append(Finding("bad-remnant", "error", text))
    elif panels:
        coords = polygon_of(panels[0].piece.cut).exterior.coords[:-1]
        corners = [(float(x), float(y)) for x, y in coords]
        return replace(remnant, corners=at_origin(corners)), tuple(said)
    return remnant, tuple(said)


def remnant_faults(remnant: Remnant, *, source: str) -> list[Finding]:
    """What is wrong with a remnant whose corners are known, and with its flaws."""
    where = f"{source}: {remnant.table}"
    region = Polygon(remnant.corners)
    if not region.is_valid or region.area <= 0.0:
        reason = shapely.is_valid_reason(region)
        text = f"{where}: outline: is no piece of cloth ({reason}): give its corners in order"
        return [Finding("bad-remnant", "error", text)]
    along, across = remnant.size_mm
    wrong = []
    if min(along, across) < LEAST_CLOTH_MM:
        text = (
            f"{where}: outline: is {along:.4g} by {across:.4g} mm, and must be at least "
            f"{LEAST_CLOTH_MM:g} mm both ways: see that the unit is right"
        )
        wrong.append(Finding("bad-remnant", "error", text))
    for number, flaw in enumerate(remnant.flaws, 1):
        if flaw.far[0] > along + 1e-6 or flaw.far[1] > across + 1e-6:
            text = (
                f"{where}: flaws {number}: at: the flaw reaches to ({flaw.far[0]:.6g}, "
                f"{flaw.far[1]:.6g}) mm, and the remnant's box to ({along:.6g}, {across:.6g}) mm: "
                "measure it from the lower left corner of that box"
            )
            wrong.append(Finding("bad-value", "error", text))
    return wrong
