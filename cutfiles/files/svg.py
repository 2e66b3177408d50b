"""Writing a cut plan as SVG: millimetres, viewBox 1:1, one group a role, in order of work.

SVG counts y downwards from the upper edge; the drawing looks the same as the lay.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from cutfiles.cuts.plan import CutPlan, Lettering, Role, Stroke
from cutfiles.files.decimals import rounded
from cutfiles.files.roles import INKS, Ink
from cutfiles.geometry.bulges import Array, Span
from cutfiles.tolerances import WRITE_DECIMALS

_LINE_MM = 0.3
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
    if role == "cloth":
        width = plan.width_mm
        edge = Stroke("cloth", "", plan.cloth_edge, closed=True)
        for stroke in (edge, *plan.on_cloth):
            yield f'<path d="{_data(stroke, width)}"/>'
    elif role == "label" and plan.letters:
        for label in plan.letters:
            places = _places(label.points, plan.width_mm)
            data = " ".join(_through(places[start:end]) for start, end in pairwise(label.starts))
            if data:
                yield f'<path data-piece={quoteattr(label.piece_id)} d="{data}"/>'
    elif role == "label":
        for lettering in plan.letterings:
            yield _text(lettering, plan.width_mm)
    else:
        for stroke in plan.strokes:
            if stroke.role == role:
                yield _path(stroke, plan.width_mm)


def _path(stroke: Stroke, width_mm: float) -> str:
    return f'<path data-piece={quoteattr(stroke.piece_id)} d="{_data(stroke, width_mm)}"/>'


def _data(stroke: Stroke, width_mm: float) -> str:
    """Lines and arcs; a straight line back to the start is left to the ``Z``."""
    if not stroke.bulges:
        places = _places(np.array(stroke.points), width_mm)
        return _through(places) + (" Z" if stroke.closed else "")
    x, y = stroke.points[0]
    steps = [f"M{svg_number(x)},{svg_number(width_mm - y)}"]
    spans = stroke.spans
    if stroke.closed and not spans[-1].is_arc:
        spans = spans[:-1]
    steps.extend(_step(span, width_mm) for span in spans)
    return " ".join(steps) + (" Z" if stroke.closed else "")


def _places(points: Array, width_mm: float) -> list[str]:
    """Points ``(n, 2)`` of the lay, in the drawing."""
    down = rounded(np.column_stack((points[:, 0], width_mm - points[:, 1])))
    texts = [str(value).removesuffix(".0") for value in down.ravel().tolist()]
    return [f"{x},{y}" for x, y in zip(texts[::2], texts[1::2], strict=True)]


def _through(places: Sequence[str]) -> str:
    return f"M{' L'.join(places)}"


def _step(span: Span, width_mm: float) -> str:
    place = f"{svg_number(span.end[0])},{svg_number(width_mm - span.end[1])}"
    if not span.is_arc:
        return f"L{place}"
    # of the arc between the ends as written: the middle of half a circle moves by the root of
    # what its radius is off
    (x0, y0), (x1, y1) = (
        (round(x, WRITE_DECIMALS), round(y, WRITE_DECIMALS)) for x, y in (span.start, span.end)
    )
    radius = f"{Span((x0, y0), (x1, y1), span.bulge).radius_mm:.{_RADIUS_DECIMALS}f}"
    is_large = int(abs(span.bulge) > 1.0)
    # y counts down: what turns counter-clockwise in the lay has the sweep flag 0
    return f"A{radius},{radius} 0 {is_large} {int(span.bulge < 0.0)} {place}"


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
