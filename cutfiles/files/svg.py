"""Writing a cut plan as SVG: millimetres, viewBox 1:1, one group a role, in order of work.

SVG counts y downwards from the upper edge; the drawing looks the same as the lay.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from cutfiles.cuts.plan import CutPlan, Lettering, Role, Stroke
from cutfiles.files.decimals import Rows, rows_of
from cutfiles.files.roles import INKS, Ink
from cutfiles.geometry.bulges import Array, Span
from cutfiles.tolerances import WRITE_DECIMALS

_LINE_MM = 0.3
_STEP = " L"
_RADIUS_DECIMALS = 9
"""Of an arc: the middle of half a circle of 1 m is then off by 0.0015 mm at most."""


def svg_bytes(plan: CutPlan, title: str, *, inks: Mapping[Role, Ink] = INKS) -> bytes:
    """The plan as an SVG file in UTF-8, of the roles that have an ink; the same arguments give the
    same bytes."""
    content = io.BytesIO()
    for line in _lines(plan, title, inks):
        content.write(line.encode())
        content.write(b"\n")
    return content.getvalue()


def _lines(plan: CutPlan, title: str, inks: Mapping[Role, Ink]) -> Iterable[str]:
    length, width = svg_number(plan.length_mm), svg_number(plan.width_mm)
    yield '<?xml version="1.0" encoding="UTF-8"?>'
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{length}mm" height="{width}mm" '
        f'viewBox="0 0 {length} {width}">'
    )
    yield f"<title>{escape(title)}: {escape(plan.lay_name)}</title>"
    for role, ink in inks.items():
        paint = (
            f'fill="{ink.hex}" font-family="sans-serif" text-anchor="middle" '
            'dominant-baseline="central"'
            if role == "label" and not plan.letters
            else f'fill="none" stroke="{ink.hex}" stroke-width="{_LINE_MM}"'
        )
        yield f"<g id={quoteattr(ink.layer)} {paint}>"
        yield from _contents(plan, role)
        yield "</g>"
    yield "</svg>"


def _contents(plan: CutPlan, role: Role) -> Iterable[str]:
    width = plan.width_mm
    if role == "cloth":
        strokes: Sequence[Stroke] = (
            Stroke("cloth", "", plan.cloth_edge, closed=True),
            *plan.on_cloth,
        )
        for data in _data(strokes, width):
            yield f'<path d="{data}"/>'
    elif role == "label" and plan.letters:
        every = _rows((label.points for label in plan.letters), width)
        for label, (text, begins) in zip(plan.letters, every, strict=True):
            starts = [begins[start] for start in label.starts]
            if text:
                data = " ".join(_through(text[one:other]) for one, other in pairwise(starts))
                yield _path(label.piece_id, data)
    elif role == "label":
        for lettering in plan.letterings:
            yield _text(lettering, width)
    else:
        strokes = [stroke for stroke in plan.strokes if stroke.role == role]
        for stroke, data in zip(strokes, _data(strokes, width), strict=True):
            yield _path(stroke.piece_id, data)


def _path(piece_id: str, data: str) -> str:
    return f'<path data-piece={quoteattr(piece_id)} d="{data}"/>'


def _data(strokes: Sequence[Stroke], width_mm: float) -> Iterator[str]:
    """Lines and arcs; a straight line back to the start is left to the ``Z``."""
    every = _rows((np.array(stroke.points) for stroke in strokes), width_mm)
    for stroke, rows in zip(strokes, every, strict=True):
        steps = _with_arcs(stroke, rows) if stroke.bulges else rows[0]
        yield _through(steps) + (" Z" if stroke.closed else "")


def _rows(lines: Iterable[Array], width_mm: float) -> Iterator[Rows]:
    """Of each line its points of the lay ``(n, 2)``, in the drawing, a straight step to each."""
    return rows_of(lines, (_STEP, ",", ""), keeps_nought=False, down_from_mm=width_mm)


def _through(steps: str) -> str:
    """Steps from the place of the first of them."""
    return f"M{steps.removeprefix(_STEP)}"


def _with_arcs(stroke: Stroke, straight: Rows) -> str:
    """The steps to the points of a stroke with its arcs."""
    text, begins = straight
    places = [text[one + len(_STEP) : other] for one, other in pairwise(begins)]
    # of the arc between the ends as written: the middle of half a circle moves by the root of
    # what its radius is off
    points = [(round(x, WRITE_DECIMALS), round(y, WRITE_DECIMALS)) for x, y in stroke.points]
    steps = [text[: begins[1]]]
    if stroke.closed:
        places.append(places[0])
        points.append(points[0])
    for (start, end), place, bulge in zip(pairwise(points), places[1:], stroke.bulges, strict=True):
        span = Span(start, end, bulge)
        if span.is_arc:
            radius = f"{span.radius_mm:.{_RADIUS_DECIMALS}f}"
            # y counts down: what turns counter-clockwise in the lay has the sweep flag 0
            flags = f"{int(abs(bulge) > 1.0)} {int(bulge < 0.0)}"
            steps.append(f" A{radius},{radius} 0 {flags} {place}")
        else:
            steps.append(_STEP + place)
    if stroke.closed and not span.is_arc:
        steps.pop()
    return "".join(steps)


def _text(lettering: Lettering, width_mm: float) -> str:
    x, y = svg_number(lettering.centre[0]), svg_number(width_mm - lettering.centre[1])
    turn = f' transform="rotate({svg_number(-lettering.angle_deg)} {x} {y})"'
    return (
        f'<text data-piece={quoteattr(lettering.piece_id)} x="{x}" y="{y}" '
        f'font-size="{svg_number(lettering.height_mm)}"{turn if lettering.angle_deg else ""}>'
        f"{escape(lettering.text)}</text>"
    )


def svg_number(value: float) -> str:
    """A number as drawings have it, with no more decimals than it needs."""
    return str(round(value, WRITE_DECIMALS) + 0.0).removesuffix(".0")  # no minus zero
