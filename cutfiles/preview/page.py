"""The preview: one self-contained HTML page of lays as they were read back from their files."""

from __future__ import annotations

import base64
import hashlib
import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from importlib import resources
from string import Template
from typing import Any, Final

from cutfiles.cuts.plan import Role
from cutfiles.errors import Finding
from cutfiles.preview.colours import on_both_grounds
from cutfiles.preview.lay import PreviewLay
from cutfiles.preview.lay_data import lay_table
from cutfiles.preview.picture import lay_svg, picture_styles
from cutfiles.units import counted, format_length

SCRIPTS: Final = (
    "geometry.js", "view.js", "pieces.js", "ruler.js", "playback.js", "lay_view.js", "page.js",
)  # fmt: skip
"""The modules of the page, each after those that it imports."""

_NAMES: Final[dict[str, str]] = {
    "cloth": "cloth, flaws, fold, print, frames",
    "label": "labels",
    "stitch": "stitch lines (dashed)",
    "grain": "grain (arrows)",
    "notch": "notches",
    "inner": "cut-outs",
    "outline": "outlines",
    "order": "cutting order (numbers)",
    "way": "way of the tool",
}
_OFF: Final = ("order", "way")
_MOST_DRAWN_PLIES: Final = 8


@dataclass(frozen=True, slots=True)
class PreviewSheet:
    """Everything on the page. ``colours`` gives ``#rrggbb`` for every role."""

    summary: Mapping[str, Any]
    lays: tuple[PreviewLay, ...]
    colours: Mapping[Role, str]
    cautions: tuple[str, ...]
    findings: tuple[Finding, ...]
    length_unit: str


def preview_html(sheet: PreviewSheet) -> bytes:
    """The page in UTF-8; it fetches nothing, and its own policy lets it fetch nothing."""
    styles = _text("page.css") + picture_styles(on_both_grounds(sheet.colours), "var(--soft)")
    script = script_of_page()
    policy = (
        f"default-src 'none'; style-src '{_hash_source(styles)}'; "
        f"script-src '{_hash_source(script)}'; base-uri 'none'; form-action 'none'"
    )
    page = Template(_text("page.html")).substitute(
        policy=policy,
        styles=styles,
        script=script,
        title=escape(str(sheet.summary["title"])),
        totals=_totals(sheet),
        links=_links(sheet.lays),
        findings=_findings(sheet.findings),
        cautions="".join(f"<li>{escape(text)}</li>" for text in sheet.cautions),
        lays="".join(
            lay_section(lay, length_unit=sheet.length_unit, tool=sheet.summary["machine"]["kind"])
            for lay in sheet.lays
        ),
    )
    return page.encode("utf-8")


def lay_section(lay: PreviewLay, *, length_unit: str, tool: str) -> str:
    """All that a page shows of one lay, as an HTML section that `openLay` of `lay_view.js` brings
    to life; ``tool`` is the kind of machine."""
    return Template(_text("lay.html")).substitute(
        name=escape(str(lay.row["name"])),
        plies=_plies(lay.row),
        figures=_figures(lay.row, length_unit),
        switches="".join(_switches()),
        picture=lay_svg(lay),
        time_s=f"{lay.row['time_s']:g}",
        table=_piece_table(lay.row),
        data=in_script(lay_table(lay, length_unit=length_unit, tool=tool)),
    )


def in_script(table: Mapping[str, Any]) -> str:
    """JSON that may stand in a script element: nothing in it opens or ends a tag."""
    text = json.dumps(table, ensure_ascii=True, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def script_of_page() -> str:
    """The modules as one: what they import from each other stands before them."""
    lines = (line for name in SCRIPTS for line in _text(name).splitlines())
    return "\n".join(line for line in lines if not line.startswith("import "))


def _text(name: str) -> str:
    return resources.files("cutfiles.preview").joinpath(name).read_text(encoding="utf-8")


def _hash_source(text: str) -> str:
    """Of an inline script or style (Content Security Policy Level 3, "hash-source")."""
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"sha256-{base64.b64encode(digest).decode('ascii')}"


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
        f"<b>{counted(len(sheet.lays), 'lay')}</b>, "
        f"<b>{cloth}</b> of cloth in all"
    )


def _links(lays: Sequence[PreviewLay]) -> str:
    if len(lays) == 1:
        return ""
    names = [escape(str(lay.row["name"])) for lay in lays]
    links = "".join(f'<li><a href="#{name}">{name}</a></li>' for name in names)
    return f'<nav aria-label="Lays"><ul>{links}</ul></nav>'


def _findings(findings: Sequence[Finding]) -> str:
    if not findings:
        return "<p>Read back from the written files and found right.</p>"
    rows = (
        f'<li class="{finding.severity}"><b>{escape(finding.severity)}</b>: '
        f"{escape(finding.text)}</li>"
        for finding in findings
    )
    return f'<h2>Findings</h2><ul class="findings">{"".join(rows)}</ul>'


def _switches() -> Iterable[str]:
    for role, name in _NAMES.items():
        checked = "" if role in _OFF else " checked"
        yield (
            f'<label><input type="checkbox" value="{role}"{checked}> '
            f'<svg class="swatch" viewBox="0 0 24 8" aria-hidden="true">'
            f'<path class="role-{role}" d="M0 4H24"/></svg>{name}</label>'
        )


def _plies(row: Mapping[str, Any]) -> str:
    """The spread seen from its end: a line a ply, a bend where the cloth is folded."""
    count, spread = int(row["plies"]), row.get("spread", "single")
    if count == 1:
        return ""
    words = f"{count} plies, {spread}"
    shown = min(count, _MOST_DRAWN_PLIES)
    height = 5 * shown + 3
    lines = [f"M8 {4 + 5 * k}H52" for k in range(shown)]
    if spread == "folded":
        lines += [f"M8 {4 + 5 * k}a2.5 2.5 0 0 0 0 5" for k in range(0, shown - 1, 2)]
    if spread == "face to face":  # the right side of a ply points up or down
        lines += [f"M30 {4 + 5 * k}v{2 if k % 2 == 0 else -2}" for k in range(shown)]
    return (
        f'<svg class="plies" role="img" viewBox="0 0 60 {height}" width="60" height="{height}" '
        f'aria-label="{escape(words)}"><path d="{"".join(lines)}"/></svg>'
    )


def _figures(row: Mapping[str, Any], unit: str) -> str:
    plies = counted(row["plies"], "ply", "plies")
    spread = "" if row.get("spread", "single") == "single" else f", {row['spread']}"
    pieces = counted(len(row["pieces"]), "piece")
    frames = len(row.get("frames_mm", ()))
    in_frames = f", in {counted(frames, 'frame')} of the bed" if frames else ""
    roll = f", roll {row['roll']}" if "roll" in row else ""
    return (
        f"{escape(row['cloth'] + roll)}, {plies}{spread}: "
        f"<b>{format_length(row['length_mm'], unit)}</b> long, "
        f"{format_length(row['width_mm'], unit)} of usable width, "
        f"<b>{row['efficiency']:.1%}</b> of the cloth used; {pieces}, "
        f"{row['cut_length_mm'] / 1000:.1f} m to cut, "
        f"{row['travel_mm'] / 1000:.1f} m of travel, about {_clock(row['time_s'])}"
        f"{_drawn(row)}{in_frames}"
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
        "<table><thead><tr><th>cap or panel</th><th>piece</th>"
        '<th class="n">in the lay</th><th class="n">cut in all</th></tr></thead>'
        f"<tbody>{rows}</tbody></table>"
    )
