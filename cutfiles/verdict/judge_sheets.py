"""Judging the paper for the table, read back, against the summary and the drawings of its folder.

Counts, words and pictures are worked out anew here. Codes are read off the drawn pages by zxing-cpp
(Apache-2.0), lines and words by PDFium, the table by the csv module.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import zxingcpp

from cutfiles.errors import Finding
from cutfiles.sheets.sheet import CSV_HEADER, SIGN_OFFS
from cutfiles.tolerances import PAGE_MM, SHEET_LINE_MM
from cutfiles.units import counted, format_length, format_order
from cutfiles.verdict.drawing import Array, ReadDrawing
from cutfiles.verdict.read_pdf import ReadPage, ReadPaper
from cutfiles.verdict.read_summary import LayRow, PieceRow, SummaryFile

_HYPHENS = "-\N{SOFT HYPHEN}\x02\ufffe"
"""What PDFium makes of a hyphen depends on what follows it."""

_SCALE_SHARE = 0.005
"""How far a scale may be off the one that is printed with two decimals."""

_CODE = re.compile(
    r"(?P<id>(?P<lay>.+)-b\d\d+): (?P<count>\d+) pieces?( of (?P<caps>\d+) caps?)?, "
    r"cut file (?P<print>[0-9a-f]{8})"
)
_SCALE = re.compile(r"1 : ([\d.]+), from .+ to .+")


@dataclass(frozen=True, slots=True)
class ExpectedSheet:
    """What a job sheet must show: a summary, the drawings of its lays by name, and what must be
    said; how large its pages are, and what outlines are drawn in."""

    summary: SummaryFile
    drawings: Mapping[str, ReadDrawing]
    cautions: tuple[str, ...]
    page_mm: tuple[float, float]
    outline_rgb: tuple[int, int, int]


def judge_job_sheet(paper: ReadPaper, expected: ExpectedSheet) -> tuple[Finding, ...]:
    """Whether every word, count, caution and outline is on the pages of a job sheet."""
    return (*paper.findings, *_said(paper, _sheet_faults(paper, expected)))


def judge_tickets(
    paper: ReadPaper, summary: SummaryFile, *, page_mm: tuple[float, float]
) -> tuple[Finding, ...]:
    """Whether the codes of all tickets can be read, say what is printed beside them, and count
    all that is cut."""
    return (*paper.findings, *_said(paper, _ticket_faults(paper, summary, page_mm)))


def judge_pieces(name: str, content: bytes, summary: SummaryFile) -> tuple[Finding, ...]:
    """Whether a table holds all pieces and what is known of them."""
    rows = list(csv.DictReader(io.StringIO(content.decode("utf-8"), newline="")))
    wrong = []
    if rows and tuple(rows[0]) != CSV_HEADER:
        wrong.append(f"its columns are {', '.join(rows[0])}")
    else:
        wanted = Counter(_csv_row(lay, piece) for lay in summary.lays for piece in lay.pieces)
        found = Counter(
            (
                row["lay"], row["id"], row["cap"], row["style"], row["size"], row["edge"],
                row["piece"], row["label"], row["cut"], row["plies"],
                *(round(float(row[key]), 1)
                  for key in ("grain_deg", "along_mm", "across_mm", "area_mm2")),
            )
            for row in rows
        )  # fmt: skip
        wrong.extend(f"has no row of piece {row[1]} as it lies" for row in wanted - found)
        wrong.extend(f"has a row too many, of piece {row[1]}" for row in found - wanted)
        wrong.extend(_bundle_faults({row["id"]: row["bundle"] for row in rows}, summary))
    return tuple(Finding("sheets", "error", f"{name}: {text}") for text in wrong)


def _bundle_faults(bundles: Mapping[str, str], summary: SummaryFile) -> Iterator[str]:
    """Bundles, by the ids of their pieces, that are not each all the pieces of one line and kind in
    one lay."""
    groups: dict[str, set[tuple[str, int, str]]] = {}
    for lay in summary.lays:
        for piece in lay.pieces:
            if piece.id in bundles:
                key = (lay.name, piece.order_line, _group(piece))
                groups.setdefault(bundles[piece.id], set()).add(key)
    names: dict[tuple[str, int, str], str] = {}
    for name, keys in groups.items():
        for key in keys:
            if len(keys) > 1 or not name.startswith(f"{key[0]}-b") or names.get(key, name) != name:
                yield f"bundle {name!r} is not all of {key[2]} of {key[0]}, and nothing else"
            names[key] = name


def _csv_row(lay: LayRow, piece: PieceRow) -> tuple[object, ...]:
    numbers = (piece.grain_deg, *piece.centre_mm, piece.area_mm2)
    return (
        lay.name, piece.id, *(_no_formula(text) for text in (piece.cap, piece.style, piece.size)),
        piece.edge, _no_formula(piece.name), _no_formula(piece.label),
        str(_cut(lay, piece)), str(lay.plies),
        # to the table's decimals first, or a half would round two ways
        *(round(float(f"{number:.{places}f}"), 1)
          for number, places in zip(numbers, (3, 3, 3, 1), strict=True)),
    )  # fmt: skip


def _no_formula(text: str) -> str:
    return re.sub(r"\A(?=[=+@\t\r-])", "'", text)


def _said(paper: ReadPaper, faults: Iterator[str]) -> Iterator[Finding]:
    for text in faults if not paper.findings else ():
        yield Finding("sheets", "error", f"{paper.name}: {text}")


def _cut(lay: LayRow, piece: PieceRow) -> int:
    """How many come of one outline."""
    return lay.folds if piece.past_fold_mm else lay.plies


def _group(piece: PieceRow) -> str:
    return f"{piece.cap}, {piece.edge}" if piece.edge else piece.cap


def _sheet_faults(paper: ReadPaper, expected: ExpectedSheet) -> Iterator[str]:
    summary, cautions = expected.summary, expected.cautions
    yield from _page_faults(paper, expected.page_mm)
    count = len(paper.pages)
    for number, page in enumerate(paper.pages, 1):
        if f"page {number} of {count}" not in _texts([page]):
            yield f"page {number}: does not say that it is page {number} of {count}"
    # the first page tells of all lays, however the job's title reads
    later = enumerate(paper.pages[1:], 1)
    starts = [number for number, page in later if _begins_lay(page, summary)]
    if len(starts) != len(summary.lays):
        yield f"shows {len(starts)} lays and the summary has {len(summary.lays)}"
        return
    unit, totals = summary.length_unit, summary.totals
    pieces = sum(_cut(lay, piece) for lay in summary.lays for piece in lay.pieces)
    wanted = [
        summary.title,
        f"{format_order(totals.caps, totals.panels)} cut, "
        f"{format_order(totals.caps_ordered, totals.panels_ordered)} ordered: {pieces} piece",
        f"{format_length(totals.cloth_length_mm, unit)} of cloth in all",
        *(f"{finding.severity}: {finding.text}" for finding in summary.findings),
        *cautions,
    ]
    yield from _missing(paper.pages[: starts[0]], wanted, "the first page")
    for lay, start, end in zip(summary.lays, starts, [*starts[1:], count], strict=True):
        pages = paper.pages[start:end]
        yield from _lay_faults(pages, lay, unit, cautions)
        layer = summary.roles["outline"]
        outlines = [line.points for line in expected.drawings[lay.name].on(layer)]
        yield from _picture_faults(pages, lay, outlines, expected.outline_rgb)


def _begins_lay(page: ReadPage, summary: SummaryFile) -> bool:
    """Whether a lay's heading stands on top of a page, under the line that is on all of them."""
    text = _squeezed(" ".join(_texts([page])[1:]))
    return any(
        text.startswith(_squeezed(f"{lay.name}: {lay.cloth_called}")) for lay in summary.lays
    )


def _lay_faults(
    pages: Sequence[ReadPage], lay: LayRow, unit: str, cautions: Sequence[str]
) -> Iterator[str]:
    wanted = [
        f"{lay.name}: {lay.cloth_called}",
        f"{counted(lay.plies, 'ply', 'plies')}, {lay.spread}; "
        f"{format_length(lay.length_mm, unit)} long, {format_length(lay.width_mm, unit)} of",
        f"{len(lay.pieces)} outline",
        lay.setting or "",
        *cautions,
        *SIGN_OFFS,
        *(f"{name}: {lay.sha256[kind]}" for kind, name in lay.files.names.items()),
    ]
    yield from _missing(pages, wanted, lay.name)
    outlines: Counter[tuple[str, str]] = Counter()
    cut: Counter[tuple[str, str]] = Counter()
    for piece in lay.pieces:
        outlines[(_group(piece), piece.name)] += 1
        cut[(_group(piece), piece.name)] += _cut(lay, piece)
    texts = [_squeezed(text) for text in _texts(pages)]
    rows = {tuple(texts[k : k + 4]) for k in range(len(texts) - 3)}
    for (kind, name), number in outlines.items():
        row = (_squeezed(kind), _squeezed(name), str(number), str(cut[(kind, name)]))
        if row not in rows:
            yield f"{lay.name}: does not list {name} of {kind}: {number} a ply, {row[3]} in all"


def _picture_faults(
    pages: Sequence[ReadPage], lay: LayRow, outlines: Sequence[Array], rgb: tuple[int, int, int]
) -> Iterator[str]:
    """Outlines that are not drawn, each once in every stretch it lies in, to one scale."""
    scales = [match for text in _texts(pages) if (match := _SCALE.fullmatch(text))]
    strokes = [s.points for page in pages for s in page.strokes if s.ink.rgb == rgb]
    part = lay.length_mm / max(len(scales), 1)
    wanted = [
        (k, line)
        for k in range(len(scales))
        for line in outlines
        if line[:, 0].min() < (k + 1) * part and line[:, 0].max() > k * part
    ]
    if not wanted or len(wanted) != len(strokes):
        yield f"{lay.name}: its pictures show {len(strokes)} outlines and not {len(wanted)}"
        return
    shifts: dict[int, Array] = {}
    for stroke, (k, line) in zip(strokes, wanted, strict=True):
        scale = 1.0 / float(scales[k][1])
        if stroke.shape != line.shape:
            yield f"{lay.name}: a picture shows an outline that is not the file's"
            return
        across = float(np.ptp(stroke[:, 1]) / np.ptp(line[:, 1]))
        shift = shifts.setdefault(k, stroke[0] - across * line[0])
        off = float(np.abs(stroke - across * line - shift).max())
        if off > SHEET_LINE_MM or abs(across / scale - 1.0) > _SCALE_SHARE:
            yield (
                f"{lay.name}: a picture at {scales[k][0]} shows an outline {off:.2f} mm off its "
                f"place, at 1 : {1.0 / across:.2f}"
            )
            return


def _ticket_faults(
    paper: ReadPaper, summary: SummaryFile, page_mm: tuple[float, float]
) -> Iterator[str]:
    yield from _page_faults(paper, page_mm)
    wanted: Counter[tuple[str, int, str]] = Counter()
    caps: dict[tuple[str, int, str], set[int]] = {}
    names: dict[tuple[str, int, str], Counter[str]] = {}
    for lay in summary.lays:
        for piece in sorted(lay.pieces, key=lambda piece: piece.id):
            key = (lay.name, piece.order_line, _group(piece))
            wanted[key] += _cut(lay, piece)
            names.setdefault(key, Counter())[piece.name] += _cut(lay, piece)
            numbers = caps.setdefault(key, set())
            if piece.cap_number is not None:
                numbers.add(piece.cap_number)
    plies = {lay.name: lay.plies for lay in summary.lays}
    prints = {lay.name: lay.sha256["dxf"][:8] for lay in summary.lays}
    expected = Counter(
        (key[0], count, len(caps[key]) * plies[key[0]], prints[key[0]])
        for key, count in wanted.items()
    )
    found: Counter[tuple[str, int, int, str]] = Counter()
    ids: Counter[str] = Counter()
    for number, page in enumerate(paper.pages, 1):
        texts = _texts([page])
        for text in codes_on(page):
            code = _CODE.fullmatch(text)
            if code is None or text not in texts:
                yield f"page {number}: a code says {text!r}, which is not printed beside it"
                continue
            ids[code["id"]] += 1
            found[(code["lay"], int(code["count"]), int(code["caps"] or 0), code["print"])] += 1
            if code["id"] not in texts:
                yield f"page {number}: no ticket is headed {code['id']}"
    yield from (f"{n} tickets are called {name}" for name, n in ids.items() if n > 1)
    printed = _squeezed(" ".join(_texts(paper.pages)))
    for key, counts in names.items():
        words = ", ".join(f"{name} {count}" for name, count in counts.items())
        if caps[key] and _squeezed(words) not in printed:
            yield f"no ticket says that {key[2]} of {key[0]} are {words}"
    for row, n in (expected - found).items():
        yield f"{n} tickets of {row[0]} with {row[1]} pieces of {row[2]} caps cannot be read"
    for row, n in (found - expected).items():
        yield f"{n} tickets too many, of {row[0]} with {row[1]} pieces of {row[2]} caps"


def codes_on(page: ReadPage) -> list[str]:
    """What the QR codes of a page say, as it is printed."""
    picture = np.where(page.ink, 0, 255).astype(np.uint8)
    read = zxingcpp.read_barcodes(picture)
    return [code.text for code in read if "QR" in str(code.format)]


def _page_faults(paper: ReadPaper, page_mm: tuple[float, float]) -> Iterator[str]:
    if not paper.pages:
        yield "has no page"
    for number, page in enumerate(paper.pages, 1):
        size = (page.width_mm, page.height_mm)
        if max(abs(size[0] - page_mm[0]), abs(size[1] - page_mm[1])) > PAGE_MM:
            yield (
                f"page {number}: is {size[0]:.1f} x {size[1]:.1f} mm and should be "
                f"{page_mm[0]:g} x {page_mm[1]:g}"
            )


def _missing(pages: Sequence[ReadPage], wanted: Sequence[str], where: str) -> Iterator[str]:
    """Texts that are not on some pages, over however many lines."""
    # the line on top of every page may come between the lines of a text, and the foot as well
    text = _squeezed(" ".join(text for page in pages for text in _texts([page])[1:-1]))
    for words in wanted:
        if _squeezed(words) not in text:
            yield f"{where}: does not say {words!r}"


def _texts(pages: Sequence[ReadPage]) -> list[str]:
    return [words.text for page in pages for words in page.words]


def _squeezed(text: str) -> str:
    """As the fonts of the sheets can show it, without what readers change where a line ends: white
    space and hyphens."""
    kept = (c for c in text if not c.isspace() and c not in _HYPHENS)
    plain = "".join("?" if ord(c) < 32 or 127 <= ord(c) < 160 else c for c in kept)
    return plain.encode("cp1252", errors="replace").decode("cp1252")
