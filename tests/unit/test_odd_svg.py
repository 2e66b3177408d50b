"""SVG as general drawing programs save it: styles, clip paths, symbols, viewports, units.

Reference: resvg, which renders every drawing; both the area it fills and the middle of that area
are compared (its antialiasing costs below 0.05 %, and 0.02 mm).
"""

from __future__ import annotations

import io

import numpy as np
import pytest
import resvg_py
import shapely
from PIL import Image

from cutfiles.pieces.drawn import Drawing
from cutfiles.pieces.panel_svg import read_svg_drawing

PAGE_MM = 254.0
UPRIGHT = 'width="254mm" height="254mm" viewBox="0 0 254 254"'
SPACES = (
    'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'xmlns:sodipodi="urn:s" xmlns:inkscape="urn:i" xmlns:x="urn:x"'
)
BOX = '<path d="M20 30H140V150H20z"/>'
EGG = "M 30 120 C 60 20 180 30 220 120 S 90 240 30 120 Z"


def page(body: str, head: str = UPRIGHT) -> str:
    return f"<svg {SPACES} {head}>{body}</svg>"


def styled(rules: str, body: str) -> str:
    return page(f"<style>{rules}</style>{body}")


def clipped(clip: str, body: str, more: str = "") -> str:
    return page(f'<defs><clipPath id="c" {more}>{clip}</clipPath></defs>{body}')


STYLES = {
    "a class that hides": styled(
        ".off{display:none}", f'{BOX}<rect class="on off" x="150" y="9" width="50" height="50"/>'
    ),
    "hidden, and a shown part in it": styled(
        "g{visibility:hidden} #a{visibility:visible}",
        f'<g>{BOX}<rect id="a" x="150" y="9" width="50" height="50"/></g>',
    ),
    "an invisible frame": styled(
        ".cls-1{fill:none}.cls-2{fill:#e30613}",
        f'<rect class="cls-1" width="250" height="250"/><g class="cls-2">{BOX}</g>',
    ),
    "fill none from the root": page(
        f'<rect width="250" height="250"/><g fill="red">{BOX}</g>', UPRIGHT + ' fill="none"'
    ),
    "specificity": styled(
        "#b{display:inline} .x{display:none} path{display:none}",
        f'<g><path id="b" class="x" d="{EGG}"/></g>',
    ),
    "order": styled(".x{display:none} .y{display:inline}", f'<g class="y x">{BOX}</g>'),
    "important": styled(
        "rect{display:none!important} #r{display:inline}",
        f'{BOX}<rect id="r" style="display:inline" x="150" y="9" width="50" height="50"/>',
    ),
    "a style attribute beats a rule": styled(
        "rect{display:none}", '<rect style="display:inline" x="50" y="9" width="50" height="50"/>'
    ),
    "a rule beats an attribute": styled(
        "rect{display:inline}", '<rect display="none" x="50" y="9" width="50" height="50"/>'
    ),
    "lists, children, comments": styled(
        "/* .no */ text, g > .hide , svg g rect.gone/**/{ display : none }",
        f'{BOX}<g><circle class="hide" r="40" cx="200" cy="200"/><g><rect class="gone" x="150" '
        'width="60" height="60"/><circle class="hide" r="30" cx="200" cy="90"/></g></g>',
    ),
    "CDATA and type": page(
        '<style type="text/css"><![CDATA[ .a { display: none } ]]></style>'
        f'{BOX}<rect class="a" x="150" width="60" height="60"/>'
    ),
    "opacity 0": page(f'{BOX}<g opacity="0"><rect x="150" width="60" height="60"/></g>'),
    "fill-opacity 0": page(f'{BOX}<rect x="150" width="60" height="60" fill-opacity="0"/>'),
    "semicolons in values": page(
        f"<g style=\"font-family:'a;b';display:inline\">{BOX}</g>"
        '<rect style="background:url(\'data:x;y\');display:none" width="9" height="9"/>'
    ),
    "a style for other media left alone": styled("@font-face{font-family:a}", BOX),
}

CLIPS = {
    "a clip that holds all": clipped(
        '<rect width="254" height="254"/>', f'<g clip-path="url(#c)">{BOX}</g>'
    ),
    "a clip that cuts": clipped(
        '<circle cx="90" cy="90" r="60"/>', f'<g clip-path="url(#c)">{BOX}</g>'
    ),
    "a clip that cuts a curve": clipped(
        '<rect x="60" y="60" width="90" height="150"/>', f'<path clip-path="url(#c)" d="{EGG}"/>'
    ),
    "a clip that hides": clipped(
        '<rect width="150" height="254"/>',
        f'<g clip-path="url(#c)">{BOX}<rect x="180" y="9" width="50" height="50"/></g>',
    ),
    "clips in clips": clipped(
        '<rect width="100" height="254"/></clipPath><clipPath id="d"><rect y="80" width="254" '
        'height="90"/>',
        f'<g clip-path="url(#c)"><g transform="rotate(9)" clip-path="url(#d)">{BOX}</g></g>',
    ),
    "a clipped clip": clipped(
        '<rect width="100" height="254"/></clipPath><clipPath id="d" clip-path="url(#c)"><rect '
        'y="80" width="254" height="90"/>',
        f'<g clip-path="url(#d)">{BOX}</g>',
    ),
    "a moved clip": clipped(
        '<rect width="60" height="60" transform="translate(5 8)"/>',
        f'<g clip-path="url(#c)" transform="scale(1.2)">{BOX}</g>',
        'transform="rotate(20) scale(2)"',
    ),
    "a clip by the box": clipped(
        '<circle cx=".5" cy=".5" r=".4"/>',
        f'<path clip-path="url(#c)" d="{EGG}"/>',
        'clipPathUnits="objectBoundingBox"',
    ),
    "a clip by the box of a group": clipped(
        '<rect width=".5" height=".7"/>',
        f'<g clip-path="url(#c)" transform="translate(9 5) scale(.8)">{BOX}<circle cx="200" '
        'cy="220" r="30"/></g>',
        'clipPathUnits="objectBoundingBox"',
    ),
    "a clip of two": clipped(
        '<rect width="60" height="254"/><rect x="90" width="60" height="254"/>',
        f'<g clip-path="url(#c)">{BOX}</g>',
    ),
    "a clip with a hole": clipped(
        '<path clip-rule="evenodd" d="M0 0H254V254H0zM60 60H100V100H60z"/>',
        f'<g clip-path="url(#c)">{BOX}</g>',
    ),
    "a clip with no hole": clipped(
        '<path d="M0 0H254V254H0zM60 60H100V100H60z"/>', f'<g clip-path="url(#c)">{BOX}</g>'
    ),
    "a clip wound the other way": clipped(
        '<path d="M0 0H254V254H0zM60 60V100H100V60z"/>', f'<g clip-path="url(#c)">{BOX}</g>'
    ),
    "a clip that uses": page(
        f'<defs><path id="e" d="{EGG}"/><clipPath id="c"><use href="#e" x="20"/></clipPath></defs>'
        f'<g clip-path="url(#c)">{BOX}</g>'
    ),
    "a clip without fill": clipped(
        '<rect width="100" height="254" fill="none"/>',
        f"<g style=\"clip-path:url('#c')\">{BOX}</g>",
    ),
    "a clip by a class": page(
        '<style>.k{clip-path:url(#c)}</style><clipPath id="c"><rect width="99" height="254"/>'
        f'</clipPath><g class="k">{BOX}</g>'
    ),
    "a clip of nothing": clipped(
        "", f'{BOX}<rect clip-path="url(#c)" x="150" width="9" height="9"/>'
    ),
    "a compound shape, clipped": clipped(
        '<rect x="50" width="204" height="254"/>',
        '<path clip-path="url(#c)" fill-rule="evenodd" d="M20 30H140V150H20zM60 60H100V100H60z"/>',
    ),
}

TREES = {
    "a symbol that slices": page(
        '<symbol id="s" viewBox="0 0 100 50" preserveAspectRatio="xMidYMid slice"><ellipse cx="50" '
        'cy="25" rx="48" ry="20"/></symbol><use xlink:href="#s" x="30" y="20" width="100" '
        'height="150"/>'
    ),
    "a symbol that overflows": page(
        '<symbol id="s" viewBox="0 0 100 50"><circle cx="50" cy="25" r="40"/></symbol>'
        '<use href="#s" x="30" y="20" width="150" height="150"/>'
    ),
    "a symbol that may": page(
        '<symbol id="s" viewBox="0 0 100 50" overflow="visible"><circle cx="50" cy="25" r="40"/>'
        '</symbol><use href="#s" x="30" y="20" width="150" height="150"/>'
    ),
    "a nested page, cut off": page(
        '<svg x="20" y="30" width="120" height="60"><circle cx="60" cy="60" r="50"/></svg>'
    ),
    "a nested page by shares": page(
        '<svg x="10%" y="20%" width="50%" height="50%"><rect x="10%" y="10%" width="50%" '
        'height="80%" rx="5%"/></svg>'
    ),
    "a nested page, none": page(
        '<svg x="10" y="10" width="100" height="200" viewBox="10 0 50 50" '
        'preserveAspectRatio="none"><g transform="rotate(10 30 25)"><circle cx="30" cy="25" '
        'r="12"/></g></svg>'
    ),
    "pages in pages": page(
        '<svg x="10mm" y="1in" width="30mm" height="40mm" viewBox="0 0 30 40"><svg x="5" y="5" '
        'width="20" height="20" viewBox="0 0 100 100"><rect x="10" y="10" width="80" height="60"/>'
        "</svg></svg>"
    ),
    "a page used at another size": page(
        '<defs><svg id="s" width="20" height="20" viewBox="0 0 10 10"><rect x="1" y="1" width="8" '
        'height="6"/></svg></defs><use href="#s" x="30" y="30" width="120" height="120"/>'
    ),
    "a switch": page(
        '<switch><foreignObject requiredExtensions="urn:ai" width="1" height="1"/>'
        f'<g x:extraneous="self">{BOX}</g></switch>'
    ),
    "layers, guides and metadata": page(
        "<sodipodi:namedview><inkscape:grid/></sodipodi:namedview><metadata><x:r/></metadata>"
        f'<g inkscape:groupmode="layer" inkscape:label="cut" style="display:inline">{BOX}</g>'
        '<g inkscape:groupmode="layer" style="display:none"><rect width="9" height="9"/></g>'
    ),
    "uses in uses, moved": page(
        f'<defs><g id="a" transform="translate(5 5) scale(.5)">{BOX}</g><g id="b"><use href="#a" '
        'transform="rotate(15)"/><use href="#a" x="90" y="40"/></g></defs>'
        '<use href="#b" transform="matrix(1 .2 0 1 20 20)"/>'
    ),
    "a use that inherits": page(
        '<defs><rect id="r" width="60" height="60" fill="inherit"/></defs><g fill="none"><use '
        'href="#r"/></g><use href="#r" x="90" y="80" fill="blue"/>'
    ),
    "a transform about a place": page(
        f'<g transform="rotate(30)" transform-origin="80 90">{BOX}</g>'
    ),
    "a mirrored stack": page(
        f'<g transform="translate(240 240) scale(-1 -1)"><g transform="skewX(9) scale(1 -1) '
        f'translate(0,-180)">{BOX}</g></g>'
    ),
    "a doctype and a comment": '<?xml version="1.0" standalone="no"?><!DOCTYPE svg PUBLIC '
    '"-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd"><!-- made -->'
    + page(BOX),
    "a prefix for everything": '<s:svg xmlns:s="http://www.w3.org/2000/svg" '
    + UPRIGHT
    + "><s:rect "
    'x="20" y="30" width="90" height="70"/></s:svg>',
    "every unit": page(
        '<rect x="1in" y="10mm" width="3cm" height="72pt"/><circle cx="10pc" cy="180px" r="40"/>'
    ),
    "points, as a page of a book": page(
        '<rect x="100" y="90" width="300" height="200" rx="20"/>',
        'width="720pt" height="720pt" viewBox="0 0 720 720"',
    ),
    "a page that begins elsewhere": page(
        BOX, 'width="10in" height="10in" viewBox="-30.5 12 300 250"'
    ),
}

DRAWINGS = STYLES | CLIPS | TREES


def read(drawing: str) -> Drawing:
    return read_svg_drawing(drawing.encode(), unit=None, where="a.svg")


@pytest.mark.parametrize("name", DRAWINGS)
def test_area_and_place_are_what_another_program_fills(name: str) -> None:
    drawing = DRAWINGS[name]
    png = resvg_py.svg_to_bytes(svg_string=drawing, zoom=1, dpi=96, skip_system_fonts=True)
    picture = Image.open(io.BytesIO(bytes(png)))
    assert picture.size == (960, 960)
    cover = np.asarray(picture.getchannel("A"), dtype=np.float64) / 255.0
    step = PAGE_MM / 960.0
    area = float(cover.sum()) * step**2
    spots = (np.arange(960) + 0.5) * step
    middle = (cover.sum(axis=0) @ spots, PAGE_MM * cover.sum() - cover.sum(axis=1) @ spots)

    found = read(drawing)
    assert [f for f in found.findings if f.severity != "note"] == []
    assert all(line.path.is_closed for line in found.lines)
    polygons = [shapely.Polygon(line.path.flattened(0.001)) for line in found.lines]
    # a line within another is a hole
    ours: shapely.geometry.base.BaseGeometry = shapely.Polygon()
    for polygon in polygons:
        ours = shapely.symmetric_difference(ours, polygon)
    assert ours.area == pytest.approx(area, rel=1.5e-3)
    assert (ours.centroid.x, ours.centroid.y) == pytest.approx(
        (middle[0] / cover.sum(), middle[1] / cover.sum()), abs=0.05
    )


# reference: CSS Transforms 1, which says the same with units (resvg does not read it)
def test_a_transform_in_a_style() -> None:
    style = page(f'<g style="transform: translate(20px, 10px) rotate(12deg)">{BOX}</g>')
    assert (
        read(style).lines
        == read(page(f'<g transform="translate(20 10) rotate(12)">{BOX}</g>')).lines
    )
    rule = styled(".a{transform:scale(2);}", f'<g class="a" transform="scale(9)">{BOX}</g>')
    said = page(f'<g class="a" transform="scale(2)">{BOX}</g>')
    assert read(rule).lines == read(said).lines


# reference: SVG 2, chapter 7.2 (resvg does not read it)
def test_geometry_in_a_style() -> None:
    rule = styled("rect{width:90px;rx:5px}", '<rect x="9" y="9" width="9" height="40"/>')
    said = page('<rect x="9" y="9" width="90" height="40" rx="5"/>')
    assert read(rule).lines == read(said).lines


def test_what_is_cut_off_is_told() -> None:
    (line,), (note,) = (
        read(CLIPS["a clip that cuts"]).lines,
        read(CLIPS["a clip that cuts"]).findings,
    )
    assert line.path.is_closed
    assert note.code == "clipped"
    assert note.text.startswith("a.svg: 1 part cut off by a clip path or viewport")
    # one that is seen whole keeps its curves
    whole = read(
        clipped('<rect width="254" height="254"/>', f'<path clip-path="url(#c)" d="{EGG}"/>')
    )
    assert {type(segment).__name__ for segment in whole.lines[0].path.segments} == {"Cubic"}
    assert whole.findings == ()


def test_lines_without_a_fill_are_cut_off_open() -> None:
    ring = '<path clip-path="url(#c)" fill="none" stroke="red" d="M20 30H140V150H20z"/>'
    found = read(clipped('<rect width="80" height="254"/>', ring))
    (line,) = found.lines
    assert not line.path.is_closed
    assert line.path.length() == pytest.approx(60 + 120 + 60)


@pytest.mark.parametrize(
    ("drawing", "code", "words"),
    [
        (page('<g clip-path="url(#none)"/>'), "unreadable", "'url(#none)' cannot be read"),
        (page('<g style="clip-path: circle(40%)"/>'), "unreadable", "take the clip off"),
        (clipped("<text>a</text>", '<g clip-path="url(#c)"/>'), "unreadable", "holds <text>"),
        (clipped('<rect width="9" height="9" clip-path="url(#c)"/>', '<g clip-path="url(#c)"/>'),
         "unreadable", "uses itself"),
        (clipped('<rect width="1" height="1"/>', '<g clip-path="url(#c)"/>',
                 'clipPathUnits="objectBoundingBox"'), "unreadable", "which is empty"),
        (page('<g style="transform: rotate(1turn)"/>'), "unreadable", "holds more than numbers"),
        (page('<g transform="scale(2)" style="transform-origin: center"/>'), "unreadable",
         "transform-origin: 'center'"),
        (styled("path{d:path('M0 0')}", BOX), "unreadable", "give it as an attribute d"),
        (styled("path:first-child{display:none}", BOX), "unread-part", "for 'path:first-child'"),
        (styled("path[d]{display:none}", BOX), "unread-part", "rule for 'path[d]'"),
        (styled("@media print{path{display:none}}", BOX), "unread-part", "@media"),
        (styled("@import url(a.css);", BOX), "unread-part", "@import"),
        (page("<g>" * 120 + BOX + "</g>" * 120), "unreadable", "more than 100 deep"),
        (page('<rect width="9" height="9" mask="url(#m)"/>'), "unread-part", "mask"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_said(drawing: str, code: str, words: str) -> None:
    said = [finding for finding in read(drawing).findings if finding.code == code]
    assert said, read(drawing).findings
    assert words in said[0].text


def test_rules_that_change_nothing_here_are_let_be() -> None:
    rules = "path:hover{display:none} path[d]{font-size:9px} @font-face{} :root{fill:red}"
    found = read(styled(rules, BOX))
    assert len(found.lines) == 1
    assert found.findings == ()
