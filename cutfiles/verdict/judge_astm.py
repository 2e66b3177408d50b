"""The verdict on a pattern for exchange: every piece of the draft there as drafted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from cutfiles.errors import Finding
from cutfiles.geometry.path import Path
from cutfiles.geometry.vector import Point
from cutfiles.pieces.piece import CutPart, Draft
from cutfiles.tolerances import EXCHANGE_MM, READ_BACK_MM
from cutfiles.verdict.drawing import Array
from cutfiles.verdict.read_astm import ReadBlock, ReadPattern

_BOUNDARY, _NOTCHES, _GRAIN, _SEW = "1", "4", "7", "14"

_EXACT_MM = 1e-4
"""How finely a drafted curve is flattened to be compared."""


def judge_astm(read: ReadPattern, draft: Draft, *, size: str) -> tuple[Finding, ...]:
    """Every finding on an exchange file of one draft; a sound file gives none."""
    if read.findings:
        return read.findings
    faults = list(_whole(read, draft))
    by_name = {block.said.get("Piece Name"): block for block in read.blocks}
    for part in draft.parts:
        block = by_name.get(part.piece.name)
        if block is None:
            faults.append(("missing", f"{part.piece.name} is in no block"))
        else:
            faults.extend(
                (code, f"{part.piece.name}: {text}") for code, text in _piece(block, part, size)
            )
    return tuple(Finding(code, "error", f"{read.name}: {text}") for code, text in faults)


def _whole(read: ReadPattern, draft: Draft) -> Iterator[tuple[str, str]]:
    if len(read.blocks) != len(draft.parts):
        yield "missing", f"has {len(read.blocks)} blocks, not {len(draft.parts)}"
    if sorted(read.inserts) != sorted(block.name for block in read.blocks):
        yield "insert", f"inserts {', '.join(read.inserts) or 'nothing'}, not every block once"
    if read.said.get("Units") != "METRIC":
        yield "no-unit", f"says units {read.said.get('Units')!r}, not METRIC"


def _piece(block: ReadBlock, part: CutPart, size: str) -> Iterator[tuple[str, str]]:
    piece = part.piece
    for word, wanted in (("Size", size), ("Quantity", f"{part.count},0")):
        if block.said.get(word) != wanted:
            yield "label", f"says {word} {block.said.get(word)!r}, not {wanted!r}"
    off = _off_mm(block.lines.get(_BOUNDARY, []), [piece.cut])
    if off > EXCHANGE_MM:
        yield "wrong-outline", f"its boundary is {off:.3f} mm off"
    off = _off_mm(
        block.lines.get(_SEW, []), [edge.stitch for edge in piece.edges if edge.allowance_mm > 0]
    )
    if off > EXCHANGE_MM:
        yield "stitch", f"its sew lines are {off:.3f} mm off"
    if not _same_points(block.points.get(_NOTCHES, []), [notch.at for notch in piece.notches]):
        yield "notch", "its notches are not where they were drafted"
    grains = block.lines.get(_GRAIN, [])
    if len(grains) != 1 or not _same_points(list(grains[0]), [piece.grain.start, piece.grain.end]):
        yield "grain", "its grain line is not as drafted"


def _off_mm(lines: Sequence[Array], paths: Sequence[Path]) -> float:
    """How far lines are off their paths, both in the same order; infinity where their number
    or their ends do not agree."""
    if len(lines) != len(paths):
        return float("inf")
    off = 0.0
    for line, path in zip(lines, paths, strict=True):
        if not _same_points([line[0], line[-1]], [path.start, path.end]):
            return float("inf")
        exact = shapely.LineString(path.flattened(_EXACT_MM))
        off = max(off, float(shapely.LineString(line).hausdorff_distance(exact)))
    return off


def _same_points(read: Sequence[Array], drafted: Sequence[Point]) -> bool:
    """Whether points are the same, in the same order."""
    return len(read) == len(drafted) and all(
        float(np.hypot(x - point.x, y - point.y)) <= READ_BACK_MM
        for (x, y), point in zip(read, drafted, strict=True)
    )
