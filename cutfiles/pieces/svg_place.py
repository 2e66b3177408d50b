"""Where an SVG element stands: pages, viewports and lengths (SVG 2, chapter 8)."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final
from xml.etree import ElementTree

import shapely

from cutfiles.geometry.affine import Affine
from cutfiles.geometry.vector import Point
from cutfiles.pieces.drawn import Notes
from cutfiles.pieces.svg_shapes import transform_of
from cutfiles.units import MM_PER_CSS_UNIT, MM_PER_UNIT

_LENGTH: Final = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([a-zA-Z%]*)\s*")


@dataclass(frozen=True, slots=True)
class Place:
    """Where an element stands: its map to mm, the viewport in user units, the names around it, the
    parts that show it, the style it inherits, and the region in which it is seen (mm)."""

    to_mm: Affine
    view: tuple[float, float] | None
    names: tuple[str, ...] = ()
    within: tuple[str, ...] = ()
    style: Mapping[str, str] = field(default_factory=dict)
    clip: shapely.Geometry | None = None

    def clipped(self, region: shapely.Geometry) -> Place:
        """Seen through one region more."""
        return replace(
            self, clip=region if self.clip is None else shapely.intersection(self.clip, region)
        )


def page_place(root: ElementTree.Element, unit: str | None, notes: Notes) -> Place | None:
    """The map from the root's user units to mm, the origin in the page's lower left corner; None
    with a finding.

    Raises
    ------
    ValueError
        If a size, a viewBox or a transform cannot be read.
    """
    box = view_box(root)
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
            given = [f"{k}={root.get(k)!r}" for k in ("width", "height", "viewBox") if root.get(k)]
            notes.say(
                "unknown-unit", "error",
                f"its page ({', '.join(given) or 'of no size'}) names no unit: give unit in the "
                'job (such as unit = "mm"), or a width with a unit in the drawing',
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
    fit = fitted(box, (wide, high), root.get("preserveAspectRatio", ""))
    up = Affine(d=-1.0, f=high)
    own = transform_of(root.get("transform", ""))
    return Place(up.after(fit).after(own), (across, down))


def _plain_page(
    root: ElementTree.Element, sizes: list[float | None], plain: bool, per: float
) -> Place:
    """Without a viewBox a user unit is a px, unless the job says what it is."""
    height = sizes[1] or 0.0
    one = MM_PER_CSS_UNIT["px"] if not plain and None not in sizes else per
    up = Affine(d=-1.0, f=height).after(Affine.scale(one, one))
    view = None if sizes[0] is None or sizes[1] is None else (sizes[0] / one, sizes[1] / one)
    return Place(up.after(transform_of(root.get("transform", ""))), view)


def view_box(element: ElementTree.Element) -> tuple[float, float, float, float] | None:
    """A viewBox in user units: x, y, width, height; None where there is none.

    Raises
    ------
    ValueError
        If it is no four numbers, or leaves no page.
    """
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


def fitted(
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


def viewport_place(
    element: ElementTree.Element, sized: Mapping[str, str], place: Place, *, clips: bool
) -> Place:
    """Inside a nested <svg> or a <symbol>, whose x, y, width and height are ``sized``; what lies
    beyond its viewport is not seen where it ``clips``.

    Raises
    ------
    ValueError
        If a length or a viewBox cannot be read.
    """
    at = (length(key, sized.get(key, "0"), place) for key in ("x", "y"))
    to_mm = place.to_mm.after(Affine.shift(*at))
    box = view_box(element)
    texts = {key: sized.get(key, "auto") for key in ("width", "height")}
    if place.view is None and box is None:
        return replace(place, to_mm=to_mm)
    size = [length(key, "100%" if text == "auto" else text, place) for key, text in texts.items()]
    inside = replace(place, to_mm=to_mm, view=(size[0], size[1]))
    if clips:
        corners = ((0.0, 0.0), (size[0], 0.0), (size[0], size[1]), (0.0, size[1]))
        spots = [to_mm.point(Point(*corner)) for corner in corners]
        inside = inside.clipped(shapely.Polygon([(spot.x, spot.y) for spot in spots]))
    if box is None:
        return inside
    fit = fitted(box, (size[0], size[1]), element.get("preserveAspectRatio", ""))
    return replace(inside, to_mm=to_mm.after(fit), view=(box[2], box[3]))


def length(key: str, text: str, place: Place) -> float:
    """A length in user units; a percentage is of the viewport (SVG 2, 8.9).

    Raises
    ------
    ValueError
        If it is none, or in an unknown unit.
    """
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
