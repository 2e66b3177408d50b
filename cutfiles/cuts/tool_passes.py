"""From strokes to passes: what a machine's tool does for each of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from shapely.geometry import Polygon

from cutfiles.cuts.drag_knife import drag_knife_passes
from cutfiles.cuts.laser import laser_passes
from cutfiles.cuts.lead_ins import LeadIns
from cutfiles.cuts.plan import CUT_ROLES, Pass, Stroke
from cutfiles.cuts.rotary_blade import cuts_into_others, rotary_passes
from cutfiles.cuts.shared_edges import Parts, with_parts
from cutfiles.cuts.starts import notch_ends
from cutfiles.cuts.stretch import as_pass
from cutfiles.errors import Finding
from cutfiles.job.machine import DragKnife, Laser, Machine, RotaryBlade

Numbered = Sequence[tuple[int, Stroke]]


def lead_ins(strokes: Sequence[Stroke], machine: Machine, sheet: Polygon) -> LeadIns | None:
    """The ways in to the strokes of a lay on a cloth; None for a tool that takes none."""
    tool = machine.tool
    return (
        None if isinstance(tool, RotaryBlade) else _leads_of(strokes, tool, machine.kerf_mm, sheet)
    )


def _leads_of(
    strokes: Sequence[Stroke], tool: Laser | DragKnife, kerf_mm: float, sheet: Polygon
) -> LeadIns:
    return LeadIns(strokes, sheet, kerf_mm=kerf_mm, longest_mm=tool.lead_in_mm)


def tool_passes(
    strokes: Sequence[Stroke],
    machine: Machine,
    sheet: Polygon,
    stack_mm: float,
    *,
    lay_name: str,
    left: Parts,
) -> tuple[tuple[Pass, ...], tuple[Finding, ...]]:
    """The passes of a lay in order, and what was found in planning them.

    Parameters
    ----------
    strokes
        All of the lay, in order, closed ones from where they are begun.
    sheet
        The cloth, in the lay's frame.
    stack_mm
        How high all its layers are.
    left
        Of strokes of which others have cut some sides, what is left to cut.

    Notches that the machine cannot cut have no passes: they are drawn.
    """
    cut = [
        (number, stroke)
        for number, stroke in with_parts(strokes, left)
        if stroke.role in CUT_ROLES and not (stroke.role == "notch" and machine.notch is None)
    ]
    if isinstance(machine.tool, RotaryBlade):
        blade = machine.tool
        said = _neighbour_findings(strokes, blade, stack_mm, lay_name)
        return tuple(_of_blade(cut, blade, stack_mm)), tuple(said)
    tool = machine.tool
    leads = _leads_of(strokes, tool, machine.kerf_mm, sheet)
    notches = notch_ends(strokes)
    passes: list[Pass] = []
    short: dict[str, list[str]] = {}
    for number, stroke in cut:
        if isinstance(tool, DragKnife):
            made, words = drag_knife_passes(number, stroke, tool, leads)
        else:
            spots, kerf_mm = notches.get(stroke.piece_id, ()), machine.kerf_mm
            is_longest = stroke is _longest(left.get(number, (stroke,)))
            beam = tool if is_longest else replace(tool, tabs=None)
            made, words = laser_passes(number, stroke, beam, leads, kerf_mm=kerf_mm, notches=spots)
        passes.extend(made)
        for text in words:
            short.setdefault(text, []).append(stroke.piece_id)
    return tuple(passes), tuple(_short_findings(short, lay_name))


def _longest(parts: Sequence[Stroke]) -> Stroke:
    return max(parts, key=Stroke.length_mm)


def _of_blade(cut: Numbered, blade: RotaryBlade, stack_mm: float) -> Iterator[Pass]:
    """The passes of a round blade; notches are cut by a tool of their own."""
    for number, stroke in cut:
        if stroke.role == "notch":
            yield as_pass(number, stroke, stroke.spans)
        else:
            yield from rotary_passes(number, stroke, blade, stack_mm)


def _short_findings(short: Mapping[str, Sequence[str]], lay_name: str) -> Iterator[Finding]:
    for text, pieces in short.items():
        named = list(dict.fromkeys(pieces))
        what = ", ".join(named[:3]) + (f" and {len(named) - 3} more" if len(named) > 3 else "")
        yield Finding("short-lead", "note", f"{lay_name}: {text}: {what}")


def _neighbour_findings(
    strokes: Sequence[Stroke], blade: RotaryBlade, stack_mm: float, lay_name: str
) -> Iterator[Finding]:
    for piece, other, deep in cuts_into_others(strokes, blade, stack_mm):
        text = (
            f"{lay_name}: the blade cuts {deep:.1f} mm into {other} beyond a corner of {piece}, in "
            "the top ply: leave a wider gap, spread fewer plies, or use another tool"
        )
        yield Finding("blade-overshoot", "warning", text)
