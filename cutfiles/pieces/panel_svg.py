"""Reading somebody's SVG drawing: every shape under every transform, in millimetres, y up.

By SVG 2 (W3C): chapters 5 (structure), 8 (coordinate systems) and the shapes of `svg_shapes`.
What is painted how does not matter: every shape that is shown is a line to cut or mark.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final
from xml.etree import ElementTree

import defusedxml.ElementTree
from defusedxml.common import DefusedXmlException

from cutfiles.geometry.affine import Affine
from cutfiles.pieces.drawn import MOST_LINES, Drawing, DrawnLine, Notes, path_of
from cutfiles.pieces.svg_shapes import Loop, basic_shape, path_shape, transform_of
from cutfiles.units import MM_PER_CSS_UNIT, MM_PER_UNIT

_SPACE: Final = "{http://www.w3.org/2000/svg}"
_BASIC: Final = frozenset({"rect", "circle", "ellipse", "line", "polyline", "polygon"})
_UNSEEN: Final = frozenset({
    "defs", "symbol", "title", "desc", "metadata", "style", "linearGradient", "radialGradient",
    "pattern", "clipPath", "mask", "marker", "filter", "script", "view",
})  # fmt: skip
_LIMITING: Final = ("clip-path", "mask", "marker-start", "marker-mid", "marker-end")
_LENGTH: Final = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([a-zA-Z%]*)\s*")
_DEEPEST: Final = 100


@dataclass(frozen=True, slots=True)
class _Place:
    """Where an element stands: its map to mm, the viewport in user units, the names around it."""

    to_mm: Affine
    view: tuple[float, float] | None
    names: tuple[str, ...] = ()
    within: tuple[str, ...] = ()


def read_svg_drawing(content: bytes, *, unit: str | None, where: str) -> Drawing:
    """Every line of an SVG file.

    Parameters
    ----------
    content
        The file's bytes.
    unit
        What a user unit is where the file does not say (a key of `MM_PER_UNIT`).
    where
        Names the file in findings.
    """
    notes = Notes(where)
    try:
        root = defusedxml.ElementTree.fromstring(content)
    except (ElementTree.ParseError, DefusedXmlException, ValueError, LookupError) as error:
        notes.say("unreadable", "error", f"is no SVG file that can be read: {error}; save it again")
        return Drawing((), tuple(notes.findings))
    if root.tag not in ("svg", _SPACE + "svg"):
        notes.say("unreadable", "error", f"holds <{root.tag}>, and no <svg>: save it as SVG")
        return Drawing((), tuple(notes.findings))
    reader = _Reader(root, notes)
    try:
        place = _page(root, unit, notes)
    except ValueError as error:
        notes.say("unreadable", "error", f"{error}: mend it in the drawing")
        place = None
    if place is not None:
        reader.children(root, place)
    reader.tell()
    return Drawing(tuple(reader.lines), tuple(notes.findings))


def _page(root: ElementTree.Element, unit: str | None, notes: Notes) -> _Place | None:
    """The map from the root's user units to mm, the origin in the page's lower left corner."""
    box = _view_box(root)
    sizes: list[float | None] = []
    plain = False
    for index, key in enumerate(("width", "height")):
        match = _LENGTH.fullmatch(root.get(key, ""))
        if match is None or match[2] == "%":
            sizes.append(None)
            continue
        if match[2] and match[2].lower() not in MM_PER_CSS_UNIT:
            raise ValueError(f"its {key} of {root.get(key)!r} is in an unknown unit")
        plain = plain or not match[2]
        # plain numbers are told apart from lengths below: they carry the user's unit
        per_unit = MM_PER_CSS_UNIT[match[2].lower()] if match[2] else MM_PER_UNIT[unit or "mm"]
        size = float(match[1]) * per_unit
        if size <= 0.0:
            raise ValueError(f"its {key} of {root.get(key)!r} leaves no page")
        sizes.append(size)
        if match[2].lower() == "px" and index == 0:
            notes.say("px-unit", "note", "its width is in px: read as 96 px an inch")
    if plain or sizes == [None, None] or (box is None and None in sizes):
        if unit is None:
            have = f"width={root.get('width')!r} and viewBox={root.get('viewBox')!r}"
            notes.say(
                "unknown-unit", "error",
                f"{have} name no unit: give unit in the job (such as unit = \"mm\"), or a width "
                "with a unit in the drawing",
            )  # fmt: skip
            return None
    elif unit is not None and box is not None:
        notes.say("unit-unused", "note", f"the file says its unit itself: unit = {unit!r} unused")
    per = MM_PER_UNIT[unit or "mm"]
    if box is None:
        return _plain_page(root, sizes, plain, per)
    across, down = box[2], box[3]
    wide, high = sizes
    if wide is None:
        wide = across * per if high is None else high * across / down
    if high is None:
        high = wide * down / across
    fitted = _fitted(box, (wide, high), root.get("preserveAspectRatio", ""))
    up = Affine(d=-1.0, f=high)
    own = transform_of(root.get("transform", ""))
    return _Place(up.after(fitted).after(own), (across, down))


def _plain_page(
    root: ElementTree.Element, sizes: list[float | None], plain: bool, per: float
) -> _Place:
    """Without a viewBox a user unit is a px, unless the job says what it is."""
    height = sizes[1] or 0.0
    one = MM_PER_CSS_UNIT["px"] if not plain and None not in sizes else per
    up = Affine(d=-1.0, f=height).after(Affine.scale(one, one))
    view = None if sizes[0] is None or sizes[1] is None else (sizes[0] / one, sizes[1] / one)
    return _Place(up.after(transform_of(root.get("transform", ""))), view)


def _view_box(element: ElementTree.Element) -> tuple[float, float, float, float] | None:
    text = element.get("viewBox")
    if text is None:
        return None
    try:
        x, y, width, height = (float(part) for part in re.split(r"[\s,]+", text.strip()))
    except ValueError:
        raise ValueError(f"its viewBox {text!r} is no four numbers") from None
    if not (width > 0.0 and height > 0.0):
        raise ValueError(f"its viewBox {text!r} leaves no page")
    return x, y, width, height


def _fitted(
    box: tuple[float, float, float, float], size: tuple[float, float], aspect: str
) -> Affine:
    """The map of a viewBox onto a viewport (SVG 2, 8.2); ``xMidYMid meet`` where not said."""
    x, y, width, height = box
    across, down = size[0] / width, size[1] / height
    words = aspect.split() or ["xMidYMid"]
    if words[0] == "none":
        return Affine.scale(across, down).after(Affine.shift(-x, -y))
    match = re.fullmatch(r"x(Min|Mid|Max)Y(Min|Mid|Max)", words[0])
    if match is None:
        raise ValueError(f"preserveAspectRatio {aspect!r} cannot be read")
    one = max(across, down) if "slice" in words[1:] else min(across, down)
    share = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    shift = Affine.shift(
        (size[0] - width * one) * share[match[1]], (size[1] - height * one) * share[match[2]]
    )
    return shift.after(Affine.scale(one, one)).after(Affine.shift(-x, -y))


class _Reader:
    """Walks the tree and collects its lines."""

    def __init__(self, root: ElementTree.Element, notes: Notes) -> None:
        self.lines: list[DrawnLine] = []
        self._notes = notes
        self._by_id = {e.get("id"): e for e in root.iter() if e.get("id")}
        self._unread: Counter[str] = Counter()
        self._hidden = 0
        self._parts = 0
        for style in root.iter(_SPACE + "style"):
            if re.search(r"display|transform|visibility|\bd\s*:", style.text or ""):
                self._unread["a <style> that hides or moves parts"] += 1

    def children(self, element: ElementTree.Element, place: _Place) -> None:
        for child in element:
            self._element(child, place)

    def tell(self) -> None:
        """Say what was not read."""
        if self._unread:
            parts = ", ".join(
                f"{name} ({count})" if count > 1 else name
                for name, count in sorted(self._unread.items())
            )
            text = f"holds {parts}, which is not read: draw as plain paths what is to be cut"
            self._notes.say("unread-part", "warning", text)
        if self._hidden:
            text = f"{self._hidden} hidden parts are left out: show in the drawing what is wanted"
            self._notes.say("hidden-part", "note", text)

    def _element(self, element: ElementTree.Element, place: _Place) -> None:
        tag = element.tag if isinstance(element.tag, str) else ""
        name = tag.removeprefix(_SPACE)
        if name in _UNSEEN or name.startswith("{") or not name or self._is_full():
            return
        style = _style(element)
        if style.get("display", element.get("display")) == "none" or (
            style.get("visibility", element.get("visibility")) in ("hidden", "collapse")
        ):
            self._hidden += 1
            return
        for key in _LIMITING:
            if style.get(key, element.get(key, "none")) != "none":
                self._unread[key] += 1
        if "transform" in style:
            self._unread["a transform in a style attribute"] += 1
        try:
            self._shown(element, name, _entered(element, place))
        except (ValueError, AssertionError, ZeroDivisionError, OverflowError) as error:
            called = f"<{name}>" + (f" {element.get('id')!r}" if element.get("id") else "")
            self._notes.say("unreadable", "error", f"{called}: {error}: mend it in the drawing")

    def _shown(self, element: ElementTree.Element, name: str, place: _Place) -> None:
        if name in ("g", "a"):
            self.children(element, place)
        elif name == "svg":
            self.children(element, _viewport(element, element, place))
        elif name == "use":
            self._use(element, place)
        elif name == "path":
            for loop in path_shape(element.get("d", "")):
                self._add(place, loop)
        elif name in _BASIC:

            def length(key: str, otherwise: str) -> float:
                return _length(key, element.get(key, otherwise), place)

            for loop in basic_shape(name, length, element.attrib):
                self._add(place, loop)
        else:
            self._unread[f"<{name}>"] += 1

    def _is_full(self) -> bool:
        """Count one part more; say so once when there are too many."""
        self._parts += 1
        if self._parts == MOST_LINES:
            text = f"holds more than {MOST_LINES} parts: keep to the outlines of the pieces"
            self._notes.say("too-many-lines", "error", text)
        return self._parts >= MOST_LINES

    def _add(self, place: _Place, loop: Loop) -> None:
        if self._is_full():
            return
        path = path_of([image for segment in loop for image in place.to_mm.segment(segment)])
        if path is not None:
            self.lines.append(DrawnLine(path, place.names))

    def _use(self, element: ElementTree.Element, place: _Place) -> None:
        link = element.get("href", element.get("{http://www.w3.org/1999/xlink}href", ""))
        target = self._by_id.get(link[1:]) if link.startswith("#") else None
        if target is None:
            raise ValueError(f"the part {link!r} that it uses is not in the file")
        if link in place.within or len(place.within) > _DEEPEST:
            raise ValueError(f"the part {link!r} uses itself")
        at = Affine.shift(
            _length("x", element.get("x", "0"), place), _length("y", element.get("y", "0"), place)
        )
        inner = _Place(place.to_mm.after(at), place.view, place.names, (*place.within, link))
        if target.tag.removeprefix(_SPACE) == "symbol":
            own = transform_of(target.get("transform", ""))
            inner = _Place(inner.to_mm.after(own), inner.view, inner.names, inner.within)
            self.children(target, _named(target, _viewport(target, element, inner, symbol=True)))
        else:
            self._element(target, inner)


def _entered(element: ElementTree.Element, place: _Place) -> _Place:
    to_mm = place.to_mm.after(transform_of(element.get("transform", "")))
    return _named(element, _Place(to_mm, place.view, place.names, place.within))


def _named(element: ElementTree.Element, place: _Place) -> _Place:
    """With the names of an element in front: its id, its label and its classes."""
    labels = [value for key, value in element.items() if key.endswith("}label")]
    own = [element.get("id", ""), *labels, *element.get("class", "").split()]
    names = (*(name for name in own if name), *place.names)
    return _Place(place.to_mm, place.view, names, place.within)


def _viewport(
    element: ElementTree.Element, sized: ElementTree.Element, place: _Place, *, symbol: bool = False
) -> _Place:
    """Inside a nested <svg>, or a <symbol> as sized by the <use> that shows it."""
    to_mm = place.to_mm
    if not symbol:
        shift = (_length(key, element.get(key, "0"), place) for key in ("x", "y"))
        to_mm = to_mm.after(Affine.shift(*shift))
    box = _view_box(element)
    keys = ("width", "height")
    texts = [sized.get(key, element.get(key, "100%" if box else "0")) for key in keys]
    if box is None:
        return _Place(to_mm, place.view, place.names, place.within)
    size = [
        _length(key, "100%" if text == "auto" else text, place)
        for key, text in zip(keys, texts, strict=True)
    ]
    fitted = _fitted(box, (size[0], size[1]), element.get("preserveAspectRatio", ""))
    return _Place(to_mm.after(fitted), (box[2], box[3]), place.names, place.within)


def _style(element: ElementTree.Element) -> Mapping[str, str]:
    """The declarations of a ``style`` attribute."""
    pairs = (part.partition(":") for part in element.get("style", "").split(";"))
    return {key.strip(): value.strip() for key, _, value in pairs if key.strip()}


def _length(key: str, text: str, place: _Place) -> float:
    """A length in user units; a percentage is of the viewport (SVG 2, 8.9)."""
    match = _LENGTH.fullmatch(text)
    if match is None:
        raise ValueError(f"{key}: {text!r} is no length")
    number, unit = float(match[1]), match[2].lower()
    if unit == "%":
        if place.view is None:
            raise ValueError(f"{key}: {text!r} is a share of a page of unknown size")
        width, height = place.view
        whole = {"x": width, "w": width, "c": width, "y": height, "h": height}.get(key[0])
        if key in ("cx", "x1", "x2", "rx"):
            whole = width
        elif key in ("cy", "y1", "y2", "ry"):
            whole = height
        elif whole is None:
            whole = ((width**2 + height**2) / 2.0) ** 0.5
        return number / 100.0 * whole
    if unit and unit not in MM_PER_CSS_UNIT:
        raise ValueError(f"{key}: {text!r} is in a unit that is not known here")
    return number * (MM_PER_CSS_UNIT[unit] / MM_PER_CSS_UNIT["px"] if unit else 1.0)
