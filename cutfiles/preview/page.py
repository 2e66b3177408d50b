"""The preview: one self-contained HTML page of lays as they were read back from their files."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from importlib import resources
from string import Template
from typing import Any, Final

from cutfiles.errors import Finding
from cutfiles.units import counted, format_length
from cutfiles.verdict.drawing import ReadDrawing, ReadLine

_NAMES: Final[dict[str, str]] = {
    "cloth": "cloth, flaws, fold, print",
    "label": "labels",
    "stitch": "stitch lines",
    "grain": "grain",
    "notch": "notches",
    "inner": "cut-outs",
    "outline": "outlines",
    "order": "cutting order",
}
_ORDER_COLOUR = "#d55e00"
_MARGIN_MM = 12.0
_DECIMALS = 2


@dataclass(frozen=True, slots=True)
class PreviewLay:
    """One lay to show: its drawing as read, and its row of the summary."""

    drawing: ReadDrawing
    row: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class PreviewSheet:
    """Everything on the page. ``colours`` gives ``#rrggbb`` for every role."""

    summary: Mapping[str, Any]
    lays: tuple[PreviewLay, ...]
    colours: Mapping[str, str]
    cautions: tuple[str, ...]
    findings: tuple[Finding, ...]
    length_unit: str


def preview_html(sheet: PreviewSheet) -> bytes:
    """The page in UTF-8; it fetches nothing."""
    template = Template(
        resources.files("cutfiles.preview").joinpath("page.html").read_text(encoding="utf-8")
    )
    page = template.substitute(
        title=escape(str(sheet.summary["title"])),
        totals=_totals(sheet),
        findings=_findings(sheet.findings),
        cautions="".join(f"<li>{escape(text)}</li>" for text in sheet.cautions),
        switches="".join(_switches(sheet.colours)),
        ink_styles=_ink_styles(sheet.colours),
        lays="".join(_lay(lay, sheet) for lay in sheet.lays),
    )
    return page.encode("utf-8")


def _totals(sheet: PreviewSheet) -> str:
    totals = sheet.summary["totals"]
    cloth = format_length(totals["cloth_length_mm"], sheet.length_unit)
    counts = []
    if totals["caps_ordered"] or not totals["panels_ordered"]:
        counts.append(
            f"<b>{counted(totals['caps'], 'cap')}</b> of {totals['caps_ordered']} ordered"
        )
    if totals["panels_ordered"]:
        counts.append(
            f"<b>{counted(totals['panels'], 'panel')}</b> of {totals['panels_ordered']} ordered"
        )
    return (
        f"{' and '.join(counts)}, in "
        f"<b>{len(sheet.lays)}</b> {'lay' if len(sheet.lays) == 1 else 'lays'}, "
        f"<b>{cloth}</b> of cloth in all"
    )


def _findings(findings: Sequence[Finding]) -> str:
    if not findings:
        return "<p>Read back from the written files and found right.</p>"
    rows = (
        f"<li><b>{escape(finding.severity)}</b>: {escape(finding.text)}</li>"
        for finding in findings
    )
    return f"<h2>Findings</h2><ul>{''.join(rows)}</ul>"


def _switches(colours: Mapping[str, str]) -> Iterable[str]:
    for role, name in _NAMES.items():
        colour = colours.get(role, _ORDER_COLOUR)
        checked = "" if role == "order" else " checked"
        yield (
            f'<label><input type="checkbox" value="{role}"{checked}> '
            f'<span class="swatch" style="border-color:{colour}"></span>{name}</label>'
        )


def _ink_styles(colours: Mapping[str, str]) -> str:
    rules = []
    for role, colour in colours.items():
        if role == "label":
            rules.append(f".role-label {{ fill: {colour}; font-family: sans-serif; }}")
            rules.append(
                f".role-label path {{ fill: none; stroke: {colour}; stroke-width: .7; "
                "stroke-linecap: round; }"
            )
            rules.append(".role-label rect { fill: none; stroke: none; pointer-events: all; }")
        else:
            rules.append(f".role-{role} {{ fill: none; stroke: {colour}; stroke-width: 1.2; }}")
    rules.append(".role-outline { fill: rgba(0, 114, 178, .10); }")
    rules.append(".role-stitch { stroke-dasharray: 4 3; stroke-width: .8; }")
    rules.append(".role-cloth .flaw { stroke: #d55e00; fill: rgba(213, 94, 0, .25); }")
    rules.append(
        ".role-cloth .fold { stroke: #000; stroke-width: 2.4; stroke-dasharray: 14 4 2 4; }"
    )
    rules.append(".role-cloth .repeat { stroke-width: .6; stroke-dasharray: 2 6; }")
    rules.append(f".role-order {{ fill: none; stroke: {_ORDER_COLOUR}; stroke-width: 1; }}")
    rules.append(
        f".role-order text {{ fill: {_ORDER_COLOUR}; stroke: none; font: 14px sans-serif; }}"
    )
    return "\n".join(rules)


def _lay(lay: PreviewLay, sheet: PreviewSheet) -> str:
    row, unit = lay.row, sheet.length_unit
    plies = f"{row['plies']} {'ply' if row['plies'] == 1 else 'plies'}"
    spread = "" if row.get("spread", "single") == "single" else f", {row['spread']}"
    figures = (
        f"{escape(str(row['cloth']))}, {plies}{spread}: "
        f"<b>{format_length(row['length_mm'], unit)}</b> long, "
        f"{format_length(row['width_mm'], unit)} of usable width, "
        f"<b>{row['efficiency']:.1%}</b> of the cloth used; {len(row['pieces'])} pieces, "
        f"{row['cut_length_mm'] / 1000:.1f} m to cut, "
        f"{row['travel_mm'] / 1000:.1f} m of travel, about {_clock(row['time_s'])}"
        f"{_drawn(row)}"
    )
    return (
        f'<h2>{escape(str(row["name"]))}</h2><p class="figures">{figures}</p>'
        f'<div class="sheet">{_picture(lay, sheet)}</div>{_piece_table(row)}'
    )


def _drawn(row: Mapping[str, Any]) -> str:
    """How much of a lay's time goes on lines that are only drawn."""
    return f", {_clock(row['marking_s'])} of it to draw" if row["marking_s"] else ""


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"


def _piece_table(row: Mapping[str, Any]) -> str:
    counts: Counter[tuple[str, str]] = Counter()
    cut: Counter[tuple[str, str]] = Counter()
    for piece in row["pieces"]:
        key = (str(piece["cap"]), str(piece["name"]))
        counts[key] += 1
        # two layers of a half on the fold are one whole panel
        cut[key] += row["plies"] // 2 if "past_fold_mm" in piece else row["plies"]
    rows = "".join(
        f'<tr><td>{escape(key[0])}</td><td>{escape(key[1])}</td><td class="n">{counts[key]}</td>'
        f'<td class="n">{cut[key]}</td></tr>'
        for key in sorted(counts)
    )
    return (
        '<table><tr><th>cap or panel</th><th>piece</th><th class="n">in the lay</th>'
        f'<th class="n">cut in all</th></tr>{rows}</table>'
    )


def _picture(lay: PreviewLay, sheet: PreviewSheet) -> str:
    width = float(lay.row["width_mm"])
    length = float(lay.row["length_mm"])
    layers: Mapping[str, str] = sheet.summary["roles"]
    edge = _MARGIN_MM
    box = f"{-edge:g} {-edge:g} {length + 2 * edge:.2f} {width + 2 * edge:.2f}"
    title = escape(f"{lay.row['name']}: {len(lay.row['pieces'])} pieces on the cloth, to scale")
    parts = [f'<svg viewBox="{box}" role="img" aria-label="{title}">']
    for role in sheet.colours:
        parts.append(f'<g class="role-{role}">')
        if role == "label":
            parts.extend(_labels(lay, width))
            letters = lay.drawing.on(layers[role])
            parts.append(f'<path d="{"".join(_data(line, width) for line in letters)}"/>')
            parts.extend(_names(lay.row, width))
        elif role == "cloth":
            parts.extend(_cloth(lay, lay.drawing.on(layers[role]), width))
        else:
            lines = lay.drawing.on(layers[role])
            parts.extend(f'<path d="{_data(line, width)}"/>' for line in lines)
        parts.append("</g>")
    parts.append('<g class="role-order hidden">')
    parts.extend(_order(lay.drawing.on(layers["outline"]), width))
    parts.append("</g></svg>")
    return "".join(parts)


def _cloth(lay: PreviewLay, lines: Sequence[ReadLine], width: float) -> Iterable[str]:
    """The cloth's edge first, then its flaws and its fold, and the grid of its print."""
    for number, line in enumerate(lines):
        kind = "edge" if number == 0 else "flaw" if line.is_closed else "fold"
        yield f'<path class="{kind}" d="{_data(line, width)}"/>'
    repeat = lay.row.get("print_repeat_mm") or {}
    length = float(lay.row["length_mm"])
    starts = lay.row.get("print_starts_mm") or {"along": 0.0, "across": 0.0}
    begins = starts["along"] - float(lay.row.get("starts_at_mm", 0.0))
    for at in _steps(repeat.get("along"), begins, length):
        yield f'<path class="repeat" d="M{at:.2f} 0V{width:.2f}"/>'
    for at in _steps(repeat.get("across"), starts["across"], width):
        yield f'<path class="repeat" d="M0 {width - at:.2f}H{length:.2f}"/>'


def _steps(repeat_mm: float | None, start_mm: float, end_mm: float) -> Iterable[float]:
    """Where repeats of a print begin between the two edges of a lay; one begins at the start."""
    if not repeat_mm:
        return ()
    first = math.floor(-start_mm / repeat_mm + 1e-6) + 1
    last = math.ceil((end_mm - start_mm) / repeat_mm - 1e-6)
    return (start_mm + k * repeat_mm for k in range(first, last))


def _labels(lay: PreviewLay, width: float) -> Iterable[str]:
    for lettering in lay.drawing.texts:
        x, y = lettering.place
        turn = f' transform="rotate({-lettering.angle_deg:g} {x:.2f} {width - y:.2f})"'
        yield (
            f'<text x="{x:.2f}" y="{width - y:.2f}" font-size="{lettering.height_mm:.2f}" '
            f'text-anchor="middle" dominant-baseline="central"'
            f"{turn if lettering.angle_deg else ''}>{escape(lettering.text)}</text>"
        )


def _names(row: Mapping[str, Any], width: float) -> Iterable[str]:
    """What drawn labels say, to be read when they are pointed at."""
    for piece in row["pieces"]:
        if "label_at_mm" not in piece:
            continue
        x, y = piece["label_at_mm"]
        height = piece["label_height_mm"]
        half = height * len(piece["label"]) / 2.0
        yield (
            f'<rect x="{x - half:.2f}" y="{width - y - height:.2f}" width="{2.0 * half:.2f}" '
            f'height="{2.0 * height:.2f}" '
            f'transform="rotate({-piece["label_turn_deg"]:g} {x:.2f} {width - y:.2f})">'
            f"<title>{escape(piece['label'])}</title></rect>"
        )


def _data(line: ReadLine, width: float) -> str:
    points = line.points[:-1] if line.is_closed else line.points
    steps = "L".join(f"{x:.{_DECIMALS}f} {width - y:.{_DECIMALS}f}" for x, y in points)
    return f"M{steps}{'Z' if line.is_closed else ''}"


def _order(outlines: Sequence[ReadLine], width: float) -> Iterable[str]:
    entries = [(line.points[0][0], width - line.points[0][1]) for line in outlines]
    yield f'<path d="M0 {width:.2f}L{"L".join(f"{x:.2f} {y:.2f}" for x, y in entries)}"/>'
    for number, (x, y) in enumerate(entries, 1):
        yield f'<circle cx="{x:.2f}" cy="{y:.2f}" r="3"/>'
        yield f'<text x="{x + 5:.2f}" y="{y - 5:.2f}">{number}</text>'
