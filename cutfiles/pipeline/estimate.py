"""How much cloth a job takes, and how many caps the cloth on hand gives."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from cutfiles.effort import Effort
from cutfiles.errors import Finding, JobError, OutputError
from cutfiles.estimate.costs import Bill, CapNeeds, bill_of
from cutfiles.estimate.figures import ClothFigures, Gives, Takes, complete, complete_text
from cutfiles.estimate.likely import FILL, likely_mm
from cutfiles.estimate.plies import END_LOSS_MM, drawn_mm
from cutfiles.files.whole_file import table_bytes, write_whole
from cutfiles.job.job import Cloth, Job
from cutfiles.lay.bounds import Portions, Reaches, plain_mm
from cutfiles.lay.filled import MOST_LAYS, Filled, filled_lays, filled_rolls
from cutfiles.lay.held import end_of, rest_of
from cutfiles.lay.on_hand import on_hand_list
from cutfiles.lay.problem import NoPlaceError, StripProblem
from cutfiles.lay.table import Table, spacing_for
from cutfiles.pieces.cut_list import draft_line
from cutfiles.pieces.ordered import CutList, OrderedCap, Panel
from cutfiles.pipeline.lists import cut_lists
from cutfiles.units import format_length

ESTIMATE_FORMAT: Final = "cutfiles-estimate/1"


@dataclass(frozen=True, slots=True)
class Estimated:
    """What `estimate_loaded` found."""

    job: Job
    cloths: tuple[ClothFigures, ...]
    findings: tuple[Finding, ...]
    bill: Bill | None
    complete: Gives | None

    def report(self) -> tuple[str, ...]:
        """In words, a line or two a cloth, and what it costs."""
        unit = self.job.length_unit
        lines = [line for figures in self.cloths for line in figures.lines(unit)]
        lines += [complete_text(self.complete)] if self.complete else []
        return (*lines, *(self.bill.lines() if self.bill else ()))

    def table(self) -> dict[str, Any]:
        """As plain values."""
        unit = self.job.length_unit
        return {
            "format": ESTIMATE_FORMAT,
            "title": self.job.title,
            "length_unit": unit,
            "end_loss_mm": END_LOSS_MM,
            "cloths": [figures.table(unit) for figures in self.cloths],
            "complete_caps": self.complete.table() if self.complete else None,
            "costs": self.bill.table() if self.bill else None,
            "findings": [finding.table() for finding in self.findings],
        }


def estimate_loaded(job: Job, folder: Path, effort: Effort | None = None) -> Estimated:
    """The figures of every cloth of a job, whose drawings lie from ``folder`` on; with an effort,
    nested too.

    Raises
    ------
    JobError
        If the job is wrong, or an order cannot be cut of its cloth in any way.
    """
    panels: tuple[Panel, ...] = ()
    findings: list[Finding] = []
    if job.panels or any(cloth.remnants for cloth in job.cloths):
        # readers of drawings take a second to load, which most jobs need not wait for
        from cutfiles.pipeline.drawings import load_panels, load_remnants

        job, said = load_remnants(job, folder)
        panels, more = load_panels(job, folder)
        findings += [*said, *more]
    wrong: list[Finding] = []
    lists = cut_lists(job, panels, findings, wrong)
    misplaced: list[Finding] = []
    if job.pinned:
        from cutfiles.lay.pins import misplaced_pins

        misplaced = misplaced_pins(job, lists, is_whole=not wrong)
    reaches = Reaches(FILL)
    rooms = [_Room(cuts, job, reaches, wrong) for cuts in lists]
    if wrong or misplaced:
        raise JobError([*wrong, *misplaced])
    figures = [one for room in rooms if (one := room.figures(findings, wrong)) is not None]
    if wrong:
        raise JobError(wrong)
    if effort is not None:
        from cutfiles.pipeline.estimate_nest import nested_figures

        figures = nested_figures(job, lists, figures, effort, findings)
    bill = bill_of(job.costs, figures, _needs(job)) if job.costs else None
    return Estimated(job, tuple(figures), tuple(findings), bill, _complete(job, figures))


def _complete(job: Job, figures: Sequence[ClothFigures]) -> Gives | None:
    """Whole caps, where every cloth gives parts of all of them."""
    shares = {job.lines_for(one.cloth) for one in figures}
    return complete(figures) if len(shares) == 1 and len(figures) > 1 else None


def _needs(job: Job) -> CapNeeds:
    """Elastic and thread of all caps ordered, by their drafts; of lines of as many as fit nothing
    is known."""
    from cutfiles.pieces.making_up import cap_thread_mm

    caps, elastic_mm, thread_mm = 0, 0.0, 0.0
    for line in job.caps:
        if not line.as_many:
            draft = draft_line(line)
            caps += line.quantity
            elastic_mm += line.quantity * draft.fit.elastic_cut_mm
            thread_mm += line.quantity * cap_thread_mm(draft)
    return CapNeeds(caps, elastic_mm, thread_mm)


def write_figures(estimated: Estimated, path: Path) -> None:
    """Write the figures as JSON; only figures written before are ever replaced.

    Raises
    ------
    OutputError
        If the file cannot be written, or is something else.
    """
    if path.exists() and not _holds_figures(path):
        text = (
            f"--json: {path}: is there already and holds no figures of an estimate: move it, or "
            "give another name"
        )
        raise OutputError([Finding("output", "error", text)])
    write_whole(path, table_bytes(estimated.table()))


def _holds_figures(path: Path) -> bool:
    try:
        table = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return False
    return isinstance(table, dict) and table.get("format") == ESTIMATE_FORMAT


class _Room:
    """A cut list on its cloth and machine."""

    def __init__(self, cuts: CutList, job: Job, reaches: Reaches, wrong: list[Finding]) -> None:
        self.cuts, self.job, self.cloth = cuts, job, cuts.cloth
        self.reaches = reaches
        self.table = Table(cuts.cloth, job.machine, spacing_for(cuts.cloth, job.machine))
        self.rolls = [Table(roll, job.machine, self.table.spacing) for roll in cuts.cloth.rolls]
        wrong.extend(self.table.too_large(cuts.caps, job.length_unit, job.source))

    def figures(self, findings: list[Finding], wrong: list[Finding]) -> ClothFigures | None:
        """Of this cloth; None, and ``wrong`` says why, where a piece has no place on it."""
        try:
            return self._figures(findings, wrong)
        except NoPlaceError as error:
            text = (
                f"{self.job.source}: cloth {self.cloth.name!r}: {error}: use cloth with fewer "
                "flaws or a print of smaller repeat, or leave out match"
            )
            wrong.append(Finding("no-place", "error", text))
            return None

    def _figures(self, findings: list[Finding], wrong: list[Finding]) -> ClothFigures:
        caps = self.cuts.fixed
        take = self._takes_round_pins if self.cuts.pins else self._takes
        takes = take(caps, findings, wrong) if caps and not self.table.strip else None
        ends = self.table.strip is not None or self.cloth.length_mm is not None
        has_caps = any(not cap.is_panel for cap in self.cuts.caps)
        gives = self._gives() if ends and has_caps else None
        count = sum(not cap.is_panel for cap in caps) * self.cloth.layers
        if self.table.strip and gives and count > gives.most:
            text = (
                f"{self.job.source}: {self.cloth.name!r}: the remnants give at most {gives.most} "
                f"of the {count} caps ordered: have more cloth, order less, or give "
                'quantity = "as many as fit"'
            )
            findings.append(Finding("cloth-short", "warning", text))
        return ClothFigures(
            cloth=self.cloth,
            caps=count,
            panels=_panels_of(caps, self.cloth),
            net_mm2=sum(self.table.outlines(p)[0].area for cap in caps for p in cap.pieces),
            takes=takes,
            gives=gives,
            is_part=any(line.sources for line in self.job.lines_for(self.cloth)),
        )

    def _takes(
        self, caps: Sequence[OrderedCap], findings: list[Finding], wrong: list[Finding]
    ) -> Takes | None:
        portions = Portions(self.table, caps)
        reach = self.reaches.of(portions.problem(0, len(caps)))
        likely = self._filled(portions, self._likely, on_hand=False)
        surely = self._filled(portions, self.reaches.surely_mm, on_hand=False)
        limit = self.table.longest_mm
        fewest = 1 if math.isinf(limit) else max(1, math.ceil(reach.full_mm / limit - 1e-9))
        if max(fewest, len(likely.counts)) >= MOST_LAYS:
            wrong.append(self._too_many_lays(max(fewest, len(likely.counts))))
            return None
        if likely.rest:
            wrong.append(self._too_short(caps[likely.rest[0]], portions, likely.rest[0]))
            return None
        plies = self.cloth.plies
        least = self.table.whole_repeats_mm(reach.least_mm, up=True)
        most = None
        if not surely.rest:
            most = sum(drawn_mm(length, plies) for length in surely.lengths_mm)
        takes = Takes(
            lays=len(likely.counts),
            least_mm=least * plies + fewest * plies * END_LOSS_MM,
            likely_mm=sum(drawn_mm(length, plies) for length in likely.lengths_mm),
            most_mm=most,
        )
        if most is not None and takes.likely_mm > most:  # then a search finds the plain lays
            takes = replace(takes, lays=len(surely.counts), likely_mm=most)
        if self.rolls:
            self._compare_rolls(likely, findings)
        else:
            self._compare(takes, self.cloth, findings)
        return takes

    def _filled(
        self, portions: Portions, length_of: Callable[[StripProblem], float], *, on_hand: bool
    ) -> Filled:
        """The lays of some caps, on its rolls where there are several."""
        if not self.rolls:
            return filled_lays(portions, length_of, on_hand=on_hand)
        return filled_rolls(self.table, self.rolls, portions.caps, length_of, on_hand=on_hand)

    def _compare_rolls(self, likely: Filled, findings: list[Finding]) -> None:
        """Say where the rolls are not likely to give all that is ordered."""
        if not likely.beyond_mm:
            return
        more = format_length(likely.beyond_mm * self.cloth.plies, self.job.length_unit)
        have = format_length(self.cloth.length_mm or 0.0, self.job.length_unit)
        text = (
            f"{self.job.source}: {self.cloth.name!r}: the order is likely to take {more} more than "
            f"its {len(self.rolls)} rolls of {have} in all give: have another roll, or order less"
        )
        findings.append(Finding("cloth-short", "warning", text))

    def _takes_round_pins(
        self, caps: Sequence[OrderedCap], findings: list[Finding], wrong: list[Finding]
    ) -> Takes | None:
        """In the one lay that a cloth with pinned pieces makes."""
        table = Table(self.cloth, self.job.machine, self.table.spacing, self.cuts.pins)
        problem = table.problem(caps)
        pinned = tuple(table.pinned_spots(caps).values())
        end, rest, reach = (
            end_of(problem, pinned),
            rest_of(problem, pinned),
            self.reaches.of(problem),
        )
        most = max(end, _plain_or_endless(rest)) if rest else end
        likely = min(max(end, likely_mm(reach)), most)
        least, likely, most = (
            table.whole_repeats_mm(mm, up=True) for mm in (max(end, reach.least_mm), likely, most)
        )
        limit, unit = table.longest_mm, self.job.length_unit
        if least > limit:
            text = (
                f"{self.job.source}: [[pinned]]: cloth {self.cloth.name!r} makes one lay, since "
                f"pieces are pinned on it, which takes at least {format_length(least, unit)}, and "
                f"{table.length_limit()} gives {format_length(limit, unit)}: order less, or leave "
                "the pins out"
            )
            wrong.append(Finding("pinned-long", "error", text))
            return None
        plies = self.cloth.plies
        takes = Takes(
            lays=1,
            least_mm=drawn_mm(least, plies),
            likely_mm=drawn_mm(likely, plies),
            most_mm=drawn_mm(most, plies) if most <= limit and math.isfinite(most) else None,
        )
        self._compare(takes, table.cloth, findings)
        return takes

    def _compare(self, takes: Takes, cloth: Cloth, findings: list[Finding]) -> None:
        """Say where the cloth on hand does not do, or may not."""
        have = cloth.length_mm
        ends = takes.lays * self.cloth.plies * END_LOSS_MM
        if have is None or takes.likely_mm - ends <= have:
            return
        unit = self.job.length_unit
        where = f"{self.job.source}: {cloth.called!r}"
        surely = takes.least_mm - ends > have
        needed = (takes.least_mm if surely else takes.likely_mm) - ends
        word = "takes at least" if surely else "is likely to take"
        text = (
            f"{where}: the order {word} {format_length(needed, unit)} and there are "
            f"{format_length(have, unit)}: have {format_length(needed - have, unit)} more, or "
            "order less"
        )
        findings.append(Finding("cloth-short", "warning", text))

    def _too_many_lays(self, fewest: int) -> Finding:
        text = (
            f"{self.job.source}: cloth {self.cloth.name!r}: the order takes {fewest} lays or more "
            f"and must take fewer than {MOST_LAYS}: split the order, cut more plies at once, or "
            "use a longer bed or longer cloth"
        )
        return Finding("too-many-lays", "error", text)

    def _too_short(self, cap: OrderedCap, portions: Portions, number: int) -> Finding:
        unit, limit = self.job.length_unit, self.table.longest_mm
        length = self._likely(portions.problem(number, number + 1))
        alone = self.table.whole_repeats_mm(length, up=True)
        what = "the panel takes" if cap.is_panel else "the pieces of one cap take"
        text = (
            f"{self.job.source}: {cap.kind}: {what} about {format_length(alone, unit)} of cloth, "
            f"and {self.table.length_limit()} leaves {format_length(limit, unit)}, "
            f"{format_length(max(0.0, alone - limit), unit)} too little: {self.table.length_mend()}"
        )
        return Finding("too-short", "error", text)

    def _likely(self, problem: StripProblem) -> float:
        return likely_mm(self.reaches.of(problem))

    def _gives(self) -> Gives:
        cuts = on_hand_list(self.cuts, self.table)
        portions = Portions(self.table, cuts.caps)
        panels = sum(cap.is_panel for cap in cuts.caps)
        length = self.table.cloth_mm
        likely, surely, most = (
            max(0, count - panels) * self.cloth.layers
            for count in (
                self._filled(portions, self._likely, on_hand=True).caps,
                self._filled(portions, self.reaches.surely_mm, on_hand=True).caps,
                portions.most_by_area(0, length),
            )
        )
        return Gives(least=surely, likely=max(likely, surely), most=most)


def _panels_of(caps: Sequence[OrderedCap], cloth: Cloth) -> int:
    """Panels cut, over all layers; a half on the fold needs two layers for one."""
    halves = sum(piece.fold_turn_deg is not None for cap in caps for piece in cap.pieces)
    panels = sum(cap.is_panel for cap in caps)
    return (panels - halves) * cloth.layers + halves * cloth.plies


def _plain_or_endless(problem: StripProblem) -> float:
    try:
        return plain_mm(problem)
    except NoPlaceError:
        return math.inf
