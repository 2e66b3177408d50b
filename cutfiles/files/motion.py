"""Writing the passes of a plan as motion code after ISO 6983-1, for cutters of two axes.

Millimetres, absolute places, arc centres counted from where the arc starts; every block says its
own G word, so that no reader has to remember one. M3 puts the tool to work, M5 takes it off.
"""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Iterator, Sequence

from cutfiles.cuts.plan import CutPlan, Pass
from cutfiles.geometry.bulges import Place, Span
from cutfiles.tolerances import FLATTEN_MM, WRITE_DECIMALS

_LINE = 72
"""Letters of a comment; controllers cut off long lines."""

_FLAT_MM = 0.0005
"""An arc that stands no further off its chord is written as that: rounded to the written decimals,
a smaller one could turn into a whole circle."""

_LARGEST_RADIUS_MM = 10_000.0
"""Larger arcs are written as chords: a controller that reckons with 24 bits places a point of a
circle of 10 m to 0.0006 mm (derived: 10 000 over 2**24)."""


def motion_bytes(
    plan: CutPlan, *, title: str, feed_mm_min: float, cautions: Sequence[str]
) -> bytes:
    """The plan's passes in their order as motion code; the same arguments give the same bytes.

    The cautions come first, as comments. The tool is off at the start, at the end, and on every
    way from one pass to the next; at the end it goes back to the origin.
    """
    size = f"{plan.length_mm:.1f} mm along, {plan.width_mm:.1f} mm across"
    lines = [
        *_comments(*cautions, "Run it with the tool off first, and watch where it goes."),
        *_comments(
            f"{title}: {plan.lay_name}, {size}, passes: {len(plan.passes)}.",
            "The origin is the lower left corner of the usable cloth, x along it, y across.",
        ),
        "G21 G90 G17 G94",
        "M5",
        *_passes(plan.passes, feed_mm_min),
        "G0 X0 Y0",
        "M30",
    ]
    return ("\n".join(lines) + "\n").encode("ascii")


def _passes(passes: Sequence[Pass], feed_mm_min: float) -> Iterator[str]:
    for number, cut in enumerate(passes, 1):
        yield from _comments(f"{number}: {cut.role} of {cut.piece_id}")
        yield f"G0 {_place(cut.points[0])}"
        yield "M3"
        feed = f" F{feed_mm_min:.0f}"
        for block in _blocks(cut):
            yield block + feed
            feed = ""
        yield "M5"


def _blocks(cut: Pass) -> Iterator[str]:
    for span in cut.spans:
        for part in span.at_most_half_circles:
            yield from _of_span(part)


def _of_span(span: Span) -> Iterator[str]:
    """The block of a line or an arc, if it is more than a point once rounded."""
    start, end = _rounded(span.start), _rounded(span.end)
    stands_off = span.chord_mm * abs(span.bulge) / 2.0
    if span.is_arc and stands_off > _FLAT_MM and span.radius_mm <= _LARGEST_RADIUS_MM:
        i, j = (c - s for c, s in zip(span.centre, start, strict=True))
        way = "G3" if span.bulge > 0.0 else "G2"
        yield f"{way} {_place(span.end)} I{_number(i)} J{_number(j)}"
    elif span.is_arc and stands_off > _FLAT_MM:
        for place in span.flattened(FLATTEN_MM / 10.0)[1:]:
            yield f"G1 {_place((float(place[0]), float(place[1])))}"
    elif start != end:
        yield f"G1 {_place(span.end)}"


def _place(place: Place) -> str:
    return f"X{_number(place[0])} Y{_number(place[1])}"


def _rounded(place: Place) -> Place:
    return round(place[0], WRITE_DECIMALS), round(place[1], WRITE_DECIMALS)


def _number(value: float) -> str:
    text = f"{value:.{WRITE_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _comments(*texts: str) -> Iterator[str]:
    for text in texts:
        for line in textwrap.wrap(_harmless(text), _LINE):
            yield f"({line})"


def _harmless(text: str) -> str:
    """A text in letters that no controller acts on: some take % ! ? ~ for orders wherever they
    stand, and a parenthesis would end the comment."""
    plain = unicodedata.normalize("NFKD", text)
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    return re.sub(r"[^A-Za-z0-9 .,:;+/'-]", "_", plain)
