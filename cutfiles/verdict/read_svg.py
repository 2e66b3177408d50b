"""Reading an SVG file behind defusedxml; no code in common with the writer. Made for the normal
form of our own files: paths and texts in groups, and nothing that moves, scales or hides them."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import partial
from pathlib import Path

import numpy as np

from cutfiles.errors import Finding
from cutfiles.verdict.drawing import (
    LARGEST_FILE,
    Array,
    Gathered,
    ReadDrawing,
    ReadText,
    too_large,
    unread,
)
from cutfiles.verdict.svg_elements import FAULTS, SPACE, feed_elements
from cutfiles.verdict.svg_path import polylines

_MM_PER_UNIT = {
    "mm": 1.0, "cm": 10.0, "in": 25.4, "px": 25.4 / 96, "": 25.4 / 96, "pt": 25.4 / 72,
    "pc": 25.4 / 6,
}  # fmt: skip
"""CSS Values 3: 1 in = 25.4 mm = 96 px = 72 pt = 6 pc; a plain number is px."""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_HIDING = ("style", "class", "display", "visibility", "clip-path", "mask", "opacity")
_MOST_TAGS = 500_000
_PART_BYTES = 1_000_000
_DEEPEST = 100
"""Of elements in one another; our own have three."""


def read_svg(path: Path) -> ReadDrawing:
    """Read the paths and texts of an SVG file, in millimetres, y up.

    A line's layer is the ``id`` of the group it stands in. What cannot be read is a finding.
    """
    refused = too_large(path, LARGEST_FILE[".svg"])
    if refused:
        return refused
    try:
        with path.open("rb") as content:
            tags = sum(part.count(b"<") for part in iter(partial(content.read, _PART_BYTES), b""))
            if tags > _MOST_TAGS:
                what = f"has more than {_MOST_TAGS} tags, which are not read: split it"
                return unread(path, what, "too-large")
            content.seek(0)
            page = _Page(path.name)
            feed_elements(content, page)
    except FAULTS as error:
        return unread(path, f"is no SVG file that can be read: {error}")
    return page.drawing()


class _Page:
    """Takes the elements of a file one after the other, up to the first that cannot be read."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._findings: list[Finding] = []
        self._lines = Gathered()
        self._texts: list[ReadText] = []
        self._strange: set[str] = set()
        self._scale, self._height_mm = 1.0, 0.0
        self._layers: list[str] = []  # of all that is open, the root first
        self._open_texts: list[tuple[int, list[str]]] = []  # which it is, and its words so far
        self._is_broken = False

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Read an element, all but the words of a text."""
        if self._is_broken:
            return
        if len(self._layers) == _DEEPEST:
            self._break_off(f"its groups are nested more than {_DEEPEST} deep: write it again")
            return
        is_root = not self._layers
        if is_root:
            self._measure(attributes)
        name = tag.removeprefix(SPACE)
        layer = "" if is_root else self._layers[-1]
        self._layers.append(attributes.get("id", layer) if name == "g" else layer)
        self._strange |= _moving(attributes, name, is_root=is_root)
        try:
            if name == "path":
                points, counts = polylines(attributes.get("d", ""))
                placed = _placed(points, self._scale, self._height_mm)
                self._lines.add([layer] * len(counts), placed, counts)
            elif name == "text":
                self._start_text(attributes, layer)
            elif name not in ("svg", "g", "title", "desc"):
                self._strange.add(f"<{name}>")
        except (ValueError, IndexError, AssertionError) as error:
            self._break_off(f"a path or number cannot be read: {error}")

    def data(self, text: str) -> None:
        """Words of the texts that are open."""
        for _, words in self._open_texts:
            words.append(text)

    def end(self, tag: str) -> None:
        """Leave an element; a text has all its words by then."""
        if tag.removeprefix(SPACE) == "text" and self._open_texts:
            number, words = self._open_texts.pop()
            self._texts[number] = replace(self._texts[number], text="".join(words))
        if not self._is_broken:
            self._layers.pop()

    def drawing(self) -> ReadDrawing:
        """All that was read."""
        if self._strange:
            what = ", ".join(sorted(self._strange))
            text = f"{self._name}: holds {what}, which this check does not read"
            self._findings.append(Finding("unread-part", "error", text))
        return ReadDrawing(
            self._name, self._lines.lines(), tuple(self._texts), tuple(self._findings)
        )

    def _break_off(self, why: str) -> None:
        self._findings.append(Finding("unreadable", "error", f"{self._name}: {why}"))
        self._is_broken = True

    def _measure(self, attributes: dict[str, str]) -> None:
        try:
            self._scale, self._height_mm = page_scale(attributes)
        except ValueError as error:
            self._findings.append(Finding("no-unit", "error", f"{self._name}: {error}"))

    def _start_text(self, attributes: dict[str, str], layer: str) -> None:
        at = float(attributes.get("x", "0")), float(attributes.get("y", "0"))
        ((x, y),) = _placed(np.array([at]), self._scale, self._height_mm).tolist()
        angle_deg = _turned_deg(attributes.get("transform"), at)
        if angle_deg is None:
            self._strange.add("a text that is moved")
        letters_mm = float(attributes.get("font-size", "0")) * self._scale
        self._open_texts.append((len(self._texts), []))
        self._texts.append(ReadText(layer, "", (x, y), angle_deg or 0.0, letters_mm))


def _moving(attributes: dict[str, str], name: str, *, is_root: bool) -> set[str]:
    """What may move, scale or hide an element without changing its numbers."""
    found = {f"a {key} attribute" for key in _HIDING if key in attributes}
    if "transform" in attributes and name != "text":
        found.add("a transform")
    if name == "svg" and not is_root:
        found.add("a nested <svg>")
    return found


def _turned_deg(transform: str | None, at: tuple[float, float]) -> float | None:
    """The angle of a text, counter-clockwise, that is turned about its own place; None if it is
    moved otherwise."""
    if transform is None:
        return 0.0
    turn = re.fullmatch(rf"rotate\(({_NUMBER.pattern}) (\S+) (\S+)\)", transform)
    if turn is None or (float(turn[4]), float(turn[5])) != at:
        return None
    return -float(turn[1]) % 360.0


def page_scale(attributes: dict[str, str]) -> tuple[float, float]:
    """Millimetres a user unit, and the page's height in mm, from width, height and viewBox.

    Raises
    ------
    ValueError
        If width or height or viewBox is missing or odd, or the two directions differ.
    """
    sizes = []
    for key in ("width", "height"):
        match = re.fullmatch(r"\s*([0-9.eE+-]+)\s*([a-z]*)\s*", attributes.get(key, ""))
        size = float(match[1]) if match and _NUMBER.fullmatch(match[1]) else math.nan
        if match is None or match[2] not in _MM_PER_UNIT or not 0.0 < size < math.inf:
            raise ValueError(f"its {key} is missing or in an unknown unit: write it in mm")
        sizes.append(size * _MM_PER_UNIT[match[2]])
    box = [
        float(part) for part in re.split(r"[\s,]+", attributes.get("viewBox", "").strip()) if part
    ]
    if len(box) != 4 or box[0] != 0.0 or box[1] != 0.0 or min(box[2:]) <= 0.0:
        raise ValueError('its viewBox is missing or odd: write "0 0 length width"')
    along, across = sizes[0] / box[2], sizes[1] / box[3]
    if abs(along - across) > 1e-6 * along:
        raise ValueError("its viewBox stretches the drawing: keep the proportions of the page")
    return along, sizes[1]


def _placed(points: Array, scale: float, height_mm: float) -> Array:
    placed = points * scale
    placed[:, 1] = height_mm - placed[:, 1]
    return placed
