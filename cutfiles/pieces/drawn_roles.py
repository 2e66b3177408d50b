"""The lines of a drawing by what they are for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from cutfiles.errors import did_you_mean
from cutfiles.geometry.path import Path
from cutfiles.geometry.segments import Line
from cutfiles.geometry.vector import Point, Vector
from cutfiles.job.job import PANEL_ROLES, PanelLine, PanelRole
from cutfiles.pieces.drawn import MOST_SAID, DrawnLine, DrawnPoint, Notes
from cutfiles.pieces.slits import nick
from cutfiles.tolerances import FLATTEN_MM
from cutfiles.units import counted

Sorted = dict[PanelRole, list[Path]]

_CROSS_MM: Final = 4.0
"""Each arm to arm of the cross that marks a drill hole (common practice, no source)."""


def own_names(line: PanelLine) -> dict[PanelRole, tuple[str, ...]]:
    """Layers or groups of each role: as the job names them, or by the role's own name."""
    return {role: line.names_of(role) or (role,) for role in PANEL_ROLES}


def check_names(parts: Iterable[DrawnLine | DrawnPoint], line: PanelLine, notes: Notes) -> None:
    """Say which layers or groups that the job names are not in the drawing."""
    there = sorted({name for one in parts for name in one.names})
    for role in PANEL_ROLES:
        for name in line.names_of(role):
            if name not in there:
                found = f"found: {', '.join(map(repr, there[:12])) or 'none'}"
                hint = did_you_mean(name, there, found)
                text = f"roles: {role}: no layer or group is called {name!r}: {hint}"
                notes.say("no-such-layer", "error", text)


def by_role(
    lines: Sequence[DrawnLine],
    points: Sequence[DrawnPoint],
    named: Mapping[PanelRole, Sequence[str]],
    notes: Notes,
    *,
    any_outline: bool,
) -> Sorted:
    """Lines by what they are for.

    Parameters
    ----------
    named
        The layers or groups of each role.
    any_outline
        Whether all lines without a role may be outlines, where none is one by name.
    """
    drawn: Sorted = {role: [] for role in PANEL_ROLES}
    nicks = [point for point in points if set(point.names) & set(named["notch"])]
    drawn["notch"].extend(nick(point.place) for point in nicks)
    drills = [point for point in points if set(point.names) & set(named["drill"])]
    drilled = [point.place for point in drills]
    left = len(points) - len(nicks) - len(drills)
    if left > 0:
        text = (
            f"{left} single points are not read: name their layer as the notch role if they are "
            "notches"
        )
        notes.say("unread-part", "note", text)
    rest: list[DrawnLine] = []
    for one in lines:
        # the innermost name that has a role decides
        roles = [role for name in one.names for role in PANEL_ROLES if name in named[role]]
        if not roles:
            rest.append(one)
        elif roles[0] == "drill":
            drilled.append(_middle(one.path))
        else:
            drawn[roles[0]].append(one.path)
    # a hole drawn as a cross is two lines in one place
    places = {(round(at.x, 2), round(at.y, 2)): at for at in drilled}
    drawn["drill"] = [path for place in places.values() for path in _cross(place)]
    if not drawn["outline"] and any_outline:
        drawn["outline"] = [one.path for one in rest]
    elif rest:
        layers = sorted({one.names[0] if one.names else "no layer" for one in rest})
        there_are = ", ".join(layers[:MOST_SAID])
        text = f"{counted(len(rest), 'line')} without a role left out (on {there_are})"
        notes.say("no-role", "note", f"{text}: name their layer under roles if they are wanted")
    return drawn


def _cross(place: Point) -> tuple[Path, Path]:
    """A drill hole as a mark: two strokes that cross in it."""
    arms = (Vector(_CROSS_MM / 2.0, 0.0), Vector(0.0, _CROSS_MM / 2.0))
    along, across = (Path((Line(place + -arm, place + arm),)) for arm in arms)
    return along, across


def _middle(path: Path) -> Point:
    """Of the extent of a line: a drill hole may be drawn as a circle or a cross."""
    points = path.flattened(FLATTEN_MM)
    (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
    return Point(float(x0 + x1) / 2.0, float(y0 + y1) / 2.0)
