"""What a plan needs to know of one cloth of a job: kinds, terms, candidates and their lengths."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from cutfiles.errors import Finding, JobError
from cutfiles.estimate.likely import FILL, likely_mm
from cutfiles.job.cautions import check_safety
from cutfiles.job.job import CapLine, Cloth, Job
from cutfiles.job.machine import Machine, RotaryBlade
from cutfiles.lay.bounds import Portions, reach_of
from cutfiles.lay.problem import NoPlaceError
from cutfiles.lay.table import Table, spacing_for
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pipeline.lists import unused_cloth
from cutfiles.plies.mixes import MOST_CAPS, candidate_mixes
from cutfiles.plies.order import Mix, Terms, Wanted, of_one
from cutfiles.tolerances import COINCIDENT_MM
from cutfiles.units import counted, format_length

MOST_LAYS = 200
"""Of one cloth: more are an order to be split."""


@dataclass(frozen=True, slots=True)
class PlanCloth:
    """The caps ordered of one cloth: lines of the order, how many are wanted of each, and on what
    terms."""

    job: Job
    cloth: Cloth
    lines: tuple[CapLine, ...]
    wanted: tuple[Wanted, ...]
    terms: Terms

    def lay_job(self, mix: Mix, plies: int) -> Job:
        """The job of one lay."""
        cloth = replace(self.cloth, plies=plies, length_mm=None)
        each = plies * self.terms.layers
        caps = tuple(
            replace(line, quantity=count * each)
            for line, count in zip(self.lines, mix, strict=True)
            if count
        )
        return replace(self.job, cloths=(cloth,), caps=caps, panels=(), costs=None)

    def likeness(self, mix: Mix, plies: int) -> Job:
        """The job of a lay without what does not matter to its nest: lays of equal ones are nested
        alike. On a round blade the plies do matter, since higher stacks are cut further apart."""
        layers = plies if isinstance(self.job.machine.tool, RotaryBlade) else self.terms.step
        job = self.lay_job(mix, layers)
        cloth = replace(job.cloths[0], name="", price_mm=None, fibre=None, lay_worth_mm=0.0)
        caps = tuple(replace(line, cloth="", number=0, overcut=0) for line in job.caps)
        return replace(job, cloths=(cloth,), caps=caps)

    def quick_lengths(self) -> dict[Mix, float]:
        """The likely lengths of all candidates that the bed takes.

        Raises
        ------
        JobError
            If a cap cannot be drafted, is too large for the cloth, or too long for bed or cloth.
        """
        ones = [of_one(number, len(self.lines)) for number in range(len(self.lines))]
        models = []
        for one in ones:
            job = self.lay_job(one, self.terms.step)
            models.append(cut_list(job, job.cloths[0]).caps[0])
        cloth = replace(self.cloth, plies=self.terms.most_plies)
        table = Table(cloth, self.job.machine, spacing_for(cloth, self.job.machine))
        wrong = list(table.too_large(models, self.job.length_unit, self.job.source))
        if wrong:
            raise JobError(wrong)
        portions = Portions(table, models)
        lengths: dict[Mix, float] = {}
        for mix in candidate_mixes(self.wanted, self.terms):
            try:
                reach = reach_of(portions.mixed(mix), FILL)
            except NoPlaceError as error:
                where = f"{self.job.source}: cloth {self.cloth.name!r}: {error}"
                mend = "use a print of smaller repeat, or leave out match"
                raise JobError.of("no-place", f"{where}: {mend}") from error
            if sum(mix) == 1 and reach.least_mm > self._longest_ply_mm:
                wrong.append(self.too_short(mix, reach.least_mm))
            if reach.least_mm <= self._longest_ply_mm:
                lengths[mix] = table.whole_repeats_mm(likely_mm(reach), up=True)
        if wrong:
            raise JobError(wrong)
        return lengths

    @property
    def _longest_ply_mm(self) -> float:
        return min(self.terms.longest_mm, self.terms.on_hand_mm)

    def too_short(self, mix: Mix, length_mm: float) -> Finding:
        """That one cap is longer than bed or cloth, and by how much."""
        line, unit = self.lines[mix.index(1)], self.job.length_unit
        limit = self._longest_ply_mm
        what = "bed" if limit == self.terms.longest_mm else "cloth on hand"
        text = (
            f"{self.job.source}: {line.style} {line.size.name}: the pieces of one cap take "
            f"{format_length(length_mm, unit)} of {self.cloth.name!r}, and the {what} gives "
            f"{format_length(limit, unit)}, {format_length(length_mm - limit, unit)} too little: "
            "use wider or longer cloth, a longer bed, or order a smaller size"
        )
        return Finding("too-short", "error", text)

    def too_many_lays(self, lengths: Mapping[Mix, float]) -> Finding | None:
        """That the order takes too many lays, whichever mixes are chosen."""
        most = max((sum(mix) for mix in lengths), default=MOST_CAPS)
        a_lay = most * (self.terms.most_plies // self.terms.step) * self.terms.at_once
        total = sum(one.least for one in self.wanted)
        fewest = -(-total // a_lay)
        if fewest <= MOST_LAYS:
            return None
        text = (
            f"{self.job.source}: cloth {self.cloth.name!r}: {counted(total, 'cap')} take "
            f"{fewest} lays or more of at most {counted(most, 'cap')} in "
            f"{self.terms.most_plies} plies, {fewest - MOST_LAYS} more than the {MOST_LAYS} of "
            "a plan: split the order, or cut more plies at once"
        )
        return Finding("too-many-lays", "error", text)


def plan_cloths(job: Job, findings: list[Finding]) -> tuple[PlanCloth, ...]:
    """The cloths of a job of which caps are ordered.

    Raises
    ------
    JobError
        If the job has what no plan is made for, or plies cannot give what is ordered.
    """
    wrong = list(_not_planned(job))
    found = []
    for cloth in job.cloths:
        lines = job.lines_for(cloth)
        if not lines:
            findings.append(unused_cloth(job, cloth))
            continue
        most = _most_plies(job, cloth, findings)
        step = 2 if cloth.spread == "face to face" else 1
        if most < step:
            text = (
                f"{job.source}: cloth {cloth.name!r}: spread {cloth.spread!r} needs "
                f"{step * cloth.layers // cloth.plies} layers, and the machine cuts fewer at "
                "once: spread it single, or raise the limit"
            )
            wrong.append(Finding("too-many-plies", "error", text))
            continue
        terms = Terms(
            most_plies=most // step * step,
            step=step,
            layers=cloth.layers // cloth.plies,
            longest_mm=cloth.whole_repeats_mm(job.machine.longest_lay_mm or math.inf),
            on_hand_mm=math.inf if cloth.length_mm is None else cloth.length_mm,
            lay_worth_mm=cloth.lay_worth_mm,
        )
        wanted = tuple(Wanted(line.quantity, line.quantity + line.overcut) for line in lines)
        for line, one in zip(lines, wanted, strict=True):
            over = -one.least % terms.at_once
            if over > line.overcut:
                text = (
                    f"{job.source}: [[caps]] {line.number}: quantity: {one.least}: cloth "
                    f"{cloth.name!r} is cut {terms.at_once} layers at once, which gives "
                    f"{one.least - one.least % terms.at_once} or {one.least + over}: order "
                    f"one of these, or allow overcut = {over}"
                )
                wrong.append(Finding("odd-quantity", "error", text))
        plain = replace(job, shelf=None, pinned=())
        found.append(PlanCloth(plain, cloth, lines, wanted, terms))
    if wrong:
        raise JobError(wrong)
    return tuple(found)


def _not_planned(job: Job) -> Iterator[Finding]:
    for what, there in (
        ("[[panels]]", bool(job.panels)),
        ("[[pinned]]", bool(job.pinned)),
        ("shelf", job.shelf is not None),
        ("an outline (remnants)", any(cloth.remnants for cloth in job.cloths)),
        ("flaws", any(cloth.flaws for cloth in job.cloths)),
        ('quantity = "as many as fit"', any(line.as_many for line in job.caps)),
        ("from", any(line.sources for line in job.caps)),
    ):
        if there:
            text = f"{job.source}: {what}: no plan is made with it: leave it out, or use make"
            yield Finding("not-planned", "error", text)


def _most_plies(job: Job, cloth: Cloth, findings: list[Finding]) -> int:
    """So many plies of a cloth the machine cuts at once; where it gives no limit, or heat can weld
    them, no more than the job's own."""
    limits = _layer_limits(job.machine, cloth)
    layers_a_ply = cloth.layers // cloth.plies
    stacked = replace(job, cloths=(replace(cloth, plies=2),))
    where = f"{job.source}: cloth {cloth.name!r}"
    if any(f.code == "synthetic-plies" for f in check_safety(stacked)):
        text = f"{where}: heat can weld plies of {cloth.fibre!r}: planned in {cloth.plies} at most"
        findings.append(Finding("synthetic-plies", "note", text))
        return min([cloth.plies, *(limit // layers_a_ply for limit in limits)])
    if not limits:
        text = (
            f"{where}: the machine gives neither most_plies nor most_stack: planned in "
            f"{counted(cloth.plies, 'layer')} at most, as plies says"
        )
        findings.append(Finding("plies-unknown", "note", text))
        return cloth.plies
    return min(200, *(limit // layers_a_ply for limit in limits))


def _layer_limits(machine: Machine, cloth: Cloth) -> list[int]:
    """How many layers each limit of the machine allows."""
    limits = [] if machine.fittings.most_plies is None else [machine.fittings.most_plies]
    stacks = [machine.fittings.most_stack_mm]
    if isinstance(machine.tool, RotaryBlade):
        stacks.append(machine.tool.most_stack_mm)
    return limits + [
        int((stack + COINCIDENT_MM) / cloth.thickness_mm) for stack in stacks if stack is not None
    ]
