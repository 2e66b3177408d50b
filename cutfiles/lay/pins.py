"""Pieces that the job pins where they are to stay: what is wrong with their places, before any
search, each with what would mend it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

from cutfiles.errors import Finding, did_you_mean
from cutfiles.geometry.polygons import moved_polygon
from cutfiles.job.job import Job, PinnedPiece
from cutfiles.job.machine import Machine
from cutfiles.lay.edge_to_edge import share_a_side
from cutfiles.lay.feasible import close_pairs, near_obstacles
from cutfiles.lay.problem import Obstacle, Shape, Spot, StripProblem
from cutfiles.lay.table import CLOSE, Spacing, Table, spacing_for
from cutfiles.pieces.ordered import CutList
from cutfiles.tolerances import LAY_MM, PINNED_MM

_SLACK_MM = LAY_MM + PINNED_MM

_MOST_LISTED = 5


@dataclass(frozen=True, slots=True)
class PinFault:
    """What is wrong with a pinned piece, in words that begin with the key of its table, and which
    other one it is too near, where that is it."""

    pin: PinnedPiece
    text: str
    other: PinnedPiece | None = None


@dataclass(frozen=True, slots=True)
class _Pinned:
    """A pin, the shape that it holds, and the tool's path there."""

    pin: PinnedPiece
    shape: Shape
    spot: Spot
    path: Polygon


def pin_faults(
    cuts: CutList, machine: Machine, *, source: str, spacing: Spacing = CLOSE
) -> list[Finding]:
    """Everything that is wrong with the pinned pieces of a cut list, as findings."""
    return [
        Finding("pinned", "error", f"{source}: [[pinned]] {fault.pin.number}: {fault.text}")
        for fault in faults_of_pins(cuts, machine, spacing=spacing)
    ]


def faults_of_pins(cuts: CutList, machine: Machine, *, spacing: Spacing) -> list[PinFault]:
    """Everything that is wrong with the pinned pieces of a cut list: off the cloth or bed, against
    the grain, off the fold or print, on a flaw, or too near each other. Millimetres, in the lay's
    frame; what is measured is the tool's path, half a kerf outside the cut line."""
    refused = [*_not_here(cuts)]
    if refused or not cuts.pins:
        return refused
    table = Table(cuts.cloth, machine, spacing, cuts.pins)
    problem = table.problem(cuts.caps)
    spots = table.pinned_spots(cuts.caps)
    pinned = []
    for pin in cuts.pins:
        spot = spots[pin.piece]
        shape = problem.shapes[spot.shape]
        path = moved_polygon(shape.outline, spot.motion)
        pinned.append(_Pinned(pin, shape, spot, path))
    faults: list[PinFault] = []
    for one in pinned:
        texts = [
            *_turn_faults(one),
            *_edge_faults(one, problem, table),
            *_register_faults(one),
        ]
        faults.extend(PinFault(one.pin, text) for text in texts)
    for k, flaw in near_obstacles(problem, [one.path for one in pinned], _SLACK_MM):
        text = _flaw_fault(pinned[k], problem.obstacles[flaw])
        faults.append(PinFault(pinned[k].pin, text))
    faults.extend(_neighbour_faults(pinned, problem))
    return faults


def misplaced_pins(job: Job, lists: Sequence[CutList], *, is_whole: bool) -> list[Finding]:
    """Everything that is wrong with the pins of a job; of pins that hold no piece only where the
    lists are the whole job."""
    findings = []
    for cuts in lists:
        spacing = spacing_for(cuts.cloth, job.machine)
        findings += pin_faults(cuts, job.machine, source=job.source, spacing=spacing)
    return findings + (unknown_pins(job, lists) if is_whole else [])


def unknown_pins(job: Job, lists: Iterable[CutList]) -> list[Finding]:
    """Pins that hold no piece of any cut list of a job."""
    known = sorted(piece for cuts in lists for piece in cuts.piece_ids)
    listed = ", ".join(known[:_MOST_LISTED]) + (" ..." if len(known) > _MOST_LISTED else "")
    findings = []
    for pin in job.pinned:
        if pin.piece not in known:
            hint = did_you_mean(pin.piece, known, f"known here: {listed}")
            text = (
                f"{job.source}: [[pinned]] {pin.number}: piece: {pin.piece!r} is no piece of this "
                f"order, as a summary gives them by id; {hint}"
            )
            findings.append(Finding("pinned", "error", text))
    return findings


def _not_here(cuts: CutList) -> Iterator[PinFault]:
    """What cannot be pinned at all."""
    name = cuts.cloth.name
    for pin in cuts.pins:
        where = f"piece: {pin.piece!r}"
        if cuts.cloth.remnants:
            text = (
                f"{where} is cut of remnants, {name!r}, where nothing can be pinned: leave it out"
            )
            yield PinFault(pin, text)
        elif cuts.optional:
            text = (
                f'{where} lies on cloth {name!r}, of which "as many as fit" are cut, and with '
                "pinned pieces the order is fixed: give quantity a number, or leave the pin out"
            )
            yield PinFault(pin, text)


def _turn_faults(one: _Pinned) -> Iterator[str]:
    turn, allowed = one.spot.motion.turn_deg, one.shape.turns_deg
    if turn not in allowed:
        listed = ", ".join(f"{each:g}" for each in sorted(allowed))
        yield (
            f"turn_deg: {turn:g}: {one.pin.piece} then lies against its grain, which "
            f"allows {listed} degrees: give {'one of these' if len(allowed) > 1 else 'that'}"
        )


def _edge_faults(one: _Pinned, problem: StripProblem, table: Table) -> Iterator[str]:
    """Off the usable cloth, or the bed where that is smaller."""
    x0, y0, x1, y1 = one.path.bounds
    margin = problem.margin
    for word, ways, low, high, most in (
        ("along", ("right", "left"), x0, x1, table.longest_mm),
        ("across", ("up", "down"), y0, y1, problem.width),
    ):
        free = word == "across" and one.shape.is_on_fold
        short = 0.0 if free else margin - low
        beyond = high - (most - margin)
        end = f"{most:.2f} mm" if most < float("inf") else "its end"
        if max(short, beyond) > _SLACK_MM:
            if short > _SLACK_MM and beyond > _SLACK_MM:
                mend = "it has no room there: pin it in another turn, or have wider or longer cloth"
            else:
                way = ways[0] if short > _SLACK_MM else ways[1]
                mend = f"move it {max(short, beyond):.2f} mm {way}"
            yield (
                f"at: {one.pin.piece} is cut from {low:.2f} to {high:.2f} mm {word}, "
                f"and there is usable cloth and bed from 0 to {end}, {margin:.2f} mm off each "
                f"edge: {mend}"
            )


def _register_faults(one: _Pinned) -> Iterator[str]:
    """Off the fold, or off the print."""
    register = one.shape.register
    if register is None or register.is_kept(one.spot.motion, _SLACK_MM):
        return
    at = one.spot.motion.point(register.point)
    for word, off, step in (
        ("along", at.x - register.first.x, register.step_along),
        ("across", at.y - register.first.y, register.step_across),
    ):
        if step is None:
            continue
        over = off - (round(off / step) * step if step else 0.0)
        if abs(over) > _SLACK_MM:
            what = "the fold" if one.shape.is_on_fold else f"the print's repeat of {step:g} mm"
            yield (
                f"at: {one.pin.piece} lies {over:+.3f} mm {word} off {what}: move it "
                f"by {-over:+.3f} mm"
            )


def _flaw_fault(one: _Pinned, flaw: Obstacle) -> str:
    apart = one.path.distance(flaw.outline)
    x, y, _, _ = flaw.outline.bounds
    return (
        f"at: {one.pin.piece} is cut {apart:.2f} mm from the flaw at ({x:.1f}, "
        f"{y:.1f}) mm of the lay, and must keep {flaw.clearance:.2f} mm from it: move it off"
    )


def _neighbour_faults(pinned: Sequence[_Pinned], problem: StripProblem) -> Iterator[PinFault]:
    gap = problem.gap
    for i, j in close_pairs([one.path for one in pinned], gap - _SLACK_MM):
        one, other = pinned[i], pinned[j]
        if problem.edge_to_edge and share_a_side(one.path, other.path, _SLACK_MM):
            continue
        common = one.path.intersection(other.path).area
        how = (
            f"overlaps {other.pin.piece} by {common:.1f} mm2"
            if common > 0.0
            else f"is cut {one.path.distance(other.path):.2f} mm from {other.pin.piece}"
        )
        by = f", pinned by [[pinned]] {other.pin.number}" if other.pin.number else ""
        text = (
            f"at: {one.pin.piece} {how}{by}, and {gap:.2f} mm are to be left between two cuts: "
            "move one of them"
        )
        yield PinFault(one.pin, text, other.pin)
