"""Writing pattern pieces for exchange, after ASTM D6673-10 (withdrawn in 2019).

The standard asks for DXF release 13 syntax: one BLOCK a piece and size, an INSERT for each,
and layers by number. What is written here are release 12 entities (POLYLINE, LINE, POINT, TEXT;
$ACADVER AC1009), which readers of release 13 take too. It carries pieces, no marker, no kerf and
no instructions to a cutter: it is no cutting file.

Uncertain, for want of a bought copy of the standard: the wording of the text lines; that METRIC
means millimetres; that a piece's quantity is "left,right"; how a notch's depth and direction are
to be coded (here: a POINT on the boundary, the depth in the annotation). Creation date and time
are left out, so that the same pieces give the same bytes, and with them the grade rule table:
every size is drawn in full.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from cutfiles.geometry.path import Path
from cutfiles.geometry.vector import Point
from cutfiles.pieces.piece import CutPart, Draft, Piece
from cutfiles.tolerances import FLATTEN_MM, WRITE_DECIMALS

BOUNDARY: Final = "1"
TURN_POINTS: Final = "2"
CURVE_POINTS: Final = "3"
NOTCHES: Final = "4"
GRAIN: Final = "7"
SEW_LINES: Final = "14"
ANNOTATION: Final = "15"
LAYERS: Final = (BOUNDARY, TURN_POINTS, CURVE_POINTS, NOTCHES, GRAIN, SEW_LINES, ANNOTATION)
"""Layer numbers of the standard (read on secondary pages)."""

_TURN_DEG: Final = 1.0
"""A boundary that turns by more than this at a joint has a turn point there."""

_TEXT_MM: Final = 5.0
_APART_MM: Final = 20.0
_LONGEST_BLOCK_NAME: Final = 31
"""Of release 12."""

Tag = tuple[int, str | int | float]


@dataclass(frozen=True, slots=True)
class _Words:
    """What the text of a whole style says."""

    style: str
    size: str
    edge: str


def astm_dxf_bytes(draft: Draft, *, style: str, size: str, edge: str) -> bytes:
    """The pieces of one draft as a DXF file in ASCII; the same pieces give the same bytes.

    Coordinates are millimetres, each piece in its own frame inside its block, x along the grain.
    """
    words = _Words(style, size, edge)
    tags = [
        *_header(),
        *_tables(),
        (0, "SECTION"),
        (2, "BLOCKS"),
        *(tag for part in draft.parts for tag in _block(part, words)),
        (0, "ENDSEC"),
        (0, "SECTION"),
        (2, "ENTITIES"),
        *_style_text(words),
        *_inserts(draft.parts, words),
        (0, "ENDSEC"),
        (0, "EOF"),
    ]
    lines = "".join(f"{code:>3}\n{_value(value)}\n" for code, value in tags)
    return lines.encode("ascii", errors="replace")


def _block_name(piece: str, size: str) -> str:
    """Capitals, digits and dashes, as release 12 has them."""
    name = re.sub(r"[^A-Z0-9]+", "-", f"{piece} {size}".upper())
    return name[:_LONGEST_BLOCK_NAME]


def _header() -> Iterator[Tag]:
    yield from ((0, "SECTION"), (2, "HEADER"))
    yield from ((9, "$ACADVER"), (1, "AC1009"))
    yield from ((9, "$INSBASE"), (10, 0.0), (20, 0.0), (30, 0.0))
    yield (0, "ENDSEC")


def _tables() -> Iterator[Tag]:
    yield from ((0, "SECTION"), (2, "TABLES"))
    yield from ((0, "TABLE"), (2, "LTYPE"), (70, 1))
    yield from ((0, "LTYPE"), (2, "CONTINUOUS"), (70, 0), (3, "solid"), (72, 65), (73, 0))
    yield from ((40, 0.0), (0, "ENDTAB"))
    yield from ((0, "TABLE"), (2, "LAYER"), (70, len(LAYERS) + 1))
    for layer in ("0", *LAYERS):
        yield from ((0, "LAYER"), (2, layer), (70, 0), (62, 7), (6, "CONTINUOUS"))
    yield from ((0, "ENDTAB"), (0, "ENDSEC"))


def _block(part: CutPart, said: _Words) -> Iterator[Tag]:
    piece = part.piece
    name = _block_name(piece.name, said.size)
    yield from ((0, "BLOCK"), (8, BOUNDARY), (2, name), (70, 0))
    yield from (*_at(Point(0.0, 0.0)), (3, name))
    boundary = _flattened(piece.cut)[:-1]
    yield from _polyline(BOUNDARY, boundary, closed=True)
    turns = _turns(piece.cut)
    for point in boundary:
        is_turn = any(point.distance(turn) < FLATTEN_MM for turn in turns)
        yield from _point(TURN_POINTS if is_turn else CURVE_POINTS, point)
    for notch in piece.notches:
        yield from _point(NOTCHES, notch.at)
    yield from ((0, "LINE"), (8, GRAIN), *_at(piece.grain.start), *_at(piece.grain.end, 1))
    for edge in piece.edges:
        if edge.allowance_mm > 0.0:
            yield from _polyline(SEW_LINES, _flattened(edge.stitch), closed=False)
    words = (
        f"Piece Name: {piece.name}",
        f"Size: {said.size}",
        f"Category: {said.edge}",
        f"Quantity: {part.count},0",
        f"Annotation: {_annotation(piece)}",
    )
    spot = piece.label.centre
    for number, text in enumerate(words):
        yield from _text(BOUNDARY, text, Point(spot.x, spot.y - number * 1.5 * _TEXT_MM))
    label = f"{said.style} {said.size} / {piece.name} / cut {part.count}"
    yield from _text(ANNOTATION, label, Point(spot.x, spot.y + 1.5 * _TEXT_MM))
    yield from ((0, "ENDBLK"), (8, BOUNDARY))


def _annotation(piece: Piece) -> str:
    depths = sorted({notch.depth_mm for notch in piece.notches})
    if not depths:
        return "no notches"
    return "notches cut square to the sew line, depth mm " + ", ".join(f"{d:g}" for d in depths)


def _style_text(said: _Words) -> Iterator[Tag]:
    lines = (
        "ANSI/AAMA",
        f"Style Name: {said.style}",
        "Author: cutfiles",
        f"Sample Size: {said.size}",
        "Units: METRIC",
    )
    for number, line in enumerate(lines):
        yield from _text(BOUNDARY, line, Point(0.0, -(number + 1) * 1.5 * _TEXT_MM))


def _inserts(parts: Sequence[CutPart], said: _Words) -> Iterator[Tag]:
    """Beside each other, so that a viewer shows them apart."""
    left = 0.0
    for part in parts:
        points = _flattened(part.piece.cut)
        low, high = min(p.x for p in points), max(p.x for p in points)
        name = _block_name(part.piece.name, said.size)
        place = Point(left - low, -min(p.y for p in points))
        yield from ((0, "INSERT"), (8, BOUNDARY), (2, name), *_at(place))
        left += high - low + _APART_MM


def _turns(path: Path) -> tuple[Point, ...]:
    """The joints where a closed path changes its direction."""
    turns = []
    before = path.end_tangent
    for segment in path.segments:
        after = segment.tangent(0.0)
        if abs(math.degrees(math.atan2(before.cross(after), before.dot(after)))) > _TURN_DEG:
            turns.append(segment.start)
        before = segment.tangent(1.0)
    return tuple(turns)


def _flattened(path: Path) -> list[Point]:
    """With chords so near that the rounding to decimals fits into the tolerance too."""
    return [Point(float(x), float(y)) for x, y in path.flattened(FLATTEN_MM / 2.0)]


def _polyline(layer: str, points: Iterable[Point], *, closed: bool) -> Iterator[Tag]:
    yield from ((0, "POLYLINE"), (8, layer), (66, 1), (70, int(closed)), *_at(Point(0.0, 0.0)))
    for point in points:
        yield from ((0, "VERTEX"), (8, layer), *_at(point))
    yield from ((0, "SEQEND"), (8, layer))


def _point(layer: str, point: Point) -> Iterator[Tag]:
    yield from ((0, "POINT"), (8, layer), *_at(point))


def _text(layer: str, text: str, at: Point) -> Iterator[Tag]:
    yield from ((0, "TEXT"), (8, layer), *_at(at), (40, _TEXT_MM), (1, text))


def _at(point: Point, number: int = 0) -> tuple[Tag, Tag, Tag]:
    """The group codes of an entity's first place, or of its second."""
    return (10 + number, point.x), (20 + number, point.y), (30 + number, 0.0)


def _value(value: str | int | float) -> str:
    if isinstance(value, float):
        return f"{round(value, WRITE_DECIMALS) + 0.0:.{WRITE_DECIMALS}f}"
    return str(value)
