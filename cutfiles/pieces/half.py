"""Half a piece that stays on the fold of folded cloth, and comes out whole.

The half lies with its fold along the fold of the cloth, where the cut leaves the cloth: it runs
on into the air, so that the outline stays one closed line and the fold is never cut.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from cutfiles.geometry.affine import Affine
from cutfiles.geometry.path import Path
from cutfiles.geometry.polygons import polygon_of
from cutfiles.geometry.segments import Line, Segment
from cutfiles.geometry.vector import Vector
from cutfiles.job.cloth import GrainRule
from cutfiles.pieces.unfold import Fold, check_one_side
from cutfiles.tolerances import PAST_FOLD_MM

_SQUARE_DEG: Final = 0.01
"""How far off its grain a fold may be drawn."""


@dataclass(frozen=True, slots=True)
class Half:
    """A half in the frame of a piece: grain along x, its fold through the origin.

    ``cut`` is its cut line, past the fold, ``region`` what of it is cloth; ``turn_deg`` lays its
    fold along the fold of the cloth. ``place`` maps the drawing to this frame.
    """

    cut: Path
    region: Path
    turn_deg: float
    place: Affine


def half_on_fold(outline: Path, fold: Fold, grain_deg: float, rule: GrainRule) -> Half:
    """A half as it lies on the fold: itself or, where that points the wrong way, the other half.

    ``outline`` is closed, and the fold runs as it does.

    Raises
    ------
    ValueError
        If the outline lies on both sides of the fold, or the fold off the grain.
    """
    check_one_side(outline, fold)
    if not polygon_of(outline).exterior.is_ccw:
        outline, fold = outline.reversed(), Fold(fold.end, fold.start, None)
    level = Affine.turn(-grain_deg)
    turn = fold_turn_deg(level.vector(fold.end - fold.start), rule)
    if turn is None:
        raise ValueError(f"it does not lie on the grain, which is {rule.grain!r} on the cloth")
    other = turn >= 180.0
    region, start, end = outline, fold.start, fold.end
    place = level
    if other:
        region, start, end = fold.mirror.path(outline).reversed(), fold.end, fold.start
        place = level.after(fold.mirror)
    origin = level.point(start)
    shift = Affine.shift(-origin.x, -origin.y)
    cut = past_fold(region, Fold(start, end, None))
    onto = shift.after(level)
    return Half(onto.path(cut), onto.path(region), turn % 180.0, shift.after(place))


def past_fold(outline: Path, fold: Fold) -> Path:
    """The outline of a half with its fold moved out into the air: from every place where the
    outline meets the fold it goes straight on.

    The outline is closed, and lies to the left of the fold as ``fold`` runs.
    """
    out = (fold.end - fold.start).unit.right * PAST_FOLD_MM
    segments = outline.segments
    first = next(k for k, s in enumerate(segments) if fold.has(s) and not fold.has(segments[k - 1]))
    turned = segments[first:] + segments[:first]
    made: list[Segment] = []
    for k, segment in enumerate(turned):
        if not fold.has(segment):
            made.append(segment)
            continue
        if not fold.has(turned[k - 1]):
            made.append(Line(segment.start, segment.start + out))
        made.append(Line(segment.start + out, segment.end + out))
        if not fold.has(turned[(k + 1) % len(turned)]):
            made.append(Line(segment.end + out, segment.end))
    return Path(tuple(made))


def fold_turn_deg(along: Vector, rule: GrainRule) -> float | None:
    """By how much a half turns so that its fold, which runs in a direction of the piece's frame
    with the piece to its left, lies along the fold of the cloth and its grain as the rule says, in
    [0, 360); None where that is never so.

    From 180 on it is the other half, the mirror image, that lies right by 180 degrees less.
    """
    angle = along.angle_deg
    for turn in GrainRule(rule.grain).turns_deg(one_way=False):
        if abs((angle + turn + 180.0) % 360.0 - 180.0) <= _SQUARE_DEG:
            return turn
    return None
