"""Trying where one piece may lie among others that stay, before it is pinned."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from cutfiles.errors import Finding, JobError, did_you_mean
from cutfiles.job.job import Job, PinnedPiece
from cutfiles.lay.pins import faults_of_pins, misplaced_pins
from cutfiles.lay.table import Table, spacing_for
from cutfiles.pieces.ordered import CutList, OrderedPiece
from cutfiles.pipeline.drawings import load_panels, load_remnants
from cutfiles.pipeline.lists import cut_lists
from cutfiles.pipeline.load import load_job


@dataclass(frozen=True, slots=True)
class Place:
    """Where a piece lies: the origin of its own frame in its lay, in mm, and its turn."""

    x_mm: float
    y_mm: float
    turn_deg: float


@dataclass(frozen=True, slots=True)
class Trial:
    """Whether a piece may lie in a place, in the nearest turn that its grain allows, and why not:
    the ids of pieces that it is too near, and all reasons in words."""

    fits: bool
    against: tuple[str, ...]
    reasons: tuple[str, ...]
    turn_deg: float


@dataclass(frozen=True, slots=True)
class Tryout:
    """A job and its cut lists, to try places of pieces in."""

    job: Job
    lists: tuple[CutList, ...]

    def trial(self, others: Mapping[str, Place], piece: str, place: Place) -> Trial:
        """Try one place of a piece among the others of its lay, each where it lies.

        What decides is what decides for pinned pieces, and in a nest: the tool's path, its gap to
        others, margins, flaws, grain, fold and print.

        Raises
        ------
        JobError
            If the job has no such piece.
        """
        cuts, ordered = self._find(piece)
        table = Table(cuts.cloth, self.job.machine, spacing_for(cuts.cloth, self.job.machine))
        turn_deg = table.nearest_turn_deg(ordered, place.turn_deg)
        places = {**others, piece: replace(place, turn_deg=turn_deg)}
        pins = tuple(
            PinnedPiece(0, name, (places[name].x_mm, places[name].y_mm), places[name].turn_deg)
            for name in _near(cuts, table, ordered, places)
        )
        faults = faults_of_pins(replace(cuts, pins=pins), self.job.machine, spacing=table.spacing)
        mine = [f for f in faults if piece in (f.pin.piece, f.other.piece if f.other else None)]
        against = {
            name
            for fault in mine
            if fault.other is not None
            for name in (fault.pin.piece, fault.other.piece)
        }
        reasons = tuple(fault.text for fault in mine)
        return Trial(not mine, tuple(sorted(against - {piece})), reasons, turn_deg)

    def _find(self, piece: str) -> tuple[CutList, OrderedPiece]:
        for cuts in self.lists:
            for cap in cuts.caps:
                for ordered in cap.pieces:
                    if ordered.id == piece:
                        return cuts, ordered
        known = sorted(name for cuts in self.lists for name in cuts.piece_ids)
        hint = did_you_mean(piece, known, f"there are {len(known)}, {known[0]} the first")
        raise JobError.of("unknown-piece", f"{piece!r} is no piece of this order; {hint}")

    def pin_findings(self) -> list[Finding]:
        """All that is wrong with the pieces that the job pins."""
        return misplaced_pins(self.job, self.lists, is_whole=True)


def _near(
    cuts: CutList, table: Table, ordered: OrderedPiece, places: Mapping[str, Place]
) -> list[str]:
    """The pieces of a list that may come near one of them: whose circles round their origins do."""
    reaches: dict[int, float] = {}

    def reach_mm(one: OrderedPiece) -> float:
        if id(one.piece) not in reaches:
            path = table.outlines(one)[1].exterior
            reaches[id(one.piece)] = max(math.hypot(x, y) for x, y in path.coords)
        return reaches[id(one.piece)]

    here = places[ordered.id]
    apart = reach_mm(ordered) + table.spacing.clearance_mm + 1.0
    return [
        one.id
        for cap in cuts.caps
        for one in cap.pieces
        if (at := places.get(one.id)) is not None
        and math.hypot(at.x_mm - here.x_mm, at.y_mm - here.y_mm) <= apart + reach_mm(one)
    ]


def tryout_of(path: Path) -> Tryout:
    """What a job file orders, to try places in.

    Raises
    ------
    JobError
        If the job cannot be read or drafted.
    """
    return tryout_of_job(load_job(path), path.parent)


def tryout_of_job(job: Job, folder: Path) -> Tryout:
    """The same of a job whose drawings lie in a folder.

    Raises
    ------
    JobError
        If a drawing cannot be read, or the job cannot be drafted.
    """
    job, _ = load_remnants(job, folder)
    panels, _ = load_panels(job, folder)
    wrong: list[Finding] = []
    lists = cut_lists(job, panels, [], wrong)
    if wrong:
        raise JobError(wrong)
    return Tryout(job, tuple(lists))
