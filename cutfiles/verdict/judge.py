"""The verdict on a read file: every piece there once, closed, inside the cloth, apart from the
others, on grain, with the kerf on the right side, the cut-outs in and the notches on their edges.

Judged by shapely on what a reader found, against the lay or the summary; never against the
writer's own data.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import islice

import numpy as np
import shapely
from shapely.geometry import Polygon

from cutfiles.cuts.plan import CUT_ROLES
from cutfiles.errors import Finding
from cutfiles.tolerances import GRAIN_DEG, KERF_MM, REFIT_MM
from cutfiles.verdict.cut_outs import are_regions, judge_cut_outs
from cutfiles.verdict.drawing import Array, Ints, ReadDrawing, ReadLines, ReadText, points_of
from cutfiles.verdict.expected import (
    ExpectedLay,
    ExpectedPiece,
    angle_between_deg,
    direction_deg,
)
from cutfiles.verdict.grain import off_grain
from cutfiles.verdict.letters import judge_letters, written_fault
from cutfiles.verdict.neighbours import judge_neighbours
from cutfiles.verdict.notches import ends_on, places_within, read_notch
from cutfiles.verdict.on_cloth import (
    judge_bed,
    judge_frames,
    judge_inside,
    judge_print,
    judge_sheet,
    judge_start,
)

_ALONG_EDGE_MM = KERF_MM + REFIT_MM
"""How far a stitch line may be outside its piece if it lies along the edge: both are fitted."""

_RINGS_AT_ONCE = 500
"""Closed cuts that are made regions together, to spare memory."""
_RUNS_AT_ONCE = 1000
"""Stitch lines that are judged together, to spare memory."""
_PLACES_AT_ONCE = 20_000
"""Places that are looked up in one tree, to spare memory."""


@dataclass(frozen=True, slots=True)
class _Cut:
    """An outline as read: the path of the tool, and the piece it leaves."""

    path: Polygon
    piece: Polygon


def judge_lay(drawing: ReadDrawing, expected: ExpectedLay) -> tuple[Finding, ...]:
    """Every finding on one file of one lay; a sound file gives none."""
    report = _Report(drawing.name)
    cuts = _cuts(drawing.lines.on(expected.layers["outline"]), expected.kerf_mm, report)
    paths = [cut.path for cut in cuts]
    judge_sheet(drawing, expected, report.error)
    judge_bed(expected, report.error)
    judge_start(expected, report.error)
    _judge_layers(drawing, expected, report)
    _judge_order(drawing, expected, report)
    judge_neighbours(paths, expected.clearance_mm, report.error, shared=expected.shares_edges)
    owners = _owners(cuts, expected, report)
    judge_inside(paths, expected, owners, report.error)
    judge_frames(drawing, expected, paths, owners, report.error)
    judge_print(drawing, expected, [cut.piece for cut in cuts], owners, report.error)
    judge_cut_outs(drawing, expected, [cut.piece for cut in cuts], owners, report.error)
    _judge_grain(drawing, expected, cuts, owners, report)
    _judge_notches(drawing, expected, cuts, owners, report)
    _judge_stitching(drawing, expected, cuts, owners, report)
    _judge_labels(drawing, expected, cuts, owners, report)
    return (*drawing.findings, *report.findings)


def judge_alone(drawing: ReadDrawing, layer: str) -> tuple[Finding, ...]:
    """What can be said of a file of which nothing else is known: outlines there, closed, simple
    and apart."""
    report = _Report(drawing.name)
    lines = drawing.lines.on(layer)
    if not len(lines) and not any(f.code == "unreadable" for f in drawing.findings):
        found = sorted(drawing.lines.names) or ["none"]
        report.error(
            "no-outlines",
            f"there are no outlines on layer {layer!r} (layers found: {', '.join(found)}): "
            "check a file that cutfiles wrote",
        )
    judge_neighbours([cut.path for cut in _cuts(lines, 0.0, report)], 0.0, report.error)
    return (*drawing.findings, *report.findings)


class _Report:
    """Collects the findings on one file."""

    def __init__(self, name: str) -> None:
        self._name = name
        self.findings: list[Finding] = []

    def error(self, code: str, text: str) -> None:
        self.findings.append(Finding(code, "error", f"{self._name}: {text}"))


def _cuts(lines: ReadLines, kerf_mm: float, report: _Report) -> list[_Cut]:
    """Outlines as polygons, with the kerf taken off again."""
    closed = np.flatnonzero(lines.are_closed)
    parts = [
        lines.take(closed[start : start + _RINGS_AT_ONCE]).regions()
        for start in range(0, len(closed), _RINGS_AT_ONCE)
    ]
    paths = np.concatenate([np.empty(0, dtype=np.object_), *parts])
    valid = shapely.is_valid(paths)
    pieces = paths
    if kerf_mm:
        sound = [path if is_sound else None for path, is_sound in zip(paths, valid, strict=True)]
        pieces = shapely.buffer(sound, -kerf_mm / 2.0, join_style="mitre")
    cuts = []
    judged = zip(paths, pieces, valid, strict=True)
    starts = lines.firsts.tolist()
    for start, is_closed in zip(starts, lines.are_closed.tolist(), strict=True):
        where = "the outline at ({:.1f}, {:.1f}) mm".format(*start)
        if not is_closed:
            report.error("open", f"{where} is not closed")
            continue
        path, piece, is_sound = next(judged)
        if not is_sound:
            report.error("crossing", f"{where} crosses itself")
        elif not isinstance(piece, Polygon) or piece.is_empty:
            report.error("kerf", f"{where} is lost in the kerf")
        else:
            cuts.append(_Cut(path, piece))
    return cuts


def _judge_layers(drawing: ReadDrawing, expected: ExpectedLay, report: _Report) -> None:
    """Nothing lies on a layer of no role."""
    strange = sorted(set(drawing.lines.names) - set(expected.layers.values()))
    if strange:
        report.error("strange-layer", f"there are lines on layers of no role: {', '.join(strange)}")


def _judge_order(drawing: ReadDrawing, expected: ExpectedLay, report: _Report) -> None:
    """What lies within a closed cut is cut before it, or it has come loose: the notches and
    cut-outs of a piece before its outline, and a piece in a cut-out before that. By place; which
    lines there are is judged apart from that."""
    roles = {expected.layers[role]: role for role in CUT_ROLES}
    cut = drawing.lines.on(*roles)
    rings = np.flatnonzero(cut.are_closed)
    if not len(rings):
        return
    tree = shapely.STRtree(points_of(places_within(cut)))
    late: dict[int, int] = {}
    for start in range(0, len(rings), _RINGS_AT_ONCE):
        some = rings[start : start + _RINGS_AT_ONCE]
        holders, held = tree.query(cut.take(some).regions(), predicate="contains")
        is_late = held > some[holders]
        late |= zip(held[is_late].tolist(), some[holders[is_late]].tolist(), strict=True)
    for number, holder in sorted(late.items()):
        x, y = cut.firsts[number]
        one, other = (roles[cut.names[cut.layers[k]]] for k in (number, holder))
        report.error(
            "order",
            f"the {one} at ({x:.1f}, {y:.1f}) mm comes after the {other} round it, and has come "
            "loose",
        )


def _owners(
    cuts: Sequence[_Cut], expected: ExpectedLay, report: _Report
) -> dict[int, ExpectedPiece]:
    """Which piece each outline is, by its place; every piece must be there once."""
    centres = shapely.points([piece.centre for piece in expected.pieces])
    tree = shapely.STRtree(centres)
    owners: dict[int, ExpectedPiece] = {}
    middles = shapely.centroid([cut.piece for cut in cuts])
    numbers, near = tree.query(middles, predicate="dwithin", distance=KERF_MM).tolist()
    there = [expected.pieces[k] for k in near]
    fits = are_regions(
        [cuts[number].piece for number in numbers],
        [piece.area_mm2 for piece in there],
        [piece.outline for piece in there],
    )
    for number, piece, is_fit in zip(numbers, there, fits.tolist(), strict=True):
        if is_fit:
            owners.setdefault(number, piece)
    for number, (cut, middle) in enumerate(zip(cuts, middles, strict=True)):
        if number in owners:
            continue
        nearest = expected.pieces[int(tree.nearest(middle))]
        away = middle.distance(shapely.Point(nearest.centre))
        report.error(
            "wrong-outline",
            f"the outline round ({middle.x:.1f}, {middle.y:.1f}) mm, its kerf of "
            f"{expected.kerf_mm:g} mm taken off, is no piece of the lay; {nearest.id} is "
            f"{away:.2f} mm away and {cut.piece.area - nearest.area_mm2:+.1f} mm2 in area",
        )
    counts = Counter(piece.id for piece in owners.values())
    for piece in expected.pieces:
        if counts[piece.id] != 1:
            code = "missing" if counts[piece.id] == 0 else "twice"
            how_often = f"is there {counts[piece.id]} times, not once"
            report.error(code, f"{piece.id} ({piece.cap}) {how_often}")
    return owners


def _inside_which(cuts: Sequence[_Cut], places: Array, *, reach_mm: float = 0.0) -> Ints:
    """For each place ``(n, 2)`` the first outline that it lies in, or no further out than
    ``reach_mm``; -1 for none."""
    paths = np.array([cut.path for cut in cuts], dtype=object)
    homes = np.full(len(places), len(cuts))
    for start in range(0, len(places), _PLACES_AT_ONCE):
        tree = shapely.STRtree(points_of(places[start : start + _PLACES_AT_ONCE]))
        if reach_mm:
            home, number = tree.query(paths, predicate="dwithin", distance=reach_mm)
        else:
            home, number = tree.query(paths, predicate="intersects")
        np.minimum.at(homes, start + number, home)
    return np.where(homes < len(cuts), homes, -1)


def _judge_grain(
    drawing: ReadDrawing,
    expected: ExpectedLay,
    cuts: Sequence[_Cut],
    owners: dict[int, ExpectedPiece],
    report: _Report,
) -> None:
    lines = drawing.lines.on(expected.layers["grain"])
    firsts = lines.starts[:-1][lines.counts > 1]
    starts, ends = lines.points[firsts], lines.points[firsts + 1]
    homes = _inside_which(cuts, ends).tolist()
    angles: dict[int, list[float]] = {}
    for (x0, y0), (x, y), home in zip(starts.tolist(), ends.tolist(), homes, strict=True):
        if home < 0:
            report.error("grain", f"a grain line at ({x:.1f}, {y:.1f}) mm is in no piece")
        else:
            angles.setdefault(home, []).append(direction_deg((x0, y0), (x, y)))

    def off(number: int, piece: ExpectedPiece) -> str | None:
        found = angles.get(number, [])
        if len(found) != 1:
            return f"has {len(found)} grain lines, not one"
        away = angle_between_deg(found[0], piece.grain_deg)
        if away > GRAIN_DEG:
            return f"is {away:.2f} degrees off its grain"
        return off_grain(found[0], piece.grain, one_way=expected.one_way)

    _report_each(owners, "grain", off, report)


def _judge_notches(
    drawing: ReadDrawing,
    expected: ExpectedLay,
    cuts: Sequence[_Cut],
    owners: dict[int, ExpectedPiece],
    report: _Report,
) -> None:
    """Each notch has its shape and starts on its outline, and its slot, half a kerf longer than
    the tool's path, ends where the piece was drafted to have it end."""
    drawn = drawing.lines.on(expected.layers["notch"])
    drawn = drawn.take(np.flatnonzero(drawn.counts > 1))
    lines = [line.points for line in drawn]
    homes = _inside_which(cuts, places_within(drawn)).tolist()
    ends = [ends_on(points, expected.notch) for points in lines]
    away = _off_edges(cuts, homes, ends)
    found: dict[int, list[tuple[float, float]]] = {}
    for points, home, edges in zip(lines, homes, away, strict=True):
        start = points[0]
        where = f"the notch at ({start[0]:.1f}, {start[1]:.1f}) mm"
        if home < 0:
            report.error("notch", f"{where} ends in no piece")
            continue
        for edge in edges:
            if edge > KERF_MM:
                report.error("notch", f"{where} starts {edge:.3f} mm off its edge")
        read = read_notch(points, expected.notch, expected.kerf_mm, cuts[home].piece)
        if read.fault:
            report.error("notch", f"{where}, a {expected.notch.shape}, {read.fault}")
        x, y = read.slot_end(expected.kerf_mm).tolist()
        found.setdefault(home, []).append((x, y))

    def off(number: int, piece: ExpectedPiece) -> str | None:
        ends = found.get(number, [])
        if len(ends) != len(piece.notch_ends):
            return f"has {len(ends)} notches, not {len(piece.notch_ends)}"
        for x, y in piece.notch_ends:
            away = min(math.dist((x, y), end) for end in ends)
            if away > KERF_MM:
                where = f"({x:.1f}, {y:.1f}) mm"
                return f"has no notch that ends at {where}; the nearest is {away:.2f} mm off"
        return None

    _report_each(owners, "notch", off, report)


def _off_edges(
    cuts: Sequence[_Cut], homes: Sequence[int], ends: Sequence[Sequence[Array]]
) -> list[list[float]]:
    """How far the ends of notches are off the edges of the outlines that they lie in."""
    edges = [*shapely.boundary([cut.path for cut in cuts]), None]
    counts = [len(some) for some in ends]
    there = [edges[home] for home, count in zip(homes, counts, strict=True) for _ in range(count)]
    places = np.array([end for some in ends for end in some]).reshape(-1, 2)
    away = iter(shapely.distance(there, points_of(places)).tolist())
    return [list(islice(away, count)) for count in counts]


def _judge_stitching(
    drawing: ReadDrawing,
    expected: ExpectedLay,
    cuts: Sequence[_Cut],
    owners: dict[int, ExpectedPiece],
    report: _Report,
) -> None:
    """Each stitch line lies in its piece, and none is missing."""
    lines = drawing.lines.on(expected.layers["stitch"])
    counts: Counter[int] = Counter()
    for start in range(0, len(lines), _RUNS_AT_ONCE):
        runs = lines.take(np.arange(start, min(start + _RUNS_AT_ONCE, len(lines)))).runs()
        middles = shapely.line_interpolate_point(runs, 0.5, normalized=True)
        places = shapely.get_coordinates(middles)
        homes = _inside_which(cuts, places, reach_mm=KERF_MM).tolist()
        counts.update(homes)
        paths = [None if home < 0 else cuts[home].path for home in homes]
        inside = shapely.covers(paths, runs)
        for run, path, is_inside in zip(runs, paths, inside, strict=True):
            # a stitch line may end on the very edge of its piece, or lie along it
            if is_inside:
                continue
            if path is None or not path.buffer(_ALONG_EDGE_MM).covers(run):
                x, y = run.coords[0]
                report.error("stitch", f"the stitch line at ({x:.1f}, {y:.1f}) mm leaves its piece")

    def off(number: int, piece: ExpectedPiece) -> str | None:
        if counts[number] != piece.stitch_lines:
            return f"has {counts[number]} stitch lines, not {piece.stitch_lines}"
        return None

    _report_each(owners, "stitch", off, report)


def _judge_labels(
    drawing: ReadDrawing,
    expected: ExpectedLay,
    cuts: Sequence[_Cut],
    owners: dict[int, ExpectedPiece],
    report: _Report,
) -> None:
    texts = [text for text in drawing.texts if text.layer == expected.layers["label"]]
    firsts = drawing.lines.firsts[drawing.lines.are_on(expected.layers["label"])]
    if expected.labels == "drawn":
        paths = [cut.path for cut in cuts]
        begins = _inside_which(cuts, firsts)
        judge_letters(drawing, expected, paths, begins, owners, say=report.error)
    if expected.labels == "none" or (len(firsts) and texts):
        for count, what in ((len(texts), "texts"), (len(firsts), "lines")):
            if count:
                report.error("label", f"there are {count} {what} among the labels, not none")
    if expected.labels != "text":
        return
    homes = _inside_which(cuts, np.array([text.place for text in texts]).reshape(-1, 2))
    found: dict[int, list[ReadText]] = {}
    for text, home in zip(texts, homes.tolist(), strict=True):
        if home < 0:
            report.error("label", f"the label {text.text!r} stands in no piece")
        else:
            found.setdefault(home, []).append(text)

    def off(number: int, piece: ExpectedPiece) -> str | None:
        labels = found.get(number, [])
        if len(labels) != 1:
            return f"has {len(labels)} labels, not one"
        if labels[0].text != piece.label:
            return f"is labelled {labels[0].text!r}, not {piece.label!r}"
        return written_fault(labels[0], cuts[number].path)

    _report_each(owners, "label", off, report)


def _report_each(
    owners: dict[int, ExpectedPiece],
    code: str,
    off: Callable[[int, ExpectedPiece], str | None],
    report: _Report,
) -> None:
    for number, piece in owners.items():
        fault = off(number, piece)
        if fault:
            report.error(code, f"{piece.id} ({piece.cap}) {fault}")
