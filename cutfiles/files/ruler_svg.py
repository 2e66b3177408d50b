"""Writing a ruler plan as SVG: millimetres, viewBox 1:1, every cut with the number of its step."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Final
from xml.sax.saxutils import escape

from cutfiles.files.svg import svg_number
from cutfiles.ruler.plan import PlacedBlock, RulerCut, RulerPlan
from cutfiles.units import RULER_STEP_MM, format_steps

RULER_GROUPS: Final = {
    "cloth": "usable-cloth",
    "block": "blocks",
    "cut": "ruler-cuts",
    "label": "block-labels",
    "number": "cut-numbers",
}
"""The groups of the drawing, in its order."""

_COLOURS: Final = {
    "cloth": "#56b4e9", "block": "#0072b2", "cut": "#d55e00", "label": "#000000",
    "number": "#d55e00",
}  # fmt: skip
"""Of the palette that the cut files have (Okabe and Ito 2008)."""

_LINE_MM: Final = {"cloth": 1.0, "block": 0.6, "cut": 1.5}
_LETTER: Final = 0.6
"""How wide a letter is, of its height (from memory)."""


def ruler_svg_bytes(plan: RulerPlan, cuts: Sequence[tuple[int, RulerCut]], title: str) -> bytes:
    """The plan as an SVG file in UTF-8: x along the cloth from its squared end, y across it; the
    same plan gives the same bytes. ``cuts`` have the number of their step."""
    step = RULER_STEP_MM[plan.unit]
    length, width = svg_number(plan.drawn_length * step), svg_number(plan.width * step)
    sheet = _Sheet(plan, step)
    contents = {
        "cloth": [sheet.path([(0, 0), (plan.drawn_length, 0), (plan.drawn_length, plan.width),
                              (0, plan.width)], closed=True)],
        "block": [sheet.outline(placed) for placed in plan.blocks()],
        "cut": [sheet.path([cut.start, cut.end], closed=False) for _, cut in cuts],
        "label": [text for placed in plan.blocks() for text in sheet.label(placed)],
        "number": [sheet.number(number, cut) for number, cut in cuts],
    }  # fmt: skip
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{length}mm" height="{width}mm" '
        f'viewBox="0 0 {length} {width}">',
        f"<title>{escape(title)}: {escape(plan.cloth)}</title>",
    ]
    for role, group in RULER_GROUPS.items():
        colour = _COLOURS[role]
        fill = "#e8f3fa" if role == "block" else "none"
        paint = f'fill="{fill}" stroke="{colour}" stroke-width="{_LINE_MM.get(role)}"'
        if role in ("label", "number"):
            paint = f'fill="{colour}" font-family="sans-serif" text-anchor="middle"'
        lines += [f'<g id="{group}" {paint}>', *contents[role], "</g>"]
    return "\n".join([*lines, "</svg>\n"]).encode("utf-8")


def block_label(names: Sequence[str]) -> str:
    """What is written on a block: its piece, or what its layers are for."""
    if len(names) == 1:
        return names[0]
    return " + ".join(f"{count} x {name}" for name, count in Counter(names).items())


class _Sheet:
    """Places in steps to places on the drawing, whose y counts downwards."""

    def __init__(self, plan: RulerPlan, step_mm: float) -> None:
        self._plan, self._step = plan, step_mm

    def _at(self, x: float, y: float) -> tuple[str, str]:
        return svg_number(x * self._step), svg_number((self._plan.width - y) * self._step)

    def path(self, points: Iterable[tuple[int, int]], *, closed: bool) -> str:
        steps = " L".join(",".join(self._at(*point)) for point in points)
        return f'<path d="M{steps}{" Z" if closed else ""}"/>'

    def outline(self, placed: PlacedBlock) -> str:
        at = placed.at
        corners = [(at.x0, at.y0), (at.x1, at.y0), (at.x1, at.y1), (at.x0, at.y1)]
        return self.path(corners, closed=True)

    def label(self, placed: PlacedBlock) -> Iterator[str]:
        """Name and measures, in the middle of the block."""
        at, unit = placed.at, self._plan.unit
        name = block_label(placed.block.names)
        size = (
            f"{format_steps(placed.block.along, unit)} x {format_steps(placed.block.across, unit)}"
        )
        long, high = (at.x1 - at.x0) * self._step, (at.y1 - at.y0) * self._step
        height = min(18.0, 0.3 * high, 0.9 * long / (_LETTER * max(len(name), len(size))))
        x, y = self._at((at.x0 + at.x1) / 2, (at.y0 + at.y1) / 2)
        yield self._text(f"{name}", x, y, height)
        below = svg_number(float(y) + 1.1 * height)
        yield self._text(size, x, below, 0.9 * height)

    def number(self, number: int, cut: RulerCut) -> str:
        """On its cut, a little off the end where the cut begins."""
        (x0, y0), (x1, y1) = cut.start, cut.end
        share = min(0.5, 14.0 / (self._step * max(x1 - x0, y1 - y0)))
        x, y = self._at(x0 + share * (x1 - x0), y0 + share * (y1 - y0))
        return self._text(str(number), x, y, 9.0)

    def _text(self, text: str, x: str, y: str, height_mm: float) -> str:
        size = svg_number(height_mm)
        return f'<text x="{x}" y="{y}" font-size="{size}">{escape(text)}</text>'
