"""Drawings made with ezdxf, as bytes of a DXF file."""

from __future__ import annotations

import io
from collections.abc import Callable

from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import new
from ezdxf.layouts.base import BaseLayout

MILLIMETRES = 4
"""The code of $INSUNITS (the format's header table)."""

Draw = Callable[[Document, BaseLayout], object]


def drawn(draw: Draw, *, units: int = MILLIMETRES, release: str = "R2000") -> bytes:
    """What a function draws, as an ASCII file of a release."""
    document = new(release)
    document.header["$INSUNITS"] = units
    draw(document, document.modelspace())
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()
