"""The verdict on a read drawing of a ruler plan: blocks apart, on the cloth, complete and large
enough, and every one of them freed by the cuts, made in the order of their numbers.

The cuts are made again on the cloth as drawn: each must go straight through one part from end to
end. What is left must hold every block exactly, so none is cut and none is stuck.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from cutfiles.errors import Finding
from cutfiles.tolerances import READ_BACK_MM
from cutfiles.units import parse_length_mm
from cutfiles.verdict.drawing import Array, ReadDrawing, ReadLine, ReadText


@dataclass(frozen=True, slots=True)
class ExpectedPieceBlock:
    """The blocks of one piece: how many, and the least of a block, along and across, for each way
    that the piece may lie."""

    count: int
    ways_mm: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class ExpectedRuler:
    """What the drawing of a plan must show. ``groups`` names the drawing's groups by role;
    ``length_mm`` is the cloth that is taken, ``step_mm`` the most that a block is too large by."""

    width_mm: float
    length_mm: float
    step_mm: float
    layers: int
    stages: int
    steps: int
    pieces: Mapping[str, ExpectedPieceBlock]
    groups: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class _Box:
    """A rectangle as read."""

    x0: float
    y0: float
    x1: float
    y1: float

    def __str__(self) -> str:
        return f"({self.x0:.1f}, {self.y0:.1f}) mm"


def judge_ruler(drawing: ReadDrawing, expected: ExpectedRuler) -> tuple[Finding, ...]:
    """Every finding on one drawing; a sound one gives none."""
    wrong = [*_wrong(drawing, expected)]
    return (*drawing.findings, *(Finding(c, "error", f"{drawing.name}: {t}") for c, t in wrong))


def _wrong(drawing: ReadDrawing, expected: ExpectedRuler) -> Iterator[tuple[str, str]]:
    strange = set(drawing.lines.names) - set(expected.groups.values())
    if strange:
        yield "strange-layer", f"there are lines in groups of no role: {', '.join(sorted(strange))}"
    frames = [_box(line) for line in drawing.on(expected.groups["cloth"])]
    frame = frames[0] if len(frames) == 1 else None
    if frame is None or abs(frame.x0) + abs(frame.y0) > READ_BACK_MM:
        yield "cloth", "the cloth is not drawn once, as a rectangle from the origin"
        return
    if abs(frame.y1 - expected.width_mm) > READ_BACK_MM:
        yield (
            "cloth",
            f"the cloth is drawn {frame.y1:.2f} mm wide and is {expected.width_mm:.2f} mm",
        )
    boxes = []
    for line in drawing.on(expected.groups["block"]):
        box = _box(line)
        if box is None:
            x, y = line.points[0]
            yield "block", f"the block at ({x:.1f}, {y:.1f}) mm is no upright rectangle"
        else:
            boxes.append(box)
    yield from _places(boxes, frame, expected)
    yield from _pieces(drawing, boxes, expected)
    yield from _cut_free(drawing, boxes, frame, expected)


def _box(line: ReadLine) -> _Box | None:
    """A closed line as an upright rectangle, None where it is none."""
    if not line.is_closed or len(line.points) != 5:
        return None
    low, high = line.points.min(axis=0), line.points.max(axis=0)
    corners = {(float(x), float(y)) for x in (low[0], high[0]) for y in (low[1], high[1])}
    steps = np.abs(np.diff(line.points, axis=0))
    if {(float(x), float(y)) for x, y in line.points} != corners or (steps.min(axis=1) > 0.0).any():
        return None
    return _Box(float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def _places(
    boxes: Sequence[_Box], frame: _Box, expected: ExpectedRuler
) -> Iterator[tuple[str, str]]:
    far = min(frame.x1, expected.length_mm)
    for box in boxes:
        if min(box.x0, box.y0, far - box.x1, frame.y1 - box.y1) < -READ_BACK_MM:
            yield "outside", f"the block at {box} leaves the cloth that the plan takes"
    shapes = [shapely.box(b.x0, b.y0, b.x1, b.y1).buffer(-READ_BACK_MM) for b in boxes]
    tree = shapely.STRtree(shapes)
    for one, other in zip(*tree.query(shapes, predicate="intersects"), strict=True):
        if one < other:
            yield "overlap", f"the blocks at {boxes[one]} and {boxes[other]} overlap"


def _pieces(
    drawing: ReadDrawing, boxes: Sequence[_Box], expected: ExpectedRuler
) -> Iterator[tuple[str, str]]:
    """Every block says what it is for and how large it is, is large enough for that, and there are
    as many of each as are wanted."""
    texts = [text for text in drawing.texts if text.layer == expected.groups["label"]]
    within: list[list[str]] = [[] for _ in boxes]
    corners = np.array([(b.x0, b.y0, b.x1, b.y1) for b in boxes]).reshape(-1, 4)
    for text in texts:
        owners = _around(corners, text.place)
        if len(owners) != 1:
            yield "label", f"the label {text.text!r} lies on {len(owners)} blocks, and not on one"
        for owner in owners:
            within[owner].append(text.text)
    found: Counter[str] = Counter()
    for box, said in zip(boxes, within, strict=True):
        if len(said) != 2:
            yield "label", f"the block at {box} has {len(said)} labels: its name and measures"
            continue
        if not _measured(said[1], box):
            yield "measures", f"the block at {box} is not {said[1]}, as it says"
        names = _names(said[0], expected.layers)
        if sum(names.values()) != expected.layers:
            yield "label", f"the block at {box} is for {said[0]!r} and has {expected.layers} layers"
        found += names
        for name in names:
            piece = expected.pieces.get(name)
            if piece is None and name != "(spare)":
                yield "label", f"the block at {box} is for {name!r}, which nobody ordered"
            elif piece is not None and not any(_suits(box, way, expected) for way in piece.ways_mm):
                least = " or ".join(f"{a:.2f} by {w:.2f}" for a, w in piece.ways_mm)
                yield "size", f"the block at {box} is not the least that {name} takes, {least} mm"
    for name, piece in expected.pieces.items():
        if found[name] != piece.count:
            yield "count", f"{found[name]} blocks are for {name}, and {piece.count} are wanted"


def _around(corners: Array, place: tuple[float, float]) -> list[int]:
    x, y = place
    inside = (corners[:, 0] < x) & (x < corners[:, 2]) & (corners[:, 1] < y) & (y < corners[:, 3])
    return [int(k) for k in np.flatnonzero(inside)]


def _names(label: str, layers: int) -> Counter[str]:
    """What the layers of a block are for."""
    if layers == 1:
        return Counter([label])
    names: Counter[str] = Counter()
    for part in label.split(" + "):
        counted = re.fullmatch(r"(\d{1,4}) x (.+)", part)
        if counted:
            names[counted[2]] += int(counted[1])
    return names


def _measured(words: str, box: _Box) -> bool:
    """Whether a block is as long and wide as is written on it."""
    parts = words.split(" x ")
    if len(parts) != 2:
        return False
    try:
        along, across = (parse_length_mm(part, default_unit="mm") for part in parts)
    except ValueError:
        return False
    off = max(abs(box.x1 - box.x0 - along), abs(box.y1 - box.y0 - across))
    return off <= READ_BACK_MM


def _suits(box: _Box, way: tuple[float, float], expected: ExpectedRuler) -> bool:
    spare = box.x1 - box.x0 - way[0], box.y1 - box.y0 - way[1]
    return min(spare) > -READ_BACK_MM and max(spare) < expected.step_mm + READ_BACK_MM


def _cut_free(
    drawing: ReadDrawing, boxes: Sequence[_Box], frame: _Box, expected: ExpectedRuler
) -> Iterator[tuple[str, str]]:
    """The cuts made one after the other, and what they leave."""
    lines = drawing.on(expected.groups["cut"])
    texts = [text for text in drawing.texts if text.layer == expected.groups["number"]]
    if len(lines) != len(texts):
        yield "number", f"there are {len(lines)} cuts and {len(texts)} numbers of their steps"
        return
    numbered = []
    for line, text in zip(lines, texts, strict=True):
        number = _number(line, text, expected.steps)
        if number is None:
            x, y = line.points[0]
            yield "number", f"the cut from ({x:.1f}, {y:.1f}) mm does not bear the number of a step"
            return
        numbered.append((number, line))
    table = _CuttingTable(frame, expected.stages)
    for number, line in sorted(numbered, key=lambda one: one[0]):
        fault = table.cut(line)
        if fault:
            (x0, y0), (x1, y1) = line.points[0], line.points[-1]
            where = f"from ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f}) mm"
            yield "cut", f"the cut of step {number} {where} {fault}"
    parts = table.parts
    for box in boxes:
        off = np.abs(parts - (box.x0, box.y0, box.x1, box.y1)).max(axis=1)
        if off.min() > READ_BACK_MM:
            yield "not-free", f"the block at {box} is not what the cuts leave"


def _number(line: ReadLine, text: ReadText, steps: int) -> int | None:
    """The number that lies on a cut; None where it does not, or is of no step."""
    on_it = shapely.LineString(line.points).distance(shapely.Point(text.place)) <= READ_BACK_MM
    if not on_it or not re.fullmatch(r"\d{1,6}", text.text):
        return None
    return int(text.text) if 1 <= int(text.text) <= steps else None


class _CuttingTable:
    """The parts of the cloth, ``(n, 4)``: x0, y0, x1, y1; which way each was cut off last, and how
    often that way has changed since cuts across the cloth."""

    def __init__(self, frame: _Box, stages: int) -> None:
        self.parts = np.array([(frame.x0, frame.y0, frame.x1, frame.y1)])
        self._stages = stages
        self._last = np.zeros(1, int)
        self._stage = np.ones(1, int)

    def cut(self, line: ReadLine) -> str | None:
        """Make a cut; what is wrong with it, if anything is."""
        if len(line.points) != 2:
            return "is no straight line"
        low, high = line.points.min(axis=0), line.points.max(axis=0)
        if min(high - low) > 0.0:
            return "is neither along nor across the cloth"
        axis = 0 if high[0] - low[0] <= 0.0 else 1  # the axis that a cut divides
        other, at = 1 - axis, low[axis]
        near, far = self.parts[:, :2], self.parts[:, 2:]
        through = (near[:, axis] < at - READ_BACK_MM) & (at + READ_BACK_MM < far[:, axis])
        spans = (np.abs(near[:, other] - low[other]) <= READ_BACK_MM) & (
            np.abs(far[:, other] - high[other]) <= READ_BACK_MM
        )
        owners = np.flatnonzero(through & spans)
        if len(owners) != 1:
            return "does not go through one part of the cloth from end to end"
        owner = int(owners[0])
        stage = int(self._stage[owner]) + int(self._last[owner] != axis)
        first, second = self.parts[owner].copy(), self.parts[owner].copy()
        first[2 + axis] = second[axis] = at
        self.parts = np.vstack([np.delete(self.parts, owner, axis=0), first, second])
        self._last = np.append(np.delete(self._last, owner), [axis, axis])
        self._stage = np.append(np.delete(self._stage, owner), [stage, stage])
        if stage > self._stages:
            return f"is of stage {stage}, and the plan has {self._stages}"
        return None
