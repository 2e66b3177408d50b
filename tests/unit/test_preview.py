"""What is generated for the preview: one page that is safe, whole and true to its lay."""

from __future__ import annotations

import base64
import hashlib
import io
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
import shapely
import svgpathtools
from PIL import Image

from cutfiles.cuts.plan import Role
from cutfiles.errors import Finding
from cutfiles.geometry.bulges import flattened
from cutfiles.job.job import PanelLine
from cutfiles.job.machine import Labels, Machine, MachineKind
from cutfiles.preview.colours import contrast, on_both_grounds
from cutfiles.preview.lay import PIECE_ROLES
from cutfiles.preview.lay_data import NEAR_MM, lay_table, neighbours
from cutfiles.preview.page import in_script, preview_html
from cutfiles.preview.path_data import SCREEN_MM, STEPS_PER_MM, path_data
from cutfiles.preview.picture import lay_svg
from cutfiles.preview.png import LONGEST_PX, MOST_PX_PER_MM, lay_png
from tests.conftest import ROOT
from tests.small_lay import CLOTH, small_lay, small_panel_lay, tie_backs
from tests.unit.preview_lays import COLOURS, Example, example

HOSTILE = "</script><script>alert(1)</script><!-- \"'&<img src=x onerror=alert(1)> \u2028"
KINDS = get_args(MachineKind)
FOLDED = replace(CLOTH, width_mm=1500.0, spread="folded")


@pytest.fixture(scope="module")
def caps(tmp_path_factory: pytest.TempPathFactory) -> Example:
    return example(tmp_path_factory.mktemp("caps"))


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> Example:
    """So long that lines are some pixels wide in its picture."""
    return example(tmp_path_factory.mktemp("many"), lay=small_lay(tie_backs(12)))


@pytest.fixture(scope="module")
def bare(many: Example) -> Any:
    """Its picture with all lines in the colour of the cloth."""
    return pixels(lay_png(many.shown, dict.fromkeys(COLOURS, "#fffdf8")))


class Parsed(HTMLParser):
    """A page as the standard library's parser of HTML sees it."""

    def __init__(self, page: bytes) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: dict[str, list[str]] = {}
        self._within = ""
        self.feed(page.decode("utf-8"))
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._within = tag
        self.texts.setdefault(tag, []).append("")

    def handle_data(self, data: str) -> None:
        if self._within:
            self.texts[self._within][-1] += data

    def handle_endtag(self, _tag: str) -> None:
        self._within = ""


def test_hostile_text_stays_text(tmp_path: Path) -> None:
    cloth = replace(CLOTH, name=HOSTILE)
    shown = example(tmp_path, cloth=cloth, title=HOSTILE)
    finding = Finding("strange", "warning", HOSTILE)
    page = preview_html(replace(shown.sheet, findings=(finding,), cautions=(HOSTILE,)))
    plain = preview_html(example(tmp_path).sheet)
    seen, other = Parsed(page), Parsed(plain)
    # a page of harmless words has the same elements, but for the list of findings
    added = {"ul", "li", "b", "h2", "p"}
    assert [t for t, _ in seen.tags if t not in added] == [
        t for t, _ in other.tags if t not in added
    ]
    assert seen.texts["h1"] == [HOSTILE]
    assert seen.texts["title"][0] == HOSTILE
    assert not any(name.startswith("on") for _, attrs in seen.tags for name in attrs)


def test_json_in_a_script_holds_no_tag() -> None:
    table = {"name": HOSTILE}
    text = in_script(table)
    assert "<" not in text
    assert json.loads(text) == table


def test_the_policy_allows_this_page_and_nothing_else(caps: Example) -> None:
    page = Parsed(preview_html(caps.sheet))
    (policy,) = [
        str(attrs["content"])
        for tag, attrs in page.tags
        if tag == "meta" and attrs.get("http-equiv") == "Content-Security-Policy"
    ]
    rules = {rule.split()[0]: rule.split()[1:] for rule in policy.split("; ")}
    # reference: Content Security Policy Level 3, "does element match source list"

    def source(text: str) -> str:
        return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"

    scripts = [attrs for tag, attrs in page.tags if tag == "script"]
    kinds = [attrs.get("type") for attrs in scripts]
    assert kinds == ["application/json", "module"]
    assert rules["default-src"] == ["'none'"]
    assert rules["script-src"] == [source(page.texts["script"][1])]
    assert rules["style-src"] == [source(page.texts["style"][0])]
    assert rules["base-uri"] == rules["form-action"] == ["'none'"]
    # what the policy would refuse, and what would load something
    assert not any({"style", "src", "onload"} & set(attrs) for _, attrs in page.tags)
    links = [str(attrs["href"]) for _, attrs in page.tags if "href" in attrs]
    assert all(link.startswith("#") for link in links)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("labels", get_args(Labels))
def test_the_steps_take_the_time_of_the_lay(
    kind: MachineKind, labels: Labels, tmp_path: Path
) -> None:
    machine = replace(Machine(kind, 0.2, 500.0, 1200.0, advances=True), labels=labels)
    shown = example(tmp_path, machine).shown
    assert len(shown.row["frames_mm"]) > 1
    table = lay_table(shown, length_unit="mm", tool=kind)
    seconds = [sum(step[2:6]) for step in table["steps"]]
    assert min(seconds) > 0.0
    assert sum(seconds) == pytest.approx(shown.plan.time_s, abs=0.02)
    marks = [step for step in table["steps"] if not isinstance(step[6], str)]
    assert sum(sum(step[2:6]) for step in marks) == pytest.approx(shown.plan.marking_s, abs=0.02)
    # derived: moving the cloth on takes the frames' way at the machine's pace
    moved = sum(step[2] for step in table["steps"])
    frames = shown.plan.frames
    assert moved == pytest.approx(
        (frames[-1].start_mm - frames[0].start_mm) / machine.pace.advance_mm_s, abs=1e-3
    )
    assert {step[0] for step in marks if step[6] is None} == (
        {"label"} if labels == "drawn" else set()
    )


def test_steps_name_pieces_and_lines_that_are_there(caps: Example) -> None:
    table = json.loads(in_script(lay_table(caps.shown, length_unit="in", tool="laser")))
    drawn = Parsed(lay_svg(caps.shown).encode())
    subpaths: dict[tuple[str, int], int] = {}
    role = ""
    for tag, attrs in drawn.tags:
        if tag == "g" and str(attrs.get("class", "")).startswith("role-"):
            role = str(attrs["class"]).split()[0].removeprefix("role-")
        if tag == "path" and "data-p" in attrs:
            subpaths[role, int(str(attrs["data-p"]))] = str(attrs["d"]).count("M")
    assert table["unit"] == "in"
    assert table["mm_per_unit"] == pytest.approx(25.4)
    assert {len(step) for step in table["steps"]} == {7}
    for role, piece, *_, where in table["steps"]:
        assert 0 <= piece < len(table["pieces"])
        if isinstance(where, int):
            assert where < subpaths[role, piece]
        elif where is None:
            assert subpaths[role, piece] > 1
    cuts = [step for step in table["steps"] if isinstance(step[6], str)]
    assert len(cuts) == len(caps.shown.plan.passes)
    outlines = [step[1] for step in cuts if step[0] == "outline"]
    assert outlines == list(range(len(table["pieces"])))  # numbered as they are cut


@pytest.mark.parametrize("kind", KINDS)
def test_every_line_is_its_strokes(kind: MachineKind, tmp_path: Path) -> None:
    shown = example(tmp_path, Machine(kind, 0.2, None, None)).shown
    letters = (stroke for label in shown.plan.letters for stroke in label.strokes)
    strokes = (*shown.plan.strokes, *letters)
    for role in PIECE_ROLES:
        wanted = [stroke for stroke in strokes if stroke.role == role]
        for stroke, (piece_id, line) in zip(wanted, shown.lines[role], strict=True):
            assert piece_id == stroke.piece_id
            assert line.points[0] == pytest.approx(stroke.points[0], abs=1e-3)
            flat = flattened(stroke.points, stroke.bulges, closed=stroke.closed, tolerance_mm=0.005)
            # reference: shapely; GDAL's chords of 4 degrees are off by some tenths of a millimetre
            off = shapely.LineString(line.points).hausdorff_distance(shapely.LineString(flat))
            assert off < 0.3


def test_other_lines_than_planned_are_refused(caps: Example) -> None:
    short = replace(caps.shown.plan, strokes=caps.shown.plan.strokes[1:])
    with pytest.raises(ValueError, match="zip"):
        _ = replace(caps.shown, plan=short).lines


def test_pieces_are_told_by_their_rows(caps: Example) -> None:
    table = lay_table(caps.shown, length_unit="mm", tool="laser")
    placed = {p.ordered.id: p for p in caps.lay.placed}
    cut = [s.piece_id for s in caps.shown.plan.strokes if s.role == "outline"]
    for piece_id, row in zip(cut, table["pieces"], strict=True):
        there = placed[piece_id]
        assert row["name"] == there.ordered.name
        assert row["area_mm2"] == pytest.approx(there.outline.area, abs=0.6)
        assert row["notches"] == len(there.ordered.piece.notches)
        assert row["grain_deg"] == pytest.approx(there.grain_deg, abs=0.01)


def test_gaps_are_those_between_the_outlines(caps: Example) -> None:
    # reference: every pair measured, by shapely
    near = neighbours(caps.shown)
    outlines = caps.shown.outlines
    for one, found in enumerate(near):
        gaps = {k: outlines[one].distance(other) for k, other in enumerate(outlines) if k != one}
        wanted = sorted(gap for gap in gaps.values() if gap <= NEAR_MM)[: len(found)]
        assert found
        assert [gap for _, gap in found] == pytest.approx(wanted, abs=0.006)
        assert all(gaps[other] == pytest.approx(gap, abs=0.006) for other, gap in found)


def test_path_data_are_the_points() -> None:
    rng = np.random.default_rng(3)
    points = np.vstack([rng.uniform(-20.0, 3000.0, (40, 2))] * 1)
    ring = np.vstack([points, points[:1]])
    for line, closed in ((points, False), (ring, True)):
        # svgpathtools reads them
        path = svgpathtools.parse_path(path_data(line, closed=closed))
        corners = [path[0].start, *(segment.end for segment in path)]
        got = np.array([(corner.real, corner.imag) for corner in corners]) / STEPS_PER_MM
        assert got == pytest.approx(line, abs=0.5 / STEPS_PER_MM + 1e-9)


def test_path_data_leave_out_steps_of_no_length() -> None:
    assert path_data(np.array([[0, 0], [0.001, 0], [1, 0]]), closed=False) == "M0 0l100 0"
    assert path_data(np.array([[2, 3], [2.001, 3]]), closed=False) == "M200 300"


def test_the_picture_shows_the_lines_that_were_read(caps: Example) -> None:
    drawn = Parsed(lay_svg(caps.shown).encode())
    data: dict[str, list[str]] = {}
    role = ""
    for tag, attrs in drawn.tags:
        if tag == "g" and str(attrs.get("class", "")).startswith("role-"):
            role = str(attrs["class"]).split()[0].removeprefix("role-")
        if tag == "path" and "data-p" in attrs:
            data.setdefault(role, []).append(str(attrs["d"]))
    for kind in ("outline", "stitch", "notch", "grain"):
        # svgpathtools reads them, shapely measures how far they are from what GDAL has read
        paths = [
            svgpathtools.parse_path(d) for text in data[kind] for d in re.findall("M[^M]*", text)
        ]
        shown = shapely.MultiLineString(
            [
                [
                    (p.real / STEPS_PER_MM, p.imag / STEPS_PER_MM)
                    for p in (path[0].start, *(s.end for s in path))
                ]
                for path in paths
            ]
        )
        read = shapely.MultiLineString([line.points for _, line in caps.shown.lines[kind]])
        assert len(shown.geoms) == len(read.geoms)
        assert shown.hausdorff_distance(read) < SCREEN_MM + 1.0 / STEPS_PER_MM


def test_the_picture_shows_what_lies_beside_the_lay(tmp_path: Path) -> None:
    flat = lay_svg(example(tmp_path).shown)
    folded = lay_svg(example(tmp_path, cloth=FOLDED).shown)
    assert flat.count(">selvedge<") == 2
    assert folded.count("selvedge") == 1
    assert ">both selvedges<" in folded
    assert ">fold<" in folded
    bed = Machine("laser", 0.2, 500.0, 900.0, advances=True)
    framed = example(tmp_path, bed).shown
    words = re.findall(r">(frame \d+|beyond the bed)<", lay_svg(framed))
    frames = [f"frame {k}" for k, _ in enumerate(framed.plan.frames, 1)]
    assert sorted(words) == sorted([*frames, "beyond the bed"])


def pixels(content: bytes) -> Any:
    with Image.open(io.BytesIO(content)) as image:
        return np.asarray(image.convert("RGB")).astype(int)


GROUND = np.array([0xFF, 0xFD, 0xF8])
"""Of the cloth."""


def covered(seen: Any, bare: Any, example: Example) -> Any:
    """How much of the picture has lost each of red, green and blue, in mm2."""
    px_per_mm = seen.shape[1] / (example.shown.length_mm + 24.0)  # margins of 12 mm
    return (bare - seen).sum(axis=(0, 1)) / GROUND / px_per_mm**2


def inked(example: Example, role: Role, width_px: float) -> Any:
    """What the lines of a role cover, by shapely; where they meet, cloth is covered once."""
    lines = [shapely.LineString(line.points) for _, line in example.shown.lines[role]]
    width = width_px * example.shown.length_mm / 1200.0
    return shapely.union_all(
        shapely.buffer(lines, width / 2.0, cap_style="flat", join_style="mitre", mitre_limit=4.0)
    )


def test_the_png_shows_each_role_as_large_as_it_is(many: Example, bare: Any) -> None:
    ground: dict[Role, str] = dict.fromkeys(COLOURS, "#fffdf8")
    # each of three roles takes one of red, green and blue away
    seen = pixels(
        lay_png(many.shown, ground | {"label": "#00fdf8", "stitch": "#ff00f8", "grain": "#fffd00"})
    )
    label, stitch, grain = covered(seen, bare, many)
    # derived: 12 of 100 of a piece are covered by its outline's colour, above other lines; dashes
    # of 4 have gaps of 3
    assert label == pytest.approx(0.88 * inked(many, "label", 0.8).area, rel=0.05)
    assert stitch == pytest.approx(0.88 * inked(many, "stitch", 0.9).area * 4.0 / 7.0, rel=0.05)
    assert grain == pytest.approx(0.88 * inked(many, "grain", 1.2).area, rel=0.05)
    seen = pixels(lay_png(many.shown, ground | {"outline": "#000000"}))
    line = inked(many, "outline", 1.3)
    inside = shapely.union_all(many.shown.outlines).difference(line)
    wanted = line.area + 0.12 * inside.area
    assert covered(seen, bare, many) == pytest.approx(wanted, rel=0.05)


def test_the_png_is_bounded_and_repeats(caps: Example, bare: Any) -> None:
    content = lay_png(caps.shown, COLOURS)
    assert content == lay_png(caps.shown, COLOURS)
    height, width, _ = pixels(content).shape
    # margins of 12 mm and selvedges of 12.7 mm on both sides
    assert width == pytest.approx(MOST_PX_PER_MM * (caps.lay.length_mm + 24.0), abs=1)
    assert height == pytest.approx(MOST_PX_PER_MM * (caps.lay.width_mm + 24.0 + 25.4), abs=1)
    assert max(bare.shape) == LONGEST_PX


def test_contrast_is_that_of_the_guidelines() -> None:
    # WCAG 2.2: 21 for black on white; #777 on white just misses 4.5 (WebAIM's often quoted figure)
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


def test_colours_that_a_ground_would_hide_give_way() -> None:
    shown = on_both_grounds({"outline": "#000000", "notch": "#ffffff", "inner": "#0072b2"})
    assert shown["outline"] == "light-dark(#000000,#f2efe8)"
    assert shown["notch"] == "light-dark(#1d1d1b,#ffffff)"
    assert shown["inner"] == "light-dark(#0072b2,#0072b2)"


def test_plies_are_drawn(tmp_path: Path) -> None:
    page = preview_html(example(tmp_path, cloth=replace(FOLDED, plies=2)).sheet).decode()
    (drawn,) = re.findall(r'<svg class="plies".*?</svg>', page)
    assert 'aria-label="4 plies, folded"' in drawn
    assert drawn.count("H52") == 4  # a line a ply, and a bend for each two
    assert drawn.count("a2.5") == 2


def test_one_piece_is_one(tmp_path: Path) -> None:
    content = (ROOT / "fixtures" / "pieces" / "pocket.svg").read_bytes()
    lay = small_panel_lay(content, PanelLine(1, "pocket.svg", "pocket", 1, "kelp"))
    page = preview_html(example(tmp_path, lay=lay).sheet).decode()
    assert re.findall(r"\b1 piece on the cloth", page)
    assert re.findall(r"of the cloth used; 1 piece,", page)
    assert not re.findall(r"\b1 pieces", page)
