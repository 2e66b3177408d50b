"""The nest of one lay, as a task for another process or machine."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass

from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.effort import Effort
from cutfiles.job.job import Job
from cutfiles.lay.kept import problem_key
from cutfiles.lay.problem import NoPlaceError
from cutfiles.lay.race import SEARCHES_VARIABLE
from cutfiles.lay.table import Table, spacing_for
from cutfiles.lay.tries import Tries
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.ordered import Panel


@dataclass(frozen=True, slots=True)
class OneLay:
    """All that is cut in one lay: a job of one cloth, and its panels as read from their
    drawings."""

    job: Job
    panels: tuple[Panel, ...] = ()


@dataclass(frozen=True, slots=True)
class NestTask:
    """One lay, and how long to nest it.

    ``kept`` is the text of a layout that was found before. ``is_timed`` asks for the time that the
    machine cuts it. ``searches`` run at once; None leaves that to the machine.
    """

    lay: OneLay
    seconds: float
    seed: int
    kept: str | None = None
    is_timed: bool = False
    searches: int | None = 1


@dataclass(frozen=True, slots=True)
class NestResult:
    """How long a lay is in mm, whole repeats of its print included, the text of its layout and the
    name to keep it by, and the time to cut it, where that was asked for."""

    length_mm: float
    key: str
    text: str
    time_s: float | None


def go_on() -> bool:
    """Never stop."""
    return False


def nest_task(task: NestTask, stop: Callable[[], bool] = go_on) -> NestResult | None:
    """Nest a lay by what `make` uses; None where a piece of it has no place."""
    if task.searches is not None:
        os.environ[SEARCHES_VARIABLE] = str(task.searches)
    job = task.lay.job
    (cloth,) = job.cloths
    caps = cut_list(job, cloth, task.lay.panels).caps
    table = Table(cloth, job.machine, spacing_for(cloth, job.machine))
    if table.too_large(caps, "mm", job.source):
        return None
    texts = [task.kept] if task.kept is not None else []

    def recall(_key: str) -> str | None:
        return texts[-1] if texts else None

    def keep(_key: str, text: str) -> None:
        texts.append(text)

    effort = Effort(task.seconds, task.seed, stop, recall=recall, keep=keep)
    try:
        layout = Tries(table, effort).nest(caps, task.seconds)
    except NoPlaceError:
        return None
    (lay,) = table.lays(1, caps, layout, 0.0)
    time_s = None
    if task.is_timed:
        time_s = cut_plan(lay, job.machine, seed=task.seed).time_s
    return NestResult(lay.length_mm, problem_key(table.problem(caps)), texts[-1], time_s)
