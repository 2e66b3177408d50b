"""Reading a DXF file through GDAL/OGR: not one line of code in common with the writer."""

from __future__ import annotations

import re
from itertools import takewhile
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyogrio
import pyogrio.errors
import shapely

from cutfiles.errors import Finding
from cutfiles.units import counted
from cutfiles.verdict.drawing import (
    LARGEST_FILE,
    Gathered,
    ReadDrawing,
    ReadText,
    too_large,
    unread,
)

_FIELDS = ("Layer", "Text")
_STYLES = "SELECT OGR_STYLE FROM entities WHERE Text <> ''"
"""How texts are turned, and how high they are. It is asked for them alone: to make up the style of
every line takes as long as reading its places."""

_ARCS = {"OGR_ARC_STEPSIZE": 0.5, "OGR_ARC_MAX_GAP": 5.0}
"""How GDAL flattens arcs: steps of so many degrees and drawing units at most, which stands off an
arc by 0.0055 mm at most, at a radius of 573 mm."""

_AT_ONCE = 2_000
"""Shapes that are taken apart at a time, to spare memory."""

_POINT, _POLYGON = 0, 3
"""Of `shapely.get_type_id`."""

_BODY = "ENTITIES"
"""The section that what is drawn stands in, behind the header."""

_END_BYTES = 1000
_R12 = "AC1009"
_UNITS_MM = {"0": None, "1": 25.4, "2": 304.8, "4": 1.0, "5": 10.0, "6": 1000.0}
"""$INSUNITS, as the format's owner documents it; 0 is no unit."""


def read_dxf(path: Path) -> ReadDrawing:
    """Read the lines and texts of a DXF file, scaled to millimetres by its ``$INSUNITS``.

    Curves come as GDAL flattens them. What cannot be read at all is a finding too.
    """
    refused = too_large(path, LARGEST_FILE[".dxf"])
    if refused:
        return refused
    pyogrio.set_gdal_config_options(_ARCS)
    try:
        _, _, shapes, (layers, words) = pyogrio.raw.read(path, columns=_FIELDS)
        styles = _styles(path, words)
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError):
        return unread(path, "is no DXF file that can be read: write or copy it again")
    scale, findings = _scale(path)
    lines = Gathered()
    texts: list[ReadText] = []
    lone: list[tuple[float, float]] = []
    for start in range(0, len(shapes), _AT_ONCE):
        with np.errstate(invalid="ignore"):  # places that are no numbers are said below
            parts, owners = _parts(shapely.from_wkb(shapes[start : start + _AT_ONCE]))
        shapes[start : start + _AT_ONCE] = None
        coordinates, numbers = shapely.get_coordinates(parts, return_index=True)
        counts = np.bincount(numbers, minlength=len(parts))
        is_point = shapely.get_type_id(parts) == _POINT
        if not np.isfinite(coordinates).all() or not counts[is_point].all():
            return unread(path, "holds a place that is no number: write or copy it again")
        points = np.asarray(coordinates * scale, dtype=np.float64)
        is_line = ~is_point & (counts > 0)
        named = (start + owners[is_line]).tolist()
        on_lines = points[np.repeat(is_line, counts)]
        lines.add([str(layers[owner]) for owner in named], on_lines, counts[is_line].tolist())
        places = points[np.repeat(is_point, counts)].tolist()
        for (x, y), owner in zip(places, (start + owners[is_point]).tolist(), strict=True):
            if words[owner]:
                angle_deg, height = styles[owner]
                what = str(layers[owner]), str(words[owner])
                texts.append(ReadText(*what, (x, y), angle_deg, height * scale))
            else:
                lone.append((x, y))
    if lone:
        text = (
            f"{path.name}: holds {counted(len(lone), 'point')} where a tool may go down, the first "
            "at ({:.1f}, {:.1f}) mm: draw it without".format(*lone[0])
        )
        findings.append(Finding("unread-part", "error", text))
    return ReadDrawing(path.name, lines.lines(), tuple(texts), tuple(findings))


def _styles(path: Path, words: npt.NDArray[np.object_]) -> dict[int, tuple[float, float]]:
    """Angle in degrees of every text, by the number of its shape, and height in drawing units."""
    texts = np.flatnonzero(words.astype(np.bool_)).tolist()
    if not texts:
        return {}
    _, _, _, (styles,) = pyogrio.raw.read(path, sql=_STYLES, read_geometry=False)
    return dict(zip(texts, map(_lettering, styles), strict=True))


def _lettering(style: object) -> tuple[float, float]:
    """Angle in degrees and height of letters in drawing units, from a feature's style string."""
    angle = re.search(r"\ba:(-?[\d.]+)", str(style))
    height = re.search(r"\bs:([\d.]+)g", str(style))
    return float(angle[1]) if angle else 0.0, float(height[1]) if height else 0.0


def _parts(
    shapes: npt.NDArray[np.object_],
) -> tuple[npt.NDArray[np.object_], npt.NDArray[np.int64]]:
    """Single lines and points, a polygon as its rings, and which shape each is of."""
    if (shapely.get_type_id(shapes) < _POLYGON).all():
        return shapes, np.arange(len(shapes))
    parts, owners = shapely.get_parts(shapes, return_index=True)
    is_polygon = shapely.get_type_id(parts) == _POLYGON
    if not is_polygon.any():
        return parts, owners
    rings, holders = shapely.get_rings(parts[is_polygon], return_index=True)
    every = np.concatenate((parts[~is_polygon], rings))
    owned = np.concatenate((owners[~is_polygon], owners[is_polygon][holders]))
    in_order = np.argsort(owned, kind="stable")
    return every[in_order], owned[in_order]


def _scale(path: Path) -> tuple[float, list[Finding]]:
    """Millimetres a drawing unit, from the header's tags: GDAL does not pass them on."""
    tags, end = _head_and_end(path)
    unit = _header_value(tags, "$INSUNITS", "0")
    if _header_value(tags, "$ACADVER", "") == _R12 and _says_millimetres(tags):
        unit = "4"
    findings = []
    if _header_value(tags, "$MEASUREMENT", "1") != "1":
        text = f"{path.name}: its header asks for imperial drawing ($MEASUREMENT): set it to 1"
        findings.append(Finding("no-unit", "error", text))
    if not any(line.strip() == "EOF" for line in end[-3:]):
        text = f"{path.name}: breaks off before its end (no EOF): write or copy it again"
        findings.append(Finding("truncated", "error", text))
    known = _UNITS_MM.get(unit)
    if known is not None:
        return known, findings
    text = (
        f"{path.name}: its header names no unit that is known here ($INSUNITS {unit}): "
        "write it in millimetres ($INSUNITS 4); it is read as millimetres"
    )
    return 1.0, [*findings, Finding("no-unit", "error", text)]


def _head_and_end(path: Path) -> tuple[list[str], list[str]]:
    """The lines before the entities, and the last few of all."""
    with path.open(encoding="utf-8", errors="replace") as lines:
        head = [line.rstrip("\n") for line in takewhile(lambda one: one.strip() != _BODY, lines)]
    with path.open("rb") as content:
        content.seek(max(path.stat().st_size - _END_BYTES, 0))
        return head, content.read().decode("utf-8", errors="replace").splitlines()


def _says_millimetres(tags: list[str]) -> bool:
    """Whether a comment (group code 999) at the head of a file names its unit: R12 has no other
    place for it."""
    comments = []
    for code, text in zip(tags[::2], tags[1::2], strict=False):
        if code.strip() != "999":
            break
        comments.append(text)
    return any(re.search(r"\bmillimet(re|er)s\b", text, re.IGNORECASE) for text in comments)


def _header_value(tags: list[str], variable: str, otherwise: str) -> str:
    """A header variable's value: the second line after its name."""
    for index, line in enumerate(tags[:-2]):
        if line.strip() == variable:
            return tags[index + 2].strip()
    return otherwise
