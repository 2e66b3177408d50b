"""The verdict on labels, above all drawn ones: each in its piece, whole, and clear of what is cut.

What a label must look like is laid out here anew from the font. Where it stands, how it is turned
and how large it is follow from its strokes as read: of all turned, moved and scaled copies of the
label the nearest one; the strokes must be that copy.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import cache

import numpy as np
import numpy.typing as npt
import shapely
from HersheyFonts import HersheyFonts
from shapely.geometry import Polygon

from cutfiles.tolerances import READ_BACK_MM
from cutfiles.verdict.drawing import Array, Ints, ReadDrawing, ReadText
from cutfiles.verdict.expected import ExpectedLay, ExpectedPiece, angle_between_deg

Say = Callable[[str, str], None]
Flat = npt.NDArray[np.complex128]

_CODE = "label"
_TURN_DEG = 0.05
"""How far a label's direction may be off: its last stroke by 0.1 mm in 100."""
_LABELS_AT_ONCE = 250
"""Labels whose strokes are looked at together, to spare memory."""
_LEAN_DEG = 1.0
"""How far a label that reads upward may lean back: one that reads downward is upside down."""
_NARROW = 0.4
"""Mean advance of the letters of a narrow font over its height (common practice, no source)."""
_LEAST_MM = 20.0 * READ_BACK_MM
"""Letters that are lower differ by no more than what their strokes may be off."""


def judge_letters(
    drawing: ReadDrawing,
    expected: ExpectedLay,
    paths: Sequence[Polygon],
    homes: Ints,
    owners: Mapping[int, ExpectedPiece],
    *,
    say: Say,
) -> None:
    """Judge the lines on the layer of labels.

    ``paths`` are the outlines as read, ``homes`` says in which of them each line begins, -1 for
    none, and ``owners`` which piece of the lay each of them is.
    """
    lines = drawing.lines
    labels = np.flatnonzero(lines.are_on(expected.layers["label"]))
    for x, y in lines.firsts[labels[homes < 0]].tolist():
        say(_CODE, f"a stroke of a label at ({x:.1f}, {y:.1f}) mm is in no piece")
    # the strokes of each label together, in the file's order
    order = np.argsort(homes, kind="stable")
    home, labels = homes[order], labels[order]
    labelled: list[int] = []
    around: list[npt.NDArray[np.object_]] = []
    numbers = sorted(owners)
    for start in range(0, len(numbers), _LABELS_AT_ONCE):
        some = numbers[start : start + _LABELS_AT_ONCE]
        first, last = np.searchsorted(home, (some[0], some[-1] + 1))
        together, here = lines.take(labels[first:last]), home[first:last]
        drawn: list[Array] = []
        for number in some:
            first, last = np.searchsorted(here, (number, number + 1))
            starts = together.starts[first : last + 1]
            points = together.points[starts[0] : starts[-1]]
            fault = _fault(points, starts - starts[0], owners[number])
            if fault:
                say(_CODE, f"{owners[number].id} ({owners[number].cap}) {fault}")
            if len(points):
                labelled.append(number)
                drawn.append(points)
        if drawn:
            whose = np.repeat(np.arange(len(drawn)), [len(points) for points in drawn])
            strung = shapely.linestrings(np.concatenate(drawn), indices=whose)
            around.append(np.asarray(shapely.convex_hull(strung)))
    if not around:
        return
    hulls = np.concatenate(around)
    inside = shapely.covers([paths[number] for number in labelled], hulls)
    cuts = drawing.lines.on(expected.layers["notch"], expected.layers["inner"])
    cut_tree = shapely.STRtree(cuts.take(np.flatnonzero(cuts.counts > 1)).runs())
    crossed = set(cut_tree.query(hulls, predicate="intersects")[0].tolist())
    for k, number in enumerate(labelled):
        who = f"{owners[number].id} ({owners[number].cap})"
        if not inside[k]:
            say(_CODE, f"{who} has a label that leaves it")
        if k in crossed:
            say(_CODE, f"{who} has a label across a notch or cut-out")


def _fault(points: Array, starts: Ints, piece: ExpectedPiece) -> str | None:
    """What is wrong with the strokes of one piece's label: their points, and where each starts."""
    if not len(points):
        return f"has no label {piece.label!r}"
    wanted_starts, wanted = _laid_out(piece.label)
    if not np.array_equal(starts, wanted_starts):
        return f"has a label of other strokes than {piece.label!r}"
    read = points @ np.array([1.0, 1j])
    # the turn and scale nearest in the mean square
    about, level = read - read.mean(), wanted - wanted.mean()
    turn = complex(np.vdot(level, about) / np.vdot(level, level))
    off = float(np.abs(about - turn * level).max())
    if off > READ_BACK_MM:
        return f"has a label whose strokes are {off:.2f} mm off {piece.label!r}"
    return _misplaced(complex(read.mean() - turn * wanted.mean()), turn, piece)


def written_fault(text: ReadText, path: Polygon) -> str | None:
    """What is wrong with the look of a label that is written as text in a piece, whose outline is
    given. What its letters look like is left to whoever shows it."""
    fault = _unreadable(text.angle_deg, text.height_mm)
    if fault:
        return fault
    along = np.exp(1j * math.radians(text.angle_deg))
    reach = along * text.height_mm * len(text.text) * _NARROW / 2.0
    ends = [complex(*text.place) + sign * reach for sign in (-1.0, 1.0)]
    if not path.covers(shapely.LineString([(end.real, end.imag) for end in ends])):
        return f"has a label {text.height_mm:.1f} mm high, which is too long for it"
    return None


def _unreadable(angle_deg: float, height_mm: float) -> str | None:
    if 90.0 + _LEAN_DEG + _TURN_DEG < angle_deg % 360.0 < 270.0 + _LEAN_DEG - _TURN_DEG:
        return f"has its label upside down, turned by {angle_deg:.1f} degrees"
    if height_mm < _LEAST_MM:
        return f"has a label {height_mm:.4f} mm high, too small to be told from others"
    return None


def _misplaced(middle: complex, turn: complex, piece: ExpectedPiece) -> str | None:
    """What is wrong with the place, direction and height of a label that is whole."""
    angle = math.degrees(math.atan2(turn.imag, turn.real)) % 360.0
    fault = _unreadable(angle, abs(turn))
    if fault:
        return fault
    known = piece.lettering
    if known is None:
        return None
    away = abs(middle - complex(*known.at))
    if away > READ_BACK_MM or abs(abs(turn) - known.height_mm) > READ_BACK_MM:
        return f"has its label {away:.2f} mm off its place, {abs(turn):.2f} mm high"
    if angle_between_deg(angle, known.turn_deg) > _TURN_DEG:
        return f"has its label turned by {angle:.2f} degrees, not {known.turn_deg:.2f}"
    return None


@cache
def _glyphs() -> dict[str, tuple[float, Flat, Ints]]:
    """Width, points and numbers of points of the strokes of every letter, capitals one unit high,
    from the left end of the line through the middle of a capital."""
    font = HersheyFonts()
    font.load_default_font("futural")
    top, base = font.render_options["cap_line"], font.render_options["base_line"]
    high, middle = base - top, (base + top) / 2.0
    found = {}
    for letter, glyph in font.all_glyphs.items():
        strokes = [stroke for stroke in glyph.strokes if len(stroke) > 1]
        points = [complex(x - glyph.left_offset, middle - y) for line in strokes for x, y in line]
        counts = np.array([len(stroke) for stroke in strokes], dtype=np.int64)
        flat = np.array(points, dtype=np.complex128) / high
        found[letter] = glyph.char_width / high, flat, counts
    return found


def _laid_out(text: str) -> tuple[Ints, Flat]:
    """A label round its middle, capitals one unit high: where each stroke starts among its
    points, with their number at the end, and the points."""
    glyphs = _glyphs()
    widths, flats, counts = zip(*(glyphs.get(one, glyphs["_"]) for one in text), strict=True)
    ends = np.cumsum([0.0, *widths])
    pens = np.repeat(ends[:-1] - ends[-1] / 2.0, [len(flat) for flat in flats])
    return np.cumsum(np.concatenate(([0], *counts))), np.concatenate(flats) + pens
