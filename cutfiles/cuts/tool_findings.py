"""What can be said of pieces and a machine before anything is nested."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cutfiles.cuts.plan import Stroke
from cutfiles.cuts.rotary_blade import work_on
from cutfiles.errors import Finding
from cutfiles.job.machine import Machine, RotaryBlade
from cutfiles.pieces.ordered import CutList
from cutfiles.units import counted


def blade_findings(
    strokes: Sequence[Stroke], blade: RotaryBlade, stack_mm: float, where: str
) -> Iterator[Finding]:
    """What a round blade cannot do of one piece: warnings, and an error for a cut-out in which it
    has no room to turn."""
    mend = "use a smaller blade, fewer plies, or another tool"
    reach = blade.reach_mm(stack_mm)
    least = blade.least_curve_mm(stack_mm)
    for stroke in strokes:
        if stroke.role not in ("outline", "inner"):
            continue
        what = "outline" if stroke.role == "outline" else "cut-out"
        work = work_on(stroke, blade, stack_mm)
        x0, y0, x1, y1 = _box(stroke)
        if stroke.role == "inner" and min(x1 - x0, y1 - y0) <= 2.0 * reach:
            text = (
                f"{where}: a cut-out {x1 - x0:.1f} mm by {y1 - y0:.1f} mm is too small for a blade "
                f"that cuts {2.0 * reach:.1f} mm at once: {mend}"
            )
            yield Finding("blade", "error", text)
            continue
        if work.tightest_mm < least:
            text = (
                f"{where}: the {what} has curves down to a radius of {work.tightest_mm:.1f} mm, "
                f"and the blade scrapes more than {blade.scrub_mm:g} mm off the line below "
                f"{least:.1f} mm: {mend}"
            )
            yield Finding("blade-curve", "warning", text)
        if work.into_mm:
            text = (
                f"{where}: beyond inner corners of the {what} the blade cuts up to "
                f"{work.into_mm:.1f} mm into the piece, in the top ply: {mend}"
            )
            yield Finding("blade-overshoot", "warning", text)
        if work.short_runs:
            text = (
                f"{where}: {counted(work.short_runs, 'side')} of the {what} "
                f"{'is' if work.short_runs == 1 else 'are'} shorter than the "
                f"{2.0 * blade.reach_mm(0.0):.1f} mm that the blade cuts in the "
                f"lowest ply at once, and {'is' if work.short_runs == 1 else 'are'} cut beyond "
                f"both ends: {mend}"
            )
            yield Finding("blade-short-side", "warning", text)


def machine_notes(cuts: CutList, machine: Machine, *, source: str) -> Iterator[Finding]:
    """What to know of a machine before a cloth is cut on it: notes."""
    where = f"{source}: [machine]"
    fittings, cloth = machine.fittings, cuts.cloth
    setting = fittings.setting_for(cloth.layers)
    plies = counted(cloth.layers, "ply", "plies")
    if setting is not None:
        text = f"{where}: settings: {cloth.name}, {plies}: {setting.note}"
        yield Finding("settings", "note", text)
    elif fittings.settings:
        most = max(setting.plies for setting in fittings.settings)
        text = (
            f"{where}: settings: none is given for {plies} of {cloth.name}, only up to "
            f"{most}: try them on a test stack"
        )
        yield Finding("settings", "warning", text)
    if isinstance(machine.tool, RotaryBlade):
        over = machine.tool.overshoot_mm(cloth.stack_mm)
        if over > 1.0:
            text = (
                f"{where}: pieces of {cloth.name} lie {over:.1f} mm apart, since the blade cuts "
                f"the top of a stack of {cloth.stack_mm:g} mm so far past a corner: fewer plies or "
                "a smaller blade take less cloth"
            )
            yield Finding("blade-gap", "note", text)
    if machine.shares_edges and not machine.written.shows_passes:
        text = (
            f"{where}: shared_edges: the drawings show every piece's whole outline, so that what "
            "two share is there twice: cut by the tool's own way, with "
            "files = { tool_path = true } or motion_code"
        )
        yield Finding("shared-edges", "note", text)
    has_notches = any(p.piece.notches for cap in cuts.caps for p in cap.pieces)
    if machine.notch is None and has_notches:
        how = "snip them by hand where the files show them"
        if fittings.marks != "none":
            how = f"they are drawn ({fittings.marks}) and snipped by hand"
        yield Finding("no-notches", "note", f"{where}: notch: this machine cuts none: {how}")
    if fittings.marks == "none":
        text = (
            f"{where}: marks: nothing draws stitch lines, grain lines and labels on the cloth: "
            "mark the pieces by hand before they leave the machine"
        )
        yield Finding("no-marks", "note", text)


def _box(stroke: Stroke) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in stroke.points], [y for _, y in stroke.points]
    return min(xs), min(ys), max(xs), max(ys)
