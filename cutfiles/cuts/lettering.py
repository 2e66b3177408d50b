"""Where a piece's label stands, and the label as single strokes.

The letters are those that A. V. Hershey digitized at the U.S. National Bureau of Standards (NBS
Special Publication 424, 1976), simple ones without serifs, drawn in single lines.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from itertools import accumulate, product
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely
from HersheyFonts import HersheyFonts
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import polylabel

from cutfiles.cuts.grain_arrow import grain_arrow
from cutfiles.cuts.plan import Lettering, Letters
from cutfiles.geometry.vector import Point
from cutfiles.lay.lay import PlacedPiece, cut_outs_of
from cutfiles.pieces.piece import LabelSpot, Piece
from cutfiles.tolerances import FLATTEN_MM

Flat = npt.NDArray[np.complex128]

_FONT: Final = "futural"
_CAPITAL: Final = 21.0
_MIDDLE: Final = -1.5
"""Height of a capital in units of the font, and where its middle is, counted down."""
_REACH: Final = 17.5
"""How far any letter reaches above or below that middle."""
_INSTEAD: Final = "_"

_CLEAR_MM: Final = 1.0
"""Left between a label and an edge, a cut-out or a notch."""
_BESIDE_LINE_MM: Final = 0.5
_SMALLER: Final = 0.8
_LEGIBLE_MM: Final = 2.0
_LEAST_MM: Final = 1.0
"""A label is made smaller in these steps: down to the first height before it crosses a line, and
to the second before it goes to the widest place of its piece."""
_LEAN_DEG: Final = 1.0
"""A label that reads upward may lean back so far, with its piece, before it is turned round."""
_STEPS: Final = (0.0, 0.5, -0.5, 1.0, -1.0, 1.5, -1.5, 2.0, -2.0, 3.0, -3.0, 4.5, -4.5)
"""Places tried beside the spot, in lines of the label's height and lengths of its width."""


@dataclass(frozen=True, slots=True)
class _Room:
    """Where a label may stand, in the piece's frame: clear of edges, cut-outs and notches; of
    stitching too; and of all lines."""

    clear: BaseGeometry
    clear_of_stitching: BaseGeometry
    clear_of_lines: BaseGeometry


class LabelPlaces:
    """Finds a place for the label of each piece; alike pieces are measured once."""

    def __init__(self) -> None:
        self._rooms: dict[int, tuple[Piece, _Room]] = {}
        self._spots: dict[tuple[int, int], LabelSpot] = {}

    def drawn(self, placed: PlacedPiece) -> Lettering:
        """The label of a piece, where its strokes are to stand. ``height_mm`` is a capital's."""
        piece = placed.ordered.piece
        if id(piece) not in self._rooms:
            self._rooms[id(piece)] = piece, _room(placed)
        text = writable(placed.ordered.label)
        # labels of alike pieces differ in a number: one place does for all of about a width
        widths = math.ceil(_width(text) / _CAPITAL)
        key = id(piece), widths
        if key not in self._spots:
            self._spots[key] = _place(self._rooms[id(piece)][1], piece.label, float(widths))
        return on_cloth(placed, self._spots[key], text)


def on_cloth(placed: PlacedPiece, spot: LabelSpot, text: str) -> Lettering:
    """A label where its spot comes to lie, never upside down when the lay is seen upright."""
    centre = placed.motion.point(spot.centre)
    angle = (spot.angle_deg + placed.motion.turn_deg) % 360.0
    if 90.0 + _LEAN_DEG < angle <= 270.0 + _LEAN_DEG:
        angle -= 180.0
    centre_mm = (centre.x, centre.y)
    return Lettering(placed.ordered.id, text, centre_mm, angle % 360.0, spot.height_mm)


def letters_of(lettering: Lettering) -> Letters:
    """A label as strokes, letter by letter."""
    scale = lettering.height_mm / _CAPITAL
    turn = np.exp(1j * math.radians(lettering.angle_deg)) * scale
    pen = -_width(lettering.text) / 2.0
    drawn: list[Flat] = [np.empty(0, dtype=np.complex128)]
    starts = [0]
    for letter in lettering.text:
        width, flat, ends = _letters()[letter]
        drawn.append(flat + pen)
        starts += [starts[-1] + end for end in ends]
        pen += width
    places = np.concatenate(drawn) * turn + complex(*lettering.centre)
    return Letters(lettering.piece_id, places.view(np.float64).reshape(-1, 2), tuple(starts))


def writable(text: str) -> str:
    """The text with an underscore for every letter that the font lacks."""
    return "".join(letter if letter in _letters() else _INSTEAD for letter in text)


@cache
def _letters() -> dict[str, tuple[float, Flat, tuple[int, ...]]]:
    """Every letter: how wide it is, the points of its strokes as complex numbers from its left
    margin and the middle of a capital, y up, in units of the font; and behind which of them each
    stroke ends."""
    font = HersheyFonts()
    font.load_default_font(_FONT)
    found = {}
    for letter, glyph in font.all_glyphs.items():
        strokes = [stroke for stroke in glyph.strokes if len(stroke) > 1]
        line = np.array([place for stroke in strokes for place in stroke]).reshape(-1, 2)
        flat = line[:, 0] - glyph.left_offset - 1j * (line[:, 1] - _MIDDLE)
        ends = tuple(accumulate(map(len, strokes)))
        found[letter] = (float(glyph.char_width), flat, ends)
    return found


def _width(text: str) -> float:
    return sum(_letters()[letter][0] for letter in text)


def _room(placed: PlacedPiece) -> _Room:
    piece = placed.ordered.piece
    slits = [
        shapely.LineString([(n.at.x, n.at.y), (end.x, end.y)])
        for n in piece.notches
        for end in [n.at + n.inward * n.depth_mm]
    ]
    taken = [region.buffer(_CLEAR_MM) for region in (*cut_outs_of(placed.ordered), *slits)]
    edged = placed.outline.buffer(-_CLEAR_MM)
    clear = edged.difference(shapely.unary_union(taken))
    if clear.is_empty:  # a piece no wider than a letter's margin
        clear = placed.outline.difference(shapely.unary_union([r.buffer(0.01) for r in slits]))
    lines = [shapely.LineString(path.flattened(10.0 * FLATTEN_MM)) for path in piece.stitch_lines]
    stitching = shapely.unary_union([line.buffer(_BESIDE_LINE_MM) for line in lines])
    arrow = shapely.LineString([(corner.x, corner.y) for corner in grain_arrow(piece.grain)])
    beside = clear.difference(stitching)
    room = _Room(clear, beside, beside.difference(arrow.buffer(_BESIDE_LINE_MM)))
    shapely.prepare([room.clear, room.clear_of_stitching, room.clear_of_lines])
    return room


def _place(room: _Room, spot: LabelSpot, wide: float) -> LabelSpot:
    """Where a label so many heights wide stands, and its height: at its spot, beside it or turned
    by a quarter, as large as it may be, clear of all lines, or of stitching, if that leaves it
    legible; at last in the widest place."""
    turned = replace(spot, angle_deg=spot.angle_deg + 90.0)
    for region, least_mm in (
        (room.clear_of_lines, _LEGIBLE_MM),
        (room.clear_of_stitching, _LEGIBLE_MM),
        (room.clear, _LEAST_MM),
    ):
        height = spot.height_mm
        while height >= least_mm:
            for one, up, along in product((spot, turned), _STEPS, _STEPS[:5]):
                moved = _beside(one, along * wide * height / 2.0, up * 1.5 * height)
                if region.contains(_box(moved, wide, height)):
                    return replace(moved, height_mm=height)
            height *= _SMALLER
    largest = max(shapely.get_parts(room.clear), key=shapely.area)
    centre = polylabel(largest, tolerance=0.1)
    height = 1.9 * centre.distance(largest.boundary) / math.hypot(wide, 2.0 * _REACH / _CAPITAL)
    return replace(spot, centre=Point(centre.x, centre.y), height_mm=height)


def _beside(spot: LabelSpot, along_mm: float, up_mm: float) -> LabelSpot:
    turn = np.exp(1j * math.radians(spot.angle_deg)) * complex(along_mm, up_mm)
    centre = Point(spot.centre.x + float(turn.real), spot.centre.y + float(turn.imag))
    return replace(spot, centre=centre)


def _box(spot: LabelSpot, wide: float, height_mm: float) -> Polygon:
    """All that a label can take up."""
    half = complex(wide * height_mm / 2.0, _REACH / _CAPITAL * height_mm)
    turn = np.exp(1j * math.radians(spot.angle_deg))
    middle = complex(spot.centre.x, spot.centre.y)
    corners = [middle + turn * z for z in (half, -half.conjugate(), -half, half.conjugate())]
    return Polygon([(float(z.real), float(z.imag)) for z in corners])
