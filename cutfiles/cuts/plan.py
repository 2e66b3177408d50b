"""The nouns of cutting: strokes in their order, labels, and what they take.

Frame and unit are the lay's: millimetres on the usable cloth.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import ClassVar, Final

import numpy as np

from cutfiles.errors import Finding
from cutfiles.geometry.bulges import Array, Span, length_mm, places_of, spans_of
from cutfiles.job.written import LINE_ROLES, LineRole

Role = LineRole
ROLES: Final = LINE_ROLES
"""What a line is for. ``outline``, ``inner`` and ``notch`` are cut; ``stitch``, ``grain`` and
``label`` are marked, if at all; ``cloth`` is only there to see."""

CUT_ROLES: Final[tuple[Role, ...]] = ("notch", "inner", "outline")


@dataclass(frozen=True, slots=True)
class Stroke:
    """One line of the lay. A closed one does not repeat its first point.

    ``bulges``, if there are any, has one for each span, a closed line's last back to its first
    point; see `cutfiles.geometry.bulges`. Without them every span is straight.
    """

    role: Role
    piece_id: str
    points: tuple[tuple[float, float], ...]
    closed: bool
    bulges: tuple[float, ...] = ()

    @property
    def spans(self) -> tuple[Span, ...]:
        """Its lines and arcs in order."""
        return tuple(spans_of(self.points, self.bulges, closed=self.closed))

    @property
    def end(self) -> tuple[float, float]:
        """Where the tool is when it is done: of a closed one where it was begun."""
        return self.points[0] if self.closed else self.points[-1]

    def span(self, number: int) -> Span:
        """The one that begins at a point of a closed line."""
        end = self.points[(number + 1) % len(self.points)]
        return Span(self.points[number], end, self.bulges[number] if self.bulges else 0.0)

    def length_mm(self) -> float:
        """Along the line, a closed one back to its start."""
        return length_mm(self.points, self.bulges, closed=self.closed)

    def turned_round(self) -> Stroke:
        """The same line the other way; a closed one from the same point."""
        points = self.points[:1] + self.points[:0:-1] if self.closed else self.points[::-1]
        return replace(self, points=points, bulges=tuple(-bulge for bulge in self.bulges[::-1]))

    def entered_at(self, number: int) -> Stroke:
        """A closed line from another of its points on."""
        return replace(
            self,
            points=self.points[number:] + self.points[:number],
            bulges=self.bulges[number:] + self.bulges[:number],
        )


@dataclass(frozen=True, slots=True)
class Pass:
    """What a tool does from going down to coming up again: an open line of spans.

    It makes the stroke of that number in its plan, and may begin before and end after it: a way in
    from the waste, an overlap, the swing of a trailing blade. Its line is that of the machine's
    axis, which a trailing blade follows at its offset.
    """

    stroke: int
    role: Role
    piece_id: str
    points: tuple[tuple[float, float], ...]
    bulges: tuple[float, ...] = ()

    @property
    def spans(self) -> tuple[Span, ...]:
        """Its lines and arcs in order."""
        return tuple(spans_of(self.points, self.bulges, closed=False))

    def length_mm(self) -> float:
        """From going down to coming up."""
        return length_mm(self.points, self.bulges, closed=False)


@dataclass(frozen=True, slots=True)
class Lettering:
    """A label: its text, the middle of its line, reading direction and height of letters."""

    piece_id: str
    text: str
    centre: tuple[float, float]
    angle_deg: float
    height_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Letters:
    """A label that is drawn, as single strokes, open and straight: its points ``(n, 2)``, and where
    among them each stroke starts, and behind the last the number of points. A lay has some hundred
    thousand of such strokes, too many for objects of their own."""

    piece_id: str
    points: Array
    starts: tuple[int, ...]
    role: ClassVar[Role] = "label"
    closed: ClassVar[bool] = False

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, Letters)
            and (self.piece_id, self.starts) == (other.piece_id, other.starts)
            and np.array_equal(self.points, other.points)
        )

    def __hash__(self) -> int:
        return hash((self.piece_id, self.starts))

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        """Every stroke by itself."""
        return tuple(
            Stroke("label", self.piece_id, places_of(self.points[start:end]), closed=False)
            for start, end in pairwise(self.starts)
        )


@dataclass(frozen=True, slots=True)
class Frame:
    """What is cut while the cloth lies still: the bed begins ``start_mm`` along the lay, and the
    strokes of the plan from number ``first_stroke`` up to the next frame's are done there."""

    start_mm: float
    first_stroke: int


@dataclass(frozen=True, slots=True)
class Leg:
    """What the machine does for one pass, or for one line that it draws, in s: the cloth is moved
    on under it, the lifted tool goes there, goes down, and makes the line."""

    advance_s: float
    travel_s: float
    start_s: float
    line_s: float

    @property
    def total_s(self) -> float:
        """All of it."""
        return self.advance_s + self.travel_s + self.start_s + self.line_s


@dataclass(frozen=True, slots=True)
class CutPlan:
    """Everything that is written for one lay, in the order in which it is done: its strokes, and
    the passes of the tool that make them, with what was found in planning these.

    The cloth is the rectangle of its width and length or, of a remnant, what lies within
    ``remnant``; ``on_cloth`` shows its flaws, as closed strokes, and its fold, as an open one.
    ``time_s`` is all of it, of which ``marking_s`` goes on lines that are drawn and ``piece_s`` on
    cutting each piece. ``frames`` are there where the bed is
    shorter than the lay and moves the cloth on.
    ``tool_off_mm`` is how far the passes leave the lines of their strokes, at most.
    ``letterings`` say where labels stand; ``letters`` are there where they are drawn and not
    written as text. ``legs`` are there for each pass, ``marking_legs`` for each of the lines and
    labels that are ``drawn``; together they take ``time_s``. ``shared_mm`` of outlines are cut once
    for two pieces, and counted once in ``cut_length_mm``.
    """

    lay_name: str
    width_mm: float
    length_mm: float
    strokes: tuple[Stroke, ...]
    letterings: tuple[Lettering, ...]
    cut_length_mm: float
    travel_mm: float
    time_s: float
    on_cloth: tuple[Stroke, ...] = ()
    remnant: tuple[tuple[float, float], ...] = ()
    passes: tuple[Pass, ...] = ()
    tool_off_mm: float = 0.0
    findings: tuple[Finding, ...] = ()
    letters: tuple[Letters, ...] = ()
    marking_s: float = 0.0
    piece_s: Mapping[str, float] = field(default_factory=dict)
    frames: tuple[Frame, ...] = ()
    shared_mm: float = 0.0
    legs: tuple[Leg, ...] = ()
    marking_legs: tuple[Leg, ...] = ()

    @property
    def drawn(self) -> tuple[Stroke | Letters, ...]:
        """What is marked, in order: strokes without a pass, then labels."""
        return lines_drawn(self.strokes, self.passes, self.letters)

    @property
    def frame_numbers(self) -> dict[str, int]:
        """In which frame each piece is done, counted from 1; empty where there are none."""
        firsts = [frame.first_stroke for frame in self.frames]
        return {
            stroke.piece_id: bisect_right(firsts, number)
            for number, stroke in enumerate(self.strokes)
            if firsts
        }

    @property
    def of_passes(self) -> CutPlan:
        """The plan with its passes drawn in place of its strokes and labels, as open lines."""
        drawn = (
            Stroke(cut.role, cut.piece_id, cut.points, closed=False, bulges=cut.bulges)
            for cut in self.passes
        )
        return replace(self, strokes=tuple(drawn), letterings=(), letters=())

    @property
    def cloth_edge(self) -> tuple[tuple[float, float], ...]:
        """The corners of the cloth, counter-clockwise."""
        length, width = self.length_mm, self.width_mm
        return self.remnant or ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))


def lines_drawn(
    strokes: Sequence[Stroke], passes: Sequence[Pass], letters: Sequence[Letters]
) -> tuple[Stroke | Letters, ...]:
    """What is marked and not cut, in order: strokes that no pass makes, then labels. An outline
    without a pass is cut with those round it."""
    made = {cut.stroke for cut in passes}
    marks = (stroke for number, stroke in enumerate(strokes) if number not in made)
    return (*(stroke for stroke in marks if stroke.role not in ("cloth", "outline")), *letters)
