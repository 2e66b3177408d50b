"""The search for a plan: the programme picks lays by the lengths that are known, what it picks is
nested, and so on until it picks nothing new."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from cutfiles.errors import Finding, JobError
from cutfiles.pipeline.many_nests import Nests, Stop
from cutfiles.pipeline.nest_task import NestResult, NestTask, OneLay, go_on, nest_task
from cutfiles.pipeline.plan_cloth import PlanCloth
from cutfiles.pipeline.plan_kinds import equal_kinds
from cutfiles.plies.mixes import one_kind_lays
from cutfiles.plies.order import ClothOrder, LayPlan, Mix, SpreadLay, of_one, together
from cutfiles.plies.programme import FEW_NODES, least_cloth_mm, least_plan, least_plans
from cutfiles.units import format_length

_SEARCHING: Final = 0.65
"""Of the time, for finding what to pick; the rest is for longer nests of what was picked."""

_NESTING: Final = 0.9
"""Of the time, for all nests; the rest is for timing the cuts."""

_NESTS: Final = 50
"""So many nests the time for a search is expected to be shared by."""

_SHORTEST_S: Final = 1.0
_LONGEST_S: Final = 6.0
"""Of a nest while it is not known whether its lay is picked."""

_TIMING_S: Final = 0.1
"""Less than any nest took: what was found before is taken as it is."""

_LEAST_ROUNDS: Final = 2
"""Of picking and nesting, however short the time."""

_WITHIN: Final = 0.002
"""How near to its bound a plan is near enough: lengths are known no better."""


@dataclass(frozen=True, slots=True)
class ClothPlan:
    """The plan of one cloth, the lays of one size each to compare it with, and the nest of every
    lay."""

    planned: PlanCloth
    plan: LayPlan
    in_order: tuple[SpreadLay, ...]
    nests: tuple[NestResult, ...]


class PlanSearch:
    """Lengths of lays, quick ones and nested ones, and the plans that they give."""

    def __init__(
        self,
        cloths: Sequence[PlanCloth],
        nests: Nests,
        *,
        seconds: float,
        seed: int,
        stop: Stop,
        hear: Callable[[str], None],
    ) -> None:
        self._cloths, self._place, self._seed = cloths, nests, seed
        self._stop, self._hear = stop, hear
        self._seconds, self._start = seconds, time.monotonic()
        share = _SEARCHING * seconds * nests.workers / _NESTS
        self._each_s = min(_LONGEST_S, max(_SHORTEST_S, share))
        self._nested: dict[OneLay, NestResult | None] = {}
        self._quick: list[dict[Mix, float]] = []
        self._equal = equal_kinds([cloth.kinds for cloth in cloths])

    def plans(self) -> tuple[ClothPlan, ...]:
        """The plan of every cloth.

        Raises
        ------
        JobError
            If no lays of a cloth give what is wanted of it.
        """
        self._measure()
        in_order = [self._in_order(cloth, quick) for cloth, quick in self._pairs()]
        self._pick_and_nest()
        self._nest_longer(self._known_plans())
        plans = self._known_plans()
        timed = self._timed(plans)
        done = []
        for cloth, plan, nests, lays in zip(self._cloths, plans, timed, in_order, strict=True):
            plan_nested = replace(
                plan,
                lays=tuple(
                    replace(lay, length_mm=nest.length_mm)
                    for lay, nest in zip(plan.lays, nests, strict=True)
                ),
            )
            compared = tuple(
                replace(lay, length_mm=self._known_mm(cloth, lay.mix) or lay.length_mm)
                for lay in lays
            )
            done.append(ClothPlan(cloth, plan_nested, compared, tuple(nests)))
        return tuple(done)

    def _pairs(self) -> list[tuple[PlanCloth, dict[Mix, float]]]:
        return list(zip(self._cloths, self._quick, strict=True))

    def _left_s(self, share: float = 1.0) -> float:
        return self._start + share * self._seconds - time.monotonic()

    def _measure(self) -> None:
        wrong: list[Finding] = []
        like: dict[OneLay, dict[Mix, float]] = {}
        for cloth in self._cloths:
            self._hear(f"{cloth.cloth.name}: measuring mixes of caps")
            every = cloth.likeness((1,) * len(cloth.kinds), cloth.terms.step)
            source = repr((cloth.wanted, cloth.terms))
            amounts = replace(every, job=replace(every.job, source=source))
            try:
                if amounts not in like:
                    like[amounts] = cloth.quick_lengths()
            except JobError as error:
                wrong.extend(error.findings)
                continue
            self._quick.append(like[amounts])
            too_many = cloth.too_many_lays(like[amounts])
            wrong.extend([too_many] if too_many else [])
        if wrong:
            raise JobError(wrong)

    def _key(self, cloth: PlanCloth, mix: Mix) -> OneLay:
        return cloth.likeness(mix, cloth.terms.most_plies)

    def _known_mm(self, cloth: PlanCloth, mix: Mix) -> float | None:
        found = self._nested.get(self._key(cloth, mix))
        return None if found is None else found.length_mm

    def _nest(self, lays: Sequence[OneLay], seconds: float) -> None:
        """Nest lays, those that were nested before from what was found, and remember the
        shorter."""
        lays = list(dict.fromkeys(lays))
        tasks = [NestTask(lay, seconds, self._seed, kept=self._text(lay)) for lay in lays]
        for done, (number, result) in enumerate(self._place.results(tasks, self._stop), 1):
            self._hear(
                f"nested {done} of {len(tasks)} lays, {max(0.0, self._left_s()):.0f} s left "
                "(Ctrl-C keeps the best so far)"
            )
            self._nested[lays[number]] = result

    def _text(self, lay: OneLay) -> str | None:
        known = self._nested.get(lay)
        return None if known is None else known.text

    def _in_order(self, cloth: PlanCloth, quick: dict[Mix, float]) -> tuple[SpreadLay, ...]:
        """One-size lays, nested; with them there is a plan, whatever happens after."""
        kinds = len(cloth.kinds)
        lays: list[SpreadLay] = []
        for kind, wanted in enumerate(cloth.wanted):
            while True:
                most = max(
                    (sum(mix) for mix in quick if mix[kind] == sum(mix) and self._fits(cloth, mix)),
                    default=0,
                )
                if not most:
                    one = of_one(kind, kinds)
                    length = self._known_mm(cloth, one) or quick.get(one, 0.0)
                    raise JobError([cloth.too_short(one, length)])
                found = one_kind_lays(kind, kinds, wanted, cloth.terms, most)
                self._nest_all(cloth, [mix for mix, _ in found])
                if all(self._fits(cloth, mix) for mix, _ in found):
                    break
            lays += [
                SpreadLay(mix, plies, self._known_mm(cloth, mix) or quick[mix])
                for mix, plies in found
            ]
        return tuple(lays)

    def _fits(self, cloth: PlanCloth, mix: Mix) -> bool:
        key = self._key(cloth, mix)
        if key not in self._nested:
            return True
        found = self._nested[key]
        return found is not None and found.length_mm <= cloth.terms.longest_mm

    def _nest_all(self, cloth: PlanCloth, mixes: Sequence[Mix]) -> None:
        """Nest some mixes; where the search is stopped, a plain lay must do."""
        lays = [lay for mix in mixes if (lay := self._key(cloth, mix)) not in self._nested]
        if lays:
            self._nest(lays, self._each_s)
        for lay in lays:
            if lay not in self._nested:
                self._nested[lay] = nest_task(NestTask(lay, 0.1, self._seed), _at_once)

    def _lengths(
        self, cloth: PlanCloth, quick: dict[Mix, float], factor: float | None
    ) -> dict[Mix, float]:
        """Nested lengths, and quick ones times a factor where one is given."""
        lengths = {}
        for mix, likely in quick.items():
            key = self._key(cloth, mix)
            if key in self._nested:
                found = self._nested[key]
                if found is not None:
                    lengths[mix] = found.length_mm
            elif factor is not None:
                lengths[mix] = likely * factor
        return lengths

    def _pick_and_nest(self) -> None:
        """Nest what the programme picks until it picks nothing that is not nested."""
        rounds = 0
        while not self._stop() and (
            rounds < _LEAST_ROUNDS or self._left_s(_SEARCHING) > self._each_s
        ):
            rounds += 1
            ratios = [
                known / quick[mix]
                for cloth, quick in self._pairs()
                for mix in quick
                if (known := self._known_mm(cloth, mix)) is not None
            ]
            plans = self._planned(statistics.median(ratios))
            new = [
                key
                for cloth, plan in zip(self._cloths, plans, strict=True)
                for lay in (plan.lays if plan else ())
                if (key := self._key(cloth, lay.mix)) not in self._nested
            ]
            if not new:
                return
            self._nest(new, self._each_s)

    def _planned(self, factor: float | None) -> list[LayPlan | None]:
        """The best plan of every cloth, by nested lengths, and quick ones times a factor where one
        is given; cloths that cut pieces of the same caps are planned together."""
        orders = [
            ClothOrder(cloth.wanted, cloth.terms, self._lengths(cloth, quick, factor))
            for cloth, quick in self._pairs()
        ]
        found: list[LayPlan | None] = [None] * len(orders)
        for group, equal in together(len(orders), self._equal):
            some = [orders[number] for number in group]
            plans = least_plans(some, equal, within=_WITHIN, nodes=FEW_NODES)
            for number, plan in zip(group, plans or (), strict=False):
                found[number] = plan
        return found

    def _known_plans(self) -> list[LayPlan]:
        """The best plans of nested lays."""
        plans = self._planned(None)
        if all(plans):
            return [plan for plan in plans if plan is not None]
        raise JobError(self._short_findings(plans))

    def _short_findings(self, plans: Sequence[LayPlan | None]) -> list[Finding]:
        """Why some cloths have no plan."""
        wrong: list[Finding] = []
        for group, _ in together(len(plans), self._equal):
            if plans[group[0]] is not None:  # those that are planned together have all a plan
                continue
            pairs = [(self._cloths[number], self._quick[number]) for number in group]
            # by quick lengths as well: where nothing serves the order, little is nested
            alone = [
                _short(cloth, lengths)
                for cloth, quick in pairs
                if _planned_alone(cloth, lengths := self._lengths(cloth, quick, 1.0)) is None
            ]
            if not alone and len(pairs) > 1:
                alone = [_short_together([cloth for cloth, _ in pairs])]
            elif not alone:  # what was nested is longer than was likely
                ((cloth, quick),) = pairs
                alone = [_short(cloth, self._lengths(cloth, quick, None))]
            wrong += alone
        return wrong

    def _nest_longer(self, plans: Sequence[LayPlan]) -> None:
        """What is left of the time, for the lays that are picked."""
        keys = [
            self._key(cloth, lay.mix)
            for cloth, plan in zip(self._cloths, plans, strict=True)
            for lay in plan.lays
        ]
        keys = list(dict.fromkeys(keys))
        rounds = -(-len(keys) // self._place.workers)
        seconds = self._left_s(_NESTING) / rounds - 0.5
        if seconds > self._each_s and not self._stop():
            self._nest(keys, seconds)

    def _timed(self, plans: Sequence[LayPlan]) -> list[list[NestResult]]:
        """Every lay in its own plies, and the time to cut it. On a round blade fewer plies need
        less room, and what was found for most of them does."""
        jobs = [
            [cloth.likeness(lay.mix, lay.plies) for lay in plan.lays]
            for cloth, plan in zip(self._cloths, plans, strict=True)
        ]
        texts = {
            job: self._text(self._key(cloth, lay.mix))
            for cloth, plan, row in zip(self._cloths, plans, jobs, strict=True)
            for job, lay in zip(row, plan.lays, strict=True)
        }
        tasks = [
            NestTask(job, _TIMING_S, self._seed, kept=text, is_timed=True)
            for job, text in texts.items()
        ]
        self._hear("timing the cuts")
        done = dict(self._place.results(tasks, go_on))
        found = {}
        for number, task in enumerate(tasks):
            result = done.get(number) or nest_task(task, _at_once)
            assert result is not None, "a lay that was nested before"
            found[task.lay] = result
        return [[found[job] for job in row] for row in jobs]


def _planned_alone(cloth: PlanCloth, lengths: dict[Mix, float]) -> LayPlan | None:
    return least_plan(cloth.wanted, cloth.terms, lengths, within=_WITHIN, nodes=FEW_NODES)


def _short_together(cloths: Sequence[PlanCloth]) -> Finding:
    """That cloths have plans alone, but none that cuts as many of each cap of all of them."""
    names = ", ".join(repr(cloth.cloth.name) for cloth in cloths)
    text = (
        f"{cloths[0].job.source}: cloths {names}: no plan cuts the pieces of as many caps of each "
        "with the cloth on hand: a cap too many (overcut) is one of all its cloths: have a little "
        "more cloth, or order the number of caps that all of them can give"
    )
    return Finding("cloth-short", "error", text)


def _short(cloth: PlanCloth, lengths: dict[Mix, float]) -> Finding:
    """Why nested lays cannot serve the order: there is too little cloth on hand."""
    unit, have = cloth.job.length_unit, sum(cloth.terms.rolls_mm)
    least = least_cloth_mm(cloth.wanted, cloth.terms, lengths)
    where = f"{cloth.job.source}: cloth {cloth.cloth.name!r}: length: {format_length(have, unit)}"
    if least > have:
        text = (
            f"{where}: the order takes at least {format_length(least, unit)}, "
            f"{format_length(least - have, unit)} more: have more cloth, or order less"
        )
    else:
        rolls = f" in {len(cloth.cloth.rolls)} rolls" if cloth.cloth.rolls else ""
        text = (
            f"{where}{rolls}: no plan in whole plies does with it: have a little more, or allow "
            "overcut"
        )
    return Finding("cloth-short", "error", text)


def _at_once() -> bool:
    return True
