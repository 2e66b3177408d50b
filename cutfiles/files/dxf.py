"""Writing a cut plan as DXF R2000: closed LWPOLYLINEs, millimetres, one layer a role.

Entities stand in the order in which they are to be done. ezdxf makes the document; the strokes of
the lay are put into its text here, for it takes 0.15 ms and 3 kB for each, and a lay with drawn
labels may hold 200,000.
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
from cutfiles.geometry.bulges import Span
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
        for lettering in () if plan.letters else plan.letterings:
            _add_text(space, lettering)
        edge = Stroke("cloth", "", plan.cloth_edge, closed=True)
        strokes = (edge, *plan.on_cloth, *plan.letters, *plan.strokes)
        handles = document.entitydb.handles
        first = int(str(handles), 16)
        entities = [
            _polyline(stroke, f"{handle:X}", space.layout_key)
            for handle, stroke in enumerate(strokes, first)
        ]
        handles.reset(f"{first + len(entities):X}")
        stream = io.StringIO()
        document.write(stream)
    head, tail = stream.getvalue().split(_END_OF_ENTITIES, maxsplit=1)
    return "".join([head, *entities, _END_OF_ENTITIES, tail]).encode(document.output_encoding)


_END_OF_ENTITIES = "  0\nENDSEC\n  0\nSECTION\n  2\nOBJECTS\n"


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


def _polyline(stroke: Stroke, handle: str, space: str) -> str:
    """A stroke as an LWPOLYLINE: its tags as the format's owner documents them, in the owner's
    order: handle, space, layer, count, closed or open, then place and bulge of every corner."""
    if stroke.bulges:
        spans = [part for span in stroke.spans for part in _at_most_half_a_circle(span)]
        corners = [(span.start, span.bulge) for span in spans]
        if not stroke.closed:
            corners.append((stroke.points[-1], 0.0))
    else:
        corners = [(place, 0.0) for place in stroke.points]
    tags = [
        f"  0\nLWPOLYLINE\n  5\n{handle}\n330\n{space}\n100\nAcDbEntity\n"
        f"  8\n{INKS[stroke.role].layer}\n100\nAcDbPolyline\n"
        f" 90\n{len(corners)}\n 70\n{int(stroke.closed)}\n"
    ]
    for (x, y), bulge in corners:
        bend = f" 42\n{bulge:.{_BULGE_DECIMALS}f}\n" if bulge else ""
        tags.append(f" 10\n{_number(x)}\n 20\n{_number(y)}\n{bend}")
    return "".join(tags)


def _number(value: float) -> float:
    return round(value, WRITE_DECIMALS) + 0.0  # no minus zero


def _at_most_half_a_circle(span: Span) -> tuple[Span, ...]:
    """An arc of more than half a circle in two: some readers draw its smaller rest in its place."""
    return (span,) if abs(span.bulge) <= 1.0 else (span.part(0.0, 0.5), span.part(0.5, 1.0))


def _add_text(space: Modelspace, lettering: Lettering) -> None:
    text = space.add_text(
        lettering.text,
        height=round(lettering.height_mm, WRITE_DECIMALS),
        rotation=lettering.angle_deg,
        dxfattribs={"layer": INKS["label"].layer},
    )
    x, y = (round(value, WRITE_DECIMALS) for value in lettering.centre)
    text.set_placement((x, y), align=TextEntityAlignment.MIDDLE_CENTER)
