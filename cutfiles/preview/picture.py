"""The picture of a lay: an SVG drawing that shows all of it without a script.

The lines of pieces are in groups by role, one path a piece, in hundredths of a millimetre with y
up; what is shown of the cloth is in millimetres with y down, for it holds words.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from html import escape
from typing import Final

from cutfiles.cuts.plan import Role
from cutfiles.preview.lay import PIECE_ROLES, PreviewLay
from cutfiles.preview.path_data import STEPS_PER_MM, screen_data
from cutfiles.units import counted
from cutfiles.verdict.drawing import ReadLine

_MARGIN_MM = 12.0
_SCREEN_PX = 1200.0
"""What a lay is wide on a usual screen: lines that are drawn without a script are that fine."""

_ORDER_COLOUR: Final = "#d55e00"
_GROUND: Final = "#fffdf8"
"""Of the cloth, in a picture of its own."""

_WIDTHS_PX: Final[dict[Role, float]] = {
    "cloth": 1.2, "stitch": 0.9, "grain": 1.2, "label": 0.8, "notch": 1.6, "inner": 1.4,
    "outline": 1.3,
}  # fmt: skip
_DASHES_PX: Final[dict[Role, str]] = {"stitch": "4 3"}


def lay_svg(lay: PreviewLay) -> str:
    """The drawing as an ``svg`` element without its namespace, to stand in a page."""
    return f"<svg {_frame(lay)}>{_drawing(lay)}</svg>"


def lay_svg_file(lay: PreviewLay, colours: Mapping[Role, str], size: tuple[int, int]) -> str:
    """The drawing as a file of its own with its colours, so many pixels wide and high."""
    wide_px, high_px = size
    styles = f"{picture_styles(colours)}.ground{{fill:{_GROUND}}}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide_px}" height="{high_px}" '
        f"{_frame(lay)}><style>{styles}</style>{_drawing(lay)}</svg>"
    )


def size_px(lay: PreviewLay, px_per_mm: float) -> tuple[int, int]:
    """How wide and high the drawing is at a scale."""
    _, _, wide, high = _sizes(lay)
    return round(wide * px_per_mm), round(high * px_per_mm)


def picture_styles(colours: Mapping[Role, str], note: str = "#56534d") -> str:
    """What the drawing needs of CSS: the colour of every role and of notes, each ``#rrggbb`` or any
    other value of CSS."""
    rules = [f".word{{fill:{note};font-family:sans-serif}}", ".hidden{display:none}"]
    rules += [f".role-{role}{{fill:none;stroke:{colour}}}" for role, colour in colours.items()]
    rules += [
        f".role-label text{{fill:{colours['label']};stroke:none;font-family:sans-serif}}",
        f".role-outline{{fill:{colours['outline']};fill-opacity:.12}}",
        ".flaw,.hatch{stroke:#d55e00}.band{stroke:none}",
        f".fold{{stroke:{note}}}.frame{{stroke:#cc79a7}}",
        f".role-order{{fill:none;stroke:{_ORDER_COLOUR}}}",
        f".role-order text{{fill:{_ORDER_COLOUR};stroke:none;font-family:sans-serif}}",
    ]
    return "".join(rules)


def _bounds(lay: PreviewLay) -> tuple[float, float, float, float]:
    """Of what is shown, in mm with y up: the lay, its selvedges and a margin."""
    low, high = 0.0, lay.width_mm
    for start, end, _ in _selvedges(lay):
        low, high = min(low, start), max(high, end)
    return -_MARGIN_MM, low - _MARGIN_MM, lay.length_mm + _MARGIN_MM, high + _MARGIN_MM


def _frame(lay: PreviewLay) -> str:
    x, y, wide, high = _sizes(lay)
    pieces = counted(len(lay.row["pieces"]), "piece")
    title = escape(f"{lay.row['name']}: {pieces} on the cloth, to scale")
    return f'viewBox="{x:g} {y:.2f} {wide:.2f} {high:.2f}" role="img" aria-label="{title}"'


def _sizes(lay: PreviewLay) -> tuple[float, float, float, float]:
    """Of what is shown, in the drawing's own frame: its upper left corner, width and height."""
    left, low, right, high = _bounds(lay)
    return left, lay.width_mm - high, right - left, high - low


def _drawing(lay: PreviewLay) -> str:
    unit = max(lay.length_mm, 300.0) / _SCREEN_PX
    parts = [
        f'<defs><pattern id="hatch-{escape(lay.row["name"])}" width="6" height="6" '
        'patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<path class="hatch" d="M0 0V6" stroke-width="1.2"/></pattern></defs>',
        f'<g class="role-cloth" stroke-width="{_WIDTHS_PX["cloth"] * unit:.3f}">',
        *_cloth(lay, unit),
        "</g>",
    ]
    flip = f'transform="matrix({1 / STEPS_PER_MM:g} 0 0 {-1 / STEPS_PER_MM:g} 0 {lay.width_mm:g})"'
    for role in PIECE_ROLES:
        fine = unit * STEPS_PER_MM
        dash = " ".join(f"{float(d) * fine:.0f}" for d in _DASHES_PX.get(role, "").split())
        parts.append(
            f'<g class="role-{role}" stroke-width="{_WIDTHS_PX[role] * fine:.1f}"'
            f"{f' stroke-dasharray={chr(34)}{dash}{chr(34)}' if dash else ''}>"
            f"<g {flip}>"
        )
        parts.extend(_piece_paths(lay, role))
        parts.append("</g>")
        if role == "label":
            parts.extend(_texts(lay))
        parts.append("</g>")
    parts.append(f'<g class="role-order hidden" stroke-width="{unit:.3f}">')
    parts.extend(_order(lay, unit))
    parts.append("</g>")
    return "".join(parts)


def _piece_paths(lay: PreviewLay, role: Role) -> Iterator[str]:
    """One path a piece, of all its lines of a role; ``data-p`` is the piece's place in the order of
    cutting. An outline says whose it is when it is pointed at."""
    order = {row["id"]: number for number, row in enumerate(lay.pieces)}
    by_piece: dict[int, list[str]] = {}
    lines = lay.lines[role]
    every = screen_data([line for _, line in lines])
    for (piece_id, _), data in zip(lines, every, strict=True):
        by_piece.setdefault(order[piece_id], []).append(data)
    for number in sorted(by_piece):
        path = f'<path data-p="{number}" d="{"".join(by_piece[number])}"'
        title = escape(str(lay.pieces[number]["label"]))
        yield f"{path}><title>{title}</title></path>" if role == "outline" else f"{path}/>"


def _texts(lay: PreviewLay) -> Iterator[str]:
    """Labels that are written as text."""
    width = lay.width_mm
    for lettering in lay.drawing.texts:
        x, y = lettering.place
        turn = f' transform="rotate({-lettering.angle_deg:g} {x:.2f} {width - y:.2f})"'
        yield (
            f'<text x="{x:.2f}" y="{width - y:.2f}" font-size="{lettering.height_mm:.2f}" '
            f'text-anchor="middle" dominant-baseline="central"'
            f"{turn if lettering.angle_deg else ''}>{escape(lettering.text)}</text>"
        )


def _cloth(lay: PreviewLay, unit: float) -> Iterator[str]:
    """The cloth's edge first, then its selvedges, flaws and fold, the grid of its print, and the
    frames in which the bed cuts it."""
    width, hatch = lay.width_mm, f"url(#hatch-{escape(lay.row['name'])})"
    lines = lay.drawing.on(lay.layers["cloth"])
    yield f'<path class="edge ground" d="{_data(lines[0], width)}"/>'
    for low, high, words in _selvedges(lay):
        size = f'width="{lay.length_mm:.2f}" height="{high - low:.2f}"'
        yield f'<rect class="band" x="0" y="{width - high:.2f}" {size} fill="{hatch}" '
        yield 'fill-opacity=".35"/>'
        at = lay.length_mm, width - (low + high) / 2.0 + 3.0 * unit
        yield _note(*at, words, unit, anchor="end")
    flaws = 0
    for line in lines[1:]:
        if line.is_closed:
            flaws += 1
            yield f'<path class="flaw" fill="{hatch}" d="{_data(line, width)}"/>'
            x, y = line.points[:, 0].min(), line.points[:, 1].max()
            yield _note(x, width - y - 3.0 * unit, f"flaw {flaws}", unit)
        else:
            dash = " ".join(f"{d * unit:.2f}" for d in (14, 4, 2, 4))
            yield f'<path class="fold" stroke-width="{2.4 * unit:.3f}" stroke-dasharray="{dash}" '
            yield f'd="{_data(line, width)}"/>'
            yield _note(lay.length_mm, width + 10.0 * unit, "fold", unit, anchor="end")
    yield from _repeats(lay, unit)
    yield from _frames(lay, unit)


def _note(x: float, y: float, words: str, unit: float, *, anchor: str = "start") -> str:
    return (
        f'<text class="word" x="{x:.2f}" y="{y:.2f}" font-size="{10.0 * unit:.2f}" '
        f'text-anchor="{anchor}" stroke="none">{escape(words)}</text>'
    )


def _selvedges(lay: PreviewLay) -> Iterator[tuple[float, float, str]]:
    """From where to where across the selvedges are, as far as they lie beside the lay, and what is
    left of a cloth that is wider than the bed."""
    wide = float(lay.row.get("selvedge_mm", 0.0))
    usable = float(lay.row.get("usable_width_mm", lay.width_mm))
    if wide and lay.row.get("spread") != "folded":
        yield -wide, 0.0, "selvedge"
    if usable > lay.width_mm + 0.01:
        yield lay.width_mm, usable, "beyond the bed"
    if wide:
        word = "both selvedges" if lay.row.get("spread") == "folded" else "selvedge"
        yield usable, usable + wide, word


def _repeats(lay: PreviewLay, unit: float) -> Iterator[str]:
    """Where repeats of the print begin."""
    width, length = lay.width_mm, lay.length_mm
    repeat = lay.row.get("print_repeat_mm") or {}
    starts = lay.row.get("print_starts_mm") or {"along": 0.0, "across": 0.0}
    begins = starts["along"] - float(lay.row.get("starts_at_mm", 0.0))
    look = f'stroke-width="{0.6 * unit:.3f}" stroke-dasharray="{2 * unit:.2f} {6 * unit:.2f}"'
    for at in _steps(repeat.get("along"), begins, length):
        yield f'<path class="repeat" d="M{at:.2f} 0V{width:.2f}" {look}/>'
    for at in _steps(repeat.get("across"), starts["across"], width):
        yield f'<path class="repeat" d="M0 {width - at:.2f}H{length:.2f}" {look}/>'


def _steps(repeat_mm: float | None, start_mm: float, end_mm: float) -> Iterable[float]:
    """Where repeats of a print begin between the two edges of a lay; one begins at the start."""
    if not repeat_mm:
        return ()
    first = math.floor(-start_mm / repeat_mm + 1e-6) + 1
    last = math.ceil((end_mm - start_mm) / repeat_mm - 1e-6)
    return (start_mm + k * repeat_mm for k in range(first, last))


def _frames(lay: PreviewLay, unit: float) -> Iterator[str]:
    """Where each frame begins, as far as the bed of the lay's frames reaches."""
    starts: Sequence[float] = lay.row.get("frames_mm", ())
    dash = f"{9 * unit:.2f} {3 * unit:.2f}"
    for number, start in enumerate(starts, 1):
        yield f'<path class="frame" stroke-width="{1.6 * unit:.3f}" stroke-dasharray="{dash}" '
        yield f'd="M{start:.2f} {-4 * unit:.2f}V{lay.width_mm + 4 * unit:.2f}"/>'
        yield _note(start + 3 * unit, -3.0 * unit, f"frame {number}", unit)


def _data(line: ReadLine, width: float) -> str:
    """Of a line of the cloth."""
    points = line.points[:-1] if line.is_closed else line.points
    steps = "L".join(f"{x:.2f} {width - y:.2f}" for x, y in points)
    return f"M{steps}{'Z' if line.is_closed else ''}"


def _order(lay: PreviewLay, unit: float) -> Iterator[str]:
    """From entry to entry of the outlines, each with its number."""
    width = lay.width_mm
    entries = [(line.points[0][0], width - line.points[0][1]) for _, line in lay.lines["outline"]]
    yield f'<path d="M0 {width:.2f}L{"L".join(f"{x:.2f} {y:.2f}" for x, y in entries)}"/>'
    for number, (x, y) in enumerate(entries, 1):
        yield f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{2.5 * unit:.2f}"/>'
        yield (
            f'<text x="{x + 4 * unit:.2f}" y="{y - 4 * unit:.2f}" '
            f'font-size="{11 * unit:.2f}">{number}</text>'
        )
