"""Writing a cut plan as SVG: millimetres, viewBox 1:1, one group a role, in order of work.

SVG counts y downwards from the upper edge; the drawing looks the same as the lay.
"""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

from cutfiles.cuts.plan import CutPlan, Lettering, Role, Stroke
from cutfiles.files.roles import INKS
from cutfiles.tolerances import WRITE_DECIMALS

_LINE_MM = 0.3


def svg_bytes(plan: CutPlan, title: str) -> bytes:
    """The plan as an SVG file in UTF-8; the same plan and title give the same bytes."""
    length, width = _number(plan.length_mm), _number(plan.width_mm)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{length}mm" height="{width}mm" '
        f'viewBox="0 0 {length} {width}">',
        f"<title>{escape(title)}: {escape(plan.lay_name)}</title>",
    ]
    for role, ink in INKS.items():
        paint = (
            f'fill="{ink.hex}" font-family="sans-serif" text-anchor="middle" '
            'dominant-baseline="central"'
            if role == "label"
            else f'fill="none" stroke="{ink.hex}" stroke-width="{_LINE_MM}"'
        )
        lines.append(f'<g id="{ink.layer}" {paint}>')
        lines.extend(_contents(plan, role))
        lines.append("</g>")
    lines.append("</svg>\n")
    return "\n".join(lines).encode("utf-8")


def _contents(plan: CutPlan, role: Role) -> Iterable[str]:
    if role == "cloth":
        width = plan.width_mm
        yield f'<path d="{_data(plan.cloth_edge, width, closed=True)}"/>'
        for stroke in plan.on_cloth:
            yield f'<path d="{_data(stroke.points, width, closed=stroke.closed)}"/>'
    elif role == "label":
        for lettering in plan.letterings:
            yield _text(lettering, plan.width_mm)
    else:
        for stroke in plan.strokes:
            if stroke.role == role:
                yield _path(stroke, plan.width_mm)


def _path(stroke: Stroke, width_mm: float) -> str:
    data = _data(stroke.points, width_mm, closed=stroke.closed)
    return f'<path data-piece={quoteattr(stroke.piece_id)} d="{data}"/>'


def _data(points: Iterable[tuple[float, float]], width_mm: float, *, closed: bool) -> str:
    places = [f"{_number(x)},{_number(width_mm - y)}" for x, y in points]
    return "M" + " L".join(places) + (" Z" if closed else "")


def _text(lettering: Lettering, width_mm: float) -> str:
    x, y = _number(lettering.centre[0]), _number(width_mm - lettering.centre[1])
    turn = f' transform="rotate({_number(-lettering.angle_deg)} {x} {y})"'
    return (
        f'<text data-piece={quoteattr(lettering.piece_id)} x="{x}" y="{y}" '
        f'font-size="{_number(lettering.height_mm)}"{turn if lettering.angle_deg else ""}>'
        f"{escape(lettering.text)}</text>"
    )


def _number(value: float) -> str:
    text = f"{round(value, WRITE_DECIMALS):.{WRITE_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
