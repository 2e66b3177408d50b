"""Reading somebody's SVG drawing: every shape under every transform, in millimetres, y up.

By SVG 2 (W3C): chapters 5 (structure), 8 (coordinate systems) and the shapes of `svg_shapes`, the
styles of `svg_styles`. How a shape is painted does not matter, but that it is: every shape that is
seen is a line to cut or mark, and so much of it as clip paths (CSS Masking 1) and viewports show.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Final
from xml.etree import ElementTree

import defusedxml.ElementTree
import shapely
from defusedxml.common import DefusedXmlException

from cutfiles.errors import Finding
from cutfiles.geometry.affine import Affine
from cutfiles.geometry.path import Path
from cutfiles.pieces.drawn import Drawing, DrawnLine, Gathered, Notes, path_of
from cutfiles.pieces.filled import filled_region, seen_through
from cutfiles.pieces.svg_place import Place, length, page_place, viewport_place
from cutfiles.pieces.svg_shapes import Loop, basic_shape, css_transform_of, path_shape, transform_of
from cutfiles.pieces.svg_styles import (
    GEOMETRY,
    INHERITED,
    Style,
    StyleSheets,
    is_filled,
    is_zero,
    visible,
)
from cutfiles.units import counted

_SPACE: Final = "{http://www.w3.org/2000/svg}"
_LINK: Final = "{http://www.w3.org/1999/xlink}href"
_BASIC: Final = frozenset({"rect", "circle", "ellipse", "line", "polyline", "polygon"})
_SHAPES: Final = _BASIC | {"path"}
_UNSEEN: Final = frozenset({
    "defs", "symbol", "title", "desc", "metadata", "style", "linearGradient", "radialGradient",
    "pattern", "clipPath", "mask", "marker", "filter", "script", "view", "animate", "set",
    "animateTransform", "animateMotion",
})  # fmt: skip
_LIMITING: Final = ("mask", "marker-start", "marker-mid", "marker-end")
_DEEPEST: Final = 100
_URL: Final = re.compile(r"url\(\s*([\"']?)#([^\"')]*)\1\s*\)")
_FAULTS: Final = (
    ValueError, AssertionError, ZeroDivisionError, OverflowError, shapely.errors.ShapelyError,
)  # fmt: skip

Sink = Callable[[Sequence[Loop], Place, Style], None]
"""Takes the loops of a shape, where it stands, and how it is painted."""


def read_svg_drawing(content: bytes, *, unit: str | None, where: str) -> Drawing:
    """Every line of an SVG file that is seen.

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
        text = f"is no SVG file that can be read: {error}; save it again, as plain SVG"
        notes.say("unreadable", "error", text)
        return Drawing((), tuple(notes.findings))
    if root.tag not in ("svg", _SPACE + "svg"):
        notes.say("unreadable", "error", f"holds <{root.tag}>, and no <svg>: save it as SVG")
        return Drawing((), tuple(notes.findings))
    reader = _Reader(root, notes)
    try:
        place = page_place(root, unit, notes)
    except ValueError as error:
        notes.say("unreadable", "error", f"{error}: mend it in the drawing")
        place = None
    if place is not None:
        reader.page(root, place)
    findings = reader.told()
    return Drawing(tuple(reader.gathered.lines), findings)


class _Reader:
    """Walks the tree and collects its lines."""

    def __init__(self, root: ElementTree.Element, notes: Notes) -> None:
        self.gathered = Gathered(notes)
        self._by_id = {e.get("id"): e for e in reversed(list(root.iter())) if e.get("id")}
        self._styles = StyleSheets(root, self.gathered.unread)
        self._sink: Sink = self._gather
        self._aside = False
        self._clipped = 0
        self._depth = 0

    def page(self, root: ElementTree.Element, place: Place) -> None:
        """Read all that the page holds."""
        self._children(root, _styled(place, self._styles.own(root)))

    def told(self) -> tuple[Finding, ...]:
        """All findings, with what was not read."""
        if self._clipped:
            text = (
                f"{counted(self._clipped, 'part')} cut off by a clip path or viewport: what is "
                "seen of them is read, as straight lines; cut them in the drawing for true curves"
            )
            self.gathered.notes.say("clipped", "note", text)
        return self.gathered.told()

    def _children(self, element: ElementTree.Element, place: Place) -> None:
        for child in element:
            self._element(child, place)

    def _element(self, element: ElementTree.Element, place: Place) -> None:
        name = _name(element)
        if name in _UNSEEN or not name or self.gathered.is_full():
            return
        own = self._styles.own(element)
        if own.get("display") == "none" or is_zero(own.get("opacity", "1")):
            self._hide()
            return
        for key in _LIMITING:
            if own.get(key, "none") != "none":
                self.gathered.unread[key] += 1
        self._depth += 1
        try:
            if self._depth > _DEEPEST:
                raise ValueError(f"parts lie more than {_DEEPEST} deep in one another")
            here = _styled(_entered(element, own, place), own)
            self._shown(element, name, self._seen(element, own, here))
        except _FAULTS as error:
            called = f"<{name}>" + (f" {element.get('id')!r}" if element.get("id") else "")
            text = f"{called}: {error}: mend it in the drawing"
            self.gathered.notes.say("unreadable", "error", text)
        finally:
            self._depth -= 1

    def _shown(self, element: ElementTree.Element, name: str, place: Place) -> None:
        if name in ("g", "a"):
            self._children(element, place)
        elif name == "switch":
            chosen = next((child for child in element if _is_for_us(child)), None)
            if chosen is not None:
                self._element(chosen, place)
        elif name == "svg":
            self._children(element, self._viewport(element, element.attrib, place))
        elif name == "use":
            self._use(element, place)
        elif name in _SHAPES:
            painted = self._aside or visible(place.style)
            if not painted or place.style.get("visibility", "visible") != "visible":
                self._hide()
            else:
                self._sink(self._loops(element, name, place), place, place.style)
        else:
            self.gathered.unread[f"<{name}>"] += 1

    def _loops(self, element: ElementTree.Element, name: str, place: Place) -> list[Loop]:
        own = self._styles.own(element)
        if name == "path":
            if own.get("d", "") != element.get("d", "").strip():
                raise ValueError("its path data is in a style: give it as an attribute d")
            return path_shape(element.get("d", ""))
        given = {**element.attrib, **{key: own[key] for key in GEOMETRY if key in own}}

        def length_of(key: str, otherwise: str) -> float:
            return length(key, given.get(key, otherwise), place)

        return basic_shape(name, length_of, given)

    def _gather(self, loops: Sequence[Loop], place: Place, style: Style) -> None:
        paths = _paths(loops, place.to_mm)
        seen = None
        if place.clip is not None and paths:
            even_odd = style.get("fill-rule") == "evenodd"
            seen = seen_through(paths, place.clip, filled=is_filled(style), even_odd=even_odd)
        if seen is not None:
            self._clipped += bool(seen)
            self.gathered.hidden += not seen
        for path in paths if seen is None else seen:
            if not self.gathered.is_full():
                self.gathered.lines.append(DrawnLine(path, place.names))

    def _hide(self) -> None:
        self.gathered.hidden += not self._aside

    @contextmanager
    def _into(self, sink: Sink) -> Iterator[None]:
        """Read shapes for their form, which are no lines of the drawing."""
        before = self._sink, self._aside
        self._sink, self._aside = sink, True
        try:
            yield
        finally:
            self._sink, self._aside = before

    def _use(self, element: ElementTree.Element, place: Place) -> None:
        link = element.get("href", element.get(_LINK, "")).strip()
        target = self._by_id.get(link[1:]) if link.startswith("#") else None
        if target is None:
            raise ValueError(f"the part {link!r} that it uses is not in the file")
        if link in place.within or len(place.within) > _DEEPEST:
            raise ValueError(f"the part {link!r} uses itself")
        given = {**element.attrib, **self._styles.own(element)}
        at = Affine.shift(
            length("x", given.get("x", "0"), place), length("y", given.get("y", "0"), place)
        )
        inner = replace(place, to_mm=place.to_mm.after(at), within=(*place.within, link))
        name = _name(target)
        if name not in ("symbol", "svg"):
            self._element(target, inner)
            return
        own = self._styles.own(target)
        if own.get("display") == "none":
            self._hide()
            return
        inner = _styled(_entered(target, own, inner), own)
        sizes = {k: given[k] for k in ("width", "height") if given.get(k, "auto") != "auto"}
        self._children(target, self._viewport(target, {**target.attrib, **sizes}, inner))

    def _viewport(
        self, element: ElementTree.Element, sized: Mapping[str, str], place: Place
    ) -> Place:
        overflow = self._styles.own(element).get("overflow", "hidden")
        return viewport_place(element, sized, place, clips=overflow in ("hidden", "scroll"))

    def _seen(self, element: ElementTree.Element, own: Style, place: Place) -> Place:
        """Seen through the clip path of an element."""
        said = own.get("clip-path", "none")
        if said == "none":
            return place
        match = _URL.fullmatch(said)
        clip = self._by_id.get(match[2]) if match else None
        if clip is None or _name(clip) != "clipPath":
            raise ValueError(
                f"its clip-path {said!r} cannot be read: cut the shape itself, or take the clip off"
            )
        if f"clip {clip.get('id')}" in place.within:
            raise ValueError(f"the clip path {said!r} uses itself")
        return place.clipped(self._clip_region(clip, element, place))

    def _clip_region(
        self, clip: ElementTree.Element, element: ElementTree.Element, place: Place
    ) -> shapely.Geometry:
        """The region that a <clipPath> shows of an element, in mm."""
        rules = self._styles.own(clip)
        to_mm = place.to_mm
        if clip.get("clipPathUnits") == "objectBoundingBox":
            to_mm = to_mm.after(self._box_of(element, place))
        bare = Place(to_mm, place.view, (), (*place.within, f"clip {clip.get('id')}"), place.style)
        inside = _styled(_entered(clip, rules, bare), rules)
        regions: list[shapely.Geometry] = []

        def add(loops: Sequence[Loop], at: Place, style: Style) -> None:
            even_odd = style.get("clip-rule") == "evenodd"
            region = filled_region(_paths(loops, at.to_mm), even_odd=even_odd)
            regions.append(region if at.clip is None else shapely.intersection(region, at.clip))

        with self._into(add):
            for child in clip:
                if _name(child) not in _SHAPES | {"use", "title", "desc", "metadata"}:
                    raise ValueError(f"its clip path holds <{_name(child)}>: clip by plain shapes")
                self._element(child, inside)
        whole = shapely.union_all(regions)
        limit = self._seen(clip, rules, replace(bare, clip=None)).clip
        return whole if limit is None else shapely.intersection(whole, limit)

    def _box_of(self, element: ElementTree.Element, place: Place) -> Affine:
        """The map of the unit square to the box of an element, in its own user units."""
        boxes: list[shapely.Geometry] = []

        def add(loops: Sequence[Loop], at: Place, _style: Style) -> None:
            for path in _paths(loops, at.to_mm):
                boxes.append(shapely.LineString(path.flattened(1e-4)))

        with self._into(add):
            bare = Place(Affine(), place.view, (), place.within, place.style)
            self._shown(element, _name(element), bare)
        if not boxes:
            raise ValueError("its clip path is measured by the box of the part, which is empty")
        x0, y0, x1, y1 = shapely.union_all(boxes).bounds
        return Affine(x1 - x0, 0.0, 0.0, y1 - y0, x0, y0)


def _name(element: ElementTree.Element) -> str:
    """The element's name in SVG; empty for those of other programs."""
    tag = element.tag if isinstance(element.tag, str) else ""
    name = tag.removeprefix(_SPACE)
    return "" if name.startswith("{") else name


def _is_for_us(element: ElementTree.Element) -> bool:
    """Whether a <switch> may choose an element: one that asks for nothing (SVG 2, 5.9)."""
    asks = element.get("requiredExtensions", element.get("requiredFeatures"))
    return bool(_name(element)) and not asks and not element.get("systemLanguage")


def _paths(loops: Sequence[Loop], to_mm: Affine) -> list[Path]:
    found = (path_of([image for one in loop for image in to_mm.segment(one)]) for loop in loops)
    return [path for path in found if path is not None]


def _entered(element: ElementTree.Element, own: Style, place: Place) -> Place:
    """Under an element's transform, with its names in front: its id, its label and its classes."""
    said = own.get("transform", "")
    if said == element.get("transform", "").strip():
        moved = transform_of(said)
    else:
        moved = css_transform_of(said)
    origin = own.get("transform-origin", "")
    if said not in ("", "none") and origin:
        numbers = re.fullmatch(r"(-?[\d.]+)(?:px)?[\s,]+(-?[\d.]+)(?:px)?(?:\s+0(?:px)?)?", origin)
        if numbers is None:
            raise ValueError(f"transform-origin: {origin!r} is not read: give it as two numbers")
        x, y = float(numbers[1]), float(numbers[2])
        moved = Affine.shift(x, y).after(moved).after(Affine.shift(-x, -y))
    labels = [value for key, value in element.items() if key.endswith("}label")]
    names = [element.get("id", ""), *labels, *element.get("class", "").split()]
    kept = (*(name for name in names if name), *place.names)
    return replace(place, to_mm=place.to_mm.after(moved), names=kept)


def _styled(place: Place, own: Style) -> Place:
    """With what an element declares for its children too."""
    said = {key: own[key] for key in INHERITED if own.get(key, "inherit") != "inherit"}
    return replace(place, style={**place.style, **said}) if said else place
