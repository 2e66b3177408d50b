"""The line of runs: one nests at a time, each as a process of its own, and the others wait."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any, Final, Literal

from cutfiles.web.held import is_held
from cutfiles.web.index import GOING_ON, Index, KeptRun, RunState
from cutfiles.web.run_folder import RunFolder

_TICK_SECONDS: Final = 0.1
_PATIENCE_SECONDS: Final = 10.0
"""So long a run that was dropped may take to end by itself."""
_LAST_SECONDS: Final = 20.0
"""So long a run may take to write its best when the server ends."""

_ENDS: Final[tuple[RunState, ...]] = ("done", "stopped", "failed", "cancelled")


class Runs:
    """The line of all runs in a folder of jobs, and the process of the one whose turn it is.

    A run that an earlier server started and that still goes on is waited for like any other.
    """

    def __init__(self, folder: Path, index: Index) -> None:
        self._folder, self._index = folder, index
        self._lock = threading.RLock()
        self._process: subprocess.Popen[bytes] | None = None
        self._dropped_at: float | None = None
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)

    def start(self) -> None:
        """Go on with the line."""
        self._thread.start()

    def folder_of(self, run: KeptRun) -> RunFolder:
        """The folder of a run."""
        return RunFolder(self._folder / run.job / f"run-{run.number:04d}")

    def order(self, job: str, revision: int, *, seconds: float, seed: int, anew: bool) -> int:
        """Put a run of a job in the line; its number.

        Raises
        ------
        RefusedError
            If the job is not at that revision, or has a run that goes on.
        """
        with self._lock:
            kept = self._index.job(job)
            number = self._index.add_run(kept.id, revision, seconds=seconds, seed=seed, anew=anew)
            (run,) = self._index.runs(kept.id)[-1:]
            home = self._folder / kept.id
            drawings = (home / name for name in sorted(self._index.drawings(kept.id)))
            task = {"seconds": seconds, "seed": seed, "anew": anew}
            try:
                self.folder_of(run).prepare(kept.toml, drawings, task)
            except OSError as error:
                self._fail(run, error)
                raise
        return number

    def _fail(self, run: KeptRun, error: OSError) -> None:
        note = f"the run could not be started: {error.strerror}; see that there is room on the disk"
        self._index.set_run(run.job, run.number, "failed", note)

    def stop(self, run: KeptRun) -> None:
        """End the search of a run with its best; one that only waits is dropped."""
        self._ask(run, "stop")

    def cancel(self, run: KeptRun) -> None:
        """Drop a run."""
        self._ask(run, "cancel")

    def _ask(self, run: KeptRun, what: Literal["stop", "cancel"]) -> None:
        with self._lock:
            # its turn may have come, or it may have ended, since the run was looked up
            state = next(
                (one.state for one in self._index.runs(run.job) if one.number == run.number), None
            )
            if state == "waiting":
                self._index.set_run(run.job, run.number, "cancelled")
            elif state in GOING_ON:
                self.folder_of(run).ask(what)
                if what == "cancel":
                    self._dropped_at = time.monotonic()

    def close(self) -> None:
        """Stop the run whose turn it is, so that its best is written; the others wait for the
        next server. A run that takes too long is ended."""
        self._over.set()
        self._thread.join()
        going = [run for run in self._index.line() if run.state != "waiting"]
        end = time.monotonic() + _LAST_SECONDS
        try:
            for run in going:
                self.folder_of(run).ask("stop")
            while any(map(self._goes_on, going)) and time.monotonic() < end:
                time.sleep(_TICK_SECONDS)
        finally:
            self._kill()
            self._tick(launch=False)

    def _watch(self) -> None:
        while not self._over.wait(_TICK_SECONDS):
            with suppress(OSError, sqlite3.Error):  # a full disk: try again
                self._tick()

    def _tick(self, *, launch: bool = True) -> None:
        with self._lock:
            going = [run for run in self._index.line() if run.state != "waiting"]
            for run in going:
                self._look_after(run)
            waiting = self._index.line()
            if launch and waiting and all(run.state == "waiting" for run in waiting):
                self._launch(waiting[0])

    def _look_after(self, run: KeptRun) -> None:
        """Write into the index how far a run is, or how it ended."""
        goes_on = self._goes_on(run)
        folder = self.folder_of(run)
        progress = folder.progress()
        state = progress.get("state", "nesting")
        if goes_on:
            if state in GOING_ON and state != run.state:
                self._index.set_run(run.job, run.number, state)
            late = self._dropped_at is not None
            if late and time.monotonic() - (self._dropped_at or 0.0) > _PATIENCE_SECONDS:
                self._kill()
            return
        if state in _ENDS:
            self._index.set_run(run.job, run.number, state, str(progress.get("note", "")))
        elif folder.is_asked("cancel"):
            self._index.set_run(run.job, run.number, "cancelled")
        else:
            self._index.set_run(run.job, run.number, "failed", self._end_in_words())
        self._process = self._dropped_at = None

    def _goes_on(self, run: KeptRun) -> bool:
        """Whether the process of a run lives: ours, or one that an earlier server started."""
        if self._process is None:
            return is_held(self.folder_of(run).alive)
        return self._process.poll() is None

    def _kill(self) -> None:
        if self._process is not None and self._process.poll() is None:
            self._process.kill()
            self._process.wait()

    def _end_in_words(self) -> str:
        status = self._process.returncode if self._process is not None else None
        how = (
            "without a word"
            if status is None
            else f"by signal {-status}"
            if status < 0
            else f"with status {status}"
        )
        return (
            f"the process that nested ended {how}, perhaps because the machine ran out of memory "
            "or somebody ended it; the job is kept as it was: nest it again"
        )

    def _launch(self, run: KeptRun) -> None:
        folder = self.folder_of(run)
        command = [sys.executable, "-m", "cutfiles.web.run_one", str(folder.path)]
        try:
            with folder.log.open("ab") as log:
                self._process = subprocess.Popen(
                    command,
                    stdin=subprocess.DEVNULL,
                    stdout=log,
                    stderr=log,
                    start_new_session=True,  # Ctrl-C is for the server, which stops the run
                )
        except OSError as error:
            self._fail(run, error)
            return
        self._index.set_run(run.job, run.number, "nesting")

    def shown(self, run: KeptRun, seen: int) -> Mapping[str, Any]:
        """A run as the page shows it. ``seen`` is the step of the lays that it has already, which
        are left out then."""
        progress = self.folder_of(run).progress()
        began = progress.get("began")
        until = progress.get("ended", time.time())
        step = progress.get("step", 0)
        line = [(one.job, one.number) for one in self._index.line()]
        place = line.index((run.job, run.number)) if (run.job, run.number) in line else 0
        return {
            "run": run.number,
            "revision": run.revision,
            "state": run.state,
            "place_in_line": place,
            "seconds": 0.0 if began is None else round(max(0.0, until - began), 1),
            "of_seconds": run.seconds,
            "seed": run.seed,
            "step": step,
            "lays": None if step == seen else progress.get("lays", []),
            "findings": progress.get("findings", []),
            "note": run.note,
        }
