"""Writing a cut plan as DXF R2000: closed LWPOLYLINEs, millimetres, one layer a role.

Entities stand in the order in which they are to be done.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from contextlib import contextmanager

import ezdxf.colors
from ezdxf import filemanagement
from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts.layout import Modelspace

from cutfiles.cuts.plan import CutPlan, Lettering, Stroke
from cutfiles.files.roles import INKS
from cutfiles.tolerances import WRITE_DECIMALS

_MILLIMETRES = 4
"""$INSUNITS, as the format's owner documents it."""

_BULGE_DECIMALS = 9
"""Of a bulge: 5e-10 of a chord of 10 m is 0.000003 mm."""


def dxf_bytes(plan: CutPlan) -> bytes:
    """The plan as a DXF file; the same plan gives the same bytes."""
    with _fixed_metadata():
        document = _document()
        space = document.modelspace()
        edge = Stroke("cloth", "", plan.cloth_edge, closed=True)
        for stroke in (edge, *plan.on_cloth):
            _add_stroke(space, stroke)
        for lettering in plan.letterings:
            _add_text(space, lettering)
        for stroke in plan.strokes:
            _add_stroke(space, stroke)
        stream = io.StringIO()
        document.write(stream)
    return stream.getvalue().encode(document.output_encoding)


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """Without dates and random numbers, which ezdxf writes otherwise."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _document() -> Drawing:
    document = filemanagement.new("R2000")
    document.header["$INSUNITS"] = _MILLIMETRES
    document.header["$MEASUREMENT"] = 1
    for ink in INKS.values():
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


def _add_stroke(space: Modelspace, stroke: Stroke) -> None:
    layer = INKS[stroke.role].layer
    # of an arc of more than half a circle some readers draw the smaller rest in its place
    spans = [part for span in stroke.spans for part in span.at_most_half_circles]
    corners = [(*span.start, span.bulge) for span in spans]
    if not stroke.closed:
        corners.append((*stroke.points[-1], 0.0))
    places = [
        (round(x, WRITE_DECIMALS), round(y, WRITE_DECIMALS), round(bulge, _BULGE_DECIMALS))
        for x, y, bulge in corners
    ]
    space.add_lwpolyline(places, format="xyb", close=stroke.closed, dxfattribs={"layer": layer})


def _add_text(space: Modelspace, lettering: Lettering) -> None:
    text = space.add_text(
        lettering.text,
        height=round(lettering.height_mm, WRITE_DECIMALS),
        rotation=lettering.angle_deg,
        dxfattribs={"layer": INKS["label"].layer},
    )
    x, y = (round(value, WRITE_DECIMALS) for value in lettering.centre)
    text.set_placement((x, y), align=TextEntityAlignment.MIDDLE_CENTER)
