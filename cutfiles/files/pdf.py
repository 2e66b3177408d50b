"""Writing a paper pattern as PDF: a map of the pages, then the sheet at 1:1, tile by tile.

What is cut is black, what is sewn and clipped is green; frames, strips and match marks are grey
and the test squares blue and orange. No two kinds of line share colour, width and dashes, and the
key on the map says what each is, so that nobody, and no reader, takes one for the other. Dashes
tell the lines apart where the printer knows no colours.
"""

from __future__ import annotations

from typing import Final

from cutfiles.files.pdf_pen import LineStyle, Pen, fitting, text_width_mm
from cutfiles.geometry.path import Path
from cutfiles.geometry.vector import Point, Vector
from cutfiles.paper.sheet import (
    MATCH_ARM_MM,
    MATCH_RADIUS_MM,
    OVERLAP_MM,
    SQUARE_IN_MM,
    SQUARE_MM,
    DrawnPiece,
    PaperSheet,
    SheetLabel,
    Tile,
    arrow_points,
    upright_deg,
)
from cutfiles.units import counted

_BLACK: Final = (0, 0, 0)
_GREY: Final = (135, 135, 135)
_GREEN: Final = (0, 158, 115)
_BLUE: Final = (0, 114, 178)
_ORANGE: Final = (213, 94, 0)

_CUT_MM: Final = 0.35
_CUT_DASHES_MM: Final[tuple[tuple[float, ...], ...]] = (
    (),
    (7.0, 2.0),
    (3.0, 1.5),
    (8.0, 1.5, 1.0, 1.5),
    (1.2, 1.2),
    (8.0, 1.5, 1.0, 1.5, 1.0, 1.5),
    (16.0, 2.0),
)
"""The cut line of each size, in order; a single size has the first."""

_STITCH: Final = LineStyle(_GREEN, 0.2, (2.0, 1.5))
_CLIP: Final = LineStyle(_GREEN, 0.3)
_NOTCH: Final = LineStyle(_BLACK, 0.5)
_GRAIN: Final = LineStyle(_BLACK, 0.25)
_FRAME: Final = LineStyle(_GREY, 0.15)
_STRIP: Final = LineStyle(_GREY, 0.15, (1.0, 2.0))
_MARK: Final = LineStyle(_GREY, 0.25)

_SQUARE: Final = LineStyle(_BLUE, 0.25)
_SQUARE_IN: Final = LineStyle(_ORANGE, 0.25)

_SMALL_MM: Final = 2.6
_KEY_MM: Final = 120.0
"""Room for the key on the map: with more rows than it holds they grow smaller."""

_BOTTOM_TEXT_MM: Final = 5.5
"""Base line of the page label: above what most printers leave white at the edge."""


def pdf_bytes(sheet: PaperSheet) -> bytes:
    """The sheet as a PDF file; the same sheet gives the same bytes."""
    pen = Pen(sheet.paper.width_mm, sheet.paper.height_mm, title=f"{sheet.title}: {sheet.name}")
    with pen.page():
        _map_page(pen, sheet)
    for number, tile in enumerate(sheet.tiles, start=sheet.first_tile_page):
        with pen.page():
            _tile_page(pen, sheet, tile, number)
    return pen.finish()


def _cut_style(size_number: int | None) -> LineStyle:
    """Beyond as many sizes as there are styles, the lines grow heavier."""
    round_, style = divmod(size_number or 0, len(_CUT_DASHES_MM))
    return LineStyle(_BLACK, _CUT_MM * (1.0 + 0.5 * round_), _CUT_DASHES_MM[style])


def _tile_page(pen: Pen, sheet: PaperSheet, tile: Tile, number: int) -> None:
    paper = sheet.paper
    margin, width, height = paper.margin_mm, paper.window_width_mm, paper.window_height_mm
    with pen.window(margin, margin, width, height, origin=(tile.left_mm, tile.bottom_mm)):
        _strips(pen, sheet, tile)
        for mark in sheet.marks:
            _match_mark(pen, mark.name, mark.at)
        if number == sheet.first_tile_page:
            _squares(pen, sheet.square_at)
        for drawn in sheet.pieces:
            _piece(pen, sheet, drawn)
        for label in sheet.labels:
            _label(pen, label)
    pen.use(_FRAME)
    pen.rectangle(margin, margin, width, height)
    pages = len(sheet.tiles) + 1
    pen.text(
        f"row {tile.row} of {sheet.rows}, column {tile.column} of {sheet.columns}",
        margin, paper.height_mm - margin + 2.0, 4.0, bold=True,
    )  # fmt: skip
    named = f"{sheet.name}, page {number} of {pages}"
    pen.text(
        named,
        paper.width_mm - margin - text_width_mm(named, _SMALL_MM),
        paper.height_mm - margin + 2.0,
        _SMALL_MM,
    )
    pen.text(
        f"This frame starts {tile.left_mm:.1f} mm from the left and {tile.bottom_mm:.1f} mm from "
        f"the bottom of the sheet. {paper.name}, overlap {OVERLAP_MM:g} mm, print at 100 %.",
        margin, _BOTTOM_TEXT_MM, _SMALL_MM,
    )  # fmt: skip


def _strips(pen: Pen, sheet: PaperSheet, tile: Tile) -> None:
    """Where the neighbours' frames run on this page, and which page goes over or under."""
    pages = {
        (t.row, t.column): number
        for number, t in enumerate(sheet.tiles, start=sheet.first_tile_page)
    }
    width, height = sheet.paper.window_width_mm, sheet.paper.window_height_mm
    left, bottom = tile.left_mm, tile.bottom_mm
    right, top = left + width, bottom + height
    half = OVERLAP_MM / 2.0
    sides = (
        ((0, 1), ((right - OVERLAP_MM, bottom), (right - OVERLAP_MM, top)), right - half, "under"),
        ((0, -1), ((left + OVERLAP_MM, bottom), (left + OVERLAP_MM, top)), left + half, "over"),
        ((1, 0), ((left, bottom + OVERLAP_MM), (right, bottom + OVERLAP_MM)), bottom + half,
         "under"),
        ((-1, 0), ((left, top - OVERLAP_MM), (right, top - OVERLAP_MM)), top - half, "over"),
    )  # fmt: skip
    for (down, across), line, middle, how in sides:
        other = pages.get((tile.row + down, tile.column + across))
        if other is None:
            continue
        pen.use(_STRIP)
        pen.polyline(line)
        words = f"this strip lies {how} page {other}"
        # at 40 % of the strip, clear of what the other page writes there and of the marks
        share = 0.4 if how == "under" else 0.6
        if across:
            place = (middle, bottom + share * height)
            pen.text(words, *place, _SMALL_MM, rgb=_GREY, angle_deg=90.0, centred=True)
        else:
            place = (left + share * width, middle)
            pen.text(words, *place, _SMALL_MM, rgb=_GREY, centred=True)


def _match_mark(pen: Pen, name: str, at: Point) -> None:
    pen.use(_MARK)
    pen.circle(at.x, at.y, MATCH_RADIUS_MM)
    pen.polyline([(at.x - MATCH_ARM_MM, at.y), (at.x + MATCH_ARM_MM, at.y)])
    pen.polyline([(at.x, at.y - MATCH_ARM_MM), (at.x, at.y + MATCH_ARM_MM)])
    pen.text(name, at.x + 0.8, at.y + 2.6, 3.0, rgb=_GREY, bold=True)


def _squares(pen: Pen, middle: Point) -> None:
    for side, style in ((SQUARE_MM, _SQUARE), (SQUARE_IN_MM, _SQUARE_IN)):
        pen.use(style)
        pen.rectangle(middle.x - side / 2.0, middle.y - side / 2.0, side, side)
    lines = (
        ("Measure me before you cut.", _BLACK),
        ("blue: 100 mm by 100 mm", _BLUE),
        ("orange: 4 in by 4 in", _ORANGE),
        ("If I am not, print again at 100 %, without fitting to the page.", _BLACK),
    )
    for number, (words, rgb) in enumerate(lines):
        y = middle.y + 10.5 - 7.0 * number
        pen.text(words, middle.x, y, 3.0, rgb=rgb, centred=True)


def _piece(pen: Pen, sheet: PaperSheet, drawn: DrawnPiece) -> None:
    piece, motion = drawn.piece, drawn.motion
    pen.use(_STITCH)
    clips = piece.clips
    for path in piece.stitch_lines:
        if path not in clips:
            pen.path(path.moved(motion))
    pen.use(_CLIP)
    for path in clips:
        pen.path(path.moved(motion))
    cut = piece.cut.moved(motion)
    pen.use(_cut_style(drawn.size_number))
    pen.path(cut)
    for path in piece.inner:
        pen.path(path.moved(motion))
    pen.use(_NOTCH)
    for notch in piece.notches:
        start = motion.point(notch.at)
        end = motion.point(notch.at + notch.inward * notch.depth_mm)
        pen.polyline([(start.x, start.y), (end.x, end.y)])
    if drawn.size_number is not None:
        _size_names(pen, sheet.sizes[drawn.size_number], drawn.size_number, cut)


def _grain(pen: Pen, drawn: DrawnPiece) -> None:
    pen.use(_GRAIN)
    steps = map(drawn.motion.point, arrow_points(drawn.piece.grain))
    pen.polyline([(p.x, p.y) for p in steps])


def _size_names(pen: Pen, size: str, number: int, cut: Path) -> None:
    """The size along its cut line, inside, at places of its own."""
    length = cut.length()
    for share in (0.06, 0.31, 0.56, 0.81):
        along = (share + 0.025 * number) % 1.0 * length
        tangent = cut.tangent_at(along)
        at = cut.point_at(along) + tangent.left * 1.6
        angle = upright_deg(tangent.angle_deg)
        pen.text(size, at.x, at.y, 2.2, angle_deg=angle, centred=True)


def _label(pen: Pen, label: SheetLabel) -> None:
    """Shrunk to its room, and never upside down; with the grain line."""
    _grain(pen, label.drawn)
    spot, motion = label.drawn.piece.label, label.drawn.motion
    height = spot.height_mm
    width = text_width_mm(label.text, height)
    if width > spot.room_mm:
        height *= spot.room_mm / width
    centre = motion.point(spot.centre)
    angle = upright_deg(spot.angle_deg + motion.turn_deg)
    pen.text(label.text, centre.x, centre.y, height, angle_deg=angle, centred=True)


def _map_page(pen: Pen, sheet: PaperSheet) -> None:
    paper = sheet.paper
    margin = paper.margin_mm
    y = paper.height_mm - margin - 5.0
    pen.text(sheet.title, margin, y, fitting(sheet.title, 5.0, paper.window_width_mm), bold=True)
    sizes = f" Sizes: {', '.join(sheet.sizes)}." if sheet.sizes else ""
    drawn = "As drafted" if sheet.sizes else "As drawn"
    growth = f"{drawn}: no growth" if not sheet.is_lay else "As it is cut: with its growth"
    lines = (
        f"{sheet.name}.{sizes}",
        f"{len(sheet.tiles) + 1} pages of {paper.name}: this map, then the "
        f"{'lay' if sheet.is_lay else 'pattern'} at 1:1 in "
        f"{counted(sheet.rows, 'row')} and {counted(sheet.columns, 'column')}.",
        "Print at 100 %, without fitting to the page, and measure the squares on page "
        f"{sheet.first_tile_page}: 100 mm and 4 in.",
        f"Neighbouring pages share a strip of {OVERLAP_MM:g} mm. Cut a page along its frame on the "
        "left and at the top,",
        "lay it over the strip of the page before, mark on mark (a1 on a1), and glue.",
        f"{growth} for shrinkage, no kerf. Allowances are in the cut line.",
    )
    for line in lines:
        y -= 5.5
        pen.text(line, margin, y, fitting(line, 3.5, paper.window_width_mm))
    y = _key(pen, sheet, y - 8.0)
    _thumbnail(pen, sheet, y - 4.0)


def _key(pen: Pen, sheet: PaperSheet, y: float) -> float:
    """What each line means; gives the base line of the last row."""
    several = len(sheet.sizes) > 1
    rows = [
        (_cut_style(k), f"cut line, size {size}" if several else "cut line")
        for k, size in enumerate(sheet.sizes or ("",))
    ]
    pieces = [drawn.piece for drawn in sheet.pieces]
    if any(len(piece.stitch_lines) > len(piece.clips) for piece in pieces):
        rows.append((_STITCH, "stitch line"))
    if any(piece.clips for piece in pieces):
        rows.append((_CLIP, "clip mark: snip the allowance there once it is sewn, no further"))
    rows.append((_GRAIN, "grain line: the arrow points the way the nap or print does"))
    if any(piece.notches for piece in pieces):
        rows.append((_NOTCH, "notch: a short line from the cut line inwards"))
    rows.append((_FRAME, "frame: cut a page there on the left and at the top"))
    if len(sheet.tiles) > 1:
        rows.append((_STRIP, "strip: a neighbour's frame runs there"))
        rows.append((_MARK, "match mark: a cross in a circle, on two pages"))
    rows.append((_SQUARE, "test square: 100 mm by 100 mm"))
    rows.append((_SQUARE_IN, "test square in inches: 4 in by 4 in"))
    step = min(5.0, _KEY_MM / len(rows))
    height, left = 0.64 * step, sheet.paper.margin_mm
    for number, (style, words) in enumerate(rows):
        if number:
            y -= step
        pen.use(style)
        middle = y + 0.35 * height
        pen.polyline([(left, middle), (left + 30.0, middle)])
        pen.text(words, left + 34.0, y, height)
    return y


def _thumbnail(pen: Pen, sheet: PaperSheet, top: float) -> None:
    """The whole sheet, small, with the frame and number of every page."""
    paper = sheet.paper
    margin = paper.margin_mm
    if sheet.is_lay:
        top -= 5.0
    factor = min(paper.window_width_mm / sheet.width_mm, (top - margin) / sheet.height_mm, 0.5)
    if sheet.is_lay:
        pen.text(f"The whole lay, 1 : {1.0 / factor:.2f}", margin, top + 1.5, 3.5)
    with pen.scaled(margin, top - sheet.height_mm * factor, factor):
        for drawn in sheet.pieces:
            style = _cut_style(drawn.size_number)
            thin = 0.15 / factor
            pen.use(LineStyle(style.rgb, thin, style.dashes_mm))
            pen.path(drawn.piece.cut.moved(drawn.motion))
        pen.use(LineStyle(_SQUARE.rgb, 0.15 / factor))
        corner = sheet.square_at + Vector(-SQUARE_MM / 2.0, -SQUARE_MM / 2.0)
        pen.rectangle(corner.x, corner.y, SQUARE_MM, SQUARE_MM)
        for number, tile in enumerate(sheet.tiles, start=sheet.first_tile_page):
            width, height = paper.window_width_mm, paper.window_height_mm
            pen.use(LineStyle(_GREY, 0.15 / factor))
            pen.rectangle(tile.left_mm, tile.bottom_mm, width, height)
            pen.text(
                str(number),
                tile.left_mm + width / 2.0, tile.bottom_mm + height / 2.0, 6.0 / factor,
                rgb=_GREY, centred=True, bold=True,
            )  # fmt: skip
