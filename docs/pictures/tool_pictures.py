"""Pictures of what each tool does: a way in, a corner and a notch, enlarged, drawn from the passes
of a lay. ``python docs/pictures/tool_pictures.py`` makes them; Pillow draws them.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Sequence
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from cutfiles.cuts.plan import CutPlan, Stroke
from cutfiles.cuts.rotary_blade import overshoots
from cutfiles.cuts.starts import corners_of
from cutfiles.effort import Effort
from cutfiles.geometry.bulges import Place, Span, flattened
from cutfiles.job.machine import DragKnife, Laser, Machine, RotaryBlade
from cutfiles.pipeline.make import Made, make_job

HERE = Path(__file__).resolve().parent
JOBS = HERE.parents[1] / "fixtures" / "jobs"
KINDS = ("laser", "drag-knife", "rotary-blade")

FINE = 3
"""Drawn so many times larger, and shrunk, for smooth lines."""
WINDOW_PX, GAP_PX, FOOT_PX = 400, 12, 92
PIECE, CUT, AXLE, TOP, START = "#dfeaf3", "#6b7f90", "#c8102e", "#e08a00", "#1a7f37"


class Window:
    """A square part of a lay, enlarged: millimetres to pixels, y up."""

    def __init__(self, draw: ImageDraw.ImageDraw, left_px: int, centre: Place, size_mm: float):
        self._draw, self._left, self._centre = draw, left_px * FINE, centre
        self._scale = WINDOW_PX * FINE / size_mm

    def at(self, place: Place) -> tuple[float, float]:
        """Where a place is, in pixels."""
        half = WINDOW_PX * FINE / 2.0
        x = self._left + half + (place[0] - self._centre[0]) * self._scale
        return x, half - (place[1] - self._centre[1]) * self._scale

    def area(self, points: Sequence[Place], colour: str) -> None:
        """A region in one colour."""
        self._draw.polygon([self.at(point) for point in points], fill=colour)

    def line(self, points: Sequence[Place], colour: str, width_px: int) -> None:
        """A line."""
        placed = [self.at(point) for point in points]
        self._draw.line(placed, fill=colour, width=width_px * FINE, joint="curve")

    def dot(self, place: Place, colour: str, radius_px: int) -> None:
        """A spot."""
        x, y = self.at(place)
        r = radius_px * FINE
        self._draw.ellipse((x - r, y - r, x + r, y + r), fill=colour)


def _points(spans: Sequence[Span]) -> list[Place]:
    return [(float(x), float(y)) for span in spans for x, y in span.flattened(0.005)]


def _draw(window: Window, plan: CutPlan, machine: Machine) -> None:
    cut = [s for s in plan.strokes if s.role in ("outline", "inner", "notch")]
    for stroke in cut:
        if stroke.role == "outline":
            line = flattened(stroke.points, stroke.bulges, closed=True, tolerance_mm=0.005)
            window.area([(float(x), float(y)) for x, y in line], PIECE)
    for stroke in cut:
        window.line(_points(stroke.spans), CUT, 2)
    if isinstance(machine.tool, RotaryBlade):
        for stroke in cut:
            if stroke.role == "outline":
                for over in overshoots(stroke, machine.tool, STACK_MM):
                    window.line([(x, y) for x, y in over.coords], TOP, 6)
    for one in plan.passes:
        window.line(_points(one.spans), AXLE, 3)
        window.dot(one.points[0], START, 6)


STACK_MM = 2.0
"""Of the job with the round blade: 8 plies of 0.25 mm."""


def _sharpest(stroke: Stroke) -> Place:
    """The corner of an outline that turns most nearly by a right angle."""
    spans = stroke.spans

    def off(k: int) -> float:
        turn = spans[k].directions_rad[0] - spans[k - 1].directions_rad[1]
        return abs(abs((turn + math.pi) % (2.0 * math.pi) - math.pi) - math.pi / 2.0)

    return stroke.points[min(corners_of(stroke), key=off)]


def _views(made: Made) -> list[tuple[str, Place, float]]:
    plan, machine = made.plans[0], made.job.machine
    # the notch with the longest way in, if notches are cut
    cut = {one.stroke: one.length_mm() for one in plan.passes if one.role == "notch"}
    longest = max(cut, key=lambda number: cut[number]) if cut else None
    notches = [n for n, s in enumerate(plan.strokes) if s.role == "notch"]
    notched = plan.strokes[notches[0] if longest is None else longest]
    outline = next(
        s for s in plan.strokes if s.role == "outline" and s.piece_id == notched.piece_id
    )
    number = plan.strokes.index(outline)
    first, *more = (one for one in plan.passes if one.stroke == number)
    small = 12.0 if isinstance(machine.tool, DragKnife) else 16.0
    if isinstance(machine.tool, RotaryBlade):
        return [
            ("corner", _sharpest(outline), 36.0),
            ("first pass", first.points[0], 36.0),
            ("notch: drawn, not cut", notched.points[0], 24.0),
        ]
    if isinstance(machine.tool, Laser):
        return [
            ("way in", first.spans[0].end, small),
            ("tab", more[0].points[0], small / 2.0),
            ("notch", notched.points[0], small),
        ]
    return [
        ("way in", first.spans[0].end, small),
        ("corner", _sharpest(outline), small / 2.0),
        ("notch", notched.points[0], small),
    ]


KEYS = {
    "laser": [
        (AXLE, "the middle of the beam"),
        (CUT, "cut line, half a kerf outside the piece"),
        (START, "where a pass begins"),
    ],
    "drag-knife": [
        (AXLE, "the pivot"),
        (CUT, "cut line, which the edge of the blade follows"),
        (START, "where a pass begins"),
    ],
    "rotary-blade": [
        (AXLE, "the axle"),
        (TOP, "cut in the top ply beyond the corner"),
        (CUT, "cut line, or drawn"),
        (START, "where a pass begins"),
    ],
}


def tool_picture(kind: str, work: Path) -> None:
    """Three enlarged views of the first lay of the job for one kind of machine."""
    made = make_job(JOBS / f"tern-street-{kind}.toml", work, Effort(0.0, 1))
    views = _views(made)
    width = len(views) * WINDOW_PX + (len(views) - 1) * GAP_PX
    size = width * FINE, (WINDOW_PX + FOOT_PX) * FINE
    sheet = Image.new("RGB", size, "white")
    font = ImageFont.load_default(size=17 * FINE)
    for k, (name, centre, size_mm) in enumerate(views):
        tile = Image.new("RGB", (WINDOW_PX * FINE, WINDOW_PX * FINE), "white")
        draw = ImageDraw.Draw(tile)
        _draw(Window(draw, 0, centre, size_mm), made.plans[0], made.job.machine)
        edge = WINDOW_PX * FINE - 1
        draw.rectangle((0, 0, edge, edge), outline="#999999", width=FINE)
        left = k * (WINDOW_PX + GAP_PX) * FINE
        sheet.paste(tile, (left, 0))
        text = f"{name}, {size_mm:g} mm across"
        ImageDraw.Draw(sheet).text(
            (left + 4 * FINE, (WINDOW_PX + 8) * FINE), text, fill="black", font=font
        )
    x = 4 * FINE
    for colour, text in KEYS[kind]:
        foot = ImageDraw.Draw(sheet)
        y = (WINDOW_PX + 52) * FINE
        foot.rectangle((x, y + 4 * FINE, x + 22 * FINE, y + 14 * FINE), fill=colour)
        foot.text((x + 30 * FINE, y), text, fill="black", font=font)
        x += 30 * FINE + int(foot.textlength(text, font=font)) + 26 * FINE
    small = sheet.resize((size[0] // FINE, size[1] // FINE), Image.Resampling.LANCZOS)
    small.save(HERE / f"tool-{kind}.png", optimize=True)


def tool_pictures() -> None:
    """A picture of each kind of machine."""
    with tempfile.TemporaryDirectory() as work:
        for kind in KINDS:
            tool_picture(kind, Path(work) / kind)


if __name__ == "__main__":
    tool_pictures()
