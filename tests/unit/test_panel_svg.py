"""Drawings in SVG: what we read against what another program fills.

Reference: resvg, which renders every drawing at 960 by 960 pixels or more; the filled area is the
sum of its coverage. Its own error is that of its antialiasing, below 0.1 % of these areas.
"""

from __future__ import annotations

import io

import numpy as np
import pytest
import resvg_py
from PIL import Image
from shapely.geometry import Polygon

from cutfiles.pieces.panel_svg import read_svg_drawing

PAGE_MM = 254.0
"""960 px, so that no page size is rounded."""

UPRIGHT = 'width="254mm" height="254mm" viewBox="0 0 254 254"'


def page(body: str, head: str = UPRIGHT) -> bytes:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f"{head}>{body}</svg>"
    ).encode()


def path(data: str) -> str:
    return f'<path d="{data}"/>'


def rendered_mm2(drawing: bytes, zoom: int = 1) -> float:
    png = resvg_py.svg_to_bytes(
        svg_string=drawing.decode(), zoom=zoom, dpi=96, skip_system_fonts=True
    )
    picture = Image.open(io.BytesIO(bytes(png)))
    dots = 960 * zoom
    assert picture.size == (dots, dots)
    cover = np.asarray(picture.getchannel("A"), dtype=np.float64) / 255.0
    return float(cover.sum()) * (PAGE_MM / dots) ** 2


def read_mm2(drawing: bytes, unit: str | None = None) -> float:
    found = read_svg_drawing(drawing, unit=unit, where="a drawing")
    assert [f for f in found.findings if f.severity == "error"] == []
    assert found.lines
    total = 0.0
    for line in found.lines:
        assert line.path.is_closed
        total += Polygon(line.path.flattened(0.0005)).area
    return total


SQUARE = "M20 20h60v60h-60z"
LEAF = "M 30 120 C 60 20 180 30 220 120 S 90 240 30 120 Z"

PATHS = {
    "M L Z": "M 20 20 L 200 30 L 180 210 Z",
    "m l z": "m 20 20 l 180 10 l -20 180 z",
    "M with further pairs": "M 20 20 200 30 180 210 30 190 Z",
    "m with further pairs": "m20,20 180,10-20,180-150-20z",
    "H V": "M 20 20 H 220 V 130 H 120 V 220 H 20 Z",
    "h v": "m 20 20 h 200 v 110 h -100 v 90 h -100 z",
    "C": "M 30 120 C 60 20 180 30 220 120 C 200 240 60 220 30 120 Z",
    "c": "m 30 120 c 30 -100 150 -90 190 0 c -20 120 -160 100 -190 0 z",
    "C S": LEAF,
    "c s": "m 30 120 c 30 -100 150 -90 190 0 s -130 120 -190 0 z",
    "S alone": "M 30 120 S 120 -20 220 120 L 120 220 Z",
    "Q": "M 30 120 Q 120 -60 220 120 Q 120 300 30 120 Z",
    "q": "m 30 120 q 90 -180 190 0 q -100 180 -190 0 z",
    "Q T": "M 30 100 Q 60 30 100 100 T 170 100 T 240 100 L 240 200 H 30 Z",
    "q t": "m 30 100 q 30 -70 70 0 t 70 0 t 70 0 v 100 h -210 z",
    "T alone": "M 30 100 T 200 60 L 150 200 Z",
    "A small": "M 60 60 A 90 90 0 0 1 190 190 Z",
    "A large": "M 100 100 A 60 60 0 1 1 150 150 Z",
    "A backwards": "M 60 60 L 190 60 L 190 190 A 150 150 0 0 0 60 60 Z",
    "A elliptic and turned": "M 60 120 A 100 50 30 0 1 200 150 A 100 50 30 0 1 60 120 Z",
    "A elliptic, large": "M 110 60 A 70 45 -20 1 0 150 70 Z",
    "a": "m 60 120 a 70 40 15 1 0 90 20 z",
    "a with packed flags": "M60 120a70 40 15 1090 20z",
    "A with radii too small": "M 60 120 A 10 10 0 0 1 200 120 L 130 200 Z",
    "A without a radius": "M 60 60 A 0 40 0 0 1 200 60 L 130 200 Z",
    "A that goes nowhere": "M 60 60 A 40 40 0 0 1 60 60 L 200 60 L 130 200 Z",
    "two subpaths": "M20 20h60v60h-60z M120 120h60v60h-60z",
    "relative after Z": "M20 20h60v60h-60z m 100 100 h60v60h-60z",
    "drawn on after Z": "M120 120h60v60h-60z h-60v-60h60z",
    "exponents and dots": "M2e1.2e2L200 3.0e1 .18e3 210.Z",
    "all kinds": "M20,40 h60 q20,-40 40,0 t40,0 l20,10 V120 c0,40 40,60 0,80 "
    "s-60,20 -80,0 a40,20 10 0,1 -60,0 H20 Z",
}

TRANSFORMS = {
    "translate": "translate(40 30)",
    "translate x": "translate(40)",
    "scale": "scale(1.3)",
    "scale both": "scale(1.9,.6)",
    "mirror": "translate(250 0) scale(-1 1)",
    "rotate": "translate(100 40) rotate(33)",
    "rotate about": "rotate(-25 100 100)",
    "skewX": "skewX(25)",
    "skewY": "skewY(20)",
    "matrix": "matrix(.8 .3 -.4 1.1 60 5)",
    "a list": "translate(30,20) rotate(12),scale(1.2 .8) skewX(10)",
}

SHAPES = {
    "rect": '<rect x="20" y="30" width="150" height="90"/>',
    "rect rx": '<rect x="20" y="30" width="150" height="90" rx="20"/>',
    "rect ry": '<rect x="20" y="30" width="150" height="90" ry="12"/>',
    "rect rx ry": '<rect x="20" y="30" width="150" height="90" rx="30" ry="12"/>',
    "rect all round": '<rect x="20" y="30" width="150" height="90" rx="900" ry="30"/>',
    "rect with units": '<rect x="1in" y="1cm" width="40mm" height="90pt"/>',
    "rect by percentage": '<rect x="10%" y="5%" width="50%" height="40%" rx="3%"/>',
    "circle": '<circle cx="120" cy="110" r="80"/>',
    "circle by percentage": '<circle cx="50%" cy="50%" r="30%"/>',
    "ellipse": '<ellipse cx="120" cy="110" rx="90" ry="50"/>',
    "polygon": '<polygon points="20,20 200,40 150,220"/>',
    "polygon, crowded": '<polygon points="20-20,200,40 150 220" transform="translate(0 30)"/>',
    "polyline": '<polyline points="20,20 200,40 150,220 20,20"/>',
    "circle, uneven": '<circle cx="60" cy="50" r="40" transform="scale(2 2.5)"/>',
    "circle, sheared": '<circle cx="60" cy="50" r="40" transform="skewX(30) rotate(20)"/>',
    "round rect, turned": '<g transform="rotate(20)"><rect x="90" width="90" height="60" rx="9" '
    'ry="15" transform="scale(1.4 .9)"/></g>',
}

TREES = {
    "nested groups": f'<g transform="translate(20 30)"><g transform="rotate(15)">'
    f'<g transform="scale(.8 1.3)"><path d="{SQUARE}" transform="skewX(12)"/></g></g></g>',
    "use": f'<defs><path id="p" d="{SQUARE}"/></defs><use href="#p" x="30" y="40"/>',
    "use, older link": f'<defs><path id="p" d="{SQUARE}"/></defs><use xlink:href="#p" x="9"/>',
    "use twice": f'<defs><path id="p" d="{SQUARE}"/></defs><use href="#p"/>'
    '<use href="#p" transform="translate(120 100) rotate(20) scale(.9)"/>',
    "use of a group": f'<defs><g id="g" transform="scale(1.2)"><path d="{SQUARE}"/></g></defs>'
    '<g transform="rotate(5)"><use href="#g" x="30" y="3" transform="skewY(8)"/></g>',
    "use of a use": f'<defs><path id="p" d="{SQUARE}"/><use id="u" href="#p" x="20"/></defs>'
    '<use href="#u" y="50"/>',
    "symbol": '<symbol id="s"><circle cx="60" cy="60" r="40"/></symbol><use href="#s" x="30"/>',
    "symbol with viewBox": '<symbol id="s" viewBox="0 0 100 50"><ellipse cx="50" cy="25" rx="40" '
    'ry="20"/></symbol><use href="#s" x="30" y="20" width="150" height="150"/>',
    "nested svg": '<svg x="20" y="30" width="120" height="160" viewBox="0 0 60 40">'
    '<rect x="5" y="5" width="40" height="30"/></svg>',
    "nested svg, stretched": '<svg x="20" y="30" width="120" height="160" viewBox="0 0 60 40" '
    'preserveAspectRatio="none"><rect x="5" y="5" width="40" height="30" rx="4"/></svg>',
    "a link": f'<a href="#x"><path d="{SQUARE}"/></a>',
    "hidden parts": f'<path d="{SQUARE}"/><circle r="90" cx="99" cy="99" display="none"/>'
    '<g style="display: none"><rect width="90" height="90"/></g>',
    "parts of other programs": f'<x:y xmlns:x="urn:x"><x:z/></x:y><path d="{SQUARE}"/>',
}

HEADS = {
    "in": 'width="10in" height="10in" viewBox="0 0 254 254"',
    "cm": 'width="25.4cm" height="25.4cm" viewBox="0 0 254 254"',
    "pt": 'width="720pt" height="720pt" viewBox="0 0 254 254"',
    "pc": 'width="60pc" height="60pc" viewBox="0 0 254 254"',
    "px": 'width="960px" height="960px" viewBox="0 0 254 254"',
    "no viewBox": 'width="254mm" height="254mm"',
    "other box": 'width="254mm" height="254mm" viewBox="-20 -10 300 300"',
    "wide box": 'width="254mm" height="254mm" viewBox="0 0 500 250"',
    "tall box": 'width="254mm" height="254mm" viewBox="0 0 250 400" preserveAspectRatio="xMaxYMin"',
    "stretched": 'width="254mm" height="254mm" viewBox="0 0 500 250" preserveAspectRatio="none"',
    "filled": 'width="254mm" height="254mm" viewBox="0 0 500 250" '
    'preserveAspectRatio="xMinYMin slice"',
}

DRAWINGS = (
    {f"path {name}": page(path(data)) for name, data in PATHS.items()}
    | {
        f"transform {name}": page(f'<g transform="{text}">{path(LEAF.replace("2", "1"))}</g>')
        for name, text in TRANSFORMS.items()
    }
    | {name: page(body) for name, body in SHAPES.items()}
    | {name: page(body) for name, body in TREES.items()}
    | {f"page {name}": page(path(SQUARE + " M120 100a20 20 0 0 1 40 10z"), head)
       for name, head in HEADS.items()}
)  # fmt: skip


@pytest.mark.parametrize("name", DRAWINGS)
def test_the_area_is_what_another_program_fills(name: str) -> None:
    # on some of the pages the drawing is small
    drawing, zoom = DRAWINGS[name], 2 if name.startswith("page") else 1
    assert read_mm2(drawing) == pytest.approx(rendered_mm2(drawing, zoom), rel=1e-3)


# CSS Values 3: 1 in = 25.4 mm = 96 px; SVG 2, 8.2: a viewBox is fitted to width and height. A plain
# number, or none at all, is in the unit that the job gives
@pytest.mark.parametrize(
    ("head", "unit", "mm_per_unit"),
    [
        ('viewBox="0 0 100 100"', "mm", 1.0),
        ('viewBox="0 0 100 100"', "in", 25.4),
        ('width="50" height="50" viewBox="0 0 100 100"', "cm", 5.0),
        ('width="100" height="100"', "cm", 10.0),
        ("", "mm", 1.0),
        ('width="100%" height="100%" viewBox="0 0 100 100"', "cm", 10.0),
        ('width="50mm" viewBox="0 0 100 100"', None, 0.5),
        ('height="200mm" viewBox="0 0 100 100"', None, 2.0),
        ('width="96px" height="96px" viewBox="0 0 100 100"', None, 0.254),
    ],
)
def test_units(head: str, unit: str | None, mm_per_unit: float) -> None:
    area = read_mm2(page('<rect x="10" y="20" width="30" height="40"/>', head), unit)
    assert area == pytest.approx(1200.0 * mm_per_unit**2, rel=1e-9)


def test_y_is_up_from_the_page_and_true_curves_stay() -> None:
    # derived: the page is 254 mm high and its y counts down
    body = '<g id="a" class="k"><circle id="c" cx="20" cy="30" r="10"/></g>'
    (line,) = read_svg_drawing(page(body), unit=None, where="x").lines
    assert {type(segment).__name__ for segment in line.path.segments} == {"Arc"}
    assert line.names == ("c", "a", "k")
    assert line.path.flattened(0.01).mean(axis=0)[1] == pytest.approx(254 - 30, abs=0.2)


LAUGHS = '<g id="a0"/>' + "".join(
    f'<g id="a{n}">' + f'<use href="#a{n - 1}"/>' * 10 + "</g>" for n in range(1, 30)
)


@pytest.mark.parametrize(
    ("content", "code", "words"),
    [
        (b"", "unreadable", "is no SVG file that can be read"),
        (b"<svg", "unreadable", "is no SVG file that can be read"),
        (b"<html/>", "unreadable", "no <svg>"),
        (b'<!DOCTYPE x [<!ENTITY a "b">]><svg>&a;</svg>', "unreadable", "is no SVG file"),
        (page(path("M 0 0 L 5"), UPRIGHT), "unreadable", "wants a number where"),
        (page(path(" v20 30H140z"), UPRIGHT), "unreadable", "must begin with M"),
        (page(path("0 0 L 5 5"), UPRIGHT), "unreadable", "a command is wanted"),
        (page(path("M 0 0 A 5 5 0 2 0 9 9"), UPRIGHT), "unreadable", "wants a number"),
        (page('<rect width="2em" height="3"/>'), "unreadable", "unit that is not known"),
        (page('<g transform="turn(3)"/>'), "unreadable", "turn with 1 numbers"),
        (page('<g transform="scale(1 2 3)"/>'), "unreadable", "scale with 3 numbers"),
        (page('<use href="#none"/>'), "unreadable", "is not in the file"),
        (page('<g id="a"><use href="#a"/></g>'), "unreadable", "uses itself"),
        (page(LAUGHS), "too-many-lines", "holds more than 50000 parts"),
        (page("", 'viewBox="0 0 5 5"'), "unknown-unit", 'unit = "mm"'),
        (page("", 'width="5" height="5"'), "unknown-unit", "width='5'"),
        (page("", 'width="5ells" height="5mm"'), "unreadable", "in an unknown unit"),
        (page("", 'width="5mm" height="5mm" viewBox="0 0 5"'), "unreadable", "no four numbers"),
        (page("<text>hem</text><image/>"), "unread-part", "<image>, <text>"),
        (page('<rect display="none"/>'), "hidden-part", "1 hidden part left out"),
        (page('<rect width="9" height="9"/>', 'width="96px" height="9px"'), "px-unit", "96 px"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_said(content: bytes, code: str, words: str) -> None:
    found = read_svg_drawing(content, unit=None, where="job.toml: [[panels]] 1: a.svg")
    said = [f for f in found.findings if f.code == code]
    assert said, found.findings
    assert words in said[0].text
    assert said[0].text.startswith("job.toml: [[panels]] 1: a.svg: ")
