"""The data of an SVG path as polylines: a reader of the normal form, and a library for all else.

The normal form is of absolute ``M``, ``L``, ``A`` and ``Z`` with circles for ellipses. It is read
here, since a lay holds tens of thousands of arcs and svgpathtools takes a fifth of a millisecond
for each; other data goes to svgpathtools.
"""

from __future__ import annotations

import math
import re

import numpy as np
import svgpathtools

from cutfiles.verdict.drawing import Array

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)"
_PAIR = rf"{_NUMBER}[ ,]{_NUMBER}"
_STEP = rf"(?: ?L{_PAIR}| ?A{_PAIR} {_NUMBER} [01] [01] {_PAIR})"
_NORMAL = re.compile(rf"(?: ?M{_PAIR}{_STEP}* ?Z?)+")
_STRAIGHT = re.compile(rb"(?: ?M ?0++[ ,]0++(?: ?L ?0++[ ,]0++)*+ ?Z?)++")
"""The normal form without arcs, every part of its numbers a nought."""

_TO_NOUGHTS = bytes.maketrans(b"123456789.+-", b"0" * 12)
_TO_BLANKS = str.maketrans("MLZ,", "    ")
_OTHER = re.compile(r"[^MLHVCSQTAZmlhvcsqtaz0-9eE.,+\-\s]")
"""What is no part of a path: a renderer stops there, and the library reads on."""

_CURVE_STEPS = 64
_OFF = 0.002


def polylines(data: str) -> tuple[Array, list[int]]:
    """The subpaths of a path: their points one after the other ``(n, 2)``, in user units, and how
    many each has; a closed one repeats its first.

    Chords of circles stand off them by no more than `_OFF` of a user unit.

    Raises
    ------
    ValueError, IndexError, AssertionError
        If it is no path, or a number of it is none.
    """
    found = _straight(data)
    if found is None:
        if _NORMAL.fullmatch(data):
            parts = [part for text in data.split("M")[1:] if (part := _normal(text)) is not None]
        else:
            parts = _by_library(data)
        found = np.concatenate([np.empty((0, 2)), *parts]), [len(part) for part in parts]
    if not np.isfinite(found[0]).all():
        raise ValueError("a number is too large")
    return found


def _straight(data: str) -> tuple[Array, list[int]] | None:
    """The subpaths of the normal form where there are no arcs, all numbers at once; None if it is
    not that."""
    if not _STRAIGHT.fullmatch(data.encode().translate(_TO_NOUGHTS)):
        return None
    try:
        numbers = np.array(list(map(float, data.translate(_TO_BLANKS).split())))
    except ValueError:  # numbers may follow each other with nothing between them
        return None
    texts = data.split("M")[1:]
    counts = [text.count("L") + 1 for text in texts]
    points = numbers.reshape(-1, 2)
    if min(counts) > 1 and "Z" not in data:
        return points, counts
    parts = []
    for text, part in zip(texts, np.split(points, np.cumsum(counts)[:-1]), strict=True):
        is_open = "Z" in text and not np.array_equal(part[0], part[-1])
        whole = np.vstack((part, part[:1])) if is_open else part
        if len(whole) > 1:
            parts.append(whole)
    return np.concatenate([np.empty((0, 2)), *parts]), [len(part) for part in parts]


def _normal(text: str) -> Array | None:
    """One subpath of the normal form, its ``M`` taken off; None if ellipses are no circles."""
    closed = "Z" in text
    steps = text.rstrip("Z ").replace("A", "LA").split("L")
    places = [steps[0].replace(",", " ").split()]
    arcs: list[tuple[int, float, bool, bool]] = []
    for number, step in enumerate(steps[1:]):
        if step[0] != "A":
            places.append(step.replace(",", " ").split())
            continue
        rx, ry, _, large, sweep, x, y = step[1:].replace(",", " ").split()
        if rx != ry:
            return _one(_by_library("M" + text))
        places.append([x, y])
        arcs.append((number, float(rx), large == "1", sweep == "1"))
    points = np.array(places, dtype=np.float64)
    if closed and not np.array_equal(points[0], points[-1]):
        points = np.vstack((points, points[:1]))
    if len(points) < 2:
        return None
    return _with_arcs(points, arcs) if arcs else points


def _one(parts: list[Array]) -> Array | None:
    return parts[0] if parts else None


def _with_arcs(points: Array, arcs: list[tuple[int, float, bool, bool]]) -> Array:
    """Points with those of the arcs between them. By SVG 2, appendix B.2.4 and B.2.5: the centre
    lies to one side of the chord, and a radius too small for it is half of it."""
    number, radius, large, sweep = (np.array(column) for column in zip(*arcs, strict=True))
    start, end = points[number], points[number + 1]
    chord = (end - start) @ [1.0, 1j]
    half = np.abs(chord) / 2.0
    radius = np.maximum(radius, half)
    side = np.where(large == sweep, -1.0, 1.0)
    level = np.where(half > 0.0, half, 1.0)
    rise = side * np.sqrt(radius**2 - half**2) / (2.0 * level)
    centre = start @ [1.0, 1j] + chord / 2.0 + 1j * chord * rise
    first = start @ [1.0, 1j] - centre
    turn = 2.0 * np.arcsin(np.minimum(half / np.maximum(radius, 1e-300), 1.0))
    turn = np.where(large, 2.0 * math.pi - turn, turn) * np.where(sweep, 1.0, -1.0)
    stride = 2.0 * np.arccos(1.0 - np.minimum(_OFF / np.maximum(radius, 1e-300), 1.0))
    counts = np.maximum(np.ceil(np.abs(turn) / stride).astype(int), 1)
    inner = counts - 1
    which = np.repeat(np.arange(len(counts)), inner)
    rank = np.arange(len(which)) - np.repeat(np.cumsum(inner) - inner, inner) + 1
    between = centre[which] + first[which] * np.exp(1j * turn[which] * rank / counts[which])
    rows = np.column_stack((between.real, between.imag))
    return np.insert(points, np.repeat(number, inner) + 1, rows, axis=0)


def _by_library(data: str) -> list[Array]:
    other = _OTHER.search(data)
    if other:
        raise ValueError(f"{other[0]!r} is no part of a path")
    found = []
    for part in svgpathtools.parse_path(data).continuous_subpaths():
        places = [part[0].start]
        for segment in part:
            if isinstance(segment, svgpathtools.Line):
                places.append(segment.end)
            elif isinstance(segment, svgpathtools.Arc):
                places.extend(_along_arc(segment))
            else:
                places.extend(segment.point(k / _CURVE_STEPS) for k in range(1, _CURVE_STEPS + 1))
        found.append(np.array([[place.real, place.imag] for place in places]))
    return found


def _along_arc(arc: svgpathtools.Arc) -> list[complex]:
    """Points along an arc after its start, chords no further off than `_OFF` of a user unit."""
    reach = max(arc.radius.real, arc.radius.imag)
    step = 2.0 * math.acos(1.0 - min(_OFF / reach, 1.0))
    count = max(1, math.ceil(math.radians(abs(arc.delta)) / step))
    angles = np.radians(arc.theta + arc.delta * np.arange(1, count) / count)
    level = arc.radius.real * np.cos(angles) + 1j * arc.radius.imag * np.sin(angles)
    return [*(level * arc.rot_matrix + arc.center).tolist(), arc.end]
