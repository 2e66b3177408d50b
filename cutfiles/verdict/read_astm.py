"""Reading a pattern for exchange (after ASTM D6673-10) through GDAL/OGR, block by block.

Not one line of code in common with the writer.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pyogrio
import pyogrio.errors
import shapely

from cutfiles.errors import Finding
from cutfiles.verdict.drawing import Array

_AS_BLOCKS: dict[str, str | bool | int | float | None] = {
    "DXF_INLINE_BLOCKS": "FALSE",
    "DXF_MERGE_BLOCK_GEOMETRIES": "FALSE",
}
_COLUMNS = ["Layer", "Text", "Block", "BlockName"]


@dataclass(frozen=True, slots=True)
class ReadBlock:
    """One block as read: lines ``(n, 2)`` and points ``(2,)`` by layer number, in drawing units;
    texts of layer 1 by what stands before their colon; other texts under ``notes``."""

    name: str
    lines: dict[str, list[Array]] = field(default_factory=dict)
    points: dict[str, list[Array]] = field(default_factory=dict)
    said: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class ReadPattern:
    """A whole file as read. ``inserts`` names the block of every INSERT."""

    name: str
    blocks: tuple[ReadBlock, ...]
    inserts: tuple[str, ...]
    said: dict[str, str]
    findings: tuple[Finding, ...]


def read_astm(path: Path) -> ReadPattern:
    """Read the pieces of an exchange file. What cannot be read at all is a finding."""
    blocks: dict[str, ReadBlock] = {}
    inserts: list[str] = []
    style = ReadBlock("")
    try:
        with _blocks_kept():
            tables = pyogrio.list_layers(path)[:, 0]
            rows = [row for table in tables for row in _rows(path, str(table))]
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError):
        text = f"{path.name}: is no DXF file that can be read: write or copy it again"
        return ReadPattern(path.name, (), (), {}, (Finding("unreadable", "error", text),))
    for shape, layer, text, block, inserted in rows:
        if inserted:
            inserts.append(inserted)
            continue
        home = blocks.setdefault(block, ReadBlock(block)) if block else style
        points = shapely.get_coordinates(shape)
        if text:
            head, colon, rest = text.partition(":")
            if layer == "1" and colon:
                home.said[head.strip()] = rest.strip()
            else:
                home.notes.append(text)
        elif isinstance(shape, shapely.Point):
            home.points.setdefault(layer, []).append(points[0])
        else:
            home.lines.setdefault(layer, []).append(np.asarray(points, dtype=np.float64))
    return ReadPattern(path.name, tuple(blocks.values()), tuple(inserts), style.said, ())


def _rows(path: Path, layer: str) -> Iterator[tuple[shapely.Geometry, str, str, str, str]]:
    """Shape, layer number, text, the block it stands in, the block it inserts."""
    meta, _, shapes, columns = pyogrio.raw.read(path, layer=layer, columns=_COLUMNS)
    fields = dict(zip(meta["fields"], columns, strict=True))
    for shape, *words in zip(
        shapely.from_wkb(shapes), *(fields[name] for name in _COLUMNS), strict=True
    ):
        number, text, block, inserted = ("" if word is None else str(word) for word in words)
        yield shape, number, text, block, inserted


@contextmanager
def _blocks_kept() -> Iterator[None]:
    """GDAL draws blocks where they are inserted, unless it is told to leave them."""
    before = {name: pyogrio.get_gdal_config_option(name) for name in _AS_BLOCKS}
    pyogrio.set_gdal_config_options(_AS_BLOCKS)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)
