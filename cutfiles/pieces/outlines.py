"""The outlines of a drawing with their cut-outs: closed, measured, of a size that can be cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutfiles.geometry.path import Path
from cutfiles.job.job import PanelLine
from cutfiles.pieces.chain import chained
from cutfiles.pieces.drawn import MOST_SAID, Notes, place_text
from cutfiles.pieces.drawn_roles import Sorted
from cutfiles.pieces.loops import Loop, measured_loops, shared_out
from cutfiles.tolerances import FLATTEN_MM, SPECK_MM
from cutfiles.units import counted

LARGEST_MM = 5000.0
SMALLEST_MM = 5.0
"""A panel beyond these has the wrong unit."""

MOST_OUTLINES = 100
"""Of one drawing; more is a nested lay, not a pattern."""


@dataclass(frozen=True, slots=True)
class Shape:
    """One panel in the drawing's frame."""

    outline: Loop
    inner: tuple[Loop, ...]


def shapes_of(drawn: Sorted, line: PanelLine, notes: Notes) -> list[Shape]:
    """Outlines with the cut-outs that lie in them."""
    outlines = _loops(drawn["outline"], line, notes)
    inner = _loops(drawn["inner"], line, notes) if drawn["inner"] else []
    shapes = [Shape(outline, tuple(holes)) for outline, holes in shared_out(outlines, inner, notes)]
    if not shapes and not notes.has_errors:
        text = "there is no closed outline: draw the panel's edge as one closed line"
        if notes.findings:
            text += ", and see that the unit is right"
        notes.say("no-outline", "error", text)
    if len(shapes) > MOST_OUTLINES:
        text = f"there are {len(shapes)} outlines, and may be {MOST_OUTLINES}: use more drawings"
        notes.say("too-many-outlines", "error", text)
        return []
    if len(shapes) > 1:
        places = ", ".join(place_text(shape.outline.corner) for shape in shapes[:MOST_SAID])
        text = f"there are {len(shapes)} outlines, at {places}: each is cut as a panel of its own"
        notes.say("several-outlines", "note", text)
    for shape in shapes:
        _judge_size(shape.outline, notes)
    return shapes


def _loops(paths: Sequence[Path], line: PanelLine, notes: Notes) -> list[Loop]:
    """Chain lines into loops, and say what does not close."""
    found = chained(paths, gap_mm=line.gap_tolerance_mm)
    for place in found.duplicates[:MOST_SAID]:
        text = "a line lies twice in the same place and is cut once: delete one of the two"
        notes.say("duplicate-line", "warning", text, place)
    if found.gaps:
        widest = max(found.gaps, key=lambda gap: gap.width_mm)
        notes.say(
            "gap-closed", "note",
            f"{counted(len(found.gaps), 'gap')} closed, the widest {widest.width_mm:.3f} mm (up to "
            f"gap_tolerance, {line.gap_tolerance_mm:g} mm)", widest.at,
        )  # fmt: skip
    specks = [one.path for one in found.loose if _is_speck(one.path)]
    loose = [one for one in found.loose if not _is_speck(one.path)]
    if len(loose) > MOST_SAID:
        text = f"{counted(len(loose), 'line')} not closed, of which the first {MOST_SAID} follow"
        notes.say("open-outline", "error", text)
    for one in loose[:MOST_SAID]:
        start, end = one.path.start, one.path.end
        if one.at_junction:
            text = "three or more lines meet at one of its ends: keep one way round"
        elif one.nearest_mm == float("inf"):
            text = "no other end is near: close it or delete it"
        else:
            text = (
                f"the nearest end is {one.nearest_mm:.3f} mm away and gap_tolerance is "
                f"{line.gap_tolerance_mm:g} mm: close it, or widen gap_tolerance"
            )
        notes.say(
            "open-outline", "error",
            f"a line of {one.path.length():.1f} mm, on to {place_text(end)}, is not closed: {text}",
            start,
        )  # fmt: skip
    loops = measured_loops([p for p in found.loops if not _is_speck(p)], notes)
    specks.extend(p for p in found.loops if _is_speck(p))
    if specks:
        notes.say(
            "stray-speck", "warning",
            f"{counted(len(specks), 'speck')} of {SPECK_MM:g} mm or less left out: delete, or see "
            "that the unit is right", specks[0].start,
        )  # fmt: skip
    return loops


def _is_speck(path: Path) -> bool:
    points = path.flattened(FLATTEN_MM)
    return bool((points.max(axis=0) - points.min(axis=0)).max() <= SPECK_MM)


def _judge_size(loop: Loop, notes: Notes) -> None:
    x0, y0, x1, y1 = loop.polygon.bounds
    size = f"the outline is {x1 - x0:.4g} by {y1 - y0:.4g} mm, and must be"
    mend = "see that the unit is right"
    if max(x1 - x0, y1 - y0) > LARGEST_MM:
        text = f"{size} at most {LARGEST_MM:g} mm: {mend}"
        notes.say("absurd-size", "error", text, loop.corner)
    elif max(x1 - x0, y1 - y0) < SMALLEST_MM:
        text = f"{size} at least {SMALLEST_MM:g} mm one way: {mend}"
        notes.say("absurd-size", "error", text, loop.corner)
