"""The verdict on a read file: every piece there once, closed, inside the cloth, apart from the
others, on grain, with the kerf on the right side, the cut-outs in and the notches on their edges.

Judged by shapely on what a reader found, against the lay or the summary; never against the
writer's own data.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from cutfiles.errors import Finding
from cutfiles.tolerances import GRAIN_DEG, KERF_MM, READ_BACK_MM
from cutfiles.verdict.cut_outs import AREA_SHARE, judge_cut_outs, same_shape
from cutfiles.verdict.drawing import ReadDrawing, ReadLine
from cutfiles.verdict.expected import (
    ExpectedLay,
    ExpectedPiece,
    angle_between_deg,
    direction_deg,
)


@dataclass(frozen=True, slots=True)
class _Cut:
    """An outline as read: the path of the tool, and the piece it leaves."""

    path: Polygon
    piece: Polygon


def judge_lay(drawing: ReadDrawing, expected: ExpectedLay) -> tuple[Finding, ...]:
    """Every finding on one file of one lay; a sound file gives none."""
    report = _Report(drawing.name)
    cuts = _cuts(drawing.on(expected.layers["outline"]), expected.kerf_mm, report)
    _judge_inside(cuts, expected, report)
    _judge_apart(cuts, report)
    owners = _owners(cuts, expected, report)
    judge_cut_outs(drawing, expected, [cut.piece for cut in cuts], owners, report.error)
    _judge_grain(drawing, expected, cuts, owners, report)
    _judge_notches(drawing, expected, cuts, owners, report)
    _judge_labels(drawing, expected, cuts, owners, report)
    return (*drawing.findings, *report.findings)


def judge_alone(drawing: ReadDrawing, layer: str) -> tuple[Finding, ...]:
    """What can be said of a file of which nothing else is known: outlines there, closed, simple
    and apart."""
    report = _Report(drawing.name)
    lines = drawing.on(layer)
    if not lines and not any(f.code == "unreadable" for f in drawing.findings):
        found = sorted({line.layer for line in drawing.lines}) or ["none"]
        report.error(
            "no-outlines",
            f"there are no outlines on layer {layer!r} (layers found: {', '.join(found)}): "
            "check a file that cutfiles wrote",
        )
    _judge_apart(_cuts(lines, 0.0, report), report)
    return (*drawing.findings, *report.findings)


class _Report:
    """Collects the findings on one file."""

    def __init__(self, name: str) -> None:
        self._name = name
        self.findings: list[Finding] = []

    def error(self, code: str, text: str) -> None:
        self.findings.append(Finding(code, "error", f"{self._name}: {text}"))


def _cuts(lines: Sequence[ReadLine], kerf_mm: float, report: _Report) -> list[_Cut]:
    """Outlines as polygons, with the kerf taken off again."""
    cuts = []
    for line in lines:
        x, y = line.points[0]
        if not line.is_closed:
            report.error("open", f"the outline at ({x:.1f}, {y:.1f}) mm is not closed")
            continue
        path = Polygon(line.points)
        if not path.is_valid:
            report.error("crossing", f"the outline at ({x:.1f}, {y:.1f}) mm crosses itself")
            continue
        piece = path.buffer(-kerf_mm / 2.0, join_style="mitre") if kerf_mm else path
        if not isinstance(piece, Polygon) or piece.is_empty:
            report.error("kerf", f"the outline at ({x:.1f}, {y:.1f}) mm is lost in the kerf")
            continue
        cuts.append(_Cut(path, piece))
    return cuts


def _judge_inside(cuts: Sequence[_Cut], expected: ExpectedLay, report: _Report) -> None:
    for cut in cuts:
        x0, y0, x1, y1 = cut.path.bounds
        over = max(-x0, -y0, x1 - expected.length_mm, y1 - expected.width_mm)
        if over > READ_BACK_MM:
            report.error(
                "outside",
                f"the outline at ({x0:.1f}, {y0:.1f}) mm leaves the usable cloth by {over:.3f} mm",
            )


def _judge_apart(cuts: Sequence[_Cut], report: _Report) -> None:
    paths = [cut.path for cut in cuts]
    if not paths:
        return
    tree = shapely.STRtree(paths)
    first, second = tree.query(paths, predicate="intersects")
    for i, j in zip(first, second, strict=True):
        if i < j and paths[i].intersection(paths[j]).area > READ_BACK_MM**2:
            x, y = paths[i].intersection(paths[j]).representative_point().coords[0]
            report.error("overlap", f"two outlines overlap at ({x:.1f}, {y:.1f}) mm")


def _owners(
    cuts: Sequence[_Cut], expected: ExpectedLay, report: _Report
) -> dict[int, ExpectedPiece]:
    """Which piece each outline is; every piece must be there once."""
    if all(piece.outline is not None for piece in expected.pieces):
        return _owners_by_place(cuts, expected, report)
    return _owners_by_area(cuts, expected, report)


def _owners_by_place(
    cuts: Sequence[_Cut], expected: ExpectedLay, report: _Report
) -> dict[int, ExpectedPiece]:
    outlines = [piece.outline for piece in expected.pieces if piece.outline is not None]
    tree = shapely.STRtree(outlines)
    owners: dict[int, ExpectedPiece] = {}
    for number, cut in enumerate(cuts):
        near = tree.query(cut.piece)
        fits = [int(k) for k in near if same_shape(cut.piece, outlines[int(k)])]
        if fits:
            owners[number] = expected.pieces[fits[0]]
            continue
        x, y = cut.piece.centroid.coords[0]
        off = min((cut.piece.hausdorff_distance(outlines[int(k)]) for k in near), default=None)
        how = "" if off is None else f"; the nearest is off by {off:.3f} mm"
        report.error(
            "wrong-outline",
            f"the outline round ({x:.1f}, {y:.1f}) mm, its kerf of {expected.kerf_mm:g} mm taken "
            f"off, is no piece of the lay{how}",
        )
    _judge_once([piece.id for piece in owners.values()], expected, report)
    return owners


def _owners_by_area(
    cuts: Sequence[_Cut], expected: ExpectedLay, report: _Report
) -> dict[int, ExpectedPiece]:
    """Pair outlines and pieces in order of area: what a summary's figures allow."""
    by_area = sorted(range(len(cuts)), key=lambda k: cuts[k].piece.area)
    pieces = sorted(expected.pieces, key=lambda piece: piece.area_mm2)
    if len(by_area) != len(pieces):
        report.error(
            "missing", f"there are {len(by_area)} sound outlines, and the lay has {len(pieces)}"
        )
        return {}
    owners = {}
    for number, piece in zip(by_area, pieces, strict=True):
        area = cuts[number].piece.area
        if abs(area - piece.area_mm2) > AREA_SHARE * piece.area_mm2:
            report.error(
                "wrong-outline",
                f"an outline leaves a piece of {area:.1f} mm2, its kerf of {expected.kerf_mm:g} mm "
                f"taken off, where {piece.id} has {piece.area_mm2:.1f} mm2",
            )
        owners[number] = piece
    return owners


def _judge_once(ids: Sequence[str], expected: ExpectedLay, report: _Report) -> None:
    for piece in expected.pieces:
        count = ids.count(piece.id)
        if count != 1:
            code = "missing" if count == 0 else "twice"
            report.error(code, f"{piece.id} ({piece.cap}) is there {count} times, not once")


def _inside_which(
    cuts: Sequence[_Cut], places: Sequence[tuple[float, float]]
) -> Iterator[int | None]:
    """For each place the outline it lies in, if any."""
    if not cuts:
        yield from (None for _ in places)
        return
    tree = shapely.STRtree([cut.path for cut in cuts])
    for place in places:
        found = tree.query(shapely.Point(place), predicate="within")
        yield int(found[0]) if len(found) else None


def _judge_grain(
    drawing: ReadDrawing,
    expected: ExpectedLay,
    cuts: Sequence[_Cut],
    owners: dict[int, ExpectedPiece],
    report: _Report,
) -> None:
    lines = drawing.on(expected.layers["grain"])
    ends = [((p[0][0], p[0][1]), (p[1][0], p[1][1])) for p in (line.points for line in lines)]
    homes = list(_inside_which(cuts, [end for _, end in ends]))
    angles: dict[int, float] = {}
    for (start, end), home in zip(ends, homes, strict=True):
        if home is None:
            report.error("grain", f"a grain line at ({end[0]:.1f}, {end[1]:.1f}) mm is in no piece")
        else:
            angles[home] = direction_deg(start, end)

    def off(number: int, piece: ExpectedPiece) -> str | None:
        if number not in angles:
            return "has no grain line"
        away = angle_between_deg(angles[number], piece.grain_deg)
        return f"is {away:.2f} degrees off its grain" if away > GRAIN_DEG else None

    if any(piece.outline is None for piece in owners.values()):
        _judge_grain_as_a_whole(list(angles.values()), expected, report)
        return
    _report_each(owners, "grain", off, report)


def _judge_grain_as_a_whole(angles: list[float], expected: ExpectedLay, report: _Report) -> None:
    """Where outlines are known by area alone, equal pieces may change places: compare counts."""
    wanted = sorted(piece.grain_deg for piece in expected.pieces)
    found = sorted(round(angle, 6) % 360.0 for angle in angles)
    if len(wanted) != len(found) or any(
        angle_between_deg(a, b) > GRAIN_DEG for a, b in zip(wanted, found, strict=True)
    ):
        report.error("grain", "the grain lines do not point as the summary says")


def _judge_notches(
    drawing: ReadDrawing,
    expected: ExpectedLay,
    cuts: Sequence[_Cut],
    owners: dict[int, ExpectedPiece],
    report: _Report,
) -> None:
    """Each notch starts on its outline and ends inside it; where the lay is known, at its place
    and as deep as drafted, the kerf's half included."""
    slits = [(line.points[0], line.points[-1]) for line in drawing.on(expected.layers["notch"])]
    homes = _inside_which(cuts, [(float(end[0]), float(end[1])) for _, end in slits])
    found: dict[int, list[tuple[float, float, float]]] = {}
    for (start, end), home in zip(slits, homes, strict=True):
        where = f"the notch at ({start[0]:.1f}, {start[1]:.1f}) mm"
        if home is None:
            report.error("notch", f"{where} ends in no piece")
            continue
        edge = cuts[home].path.exterior.distance(shapely.Point(start))
        if edge > KERF_MM:
            report.error("notch", f"{where} starts {edge:.3f} mm off its edge")
        depth = float(((end - start) ** 2).sum() ** 0.5)
        found.setdefault(home, []).append((float(start[0]), float(start[1]), depth))

    def off(number: int, piece: ExpectedPiece) -> str | None:
        if piece.notches is None:
            return None
        slits_here = found.get(number, [])
        if len(slits_here) != len(piece.notches):
            return f"has {len(slits_here)} notches, not {len(piece.notches)}"
        reach = expected.kerf_mm / 2.0 + KERF_MM
        for x, y, depth in piece.notches:
            if not any(
                abs(x - a) <= reach and abs(y - b) <= reach and abs(depth - d) <= KERF_MM
                for a, b, d in slits_here
            ):
                return f"has no notch of {depth:g} mm at ({x:.1f}, {y:.1f}) mm"
        return None

    _report_each(owners, "notch", off, report)


def _judge_labels(
    drawing: ReadDrawing,
    expected: ExpectedLay,
    cuts: Sequence[_Cut],
    owners: dict[int, ExpectedPiece],
    report: _Report,
) -> None:
    texts = [text for text in drawing.texts if text.layer == expected.layers["label"]]
    homes = _inside_which(cuts, [text.place for text in texts])
    found: dict[int, list[str]] = {}
    for text, home in zip(texts, homes, strict=True):
        if home is None:
            report.error("label", f"the label {text.text!r} stands in no piece")
        else:
            found.setdefault(home, []).append(text.text)

    def off(number: int, piece: ExpectedPiece) -> str | None:
        labels = found.get(number, [])
        if len(labels) != 1:
            return f"has {len(labels)} labels, not one"
        if piece.label is not None and labels[0] != piece.label:
            return f"is labelled {labels[0]!r}, not {piece.label!r}"
        return None

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
