"""The verdict on the way of the tool, read back from a file: the passes that were planned, on the
cloth and on the bed, with the tool off between them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, box

from cutfiles.cuts.plan import CUT_ROLES, Pass
from cutfiles.errors import Finding
from cutfiles.geometry.bulges import flattened
from cutfiles.tolerances import CURVE_FIT_MM, READ_BACK_MM
from cutfiles.verdict.drawing import ReadDrawing, ReadLine
from cutfiles.verdict.expected import ExpectedLay
from cutfiles.verdict.tool_run import ToolRun

_SAME_PACE_MM = 0.1
"""How far apart two runs along one line may be at a quarter of their lengths: backwards is further
for anything but the shortest."""

Say = Callable[[str, str], None]


def judge_passes(run: ToolRun, passes: Sequence[Pass]) -> tuple[Finding, ...]:
    """Whether the tool makes the planned passes: as many, in their order, each along its line, from
    its start to its end, on the layer of its role. For files just written."""
    findings: list[Finding] = []
    say = _sayer(run.drawing, findings)
    if len(run.cuts) != len(passes):
        say("passes", f"the tool makes {len(run.cuts)} passes, not {len(passes)}")
    for number, (line, cut) in enumerate(zip(run.cuts, passes, strict=False), 1):
        what = f"pass {number} ({cut.role} of {cut.piece_id})"
        planned = LineString(
            flattened(cut.points, cut.bulges, closed=False, tolerance_mm=CURVE_FIT_MM)
        )
        found = LineString(line.points)
        off = max(_apart(found, planned, share) for share in (0.0, 1.0))
        if not (
            _runs_along(found, planned, run.off_mm) and _runs_along(planned, found, run.off_mm)
        ):
            off = max(off, found.hausdorff_distance(planned))
        slow = max(_apart(found, planned, share) for share in (0.25, 0.75))
        if off > run.off_mm:
            say("passes", f"{what} is {off:.3f} mm off")
        elif slow > _SAME_PACE_MM:
            say("passes", f"{what} runs another way round")
        if run.layers and line.layer != run.layers[cut.role]:
            say("passes", f"{what} is on the layer {line.layer!r}")
    return (*run.drawing.findings, *findings)


def _runs_along(one: LineString, other: LineString, most_mm: float) -> bool:
    """Whether every corner of a line is no further from another than so much."""
    shapely.prepare(other)
    return bool(shapely.dwithin(other, shapely.points(one.coords), most_mm).all())


def _apart(one: LineString, other: LineString, share: float) -> float:
    first, second = (line.interpolate(share, normalized=True) for line in (one, other))
    return float(first.distance(second))


def judge_against_drawing(
    run: ToolRun, drawing: ReadDrawing, expected: ExpectedLay
) -> tuple[Finding, ...]:
    """Whether the tool cuts what the lay's own drawing shows, and nothing else. Its way may lie off
    the drawn lines by as much as the summary says, and no more."""
    findings: list[Finding] = []
    say = _sayer(run.drawing, findings)
    drawn = [line for role in CUT_ROLES for line in drawing.on(expected.layers[role])]
    most = expected.tool_off_mm + run.off_mm + READ_BACK_MM
    for ones, others, what in (
        (drawn, run.cuts, "a drawn cut is not made by the tool"),
        (run.cuts, drawn, "the tool cuts where no cut is drawn"),
    ):
        for off, (x, y) in _off(ones, others, most):
            say("passes", f"{what}: at ({x:.1f}, {y:.1f}) mm they are {off:.3f} mm apart")
    return (*run.drawing.findings, *findings)


def judge_room(run: ToolRun, expected: ExpectedLay) -> tuple[Finding, ...]:
    """Whether the tool cuts on the cloth only, and stays on the machine's bed with all it does. A
    half on a fold is cut past it, and no further than its pieces ask. A drawing of passes may be
    longer than a bed that moves the cloth on from frame to frame; a program, which knows no frames,
    may not."""
    findings: list[Finding] = []
    say = _sayer(run.drawing, findings)
    past = max((piece.past_fold_mm or 0.0 for piece in expected.pieces), default=0.0)
    beside = expected.tool_off_mm + run.off_mm
    cloth: shapely.Geometry = expected.sheet
    if past:
        below = past + expected.kerf_mm
        cloth = shapely.union(cloth, box(0.0, -below, expected.length_mm, 0.0))
    _judge_within(run.cuts, shapely.buffer(cloth, beside), "cuts off the cloth", say)
    along, across = expected.bed_mm
    if expected.frames_mm and run.layers is not None:
        along = None
    low = float(shapely.bounds(cloth)[1])
    bed = box(
        -beside,
        low - beside,
        (expected.length_mm if along is None else along) + beside,
        (expected.width_mm if across is None else across) + beside,
    )
    _judge_within(
        (*run.cuts, *run.travels), bed, "leaves the bed, or the lay where no bed is given,", say
    )
    return tuple(findings)


def judge_tool_alone(run: ToolRun) -> tuple[Finding, ...]:
    """What can be said of a tool's way of which nothing else is known: that it can be read, cuts
    something, and how far it goes."""
    name, found = run.drawing.name, run.drawing.findings
    if not run.cuts:
        text = f"{name}: the tool never cuts anything"
        return found or (Finding("no-cuts", "error", text),)
    points = np.vstack([line.points for line in run.cuts])
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    text = f"{name}: passes: {len(run.cuts)}, from ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f}) mm"
    return (*found, Finding("extent", "note", text))


def _judge_within(lines: Sequence[ReadLine], room: shapely.Geometry, what: str, say: Say) -> None:
    shapely.prepare(room)
    for line in lines:
        run = LineString(line.points)
        if not shapely.covers(room, run):
            x, y = shapely.get_coordinates(shapely.difference(run, room))[0]
            say("outside", f"the tool {what} at ({x:.1f}, {y:.1f}) mm")


def _off(
    ones: Sequence[ReadLine], others: Sequence[ReadLine], most_mm: float
) -> Iterator[tuple[float, tuple[float, float]]]:
    """Of every line with a corner, or a middle between two, that is too far from all other lines:
    how far it is at most, and where."""
    runs = [LineString(line.points) for line in others]
    tree = shapely.STRtree(runs)
    for line in ones:
        middles = (line.points[1:] + line.points[:-1]) / 2.0
        places = np.vstack([line.points, middles])
        near = tree.query(LineString(line.points), predicate="dwithin", distance=most_mm)
        beside = shapely.MultiLineString([runs[k] for k in near])
        shapely.prepare(beside)
        lost = places[~shapely.dwithin(beside, shapely.points(places), most_mm)]
        if len(lost):
            away = shapely.distance(shapely.MultiLineString(runs), shapely.points(lost))
            far = np.asarray(np.nan_to_num(away, nan=np.inf), dtype=np.float64)
            worst = int(np.argmax(far))
            yield float(far[worst]), (float(lost[worst, 0]), float(lost[worst, 1]))


def _sayer(drawing: ReadDrawing, findings: list[Finding]) -> Say:
    def say(code: str, text: str) -> None:
        findings.append(Finding(code, "error", f"{drawing.name}: {text}"))

    return say
