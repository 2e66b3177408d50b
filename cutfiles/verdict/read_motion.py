"""Reading motion code after ISO 6983-1: an interpreter that replays any such program for cutters
of two axes; no code in common with the writer.

It knows comments, line numbers, words that stay in force, inches, steps counted from the last
place, and arcs by centre or by radius. What it does not know it does not pass over: that is a
finding, with its line and word.
"""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Final

import numpy as np

from cutfiles.errors import Finding
from cutfiles.tolerances import ARC_ENDS_MM
from cutfiles.verdict.drawing import (
    LARGEST_FILE,
    Array,
    ReadDrawing,
    ReadLine,
    lines_of,
    too_large,
    unread,
)

CUT: Final = "cut"
TRAVEL: Final = "travel"
"""The layers of a replay: lines drawn with the tool on, and with it off."""

_WORD = re.compile(r"([A-Z])([+-]?(?:\d+\.?\d*|\.\d+))")
_MOTIONS = ("0", "1", "2", "3")
_UNITS = {"20": 25.4, "70": 25.4, "21": 1.0, "71": 1.0}
"""G70 and G71 are ISO's, G20 and G21 the common ones (from memory)."""
_IDLE = ("17", "40", "80", "91.1", "94")
"""Plane, no correction of the tool, no cycle, centres from the start, feed by the minute: what is
so here anyhow (from memory)."""

_CHORD_OFF_MM = 0.001
_FARTHEST_MM = 1e6
_MOST_FINDINGS = 20


def read_motion(path: Path) -> ReadDrawing:
    """Replay a program: a line for each stroke of the tool (layer `CUT`, arcs flattened to chords
    of 0.001 mm) and each way between (`TRAVEL`), in order, in mm. What is wrong is a finding."""
    refused = too_large(path, LARGEST_FILE[".nc"])
    if refused:
        return refused
    content = path.read_bytes()
    if not content.strip() or b"\0" in content:
        return unread(path, "is no motion code: write or copy it again")
    replay = _Replay(path.name)
    for number, line in enumerate(content.decode("utf-8", errors="replace").splitlines(), 1):
        replay.run(number, line)
        if len(replay.findings) >= _MOST_FINDINGS:
            replay.say("unread", "there is more that is wrong, which is not told")
            break
    else:
        replay.finish()
    return ReadDrawing(path.name, lines_of(replay.lines), (), tuple(replay.findings))


class _BlockError(ValueError):
    """A block that cannot be carried out: a code, and what is wrong."""

    def __init__(self, code: str, text: str) -> None:
        super().__init__(text)
        self.code = code


class _Block:
    """The words of one line, sorted by what they do."""

    def __init__(self, words: list[tuple[str, str]]) -> None:
        self.motion: str | None = None
        self.unit_mm: float | None = None
        self.is_absolute: bool | None = None
        self.dwells = self.stops = self.ends = False
        self.tool: bool | None = None
        self.numbers: dict[str, float] = {}
        for letter, text in words:
            number = text.lstrip("+")
            plain = f"{float(number):g}"
            if letter == "G":
                self._g_word(plain)
            elif letter == "M":
                self._m_word(plain)
            elif letter in "XYIJRFSP":
                if letter in self.numbers:
                    raise _BlockError("twice", f"{letter}{text}: there is another {letter} before")
                self.numbers[letter] = float(number)
            elif letter != "N":
                raise _BlockError("unknown-word", f"{letter}{text} is no word that is known here")
        if self.dwells != ("P" in self.numbers) or (self.dwells and self.numbers.keys() != {"P"}):
            raise _BlockError("dwell", "G4 and P go together, and with nothing else but M and G")

    def _g_word(self, plain: str) -> None:
        if plain in _MOTIONS:
            if self.motion is not None:
                raise _BlockError("twice", f"G{plain}: there is G{self.motion} before")
            self.motion = plain
        elif plain in _UNITS:
            self.unit_mm = _UNITS[plain]
        elif plain in ("90", "91"):
            self.is_absolute = plain == "90"
        elif plain == "4":
            self.dwells = True
        elif plain not in _IDLE:
            raise _BlockError("unknown-word", f"G{plain} is no word that is known here")

    def _m_word(self, plain: str) -> None:
        if plain in ("3", "5"):
            if self.tool is not None:
                raise _BlockError("twice", f"M{plain}: the tool goes on and off in one line")
            self.tool = plain == "3"
        elif plain in ("2", "30"):
            self.ends = True
        elif plain in ("0", "1"):
            self.stops = True
        else:
            raise _BlockError("unknown-word", f"M{plain} is no word that is known here")

    @property
    def goes(self) -> bool:
        """Whether it names a place to go to."""
        return any(letter in self.numbers for letter in "XYIJR")


class _Replay:
    """The state of a machine while a program runs, and what it has drawn."""

    def __init__(self, name: str) -> None:
        self._name = name
        self.lines: list[ReadLine] = []
        self.findings: list[Finding] = []
        self._number = 0
        self._at = (0.0, 0.0)
        self._is_placed = False
        self._is_on = False
        self._ended = False
        self._motion: str | None = None
        self._unit_mm: float | None = None
        self._is_absolute: bool | None = None
        self._has_feed = False
        self._stroke: list[Array] = []

    def say(self, code: str, text: str) -> None:
        """Note a finding in the line that runs."""
        where = f"{self._name}: line {self._number}"
        self.findings.append(Finding(code, "error", f"{where}: {text}"))

    def run(self, number: int, line: str) -> None:
        """Carry out one line."""
        self._number = number
        try:
            words = _words(line)
            if not words:
                return
            if self._ended:
                raise _BlockError("after-end", "there is more after the end of the program")
            self._carry_out(_Block(words))
        except _BlockError as error:
            self.say(error.code, str(error))

    def finish(self) -> None:
        """Judge how the program ends."""
        if not self._ended:
            self.say("truncated", "breaks off before its end (no M30 or M2): copy it again")
            self._tool_off()

    def _carry_out(self, block: _Block) -> None:
        # a tool goes on before the move of its block, and off after it (from memory)
        if block.unit_mm is not None:
            self._unit_mm = block.unit_mm
        if block.is_absolute is not None:
            self._is_absolute = block.is_absolute
        if "F" in block.numbers:
            if block.numbers["F"] <= 0.0:
                raise _BlockError("feed", "F must be more than 0")
            self._has_feed = True
        if block.tool:
            self._tool_on()
        self._motion = block.motion or self._motion
        if block.goes:
            self._go(block.numbers)
        if block.tool is False:
            self._tool_off()
        if block.stops or block.ends:
            if self._is_on:
                self.say("tool-on", "the tool is still on where the program stops: M5 is missing")
                self._tool_off()
            self._ended = block.ends

    def _tool_on(self) -> None:
        if not self._is_placed:
            self.say("tool-on", "M3: the tool goes on before it has been sent to a place")
        self._is_on = True

    def _tool_off(self) -> None:
        if self._is_on:
            if self._stroke:
                self._draw(CUT, np.vstack(self._stroke))
            else:
                x, y = self._at
                self.say("no-cut", f"the tool goes on and off at ({x:.1f}, {y:.1f}) and cuts not")
        self._is_on, self._stroke = False, []

    def _go(self, numbers: dict[str, float]) -> None:
        motion, unit = self._motion, self._unit_mm
        if motion is None:
            raise _BlockError("no-motion", "there is a place to go to, and no G0, G1, G2 or G3")
        if unit is None or self._is_absolute is None:
            self.say("no-unit", "the unit (G21) and how places are counted (G90) are not said")
            self._unit_mm = unit = unit or 1.0
            self._is_absolute = self._is_absolute is not False
        start, end = self._at, self._end(numbers, unit)
        if max(abs(end[0]), abs(end[1])) > _FARTHEST_MM:
            raise _BlockError("far", f"goes to {end[0]:g}, {end[1]:g} mm, further than 1 km")
        if motion in "01":
            if any(letter in numbers for letter in "IJR"):
                raise _BlockError("arc", f"I, J and R go with G2 and G3, not with G{motion}")
            points = np.array([start, end])
        else:
            centre = _centre(start, end, numbers, unit, is_ccw=motion == "3")
            points = _along(start, end, centre, is_ccw=motion == "3")
        if motion == "0":
            if self._is_on:
                self.say("tool-on", "G0: the tool is on while it travels: M5 is missing")
                self._tool_off()
        elif not self._has_feed:
            self.say("feed", f"G{motion}: no feed has been said (F)")
            self._has_feed = True
        if self._is_on:
            self._stroke.append(points[1:] if self._stroke else points)
        else:
            self._draw(TRAVEL, points)
        self._at, self._is_placed = end, True

    def _end(self, numbers: dict[str, float], unit: float) -> tuple[float, float]:
        x, y = self._at
        base_x, base_y = (0.0, 0.0) if self._is_absolute else (x, y)
        return (
            base_x + numbers["X"] * unit if "X" in numbers else x,
            base_y + numbers["Y"] * unit if "Y" in numbers else y,
        )

    def _draw(self, layer: str, points: Array) -> None:
        self.lines.append(ReadLine(layer, points))


def _words(line: str) -> list[tuple[str, str]]:
    """Letters and numbers of a line, without comments, blanks and the percent sign of a tape.

    Raises
    ------
    _BlockError
        If anything else is in it.
    """
    left = re.sub(r"\([^()]*\)", "", line).partition(";")[0]
    left = re.sub(r"\s+", "", left).upper()
    if left == "%":
        return []
    if "(" in left or ")" in left:
        raise _BlockError("comment", "a comment is not closed, or has another inside")
    words = _WORD.findall(left)
    rest = _WORD.sub(" ", left).strip()
    if rest:
        raise _BlockError("unknown-word", f"{rest[:20]!r} is no word that is known here")
    return words


def _centre(
    start: tuple[float, float],
    end: tuple[float, float],
    numbers: dict[str, float],
    unit: float,
    *,
    is_ccw: bool,
) -> tuple[float, float]:
    """Of an arc: its start and the offsets I and J, or left or right of its chord by R, whose
    negative sign asks for the larger arc."""
    by_radius = "R" in numbers
    if by_radius == ("I" in numbers or "J" in numbers):
        raise _BlockError("arc", "an arc needs its centre (I, J) or its radius (R), and one only")
    if not by_radius:
        centre = (
            start[0] + numbers.get("I", 0.0) * unit,
            start[1] + numbers.get("J", 0.0) * unit,
        )
        apart = math.dist(start, centre) - math.dist(end, centre)
        if abs(apart) > ARC_ENDS_MM:
            raise _BlockError(
                "arc", f"its ends are not alike far from its centre, by {apart:.4f} mm"
            )
        return centre
    radius, chord = numbers["R"] * unit, math.dist(start, end)
    if chord == 0.0:
        raise _BlockError("arc", "a whole circle cannot be told by its radius: give I and J")
    if chord / 2.0 - abs(radius) > ARC_ENDS_MM:
        raise _BlockError(
            "arc", f"R{numbers['R']:g} is less than half of the {chord:.4f} mm between its ends"
        )
    high = math.sqrt(max(radius**2 - chord**2 / 4.0, 0.0))
    side = 1.0 if (radius > 0.0) == is_ccw else -1.0
    middle_x, middle_y = (start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0
    dx, dy = (end[0] - start[0]) / chord, (end[1] - start[1]) / chord
    return middle_x - side * high * dy, middle_y + side * high * dx


def _along(
    start: tuple[float, float],
    end: tuple[float, float],
    centre: tuple[float, float],
    *,
    is_ccw: bool,
) -> Array:
    """Points along an arc, both ends included; one that ends where it starts is a whole circle."""
    first, last = (math.atan2(p[1] - centre[1], p[0] - centre[0]) for p in (start, end))
    turn = (last - first if is_ccw else first - last) % math.tau
    sweep = math.tau if start == end else turn
    near, far = math.dist(start, centre), math.dist(end, centre)
    if near == 0.0:
        raise _BlockError("arc", "its centre is where it starts")
    step = 2.0 * math.acos(1.0 - min(_CHORD_OFF_MM / near, 1.0))
    count = max(1, math.ceil(sweep / step))
    share = np.linspace(0.0, 1.0, count + 1)
    angles = first + (sweep if is_ccw else -sweep) * share
    radii = near + (far - near) * share
    points = np.column_stack(
        (centre[0] + radii * np.cos(angles), centre[1] + radii * np.sin(angles))
    )
    points[0], points[-1] = start, end
    return points
