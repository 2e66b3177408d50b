"""Writing a cut plan as DXF R2000 or R12: closed polylines, millimetres, one layer a role.

Entities stand in the order in which they are to be done.
"""

from __future__ import annotations

import io
import logging
import math
from collections.abc import Iterator, Mapping
from contextlib import contextmanager

import ezdxf.colors
from ezdxf import filemanagement
from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts.layout import Modelspace

from cutfiles.cuts.plan import CutPlan, Lettering, Role, Stroke
from cutfiles.files.roles import INKS, Ink
from cutfiles.job.written import Release
from cutfiles.tolerances import WRITE_DECIMALS

_LOG = logging.getLogger("ezdxf")

_MILLIMETRES = 4
"""$INSUNITS, as the format's owner documents it."""

_R12 = "AC1009"
_COMMENT = "999\nAll lengths are in millimetres\n"
"""R12 has no variable for the unit, so that its text says it."""

_BULGE_DECIMALS = 9
"""Of a bulge: 5e-10 of a chord of 10 m is 0.000003 mm."""


def dxf_bytes(
    plan: CutPlan, *, inks: Mapping[Role, Ink] = INKS, release: Release = "R2000"
) -> bytes:
    """The plan as a DXF file, of the roles that have an ink; the same arguments give the same
    bytes."""
    with _fixed_metadata():
        document = _document(inks, release)
        space = document.modelspace()
        edge = Stroke("cloth", "", plan.cloth_edge, closed=True)
        for stroke in (edge, *plan.on_cloth):
            _add_stroke(space, stroke, inks)
        for lettering in plan.letterings:
            _add_text(space, lettering, inks)
        for stroke in plan.strokes:
            _add_stroke(space, stroke, inks)
        stream = io.StringIO()
        document.write(stream)
    comment = _COMMENT if release == "R12" else ""
    return (comment + stream.getvalue()).encode(document.output_encoding)


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """Without dates and random numbers, which ezdxf writes otherwise, and without its warning that
    R12 has no unit."""
    before, level = options.write_fixed_meta_data_for_testing, _LOG.level
    options.write_fixed_meta_data_for_testing = True
    _LOG.setLevel(logging.ERROR)
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
        _LOG.setLevel(level)


def _document(inks: Mapping[Role, Ink], release: Release) -> Drawing:
    document = filemanagement.new(release, units=_MILLIMETRES)
    document.header["$MEASUREMENT"] = 1
    for ink in inks.values():
        document.layers.add(ink.layer, color=_nearest_index(ink.rgb))
    return document


def _nearest_index(rgb: tuple[int, int, int]) -> int:
    """The colour number nearest to a colour: R2000 knows no true colours. 7 stands for black."""
    if rgb == (0, 0, 0):
        return 7

    def apart(index: int) -> float:
        other = ezdxf.colors.aci2rgb(index)
        return math.dist(rgb, (other[0], other[1], other[2]))

    return min(range(1, 250), key=apart)


def _add_stroke(space: Modelspace, stroke: Stroke, inks: Mapping[Role, Ink]) -> None:
    if stroke.role not in inks:
        return
    # of an arc of more than half a circle some readers draw the smaller rest in its place
    spans = [part for span in stroke.spans for part in span.at_most_half_circles]
    corners = [(*span.start, span.bulge) for span in spans]
    if not stroke.closed:
        corners.append((*stroke.points[-1], 0.0))
    places = [
        (round(x, WRITE_DECIMALS), round(y, WRITE_DECIMALS), round(bulge, _BULGE_DECIMALS))
        for x, y, bulge in corners
    ]
    is_old = space.doc.dxfversion == _R12
    add = space.add_polyline2d if is_old else space.add_lwpolyline
    layer = {"layer": inks[stroke.role].layer}
    add(places, format="xyb", close=stroke.closed, dxfattribs=layer)


def _add_text(space: Modelspace, lettering: Lettering, inks: Mapping[Role, Ink]) -> None:
    if "label" not in inks:
        return
    text = space.add_text(
        lettering.text,
        height=round(lettering.height_mm, WRITE_DECIMALS),
        rotation=lettering.angle_deg,
        dxfattribs={"layer": inks["label"].layer},
    )
    x, y = (round(value, WRITE_DECIMALS) for value in lettering.centre)
    text.set_placement((x, y), align=TextEntityAlignment.MIDDLE_CENTER)
