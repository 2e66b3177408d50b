"""The verdict on the way of the tool, read back from a file: the passes that were planned, on the
cloth and on the bed, with the tool off between them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, box

from cutfiles.cuts.plan import CUT_ROLES, Pass
from cutfiles.errors import Finding
from cutfiles.geometry.bulges import flattened
from cutfiles.tolerances import CURVE_FIT_MM, READ_BACK_MM
from cutfiles.verdict.drawing import Array, ReadDrawing, ReadLine
from cutfiles.verdict.expected import ExpectedLay
from cutfiles.verdict.read_motion import CUT, TRAVEL

_SAME_PACE_MM = 0.1
"""How far apart two runs along one line may be at a quarter of their lengths: backwards is further
for anything but the shortest."""

Say = Callable[[str, str], None]


def judge_passes(
    drawing: ReadDrawing, lines: Sequence[ReadLine], passes: Sequence[Pass]
) -> tuple[Finding, ...]:
    """Whether lines that were read are the planned passes: as many, in their order, each along its
    line, from its start to its end. For files just written."""
    findings: list[Finding] = []
    say = _sayer(drawing, findings)
    if len(lines) != len(passes):
        say("passes", f"the tool makes {len(lines)} passes, not {len(passes)}")
    for number, (line, cut) in enumerate(zip(lines, passes, strict=False), 1):
        planned = LineString(
            flattened(cut.points, cut.bulges, closed=False, tolerance_mm=CURVE_FIT_MM)
        )
        found = LineString(line.points)
        off = max(
            found.hausdorff_distance(planned),
            *(_apart(found, planned, share) for share in (0.0, 1.0)),
        )
        slow = max(_apart(found, planned, share) for share in (0.25, 0.75))
        if off > READ_BACK_MM:
            say("passes", f"pass {number} ({cut.role} of {cut.piece_id}) is {off:.3f} mm off")
        elif slow > _SAME_PACE_MM:
            say("passes", f"pass {number} ({cut.role} of {cut.piece_id}) runs another way round")
    return (*drawing.findings, *findings)


def _apart(one: LineString, other: LineString, share: float) -> float:
    first, second = (line.interpolate(share, normalized=True) for line in (one, other))
    return float(first.distance(second))


def judge_against_drawing(
    drawing: ReadDrawing, lines: Sequence[ReadLine], cuts: ReadDrawing, expected: ExpectedLay
) -> tuple[Finding, ...]:
    """Whether lines that were read cut what the lay's own drawing shows, and nothing else. The way
    of the tool may lie off the drawn lines by as much as the summary says, and no more."""
    findings: list[Finding] = []
    say = _sayer(drawing, findings)
    drawn = [line for role in CUT_ROLES for line in cuts.on(expected.layers[role])]
    most = expected.tool_off_mm + 2.0 * READ_BACK_MM
    for ones, others, what in (
        (drawn, lines, "a drawn cut is not made by the tool"),
        (lines, drawn, "the tool cuts where no cut is drawn"),
    ):
        off, (x, y) = _farthest(ones, others)
        if off > most:
            say("passes", f"{what}: at ({x:.1f}, {y:.1f}) mm they are {off:.3f} mm apart")
    return (*drawing.findings, *findings)


def judge_room(drawing: ReadDrawing, expected: ExpectedLay) -> tuple[Finding, ...]:
    """Whether the tool cuts on the cloth only, and stays on the machine's bed with all it does. A
    half on a fold is cut past it, and no further than its pieces ask."""
    findings: list[Finding] = []
    say = _sayer(drawing, findings)
    past = max((piece.past_fold_mm or 0.0 for piece in expected.pieces), default=0.0)
    beside = expected.tool_off_mm + READ_BACK_MM
    cloth: shapely.Geometry = expected.sheet
    if past:
        below = past + expected.kerf_mm
        cloth = shapely.union(cloth, box(0.0, -below, expected.length_mm, 0.0))
    _judge_within(drawing.on(CUT), shapely.buffer(cloth, beside), "cuts off the cloth", say)
    along, across = expected.bed_mm
    low = float(shapely.bounds(cloth)[1])
    bed = box(
        -beside,
        low - beside,
        (expected.length_mm if along is None else along) + beside,
        (expected.width_mm if across is None else across) + beside,
    )
    lines = (*drawing.on(CUT), *drawing.on(TRAVEL))
    _judge_within(lines, bed, "leaves the bed, or the lay where no bed is given,", say)
    return tuple(findings)


def judge_tool_alone(drawing: ReadDrawing) -> tuple[Finding, ...]:
    """What can be said of a program of which nothing else is known: that it runs, cuts something,
    and how far it goes."""
    findings: list[Finding] = []
    lines = drawing.on(CUT)
    if not lines:
        if not drawing.findings:
            _sayer(drawing, findings)("no-cuts", "the tool never cuts anything")
        return (*drawing.findings, *findings)
    low, high = _extent(lines)
    text = (
        f"{drawing.name}: {len(lines)} passes, from ({low[0]:.1f}, {low[1]:.1f}) to "
        f"({high[0]:.1f}, {high[1]:.1f}) mm"
    )
    return (*drawing.findings, Finding("extent", "note", text))


def _extent(lines: Sequence[ReadLine]) -> tuple[Array, Array]:
    points = np.vstack([line.points for line in lines])
    return points.min(axis=0), points.max(axis=0)


def _judge_within(lines: Sequence[ReadLine], room: shapely.Geometry, what: str, say: Say) -> None:
    shapely.prepare(room)
    for line in lines:
        run = LineString(line.points)
        if not shapely.covers(room, run):
            x, y = shapely.get_coordinates(shapely.difference(run, room))[0]
            say("outside", f"the tool {what} at ({x:.1f}, {y:.1f}) mm")


def _farthest(
    ones: Sequence[ReadLine], others: Sequence[ReadLine]
) -> tuple[float, tuple[float, float]]:
    """How far a corner of some lines, or the middle between two, is from any other line at most,
    and where."""
    if not ones:
        return 0.0, (0.0, 0.0)
    corners = [line.points for line in ones]
    middles = [(line.points[1:] + line.points[:-1]) / 2.0 for line in ones]
    places = np.vstack([*corners, *middles])
    if not others:
        return np.inf, (float(places[0, 0]), float(places[0, 1]))
    tree = shapely.STRtree([LineString(line.points) for line in others])
    _, far = tree.query_nearest(shapely.points(places), return_distance=True, all_matches=False)
    worst = int(np.argmax(far))
    return float(far[worst]), (float(places[worst, 0]), float(places[worst, 1]))


def _sayer(drawing: ReadDrawing, findings: list[Finding]) -> Say:
    def say(code: str, text: str) -> None:
        findings.append(Finding(code, "error", f"{drawing.name}: {text}"))

    return say
