"""From strokes to passes: what the tool does for each of them from going down to coming up."""

from __future__ import annotations

from collections.abc import Sequence

from cutfiles.cuts.plan import CUT_ROLES, Pass, Stroke


def passes_of(strokes: Sequence[Stroke]) -> tuple[Pass, ...]:
    """A pass for each stroke that is cut, in order; a closed one ends where it began."""
    return tuple(
        _along(number, stroke) for number, stroke in enumerate(strokes) if stroke.role in CUT_ROLES
    )


def _along(number: int, stroke: Stroke) -> Pass:
    points = stroke.points + (stroke.points[:1] if stroke.closed else ())
    return Pass(number, stroke.role, stroke.piece_id, points, stroke.bulges)
