"""An SVG's outlines as a picture: how much cloth each of them takes, counted in pixels by resvg.

It knows nothing of paths: resvg draws each outline in a colour of its own, and the pixels of that
colour are counted. A path that some renderer sees otherwise than the reader does is found so.
"""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np
import numpy.typing as npt
import resvg_py
from PIL import Image

from cutfiles.errors import Finding
from cutfiles.tolerances import PAST_FOLD_MM
from cutfiles.verdict.expected import ExpectedLay, ExpectedPiece
from cutfiles.verdict.svg_elements import FAULTS, SPACE, feed_elements

_PIXELS = 1_500_000
"""Of a lay, as far as `_FINEST_MM` and `_COARSEST_MM` allow."""
_FINEST_MM = 0.5
_COARSEST_MM = 2.0
_PIXELS_AT_ONCE = 1_000_000
"""Of a stretch of the lay: 25 MB with all its copies."""

_BEYOND_MM = 2.0 * PAST_FOLD_MM
"""How far round the lay the picture goes: a half on the fold is cut past it, and grows with its
piece."""

_SHARE = 0.55
"""How much of a pixel each point of an outline may be off: a pixel counts if its middle lies
within, so half a pixel, and a tenth of that for roundings of places and the fit of curves."""

_GROUP = f"{SPACE}g"
_PATH = f"{SPACE}path"


def raster_findings(path: Path, expected: ExpectedLay) -> tuple[Finding, ...]:
    """Every piece of a lay whose outline in an SVG file does not cover its area and the kerf
    beside it. A file that is no SVG gives none: reading it says so."""
    outlines = _Outlines(expected.layers["outline"])
    try:
        with path.open("rb") as content:
            feed_elements(content, outlines)
    except FAULTS:
        return ()
    data = outlines.data_by_piece
    drawn = [piece for piece in expected.pieces if piece.id in data]
    pixel_mm = _pixel_mm(expected)
    counts = _counted(drawn, [data[piece.id] for piece in drawn], expected, pixel_mm)
    covered = dict(zip((piece.id for piece in drawn), counts * pixel_mm**2, strict=True))
    findings = []
    for piece in expected.pieces:
        wanted, error = _area_mm2(piece, expected.kerf_mm), _SHARE * pixel_mm * piece.perimeter_mm
        area = float(covered.get(piece.id, 0.0))
        if abs(area - wanted) > error:
            text = (
                f"{path.name}: {piece.id} ({piece.cap}) covers {area:.0f} mm2 as resvg draws it, "
                f"and should cover {wanted:.0f} mm2, give or take {error:.0f}: write it again"
            )
            findings.append(Finding("area", "error", text))
    return tuple(findings)


class _Outlines:
    """Takes the path data of the pieces' outlines: of all paths in a group of some name."""

    def __init__(self, layer: str) -> None:
        self.data_by_piece: dict[str, str] = {}
        self._layer = layer
        self._groups: list[bool] = []  # of all that are open, whether the paths in them count

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Go into a group, or take a path."""
        is_within = bool(self._groups) and self._groups[-1]
        if tag == _GROUP:
            self._groups.append(is_within or attributes.get("id") == self._layer)
        elif tag == _PATH and is_within:
            self.data_by_piece[attributes.get("data-piece", "")] = attributes.get("d", "")

    def data(self, text: str) -> None:
        """Words are no outlines."""

    def end(self, tag: str) -> None:
        """Leave a group."""
        if tag == _GROUP:
            self._groups.pop()


def _area_mm2(piece: ExpectedPiece, kerf_mm: float) -> float:
    """Of the tool's path: half a kerf round the piece. Corners, which are mitred, are left out:
    they come to some kerfs squared."""
    return piece.area_mm2 + piece.perimeter_mm * kerf_mm / 2.0


def _pixel_mm(expected: ExpectedLay) -> float:
    fit = math.sqrt(expected.length_mm * expected.width_mm / _PIXELS)
    return min(max(fit, _FINEST_MM), _COARSEST_MM)


def _counted(
    pieces: Sequence[ExpectedPiece], data: Sequence[str], expected: ExpectedLay, pixel_mm: float
) -> npt.NDArray[np.int64]:
    """Pixels of each piece, drawn a stretch of the lay after the other."""
    high = math.ceil((expected.width_mm + 2.0 * _BEYOND_MM) / pixel_mm)
    long = math.ceil((expected.length_mm + 2.0 * _BEYOND_MM) / pixel_mm)
    at_once = max(_PIXELS_AT_ONCE // high, 1)
    counts = np.zeros(len(pieces) + 1, dtype=np.int64)
    for start in range(0, long, at_once):
        wide = min(at_once, long - start)
        left, right = (at * pixel_mm - _BEYOND_MM for at in (start, start + wide))
        paths = [
            f'<path fill="#{number.to_bytes(3, "little").hex()}" d={quoteattr(path)}/>'
            for number, (piece, path) in enumerate(zip(pieces, data, strict=True), 1)
            # nothing of an outline is further from its middle than half the way round it
            if left - piece.perimeter_mm / 2.0 < piece.centre[0] < right + piece.perimeter_mm / 2.0
        ]
        if not paths:
            continue
        box = f"{left} {-_BEYOND_MM} {wide * pixel_mm} {high * pixel_mm}"
        picture = (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide}" height="{high}" '
            f'viewBox="{box}" shape-rendering="crispEdges">'
            f"{''.join(paths)}</svg>"
        )
        png = resvg_py.svg_to_bytes(svg_string=picture, skip_system_fonts=True)
        with Image.open(io.BytesIO(bytes(png))) as image:
            pixels = np.asarray(image.convert("RGBA"), dtype=np.uint8).view("<u4")
        # where nothing is drawn the colour is 0, which is no outline's
        numbers = (pixels & 0xFFFFFF).ravel()
        counts += np.bincount(numbers, minlength=len(counts))[: len(counts)]
    return counts[1:]
