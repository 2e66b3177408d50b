"""The index of the jobs in a folder, in SQLite: their texts, step by step, and what belongs to
them.

Every text that a job ever had in this window of steps is kept, so that undo and redo only move
along them. The revision goes up with every change, undo and redo included.
"""

from __future__ import annotations

import secrets
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

from cutfiles.web.refusal import RefusedError, not_there, stale

INDEX: Final = "index.sqlite"
MOST_STEPS: Final = 500
"""So many texts of a job are kept; the oldest go first."""

_TABLES: Final = """
create table if not exists jobs (
    id text primary key, revision integer not null, step integer not null,
    title text not null, changed real not null
);
create table if not exists steps (
    job text not null, step integer not null, toml text not null, primary key (job, step)
);
create table if not exists drawings (
    job text not null, name text not null, primary key (job, name)
);
create table if not exists runs (
    job text not null, number integer not null, revision integer not null, state text not null,
    seconds real not null, seed integer not null, anew integer not null, queued real not null,
    note text not null default '', primary key (job, number)
);
"""

_JOBS: Final = (
    "select id, revision, title, changed, toml,"
    " jobs.step > (select min(step) from steps where job = id) as can_undo,"
    " jobs.step < (select max(step) from steps where job = id) as can_redo"
    " from jobs join steps on steps.job = id and steps.step = jobs.step"
)
"""Jobs as `KeptJob` has them."""

RunState = Literal["waiting", "nesting", "writing", "done", "stopped", "failed", "cancelled"]
GOING_ON: Final[tuple[RunState, ...]] = ("waiting", "nesting", "writing")


@dataclass(frozen=True, slots=True)
class KeptJob:
    """A job as it is kept: its text at one revision. ``changed_s`` is the time of day of its last
    change."""

    id: str
    revision: int
    title: str
    changed_s: float
    toml: str
    can_undo: bool
    can_redo: bool


@dataclass(frozen=True, slots=True)
class KeptRun:
    """A run of a job: how long and from which seed it nests, and how far it got. ``queued_s`` is
    the time of day when it was asked for."""

    job: str
    number: int
    revision: int
    state: RunState
    seconds: float
    seed: int
    anew: bool
    queued_s: float
    note: str


class Index:
    """The index in a folder. Safe to use from any thread."""

    def __init__(self, folder: Path) -> None:
        self._lock = threading.RLock()
        self._base = sqlite3.connect(folder / INDEX, check_same_thread=False, timeout=10.0)
        self._base.row_factory = sqlite3.Row
        with self._changing():
            for statement in filter(str.strip, _TABLES.split(";")):
                self._base.execute(statement)

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            self._base.close()

    @contextmanager
    def _changing(self) -> Iterator[sqlite3.Connection]:
        with self._lock, self._base:
            yield self._base

    def _rows(self, query: str, *values: Any) -> list[sqlite3.Row]:
        with self._lock:
            return self._base.execute(query, values).fetchall()

    def add(self, toml: str, title: str) -> str:
        """A new job; its id."""
        job = secrets.token_hex(8)
        with self._changing() as base:
            base.execute("insert into jobs values (?, 1, 1, ?, ?)", (job, title, time.time()))
            base.execute("insert into steps values (?, 1, ?)", (job, toml))
        return job

    def all(self) -> list[KeptJob]:
        """Every job, the one changed last first."""
        return [_job(row) for row in self._rows(f"{_JOBS} order by changed desc")]

    def job(self, job: str) -> KeptJob:
        """One job.

        Raises
        ------
        RefusedError
            If there is none of that id.
        """
        rows = self._rows(f"{_JOBS} where id = ?", job)
        if not rows:
            raise not_there("this job")
        return _job(rows[0])

    def write(self, job: str, revision: int, toml: str, title: str) -> None:
        """Give a job a new text, a step after the one that it has; steps undone before go.

        Raises
        ------
        RefusedError
            If the job is not at that revision.
        """
        with self._changing() as base:
            kept = self._at(job, revision)
            if kept.toml == toml:
                return
            (row,) = self._rows("select step from jobs where id = ?", job)
            step = row["step"]
            base.execute("delete from steps where job = ? and step > ?", (job, step))
            base.execute("insert into steps values (?, ?, ?)", (job, step + 1, toml))
            base.execute(
                "delete from steps where job = ? and step <= ?", (job, step + 1 - MOST_STEPS)
            )
            self._move(base, job, step + 1, title)

    def step(
        self, job: str, revision: int, by: Literal[-1, 1], title_of: Callable[[str], str]
    ) -> None:
        """Undo the last change (-1), or make it again (1). ``title_of`` gives the title that a text
        has.

        Raises
        ------
        RefusedError
            If the job is not at that revision, or there is no such step.
        """
        with self._changing() as base:
            kept = self._at(job, revision)
            if not (kept.can_undo if by < 0 else kept.can_redo):
                text = f"there is nothing to {'undo' if by < 0 else 'redo'}"
                raise RefusedError.of(409, "no-step", text)
            (row,) = self._rows(
                "select steps.step, toml from steps join jobs on id = job"
                " where job = ? and steps.step = jobs.step + ?",
                job,
                by,
            )
            self._move(base, job, row["step"], title_of(row["toml"]))

    def _at(self, job: str, revision: int) -> KeptJob:
        kept = self.job(job)
        if kept.revision != revision:
            raise stale(kept.revision)
        return kept

    @staticmethod
    def _move(base: sqlite3.Connection, job: str, step: int, title: str) -> None:
        base.execute(
            "update jobs set step = ?, revision = revision + 1, changed = ?, title = ?"
            " where id = ?",
            (step, time.time(), title, job),
        )

    def remove(self, job: str) -> None:
        """Let go of a job, and of all that belongs to it.

        Raises
        ------
        RefusedError
            If there is none of that id, or it has a run that goes on.
        """
        with self._changing() as base:
            self._no_run(self.job(job).id)
            for table in ("steps", "drawings", "runs"):
                base.execute(f"delete from {table} where job = ?", (job,))
            base.execute("delete from jobs where id = ?", (job,))

    def _no_run(self, job: str) -> None:
        """Raise `RefusedError` where a run of a job goes on."""
        last = self.last_run(job)
        if last is not None and last.state in GOING_ON:
            text = f"run {last.number} of this job goes on: stop it, or drop it, first"
            raise RefusedError.of(409, "goes-on", text)

    def drawings(self, job: str) -> frozenset[str]:
        """The names under which a job's drawings are kept."""
        return frozenset(
            row["name"] for row in self._rows("select name from drawings where job = ?", job)
        )

    def add_drawing(self, job: str, name: str) -> None:
        """That a drawing is kept under a name."""
        with self._changing() as base:
            base.execute("insert into drawings values (?, ?)", (job, name))

    def add_run(self, job: str, revision: int, *, seconds: float, seed: int, anew: bool) -> int:
        """Put a run of a job's revision in the line; its number.

        Raises
        ------
        RefusedError
            If the job is not at that revision, or has a run that goes on.
        """
        with self._changing() as base:
            self._at(job, revision)
            self._no_run(job)
            last = self.last_run(job)
            number = 1 if last is None else last.number + 1
            base.execute(
                "insert into runs values (?, ?, ?, 'waiting', ?, ?, ?, ?, '')",
                (job, number, revision, seconds, seed, int(anew), time.time()),
            )
        return number

    def set_run(self, job: str, number: int, state: RunState, note: str = "") -> None:
        """How far a run got."""
        with self._changing() as base:
            base.execute(
                "update runs set state = ?, note = ? where job = ? and number = ?",
                (state, note, job, number),
            )

    def runs(self, job: str) -> list[KeptRun]:
        """The runs of a job, from the first on."""
        rows = self._rows("select * from runs where job = ? order by number", job)
        return [_run(row) for row in rows]

    def last_run(self, job: str) -> KeptRun | None:
        """The newest run of a job; None before the first."""
        runs = self.runs(job)
        return runs[-1] if runs else None

    def line(self) -> list[KeptRun]:
        """The runs that go on or wait, in their turn."""
        marks = ", ".join("?" * len(GOING_ON))
        rows = self._rows(
            f"select * from runs where state in ({marks})"
            " order by state = 'waiting', queued, rowid",
            *GOING_ON,
        )
        return [_run(row) for row in rows]


def _job(row: sqlite3.Row) -> KeptJob:
    return KeptJob(
        id=row["id"],
        revision=row["revision"],
        title=row["title"],
        changed_s=row["changed"],
        toml=row["toml"],
        can_undo=bool(row["can_undo"]),
        can_redo=bool(row["can_redo"]),
    )


def _run(row: sqlite3.Row) -> KeptRun:
    return KeptRun(
        job=row["job"],
        number=row["number"],
        revision=row["revision"],
        state=row["state"],
        seconds=row["seconds"],
        seed=row["seed"],
        anew=bool(row["anew"]),
        queued_s=row["queued"],
        note=row["note"],
    )
