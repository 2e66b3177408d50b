"""The shapes of SVG 2, chapters 9 and 10, as segments in user units (y down, as SVG has it).

Path data is parsed by svgpathtools, after it has been split and counted by the grammar of
chapter 9.3: flags may stand without separators, and a command with too few numbers is an error.
Quadratics become cubics exactly; elliptic arcs that are no circles become cubics of 30 degrees
or less, within 4e-7 of the larger half-axis.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from typing import Any, Final

import svgpathtools

from cutfiles.geometry.affine import Affine
from cutfiles.geometry.segments import Arc, Cubic, Line, Segment
from cutfiles.geometry.vector import Point, Vector

Loop = tuple[Segment, ...]
Length = Callable[[str, str], float]
"""Gives an attribute's length in user units: its name, and its text where it is missing."""

_COMMAND: Final = re.compile(r"[MmZzLlHhVvCcSsQqTtAa]")
_NUMBER: Final = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_FLAG: Final = re.compile(r"[01]")
_SEPARATOR: Final = re.compile(r"[\s,]*")
_COUNTS: Final = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
_FLAGS: Final = (3, 4)
"""The numbers of an arc that are one digit, 0 or 1."""


def path_shape(data: str) -> list[Loop]:
    """Every subpath of a ``d`` attribute.

    Raises
    ------
    ValueError
        If it does not follow the grammar; the text names the place.
    """
    whole = svgpathtools.parse_path(" ".join(_commands(data)))
    loops: list[list[Segment]] = []
    end: complex | None = None
    first: complex | None = None
    for drawn in whole:
        # a subpath that has come back to its start is over, whatever follows from there
        if end is None or drawn.start != end or end == first:
            loops.append([])
            first = drawn.start
        end = drawn.end
        loops[-1].extend(_segments(drawn))
    return [tuple(loop) for loop in loops if loop]


def _commands(data: str) -> Iterator[str]:
    """The data with one command a set of numbers, everything separated."""
    at = _skip(data, 0)
    if data[at : at + 1] not in ("", "M", "m") and _COMMAND.match(data, at):
        raise ValueError(f"path data: must begin with M, and begins with {data[at]!r}")
    command = ""
    place = first = 0j
    while at < len(data):
        letter = _COMMAND.match(data, at)
        if letter:
            command = letter[0]
            at = _skip(data, letter.end())
        elif command in ("", "Z", "z"):
            raise ValueError(f"path data: a command is wanted at {data[at : at + 12]!r}")
        numbers = []
        for index in range(_COUNTS[command.upper()]):
            flag = command in "Aa" and index in _FLAGS
            number = (_FLAG if flag else _NUMBER).match(data, at)
            if number is None:
                rest = data[at : at + 12]
                raise ValueError(f"path data: {command!r} wants a number where {rest!r} stands")
            numbers.append(number[0])
            at = _skip(data, number.end())
        before, place = place, _place_after(command, numbers, place, first)
        if command in "Aa" and before == place:
            pass  # SVG 2, 9.5.1: an arc that goes nowhere is left out
        elif command in "Aa" and 0.0 in (float(numbers[0]), float(numbers[1])):
            yield "L" if command == "A" else "l"  # and without a radius it is a line
            yield from numbers[5:]
        else:
            yield command
            yield from numbers
        if command in "Mm":
            first = place
        if command in "Mm":  # further pairs are lines
            command = "L" if command == "M" else "l"


def _place_after(command: str, numbers: list[str], place: complex, first: complex) -> complex:
    """Where a command leaves the pen, x and y as real and imaginary part."""
    kind = command.upper()
    if kind == "Z":
        return first
    if kind == "H":
        step = complex(float(numbers[0]), 0.0 if command == "h" else place.imag)
    elif kind == "V":
        step = complex(0.0 if command == "v" else place.real, float(numbers[0]))
    else:
        step = complex(float(numbers[-2]), float(numbers[-1]))
    return place + step if command.islower() else step


def _skip(data: str, at: int) -> int:
    found = _SEPARATOR.match(data, at)
    return found.end() if found else at


def _segments(drawn: Any) -> Iterator[Segment]:
    start, end = _place(drawn.start), _place(drawn.end)
    if isinstance(drawn, svgpathtools.Line):
        yield Line(start, end)
    elif isinstance(drawn, svgpathtools.QuadraticBezier):
        handle = _place(drawn.control)
        yield Cubic(start, start.toward(handle, 2 / 3), end.toward(handle, 2 / 3), end)
    elif isinstance(drawn, svgpathtools.CubicBezier):
        yield Cubic(start, _place(drawn.control1), _place(drawn.control2), end)
    else:
        yield from _pinned(_elliptic(drawn), start, end)


def _elliptic(arc: Any) -> Loop:
    """An elliptic arc as the image of an arc of the unit circle."""
    frame = Affine.shift(arc.center.real, arc.center.imag).after(
        Affine.turn(arc.rotation).after(Affine.scale(arc.radius.real, arc.radius.imag))
    )
    return frame.segment(Arc(Point(0.0, 0.0), 1.0, float(arc.theta), float(arc.delta)))


def _pinned(segments: Loop, start: Point, end: Point) -> Iterator[Segment]:
    """Led to the exact ends: the centre of a wide flat arc is known less well than they are."""
    stops = [start, *(s.start for s in segments[1:]), end]
    if stops[0].distance(segments[0].start) > 0.0:
        yield Line(stops[0], segments[0].start)
    yield from segments
    if segments[-1].end.distance(end) > 0.0:
        yield Line(segments[-1].end, end)


def _place(number: complex) -> Point:
    return Point(float(number.real), float(number.imag))


def basic_shape(name: str, length: Length, attributes: Mapping[str, str]) -> list[Loop]:
    """A rect, circle, ellipse, line, polyline or polygon.

    Raises
    ------
    ValueError
        If a number cannot be read; a shape without extent is empty.
    """
    if name == "rect":
        return _rect(length, attributes)
    if name == "circle":
        radius = length("r", "0")
        return _ellipse(length, radius, radius)
    if name == "ellipse":
        rx, ry = attributes.get("rx", "auto"), attributes.get("ry", "auto")
        across = length("ry" if rx == "auto" else "rx", "0")
        return _ellipse(length, across, across if ry == "auto" else length("ry", "0"))
    if name == "line":
        ends = [Point(length(f"x{i}", "0"), length(f"y{i}", "0")) for i in "12"]
        return [(Line(ends[0], ends[1]),)]
    return _poly(attributes.get("points", ""), closed=name == "polygon")


def _poly(text: str, *, closed: bool) -> list[Loop]:
    numbers = [float(number) for number in _NUMBER.findall(text)]
    if _NUMBER.sub("", text).strip(" \t\r\n,"):
        raise ValueError(f"points: {text[:30]!r} are no numbers")
    if len(numbers) % 2:
        raise ValueError(f"points: {len(numbers)} numbers are no pairs")
    stops = [Point(x, y) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
    if closed and stops and stops[0] != stops[-1]:
        stops.append(stops[0])
    return [tuple(Line(a, b) for a, b in pairwise(stops))] if len(stops) > 1 else []


def _ellipse(length: Length, rx: float, ry: float) -> list[Loop]:
    if min(rx, ry) < 0.0:
        raise ValueError("a radius is negative")
    if min(rx, ry) == 0.0:
        return []
    frame = Affine.shift(length("cx", "0"), length("cy", "0")).after(Affine.scale(rx, ry))
    halves = (Arc(Point(0.0, 0.0), 1.0, start, 180.0) for start in (0.0, 180.0))
    return [tuple(s for half in halves for s in frame.segment(half))]


def _rect(length: Length, attributes: Mapping[str, str]) -> list[Loop]:
    x, y, width, height = (length(key, "0") for key in ("x", "y", "width", "height"))
    if min(width, height) < 0.0:
        raise ValueError("a rect has a negative width or height")
    if min(width, height) == 0.0:
        return []
    given = {key: attributes.get(key, "auto") != "auto" for key in ("rx", "ry")}
    rx = length("rx" if given["rx"] else "ry", "0") if any(given.values()) else 0.0
    ry = length("ry", "0") if given["ry"] else rx
    rx, ry = min(rx, width / 2.0), min(ry, height / 2.0)
    if rx <= 0.0 or ry <= 0.0:
        rx = ry = 0.0
    corners = (
        (Vector(width - rx, 0.0), Vector(width - rx, ry), Vector(width, ry), -90.0),
        (Vector(width, height - ry), Vector(width - rx, height - ry), Vector(width - rx, height),
         0.0),
        (Vector(rx, height), Vector(rx, height - ry), Vector(0.0, height - ry), 90.0),
        (Vector(0.0, ry), Vector(rx, ry), Vector(rx, 0.0), 180.0),
    )  # fmt: skip
    origin = Point(x, y)
    segments: list[Segment] = []
    before = origin + Vector(rx, 0.0)
    for enter, middle, leave, start_deg in corners:
        if before.distance(origin + enter) > 0.0:
            segments.append(Line(before, origin + enter))
        if rx:
            centre = origin + middle
            frame = Affine.shift(centre.x, centre.y).after(Affine.scale(rx, ry))
            segments.extend(frame.segment(Arc(Point(0.0, 0.0), 1.0, start_deg, 90.0)))
        before = origin + leave
    return [tuple(segments)]


def transform_of(text: str) -> Affine:
    """A ``transform`` attribute (SVG 2, chapter 8.5, without CSS units).

    Raises
    ------
    ValueError
        If a function is unknown or has a wrong count of numbers.
    """
    whole = Affine()
    rest = re.sub(r"([a-zA-Z]+)\s*\(([^()]*)\)", "", text).strip(" \t\r\n,")
    if rest and text.strip() != "none":
        raise ValueError(f"transform: {text[:40]!r} cannot be read")
    for name, inside in re.findall(r"([a-zA-Z]+)\s*\(([^()]*)\)", text):
        if _NUMBER.sub("", inside).strip(" \t\r\n,"):
            raise ValueError(f"transform: {name}({inside}) holds more than numbers")
        numbers = tuple(float(number) for number in _NUMBER.findall(inside))
        whole = whole.after(_function(name, numbers))
    return whole


def css_transform_of(text: str) -> Affine:
    """A ``transform`` of a style: the same with ``px`` and ``deg`` (CSS Transforms 1).

    Raises
    ------
    ValueError
        As `transform_of` does, and for every other unit.
    """
    return transform_of(re.sub(r"(?<=[\d.])(?:px|deg)\b", "", text))


def _function(name: str, numbers: tuple[float, ...]) -> Affine:
    match name, numbers:
        case "matrix", (a, b, c, d, e, f):
            return Affine(a, b, c, d, e, f)
        case "translate", (x, *more) if len(more) < 2:
            return Affine.shift(x, more[0] if more else 0.0)
        case "scale", (x, *more) if len(more) < 2:
            return Affine.scale(x, more[0] if more else x)
        case "rotate", (angle, *about) if len(about) in (0, 2):
            x, y = about or (0.0, 0.0)
            turned = Affine.turn(angle).after(Affine.shift(-x, -y))
            return Affine.shift(x, y).after(turned)
        case "skewX" | "skewY", (angle,):
            slant = math.tan(math.radians(angle))
            return Affine(c=slant) if name == "skewX" else Affine(b=slant)
    raise ValueError(f"transform: {name} with {len(numbers)} numbers is not known")
