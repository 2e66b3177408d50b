"""Patterns for exchange after ASTM D6673-10: what their text says, and what is cut by it.

Layers are read on secondary pages; the wording of the text lines is from memory, and read without
regard to capitals. That METRIC means millimetres is uncertain, and a note says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from cutfiles.errors import did_you_mean
from cutfiles.geometry.affine import Affine
from cutfiles.job.job import MOST_PIECES, PANEL_ROLES, PanelLine, PanelRole, plain_name
from cutfiles.pieces.drawn import DrawnLine, DrawnPiece, DrawnPoint, Notes, Pattern
from cutfiles.units import MM_PER_UNIT

_LAYERS: Final[Mapping[PanelRole, tuple[str, ...]]] = {
    "outline": ("1",), "inner": ("11",), "stitch": ("8", "14"), "grain": ("7",),
    "notch": ("4", "80", "81", "82", "83"), "fold": ("6",), "drill": ("13",),
}  # fmt: skip
"""Layers of the standard by role: 8 internal lines, 14 sew lines; 80 to 83 are notches of other
shapes, which become slits."""

_WITHIN_BOUNDARY: Final = frozenset({"2", "3"})
"""Turn and curve points: the boundary's own vertices, marked once more."""

_UNITS: Final[Mapping[str, str]] = {
    "metric": "mm", "english": "in", "mm": "mm", "cm": "cm", "in": "in",
    "millimeters": "mm", "millimetres": "mm", "centimeters": "cm", "centimetres": "cm",
    "inch": "in", "inches": "in",
}  # fmt: skip

_MIRROR: Final = Affine.scale(1.0, -1.0)


@dataclass(frozen=True, slots=True)
class PieceOrder:
    """Lines and points to make panels of, and how many are wanted as drawn and mirrored."""

    name: str
    as_drawn: int
    mirrored: int
    grain_deg: float | None
    lines: tuple[DrawnLine, ...]
    points: tuple[DrawnPoint, ...]

    def mirror_image(self) -> PieceOrder:
        """The same in the mirror: turned over along the drawing's x axis."""
        lines = tuple(DrawnLine(_MIRROR.path(one.path), one.names) for one in self.lines)
        points = tuple(DrawnPoint(_MIRROR.point(one.place), one.names) for one in self.points)
        grain_deg = None if self.grain_deg is None else -self.grain_deg
        return replace(self, lines=lines, points=points, grain_deg=grain_deg)


def said_in(texts: Iterable[str]) -> dict[str, str]:
    """Text lines such as ``Piece Name: crown``, by what stands before the colon, in small letters;
    the first of each counts."""
    said: dict[str, str] = {}
    for text in texts:
        head, colon, rest = text.partition(":")
        if colon and rest.strip():
            said.setdefault(" ".join(head.lower().split()), rest.strip())
    return said


def is_piece(said: Mapping[str, str]) -> bool:
    """Whether text is that of a piece."""
    return "piece name" in said


def pattern_unit_mm(
    said: Mapping[str, str], header_mm: float | None, unit: str | None, notes: Notes
) -> float | None:
    """Millimetres in a drawing unit of a pattern, or None with a finding.

    The header's unit counts, then the job's, then that of the text. Where header and text differ
    the job must say which is right.
    """
    word = said.get("units", "")
    named = _UNITS.get(word.lower())
    job_mm = MM_PER_UNIT[unit] if unit else None
    if header_mm is not None and named is not None and not _agrees(word, named, header_mm):
        found = f"its text says Units: {word}, and its header {header_mm:g} mm a unit ($INSUNITS)"
        if job_mm is None:
            text = f'{found}: measure a piece, and give unit in the job, such as unit = "in"'
            notes.say("unit-conflict", "error", text)
        else:
            notes.say("unit-conflict", "warning", f"{found}: unit = {unit!r} of the job is taken")
        return job_mm
    if header_mm is not None:
        if unit is not None:
            notes.say(
                "unit-unused", "note", f"the file says its unit itself: unit = {unit!r} unused"
            )
        return header_mm
    if job_mm is not None:
        if named is not None and not _agrees(word, named, job_mm):
            text = f"its text says Units: {word}: unit = {unit!r} of the job is taken"
            notes.say("unit-conflict", "warning", text)
        return job_mm
    if named is None:
        text = (
            f"its text says Units: {word!r}" if word else "neither its text (Units) nor its header "
            "($INSUNITS) names a unit"
        )  # fmt: skip
        notes.say("unknown-unit", "error", f'{text}: give unit in the job, such as unit = "mm"')
        return None
    text = f"its text says Units: {word}, read as {named}: measure a piece, or give unit in the job"
    notes.say("unit-from-text", "note", text)
    return MM_PER_UNIT[named]


def _agrees(word: str, named: str, per_unit_mm: float) -> bool:
    """METRIC and ENGLISH name a system and leave its unit open."""
    metric = ("mm", "cm", "m")
    if word.lower() == "metric":
        return any(per_unit_mm == MM_PER_UNIT[one] for one in metric)
    if word.lower() == "english":
        return all(per_unit_mm != MM_PER_UNIT[one] for one in metric)
    return per_unit_mm == MM_PER_UNIT[named]


def layers_of_roles(line: PanelLine) -> dict[PanelRole, tuple[str, ...]]:
    """Layers of each role: as the job names them, or by the standard."""
    return {role: line.names_of(role) or _LAYERS[role] for role in PANEL_ROLES}


def pattern_orders(pattern: Pattern, line: PanelLine, notes: Notes) -> list[PieceOrder]:
    """The pieces to cut of a pattern: those of one size, as many as text or job say; what is wrong
    is a finding."""
    pieces = _of_size(pattern, line, notes)
    orders = []
    told = []
    for piece in pieces:
        size = piece.said.get("size", "")
        called = piece.said["piece name"]
        count = _counts(piece, line, notes)
        if count is None:
            continue
        if not any(count):
            notes.say("no-quantity", "note", f"piece {called!r}: its quantity is 0: left out")
            continue
        words = [f"{count[0]} as drawn"] if count[0] else []
        words += [f"{count[1]} mirrored"] if count[1] else []
        words += [f"{key} {piece.said[key]!r}" for key in ("category", "annotation")
                  if key in piece.said]  # fmt: skip
        told.append(f"{called!r} ({', '.join(words)})")
        name = plain_name(f"{called} {size}".strip())
        lines, points = _without_vertices(piece, line)
        orders.append(PieceOrder(name, *count, line.grain_deg, lines, points))
    if told:
        style = pattern.said.get("style name")
        of_style = f"of style {style!r}" if style else "of no style by name"
        notes.say(
            "pattern-read", "note", f"is a pattern for exchange {of_style}: {'; '.join(told)}"
        )
    elif not notes.has_errors:
        notes.say("no-outline", "error", "the pattern orders no piece: give quantity in the job")
    return orders


def _of_size(pattern: Pattern, line: PanelLine, notes: Notes) -> list[DrawnPiece]:
    """The pieces of the wanted size, and those that name none."""
    sizes = list(dict.fromkeys(p.said["size"] for p in pattern.pieces if "size" in p.said))
    by_word = {size.lower(): size for size in sizes}
    listed = ", ".join(sizes)
    wanted = line.size
    if wanted is not None and wanted.strip().lower() not in by_word:
        hint = did_you_mean(wanted, sizes, f"found: {listed or 'none'}")
        notes.say("no-such-size", "error", f"size: no piece is of size {wanted!r}: {hint}")
        return []
    if wanted is None and len(sizes) > 1:
        sample = pattern.said.get("sample size", "")
        if sample.lower() not in by_word:
            text = f"its pieces are of sizes {listed}: give size in the job, such as size = "
            notes.say("size-unclear", "error", f'{text}"{sizes[0]}"')
            return []
        text = f"its pieces are of sizes {listed}: the sample size {sample} is taken; give size"
        notes.say("size-assumed", "note", text)
        wanted = sample
    size = by_word[wanted.strip().lower()] if wanted is not None else None
    return [p for p in pattern.pieces if size is None or p.said.get("size", size) == size]


def _counts(piece: DrawnPiece, line: PanelLine, notes: Notes) -> tuple[int, int] | None:
    """How many are wanted as drawn (left) and mirrored (right); None with a finding."""
    where = f"piece {piece.said['piece name']!r}"
    text = piece.said.get("quantity")
    parts = [part.strip() for part in (text or "").split(",")]
    if text is None or len(parts) > 2 or not all(p.isdecimal() and len(p) < 9 for p in parts):
        if line.quantity is not None:
            return line.quantity, 0
        said = "no Quantity" if text is None else f"Quantity: {text!r}, and not left,right"
        notes.say(
            "no-quantity", "error", f"{where}: its text says {said}: give quantity in the job"
        )
        return None
    said_left, said_right = int(parts[0]), int(parts[1]) if len(parts) == 2 else 0
    if line.quantity is not None:
        if said_left == said_right == 0:
            return line.quantity, 0
        # of each hand that the text asks for
        return (line.quantity if said_left else 0), (line.quantity if said_right else 0)
    sets = line.sets or 1
    left, right = sets * said_left, sets * said_right
    if max(left, right) > MOST_PIECES:
        text = f"{where}: {sets} sets of {max(said_left, said_right)} are {max(left, right)}"
        notes.say("bad-value", "error", f"{text}, and may be {MOST_PIECES}: order less at once")
        return None
    return left, right


def _without_vertices(
    piece: DrawnPiece, line: PanelLine
) -> tuple[tuple[DrawnLine, ...], tuple[DrawnPoint, ...]]:
    """Without turn and curve points, unless the job has a role for them."""
    wanted = {name for role in PANEL_ROLES for name in line.names_of(role)}
    skipped = _WITHIN_BOUNDARY - wanted
    points = tuple(one for one in piece.points if not one.names or one.names[0] not in skipped)
    return piece.lines, points
