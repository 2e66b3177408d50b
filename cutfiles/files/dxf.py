"""Writing a cut plan as DXF R2000 or R12: closed polylines, millimetres, one layer a role.

Entities stand in the order in which they are to be done. ezdxf makes the document; the strokes of
the lay are put into its text here, for it takes 0.15 ms and 3 kB for each, and a lay with drawn
labels may hold 200,000.
"""

from __future__ import annotations

import io
import logging
import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import accumulate, pairwise

import ezdxf.colors
import numpy as np
from ezdxf import filemanagement
from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts.layout import Modelspace

from cutfiles.cuts.plan import CutPlan, Lettering, Letters, Role, Stroke
from cutfiles.files.decimals import Rows, rounded, rows_of
from cutfiles.files.roles import INKS, Ink
from cutfiles.geometry.bulges import Array
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
        for lettering in () if plan.letters else plan.letterings:
            _add_text(space, lettering, inks)
        lines = [line for line in _lines(plan) if line.role in inks]
        handle = int(str(document.entitydb.handles), 16)
        if release == "R12":
            for line in lines:
                _add_polylines(space, line, inks[line.role].layer)
        else:
            document.entitydb.handles.reset(f"{handle + sum(map(_count, lines)):X}")
        stream = io.StringIO()
        document.write(stream)
    if release == "R12":
        return (_COMMENT + stream.getvalue()).encode(document.output_encoding)
    head, tail = stream.getvalue().split(_END_OF_ENTITIES, maxsplit=1)
    content = io.BytesIO()

    def write(text: str) -> None:
        # the same in every code page, and four times as quick
        content.write(text.encode("ascii" if text.isascii() else document.output_encoding))

    write(head)
    corners = [_corners(line) for line in lines]
    every = rows_of((points for points, _ in corners), _ROW, keeps_nought=True)
    for line, (_, bulges), straight in zip(lines, corners, every, strict=True):
        rows = _with_bulges(straight, bulges) if bulges else straight
        write("".join(_polylines(line, rows, inks[line.role].layer, handle, space.layout_key)))
        handle += _count(line)
    write(_END_OF_ENTITIES + tail)
    return content.getvalue()


_ROW = " 10\n", "\n 20\n", "\n"
"""Of a corner: what stands before, between and behind its two numbers."""

_END_OF_ENTITIES = "  0\nENDSEC\n  0\nSECTION\n  2\nOBJECTS\n"


def _lines(plan: CutPlan) -> Iterator[Stroke | Letters]:
    """All that is drawn, in order."""
    yield Stroke("cloth", "", plan.cloth_edge, closed=True)
    yield from plan.on_cloth
    yield from plan.letters
    yield from plan.strokes


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


def _corners(line: Stroke | Letters) -> tuple[Array, Sequence[float]]:
    """The places of all corners ``(n, 2)``, and the bulge of each where there are any."""
    if isinstance(line, Letters) or not line.bulges:
        return np.asarray(line.points), ()
    if max(map(abs, line.bulges)) <= 1.0:
        bulges = line.bulges if line.closed else (*line.bulges, 0.0)
        return np.array(line.points), bulges
    # of an arc of more than half a circle some readers draw the smaller rest in its place
    spans = [part for span in line.spans for part in span.at_most_half_circles]
    places, bends = [span.start for span in spans], [span.bulge for span in spans]
    if not line.closed:
        places.append(line.points[-1])
        bends.append(0.0)
    return np.array(places), bends


def _count(line: Stroke | Letters) -> int:
    """Strokes of a line."""
    return len(line.starts) - 1 if isinstance(line, Letters) else 1


def _with_bulges(straight: Rows, bulges: Sequence[float]) -> Rows:
    """The rows of corners with the bulge of each that has one."""
    text, begins = straight
    rows = [
        text[start:end] + (f" 42\n{bulge:.{_BULGE_DECIMALS}f}\n" if bulge else "")
        for (start, end), bulge in zip(
            pairwise(begins), (round(bulge, _BULGE_DECIMALS) for bulge in bulges), strict=True
        )
    ]
    return "".join(rows), list(accumulate(map(len, rows), initial=0))


def _polylines(
    line: Stroke | Letters, rows: Rows, layer: str, handle: int, space: str
) -> list[str]:
    """A stroke, or those of a label, as LWPOLYLINEs of ascending handles: their tags as the
    format's owner documents them, in the owner's order: handle, space, layer, count, closed or
    open, then place and bulge of every corner, whose rows are given."""
    text, begins = rows
    starts = line.starts if isinstance(line, Letters) else (0, len(begins) - 1)
    return [
        f"  0\nLWPOLYLINE\n  5\n{number:X}\n330\n{space}\n100\nAcDbEntity\n"
        f"  8\n{layer}\n100\nAcDbPolyline\n"
        f" 90\n{end - start}\n 70\n{int(line.closed)}\n{text[begins[start] : begins[end]]}"
        for number, (start, end) in enumerate(pairwise(starts), handle)
    ]


def _add_polylines(space: Modelspace, line: Stroke | Letters, layer: str) -> None:
    """A stroke, or those of a label, as polylines of R12."""
    for stroke in line.strokes if isinstance(line, Letters) else (line,):
        points, bulges = _corners(stroke)
        corners = np.zeros((len(points), 3))
        corners[:, :2] = rounded(points)
        if bulges:
            corners[:, 2] = [round(bulge, _BULGE_DECIMALS) for bulge in bulges]
        space.add_polyline2d(
            corners.tolist(), format="xyb", close=stroke.closed, dxfattribs={"layer": layer}
        )


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
