"""What a plan needs to know of one cloth of a job: kinds, terms, candidates and their lengths."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from cutfiles.errors import Finding, JobError
from cutfiles.estimate.likely import FILL, likely_mm
from cutfiles.files.shelf_text import LEFT_WITHIN_MM
from cutfiles.job.cautions import check_safety
from cutfiles.job.job import Cloth, Job
from cutfiles.job.machine import Machine, RotaryBlade
from cutfiles.lay.bounds import Portions, reach_of
from cutfiles.lay.problem import NoPlaceError
from cutfiles.lay.table import Table, spacing_for
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.ordered import Panel
from cutfiles.pipeline.lists import unused_cloth
from cutfiles.pipeline.nest_task import OneLay
from cutfiles.pipeline.plan_kinds import Kind, kinds_on, odd_quantities
from cutfiles.plies.mixes import MOST_CAPS, candidate_mixes
from cutfiles.plies.order import Mix, Terms, Wanted, of_one
from cutfiles.tolerances import COINCIDENT_MM
from cutfiles.units import counted, format_length

MOST_LAYS = 200
"""Of one cloth: more are an order to be split."""


@dataclass(frozen=True, slots=True)
class PlanCloth:
    """What is ordered of one cloth, and on what terms."""

    job: Job
    cloth: Cloth
    kinds: tuple[Kind, ...]
    terms: Terms
    is_from_shelf: bool = False

    @property
    def wanted(self) -> tuple[Wanted, ...]:
        """How many layers are to be cut of each kind."""
        return tuple(kind.wanted for kind in self.kinds)

    @property
    def has_panels(self) -> bool:
        """Whether it is not for caps alone."""
        return any(kind.panels for kind in self.kinds)

    def one_lay(self, mix: Mix, plies: int) -> OneLay:
        """All that is cut in one lay."""
        cloth = self._spread(plies)
        each = plies * self.terms.layers
        laid = [(k, n * each) for k, n in zip(self.kinds, mix, strict=True) if n]
        caps = tuple(line for kind, layers in laid for line in kind.caps(layers))
        panels = tuple(panel for kind, layers in laid for panel in kind.laid(layers))
        return OneLay(replace(self.job, cloths=(cloth,), caps=caps), panels)

    def _spread(self, plies: int) -> Cloth:
        """The cloth in so many plies, and as long as it takes."""
        return replace(self.cloth, plies=plies, length_mm=None, rolls=(), number=0)

    def likeness(self, mix: Mix, plies: int) -> OneLay:
        """The job of a lay without what does not matter to its nest: lays of equal ones are nested
        alike. On a round blade the plies do matter, since higher stacks are cut further apart."""
        layers = plies if isinstance(self.job.machine.tool, RotaryBlade) else self.terms.step
        lay = self.one_lay(mix, layers)
        cloth = replace(
            lay.job.cloths[0], name="", roll=None, price_mm=None, fibre=None, lay_worth_mm=0.0
        )
        caps = tuple(replace(line, cloth="", number=0, overcut=0) for line in lay.job.caps)
        panels = tuple(replace(p, line=replace(p.line, cloth="")) for p in lay.panels)
        return OneLay(replace(lay.job, cloths=(cloth,), caps=caps), panels)

    def quick_lengths(self) -> dict[Mix, float]:
        """The likely lengths of all candidates that the bed takes.

        Raises
        ------
        JobError
            If a cap cannot be drafted, is too large for the cloth, or too long for bed or cloth.
        """
        models = []
        for number in range(len(self.kinds)):
            lay = self.one_lay(of_one(number, len(self.kinds)), self.terms.step)
            caps = cut_list(lay.job, lay.job.cloths[0], lay.panels).caps
            pieces = tuple(piece for cap in caps for piece in cap.pieces)
            models.append(replace(caps[0], pieces=pieces))
        # how far the cloth on hand goes is for the plies of each lay to say
        cloth = self._spread(self.terms.most_plies)
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
            if sum(mix) == 1 and reach.least_mm > self.terms.longest_ply_mm:
                wrong.append(self.too_short(mix, reach.least_mm))
            if reach.least_mm <= self.terms.longest_ply_mm:
                lengths[mix] = table.whole_repeats_mm(likely_mm(reach), up=True)
        if wrong:
            raise JobError(wrong)
        return lengths

    def too_short(self, mix: Mix, length_mm: float) -> Finding:
        """That one of a kind is longer than bed or cloth, and by how much."""
        kind, unit = self.kinds[mix.index(1)], self.job.length_unit
        limit = self.terms.longest_ply_mm
        what = "bed" if limit == self.terms.longest_mm else "cloth on hand"
        text = (
            f"{self.job.source}: {kind.name}: the pieces of one {kind.unit} take "
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
        what = "cap or panel" if self.has_panels else "cap"
        whats = "caps and panels" if self.has_panels else "caps"
        fewest = -(-total // a_lay)
        if fewest <= MOST_LAYS:
            return None
        text = (
            f"{self.job.source}: cloth {self.cloth.name!r}: {counted(total, what, whats)} take "
            f"{fewest} lays or more of at most {counted(most, what, whats)} in "
            f"{self.terms.most_plies} plies, {fewest - MOST_LAYS} more than the {MOST_LAYS} of "
            "a plan: split the order, or cut more plies at once"
        )
        return Finding("too-many-lays", "error", text)


def plan_cloths(
    job: Job, panels: Sequence[Panel], findings: list[Finding]
) -> tuple[PlanCloth, ...]:
    """The cloths of a job of which anything is ordered, and what of each.

    Raises
    ------
    JobError
        If plies cannot give what is ordered.
    """
    wrong: list[Finding] = []
    found = []
    for cloth in job.cloths:
        kinds = kinds_on(job, panels, cloth)
        if not kinds:
            findings.append(unused_cloth(job, cloth))
            continue
        most = _most_plies(job, cloth, findings)
        is_stocked = job.shelf is not None and job.shelf.stock_of(cloth.number) > 0
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
            rolls_mm=tuple(
                math.inf if roll.length_mm is None else roll.length_mm for roll in cloth.each_roll
            ),
            lay_worth_mm=cloth.lay_worth_mm,
            lost_mm=LEFT_WITHIN_MM if is_stocked else 0.0,
        )
        wrong.extend(odd_quantities(kinds, cloth, terms, job.source))
        plain = replace(job, shelf=None, costs=None, panels=())
        found.append(PlanCloth(plain, cloth, kinds, terms, is_stocked))
    if wrong:
        raise JobError(wrong)
    return tuple(found)


def check_planned(job: Job) -> None:
    """Raise `JobError` for a job with what no plan is made for."""
    wrong = list(_not_planned(job))
    if wrong:
        raise JobError(wrong)


def _not_planned(job: Job) -> Iterator[Finding]:
    leave_out = "leave it out, or use make"
    as_rolls = (
        "cut the flawed stretches out, and give what lies between them as rolls of the cloth, or "
        "use make"
    )
    for what, there, mend in (
        ("[[pinned]]", bool(job.pinned), leave_out),
        ("an outline (remnants)", any(cloth.remnants for cloth in job.cloths), leave_out),
        ("flaws", any(one.flaws for cloth in job.cloths for one in cloth.each_roll), as_rolls),
        ('quantity = "as many as fit"', any(line.as_many for line in job.caps), leave_out),
    ):
        if there:
            text = f"{job.source}: {what}: no plan is made with it: {mend}"
            yield Finding("not-planned", "error", text)
    for cloth in job.cloths:
        if len({roll.print_repeat for roll in cloth.rolls}) > 1:
            text = (
                f"{job.source}: cloth {cloth.name!r}: print_starts: differs from roll to roll, and "
                "a plan lays all of them alike: name the roll to plan, or use make"
            )
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
