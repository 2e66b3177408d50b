"""Reading somebody's DXF drawing, through ezdxf: model space, seen from above, in millimetres; or,
where blocks carry the text of pieces, those blocks as a pattern for exchange.
"""

from __future__ import annotations

import io
import re
import struct
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from ezdxf import recover
from ezdxf.lldxf.const import DXFError
from ezdxf.lldxf.tagger import binary_tags_loader
from ezdxf.lldxf.types import DXFBinaryTag

from cutfiles.errors import Finding
from cutfiles.geometry.affine import Affine
from cutfiles.geometry.vector import Point
from cutfiles.pieces.drawn import Drawing, DrawnPiece, DrawnPoint, Gathered, Notes, Pattern
from cutfiles.pieces.dxf_shapes import entity_shape, lies_flat
from cutfiles.pieces.exchange import is_piece, pattern_unit_mm, said_in
from cutfiles.units import MM_PER_DXF_UNIT, MM_PER_UNIT, counted

_DEEPEST: Final = 32
_FAULTS: Final = (
    DXFError, ValueError, LookupError, TypeError, ArithmeticError, AttributeError, AssertionError,
)  # fmt: skip
_TEXTS: Final = ("TEXT", "MTEXT", "ATTDEF")
_DRAWN: Final = frozenset({
    "LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "LWPOLYLINE", "POLYLINE", "INSERT", "POINT",
})  # fmt: skip
_LOST: Final = re.compile(r"(?:Deleted|Removed)(?: entity)? ([A-Z0-9_]+)\(#")
"""How ezdxf words that it has left a part out."""

_BINARY: Final = b" Binary DXF\r\n\x1a\x00"
"""How the 22 bytes that begin a binary file end (the format's reference)."""


def read_dxf_drawing(content: bytes, *, unit: str | None, where: str) -> Drawing:
    """Every line of a DXF file, as text or binary.

    Parameters
    ----------
    content
        The file's bytes.
    unit
        What a drawing unit is where the file does not say (a key of `MM_PER_UNIT`).
    where
        Names the file in findings.
    """
    notes = Notes(where)
    try:
        file = _opened(content)
    except Exception as error:
        # what a torn file makes the library stumble over is not its caller's to foresee
        why = f"{str(error)[:80]!r}" if isinstance(error, DXFError | ValueError) else "it is torn"
        text = f"is no DXF file that can be read: {why}; save it again"
        notes.say("unreadable", "error", text)
        return Drawing((), tuple(notes.findings))
    _tell_mended(file.mended, notes)
    one = (
        pattern_unit_mm(file.style, file.unit_mm, unit, notes)
        if file.pieces
        else _unit_mm(file.unit_mm, unit, notes)
    )
    if one is None:
        return Drawing((), tuple(notes.findings))
    reader = _Reader(file.document, notes)
    to_mm = Affine.scale(one, one)
    if file.pieces:
        read = tuple(reader.piece(name, words, to_mm) for name, words in file.pieces.items())
        return Drawing((), reader.told(), (), Pattern(file.style, read))
    reader.entities(file.document.modelspace(), _Place(to_mm))
    if file.on_paper:
        reader.gathered.unread["parts on a sheet (paper space)"] += file.on_paper
    findings = reader.told()
    return Drawing(tuple(reader.gathered.lines), findings, tuple(reader.gathered.points))


@dataclass(frozen=True, slots=True)
class _File:
    """An open file: the millimetres in its unit (None where it names none), what ezdxf mended, the
    text of the style and of the blocks that are pieces of a pattern, and how many parts lie on
    sheets beside model space."""

    document: Any
    mended: tuple[str, ...]
    unit_mm: float | None
    style: Mapping[str, str]
    pieces: Mapping[str, Mapping[str, str]]
    on_paper: int


def _opened(content: bytes) -> _File:
    document, mended = _document(content)
    blocks = (block for block in document.blocks if not block.is_any_layout)
    said = {block.name: said_in(_texts(block)) for block in blocks}
    sheets = (layout for layout in document.layouts if not layout.is_modelspace)
    return _File(
        document,
        tuple(mended),
        MM_PER_DXF_UNIT.get(int(document.header.get("$INSUNITS", 0))),
        said_in(_texts(document.modelspace())),
        {name: words for name, words in said.items() if is_piece(words)},
        sum(entity.dxftype() != "VIEWPORT" for sheet in sheets for entity in sheet),
    )


def _unit_mm(header_mm: float | None, unit: str | None, notes: Notes) -> float | None:
    """Millimetres in a drawing unit, or None with a finding."""
    if header_mm is not None:
        if unit is not None:
            notes.say(
                "unit-unused", "note", f"the file says its unit itself: unit = {unit!r} unused"
            )
        return header_mm
    if unit is None:
        text = (
            "its header names no unit ($INSUNITS): give unit in the job, such as unit = \"mm\", "
            "or set the unit in the drawing"
        )  # fmt: skip
        notes.say("unknown-unit", "error", text)
        return None
    return MM_PER_UNIT[unit]


def _document(content: bytes) -> tuple[Any, list[str]]:
    """The document, and what ezdxf mended in it."""
    if content[:22].endswith(_BINARY):
        content = _as_text(content)
    if content.split()[-1:] != [b"EOF"]:
        raise ValueError("it breaks off before its end (no EOF)")
    document, auditor = recover.read(io.BytesIO(content))
    if auditor.errors:
        raise ValueError(str(auditor.errors[0].message))
    return document, [str(fix.message) for fix in auditor.fixes]


def _tell_mended(mended: Sequence[str], notes: Notes) -> None:
    """What was mended is told; a part that was left out may have been to cut."""
    lost = [text for text in mended if (m := _LOST.match(text)) and m[1] in _DRAWN]
    rest = [text for text in mended if text not in lost]
    if lost:
        text = f"{_first_of(lost)}: mend it in the drawing, or delete it"
        notes.say("unreadable", "error", text)
    if rest:
        notes.say("mended-file", "note", f"{_first_of(rest)}: see that nothing is missing")


def _first_of(texts: Sequence[str]) -> str:
    more = f" and {len(texts) - 1} more" if len(texts) > 1 else ""
    return f"is no sound DXF: {texts[0][:100]!r}{more}"


def _as_text(content: bytes) -> bytes:
    """A binary DXF as one in ASCII, so that both are mended and checked in the same way."""
    try:
        tags = list(binary_tags_loader(content))
    except struct.error as error:
        raise ValueError("it breaks off before its end") from error
    return "".join(f"{tag.code}\n{_tag_text(tag)}\n" for tag in tags).encode("ascii")


def _tag_text(tag: Any) -> str:
    """A value as it stands in a text file: numbers in full, other letters by their number."""
    if isinstance(tag, DXFBinaryTag):
        return str(tag.tostring())
    return "".join(
        c if " " <= c <= "~" else f"\\U+{ord(c):04X}" if "\xa0" <= c <= "\ud7ff" else "?"
        for c in str(tag.value)
    )


def _texts(entities: Iterable[Any]) -> Iterator[str]:
    """The text lines among entities."""
    for entity in entities:
        if entity.dxftype() == "MTEXT":
            yield from entity.plain_text(split=True)
        elif entity.dxftype() in _TEXTS:
            yield str(entity.dxf.get("text", ""))


@dataclass(frozen=True, slots=True)
class _Place:
    """The map to mm, and the layers and blocks around."""

    to_mm: Affine
    names: tuple[str, ...] = ()
    within: tuple[str, ...] = ()


class _Reader:
    """Walks the entities, block inserts included, and collects their lines."""

    def __init__(self, document: Any, notes: Notes) -> None:
        self.gathered = Gathered(notes)
        self._document = document
        self._tilted = 0
        self._unseen = {
            layer.dxf.name.lower()
            for layer in document.layers
            if layer.is_off() or layer.is_frozen()
        }

    def entities(self, entities: Iterable[Any], place: _Place) -> None:
        for entity in entities:
            if self.gathered.is_full():
                return
            try:
                self._entity(entity, place)
            except _FAULTS as error:
                called = f"{entity.dxftype()} #{entity.dxf.handle}"
                text = f"{called}: cannot be read: {error}; mend it in the drawing"
                self.gathered.notes.say("unreadable", "error", text)

    def piece(self, name: str, said: Mapping[str, str], to_mm: Affine) -> DrawnPiece:
        """One block of a pattern, where it is first put; its own layers count, and none around."""
        insert = next(
            (i for i in self._document.modelspace().query("INSERT") if i.dxf.name == name), None
        )
        here = to_mm if insert is None else to_mm.after(_put(insert))
        lines, points = self.gathered.lines, self.gathered.points
        before = len(lines), len(points)
        block = self._document.blocks.get(name)
        shapes = (one for one in block if one.dxftype() not in _TEXTS)
        self.entities(shapes, _Place(here, (), (name,)))
        return DrawnPiece(name, said, tuple(lines[before[0] :]), tuple(points[before[1] :]))

    def told(self) -> tuple[Finding, ...]:
        """All findings, with what was not read."""
        if self._tilted:
            parts = counted(self._tilted, "part")
            text = f"{parts} not lying flat, read as seen from above: check them"
            self.gathered.notes.say("not-flat", "warning", text)
        return self.gathered.told()

    def _entity(self, entity: Any, place: _Place) -> None:
        layer = str(entity.dxf.get("layer", "0"))
        if layer.lower() in self._unseen or entity.dxf.get("invisible", 0):
            self.gathered.hidden += 1
            return
        # what lies on layer 0 of a block is on the layer that the block is put on
        names = place.names if layer == "0" and place.names else (layer, *place.names)
        if entity.dxftype() == "INSERT":
            self._insert(entity, _Place(place.to_mm, names, place.within))
            return
        if entity.dxftype() == "POINT":
            at = entity.dxf.location
            self.gathered.points.append(DrawnPoint(place.to_mm.point(Point(at.x, at.y)), names))
            return
        found = entity_shape(entity, place.to_mm)
        if found is None:
            self.gathered.unread[entity.dxftype()] += 1
            return
        if not lies_flat(entity):
            self._tilted += 1
        self.gathered.add(found, place.to_mm, names)

    def _insert(self, insert: Any, place: _Place) -> None:
        block = self._document.blocks.get(insert.dxf.name)
        if block is None:
            raise ValueError(f"there is no block {insert.dxf.name!r}")
        if block.name in place.within or len(place.within) > _DEEPEST:
            raise ValueError(f"the block {block.name!r} holds itself")
        for single in insert.multi_insert() if insert.mcount > 1 else (insert,):
            if self.gathered.is_full():
                return
            inside = _Place(
                place.to_mm.after(_put(single)),
                (block.name, *place.names),
                (*place.within, block.name),
            )
            self.entities(block, inside)


def _put(insert: Any) -> Affine:
    """Where a block goes."""
    matrix = insert.matrix44()
    origin, x, y = (matrix.transform(at) for at in ((0, 0, 0), (1, 0, 0), (0, 1, 0)))
    return Affine(
        x.x - origin.x, x.y - origin.y, y.x - origin.x, y.y - origin.y, origin.x, origin.y
    )
