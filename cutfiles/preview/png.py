"""The picture of a lay as PNG, drawn by resvg."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import resvg_py

from cutfiles.cuts.plan import Role
from cutfiles.preview.lay import PreviewLay
from cutfiles.preview.picture import lay_svg_file, size_px

MOST_PX_PER_MM: Final = 2.0
LONGEST_PX: Final = 3000


def lay_png(lay: PreviewLay, colours: Mapping[Role, str]) -> bytes:
    """The picture on light ground, `MOST_PX_PER_MM` fine or as fine as `LONGEST_PX` allows.
    ``colours`` gives ``#rrggbb`` for every role.

    Words need a font, and fonts differ from machine to machine: they are left out, so that one lay
    gives the same picture everywhere.
    """
    longest = max(size_px(lay, MOST_PX_PER_MM))
    px_per_mm = MOST_PX_PER_MM * min(1.0, LONGEST_PX / longest)
    picture = lay_svg_file(lay, colours, size_px(lay, px_per_mm))
    drawn = resvg_py.svg_to_bytes(svg_string=picture, background="#ffffff", skip_system_fonts=True)
    return bytes(drawn)
