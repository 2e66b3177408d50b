"""The verdict on drawn labels: each in its piece, whole, legible, and clear of what is cut.

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
from cutfiles.verdict.drawing import ReadDrawing, ReadLine
from cutfiles.verdict.expected import ExpectedLay, ExpectedPiece, angle_between_deg

Say = Callable[[str, str], None]
Flat = npt.NDArray[np.complex128]

_CODE = "label"
_TURN_DEG = 0.05
"""How far a label's direction may be off: its last stroke by 0.1 mm in 100."""


def judge_letters(
    drawing: ReadDrawing,
    expected: ExpectedLay,
    paths: Sequence[Polygon],
    homes: Sequence[int | None],
    owners: Mapping[int, ExpectedPiece],
    *,
    say: Say,
) -> None:
    """Judge the lines on the layer of labels.

    ``paths`` are the outlines as read, ``homes`` says in which of them each line begins, and
    ``owners`` which piece of the lay each of them is.
    """
    lines = drawing.on(expected.layers["label"])
    there: dict[int, list[ReadLine]] = {}
    for line, home in zip(lines, homes, strict=True):
        if home is None:
            x, y = line.points[0]
            say(_CODE, f"a stroke of a label at ({x:.1f}, {y:.1f}) mm is in no piece")
        else:
            there.setdefault(home, []).append(line)
    cuts = [
        line.points
        for role in ("notch", "inner")
        for line in drawing.on(expected.layers[role])
        if len(line.points) > 1
    ]
    cut_tree = shapely.STRtree([shapely.LineString(points) for points in cuts])
    for number, piece in owners.items():
        who = f"{piece.id} ({piece.cap})"
        strokes = there.get(number, [])
        fault = _fault(strokes, piece)
        if fault:
            say(_CODE, f"{who} {fault}")
        if not strokes:
            continue
        hull = shapely.MultiPoint(np.vstack([line.points for line in strokes])).convex_hull
        if not paths[number].covers(hull):
            say(_CODE, f"{who} has a label that leaves it")
        if len(cut_tree.query(hull, predicate="intersects")):
            say(_CODE, f"{who} has a label across a notch or cut-out")


def _fault(lines: Sequence[ReadLine], piece: ExpectedPiece) -> str | None:
    """What is wrong with the strokes of one piece's label."""
    starts, wanted = _laid_out(piece.label)
    if not lines:
        return f"has no label {piece.label!r}"
    counts = np.cumsum([0, *(len(line.points) for line in lines)])
    if not np.array_equal(counts, starts):
        return f"has a label of other strokes than {piece.label!r}"
    read = np.vstack([line.points for line in lines]) @ np.array([1.0, 1j])
    # the turn and scale nearest in the mean square
    about, level = read - read.mean(), wanted - wanted.mean()
    turn = complex(np.vdot(level, about) / np.vdot(level, level))
    off = float(np.abs(about - turn * level).max())
    if off > READ_BACK_MM:
        return f"has a label whose strokes are {off:.2f} mm off {piece.label!r}"
    return _misplaced(complex(read.mean() - turn * wanted.mean()), turn, piece)


def _misplaced(middle: complex, turn: complex, piece: ExpectedPiece) -> str | None:
    """What is wrong with the place, direction and height of a label that is whole."""
    angle = math.degrees(math.atan2(turn.imag, turn.real)) % 360.0
    if 90.0 + _TURN_DEG < angle < 270.0 + _TURN_DEG:
        return f"has its label upside down, turned by {angle:.1f} degrees"
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
def _glyphs() -> dict[str, tuple[float, list[Flat]]]:
    """Width and strokes of every letter, capitals one unit high, from the left end of the line
    through the middle of a capital."""
    font = HersheyFonts()
    font.load_default_font("futural")
    top, base = font.render_options["cap_line"], font.render_options["base_line"]
    high, middle = base - top, (base + top) / 2.0
    return {
        letter: (
            glyph.char_width / high,
            [
                np.array([complex(x - glyph.left_offset, middle - y) / high for x, y in stroke])
                for stroke in glyph.strokes
                if len(stroke) > 1
            ],
        )
        for letter, glyph in font.all_glyphs.items()
    }


@cache
def _laid_out(text: str) -> tuple[npt.NDArray[np.int64], Flat]:
    """A label round its middle, capitals one unit high: where each stroke starts among its
    points, and the points."""
    glyphs = _glyphs()
    letters = [glyphs.get(letter, glyphs["_"]) for letter in text]
    ends = np.cumsum([0.0, *(width for width, _ in letters)])
    strokes = [
        stroke + end - ends[-1] / 2.0
        for end, (_, drawn) in zip(ends[:-1], letters, strict=True)
        for stroke in drawn
    ]
    starts = np.cumsum([0, *map(len, strokes)])
    return starts, np.concatenate(strokes) if strokes else np.empty(0, dtype=np.complex128)
