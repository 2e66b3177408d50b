"""Reading an SVG file behind defusedxml; no code in common with the writer. Made for the normal
form of our own files: paths and texts in groups, and nothing that moves, scales or hides them."""

from __future__ import annotations

import math
import re
from functools import partial
from pathlib import Path
from typing import cast
from xml.etree import ElementTree

import defusedxml.ElementTree
import numpy as np
from defusedxml.common import DefusedXmlException

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
_SPACE = "{http://www.w3.org/2000/svg}"


def read_svg(path: Path) -> ReadDrawing:
    """Read the paths and texts of an SVG file, in millimetres, y up.

    A line's layer is the ``id`` of the group it stands in. What cannot be read is a finding.
    """
    refused = too_large(path, LARGEST_FILE[".svg"])
    if refused:
        return refused
    root = _root(path)
    if isinstance(root, ReadDrawing):
        return root
    findings: list[Finding] = []
    try:
        scale, height_mm = page_scale(root.attrib)
    except ValueError as error:
        findings.append(Finding("no-unit", "error", f"{path.name}: {error}"))
        scale, height_mm = 1.0, 0.0
    lines = Gathered()
    texts: list[ReadText] = []
    strange: set[str] = set()

    def walk(element: ElementTree.Element, layer: str) -> None:
        name = element.tag.removeprefix(_SPACE)
        strange.update(_moving(element, name, is_root=element is root))
        if name == "g":
            layer = element.get("id", layer)
        elif name == "path":
            points, counts = polylines(element.get("d", ""))
            lines.add([layer] * len(counts), _placed(points, scale, height_mm), counts)
        elif name == "text":
            at = float(element.get("x", "0")), float(element.get("y", "0"))
            ((x, y),) = _placed(np.array([at]), scale, height_mm).tolist()
            angle_deg = _turned_deg(element.get("transform"), at)
            if angle_deg is None:
                strange.add("a text that is moved")
            letters_mm = float(element.get("font-size", "0")) * scale
            words = "".join(element.itertext())
            texts.append(ReadText(layer, words, (x, y), angle_deg or 0.0, letters_mm))
        elif name not in ("svg", "title", "desc"):
            strange.add(f"<{name}>")
        for child in element:
            walk(child, layer)
        element.clear()  # to spare memory

    try:
        walk(root, "")
    except RecursionError:
        text = f"{path.name}: its groups are nested without end"
        findings.append(Finding("unreadable", "error", text))
    except (ValueError, IndexError, AssertionError) as error:
        text = f"{path.name}: a path or number cannot be read: {error}"
        findings.append(Finding("unreadable", "error", text))
    if strange:
        text = f"{path.name}: holds {', '.join(sorted(strange))}, which this check does not read"
        findings.append(Finding("unread-part", "error", text))
    return ReadDrawing(path.name, lines.lines(), tuple(texts), tuple(findings))


def _root(path: Path) -> ElementTree.Element | ReadDrawing:
    """What a file holds, or why that cannot be read."""
    with path.open("rb") as content:
        tags = sum(part.count(b"<") for part in iter(partial(content.read, _PART_BYTES), b""))
        if tags > _MOST_TAGS:
            what = f"has more than {_MOST_TAGS} tags, which are not read: split it"
            return unread(path, what, "too-large")
        content.seek(0)
        try:
            return cast(ElementTree.Element, defusedxml.ElementTree.parse(content).getroot())
        except (ElementTree.ParseError, DefusedXmlException, LookupError, ValueError) as error:
            return unread(path, f"is no SVG file that can be read: {error}")


def _moving(element: ElementTree.Element, name: str, *, is_root: bool) -> set[str]:
    """What may move, scale or hide an element without changing its numbers."""
    found = {f"a {key} attribute" for key in _HIDING if key in element.attrib}
    if "transform" in element.attrib and name != "text":
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
