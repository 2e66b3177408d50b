"""The verdict on the cloth: its edge, flaws and fold are drawn, and the pieces keep to them.

Pieces lie on the cloth, clear of its flaws; halves lie on its fold, and the cut runs past it;
points that keep to the print lie alike in every repeat, counted from where the print begins on the
cloth; the lay has room on the machine's bed. All of it by shapely on what was read.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from cutfiles.cuts.plan import CUT_ROLES
from cutfiles.tolerances import KERF_MM, LAY_MM, READ_BACK_MM
from cutfiles.verdict.drawing import Array, ReadDrawing, ReadLine, ReadLines, points_of
from cutfiles.verdict.expected import ExpectedLay, ExpectedPiece
from cutfiles.verdict.notches import places_within, read_notch

Say = Callable[[str, str], None]
Owners = Mapping[int, ExpectedPiece]

_MOST_SQUARE = 5
"""Points of the outline of a flaw that is not round."""

_ROUND_SHARE = 0.003
"""How much the drawn polygon of a round flaw may differ from another, of its own width: the
corners of 32 sides round a circle stand off it by 0.0024 of the width."""


def judge_sheet(drawing: ReadDrawing, expected: ExpectedLay, say: Say) -> None:
    """The cloth's edge, its flaws and its fold, each drawn once."""
    lines = drawing.on(expected.layers["cloth"])
    waiting = [line for line in lines if line.is_closed]
    if not _take(waiting, expected.sheet, READ_BACK_MM):
        what = "the outline of the remnant" if expected.remnant else "the usable cloth"
        say(
            "cloth",
            f"{what} of {expected.length_mm:.1f} by {expected.width_mm:.1f} mm is not drawn once, "
            "as it should be",
        )
        return
    for flaw in expected.flaws:
        x0, y0, x1, y1 = flaw.bounds
        is_round = len(flaw.exterior.coords) > _MOST_SQUARE
        off = _ROUND_SHARE * max(x1 - x0, y1 - y0) if is_round else 0.0
        if not _take(waiting, flaw, READ_BACK_MM + off):
            say("cloth", f"the flaw at ({x0:.1f}, {y0:.1f}) mm is not drawn as it lies")
    folds = [line for line in lines if not line.is_closed]
    if len(folds) != expected.is_folded or any(not _is_fold(f, expected) for f in folds):
        say("cloth", "the fold is not drawn once along y = 0, or there is none and it is")
    for line in waiting:
        x, y = line.points[0]
        say("cloth", f"what is drawn on the cloth at ({x:.1f}, {y:.1f}) mm is none of its flaws")


def judge_bed(expected: ExpectedLay, say: Say) -> None:
    """The lay is no longer and no wider than the machine's bed; it may be longer where the bed
    moves it on from frame to frame."""
    sizes = expected.length_mm, expected.width_mm
    for have, most, word in zip(sizes, expected.bed_mm, ("long", "wide"), strict=True):
        if word == "long" and expected.bed_advances and expected.frames_mm:
            continue
        if most is not None and have > most + READ_BACK_MM:
            say("bed", f"the lay is {have:.3f} mm {word}, and the machine's bed {most:g} mm")


def judge_frames(
    drawing: ReadDrawing,
    expected: ExpectedLay,
    paths: Sequence[Polygon],
    owners: Owners,
    say: Say,
) -> None:
    """Every piece is cut within its frame, a window of the bed, and the frames of each layer's
    lines go up: cloth moves on and never back. A notch or cut-out is of the piece that holds it."""
    starts, bed = expected.frames_mm, expected.bed_mm[0]
    if not starts:
        return
    if list(starts) != sorted(set(starts)) or not expected.bed_advances or bed is None:
        say("frame", "the lay is cut in frames, and no bed moves the cloth on from one to the next")
        return
    frames: dict[int, int] = {}
    for number, piece in owners.items():
        if piece.frame is None or piece.frame > len(starts):
            say("frame", f"{piece.id} ({piece.cap}) is in no frame")
            continue
        frames[number] = piece.frame
        x0, _, x1, _ = paths[number].bounds
        begin = starts[piece.frame - 1]
        over = max(begin - x0, x1 - begin - bed)
        if over > READ_BACK_MM:
            say(
                "frame",
                f"{piece.id} ({piece.cap}) leaves frame {piece.frame}, {begin:.1f} to "
                f"{begin + bed:.1f} mm, by {over:.3f} mm",
            )
    tree = shapely.STRtree(paths)
    for role in CUT_ROLES:
        lines = drawing.lines.on(expected.layers[role])
        homes: dict[int, int] = {}
        # a closed line's own first point lies in no smaller outline
        within = points_of(places_within(lines))
        for line, home in tree.query(within, predicate="intersects").T.tolist():
            nearer = homes.get(line)
            if nearer is None or paths[home].area < paths[nearer].area:
                homes[line] = home
        order = [frames[homes[k]] for k in range(len(lines)) if homes.get(k) in frames]
        if order != sorted(order):
            say("frame", f"on {expected.layers[role]} a line comes after one of a later frame")


def judge_start(expected: ExpectedLay, say: Say) -> None:
    """On printed cloth the lay begins and ends whole repeats from the end of the cloth, so that
    the next one lies on the print as this one does."""
    repeat = expected.repeat_mm[0]
    if repeat is None or expected.remnant is not None:
        return
    end = expected.starts_at_mm + expected.length_mm
    for at, word in ((expected.starts_at_mm, "begins"), (end, "ends")):
        off = _off(at, repeat)
        if abs(off) > LAY_MM + READ_BACK_MM:
            say(
                "print-start",
                f"the lay {word} {at:.3f} mm along the cloth, {off:+.3f} mm off whole repeats of "
                f"{repeat:g} mm",
            )


def judge_inside(paths: Sequence[Polygon], expected: ExpectedLay, owners: Owners, say: Say) -> None:
    """Every outline on the cloth and off its flaws; a half's also past the fold, by so much."""
    sheet = expected.sheet
    shapely.prepare(sheet)
    outside = np.flatnonzero(~shapely.covers(sheet, paths)).tolist()
    flaws = np.array(expected.flaws, dtype=object)
    by_flaw = shapely.STRtree(paths).query(flaws, predicate="intersects")[1].tolist()
    halves = [number for number, piece in owners.items() if piece.past_fold_mm is not None]
    for number in sorted({*outside, *by_flaw, *halves}):
        path = paths[number]
        sheet = expected.sheet
        x0, y0, _, _ = path.bounds
        where = f"the outline at ({x0:.1f}, {y0:.1f}) mm"
        piece = owners.get(number)
        if piece is not None and piece.past_fold_mm is not None:
            off = y0 + expected.kerf_mm / 2.0 + piece.past_fold_mm
            if abs(off) > LAY_MM + KERF_MM:
                say("fold", f"{piece.id} ({piece.cap}) lies {off:+.3f} mm off the fold")
            sheet = box(sheet.bounds[0], y0, *sheet.bounds[2:])
        over = _over(path, sheet)
        if over > READ_BACK_MM:
            say("outside", f"{where} leaves the usable cloth by {over:.3f} mm")
        for flaw in expected.flaws:
            if _takes_in(path, flaw):
                at = flaw.intersection(path).representative_point()
                say("flaw", f"{where} takes in a flaw at ({at.x:.1f}, {at.y:.1f}) mm")


def judge_print(
    drawing: ReadDrawing,
    expected: ExpectedLay,
    pieces: Sequence[Polygon],
    owners: Owners,
    say: Say,
) -> None:
    """The point of a piece that keeps to the print is where it should be on the piece as drawn,
    and in the middle of a repeat."""
    along, across = expected.print_starts_mm
    begins = along - expected.starts_at_mm, across
    notches = drawing.lines.on(expected.layers["notch"])
    tree = shapely.STRtree(points_of(places_within(notches)))
    for number, piece in owners.items():
        if piece.match is None:
            continue
        at, outline = np.array(piece.match.at), pieces[number]
        if piece.match.is_notch:
            own = notches.take(np.sort(tree.query(outline, predicate="contains")))
            drawn = _slot_ends(own, expected, outline)
        else:
            drawn = _middles(drawing.on(expected.layers["grain"]), outline)
        away = min((float(np.hypot(*(point - at))) for point in drawn), default=np.inf)
        who = f"{piece.id} ({piece.cap})"
        if away > KERF_MM:
            what = "a notch" if piece.match.is_notch else "its middle"
            say("print", f"{who} keeps to the print by {what} at {_place(at)}, and has none there")
        for axis, word in enumerate(("along", "across")):
            repeat = expected.repeat_mm[axis]
            if repeat is not None:
                off = _off(at[axis] - begins[axis] - repeat / 2.0, repeat)
                if abs(off) > LAY_MM + READ_BACK_MM:
                    say(
                        "print",
                        f"{who} lies {off:+.3f} mm {word} off the middle of the print's repeat of "
                        f"{repeat:g} mm",
                    )


def _slot_ends(notches: ReadLines, expected: ExpectedLay, piece: Polygon) -> list[Array]:
    """Where the slots of a piece's notches end."""
    read = (read_notch(n.points, expected.notch, expected.kerf_mm, piece) for n in notches)
    return [notch.slot_end(expected.kerf_mm) for notch in read]


def _middles(grain: Sequence[ReadLine], piece: Polygon) -> list[Array]:
    """The middle of the box round a piece along its grain, as drawn."""
    middles = []
    for line in grain:
        if len(line.points) > 1 and piece.contains(shapely.Point(line.points[1])):
            way = line.points[1] - line.points[0]
            way = way / (float(np.hypot(*way)) or 1.0)
            frame = np.array([[way[0], -way[1]], [way[1], way[0]]])
            level = shapely.get_coordinates(piece.exterior) @ frame
            middles.append((level.min(axis=0) + level.max(axis=0)) / 2.0 @ frame.T)
    return middles


def _take(waiting: list[ReadLine], region: Polygon, tolerance_mm: float) -> bool:
    """Take the one line that is the edge of a region; False where there is none, or more."""
    found = [k for k, line in enumerate(waiting) if _is_edge(line, region, tolerance_mm)]
    for k in found[:1]:
        del waiting[k]
    return len(found) == 1


def _is_edge(line: ReadLine, region: Polygon, tolerance_mm: float) -> bool:
    drawn = Polygon(line.points)
    return bool(drawn.is_valid and drawn.hausdorff_distance(region) <= tolerance_mm)


def _is_fold(line: ReadLine, expected: ExpectedLay) -> bool:
    ends = np.array([(0.0, 0.0), (expected.length_mm, 0.0)])
    return line.points.shape == ends.shape and bool(
        np.abs(line.points - ends).max() <= READ_BACK_MM
    )


def _takes_in(path: Polygon, flaw: Polygon) -> bool:
    """Whether a path and a flaw overlap by more than the lay's tolerance and a rounding: a deep
    flaw is made smaller by that much, and so is the piece, in which a thin flaw still lies."""
    if not path.intersects(flaw):
        return False
    less = -READ_BACK_MM - LAY_MM
    return bool(
        flaw.buffer(less, join_style="mitre").intersects(path)
        or path.buffer(less, join_style="mitre").intersects(flaw)
    )


def _off(length_mm: float, repeat_mm: float) -> float:
    """How far a length is off whole repeats, at most half of one either way."""
    return float((length_mm + repeat_mm / 2.0) % repeat_mm - repeat_mm / 2.0)


def _over(path: Polygon, sheet: Polygon) -> float:
    """How far a path leaves the cloth."""
    beyond = shapely.get_coordinates(path.difference(sheet))
    if not len(beyond):
        return 0.0
    return float(shapely.distance(shapely.points(beyond), sheet).max())


def _place(at: Array) -> str:
    return f"({at[0]:.1f}, {at[1]:.1f}) mm"
