"""One run, a process of its own: ``python -m cutfiles.web.run_one FOLDER``.

It makes the folder's job as `make` does, and writes how far it is beside it, so that it outlives
the page, the server and its own end: whatever happens to it, the job is untouched.
"""

from __future__ import annotations

import shutil
import sys
import threading
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from cutfiles.web.held import Held
from cutfiles.web.run_folder import RunFolder

_SAY_SECONDS: Final = 0.3
"""How often news is written: often enough for a page that asks twice a second."""

_LOOKED_AT_SECONDS: Final = 5.0
"""A server that looks whether the run lives holds its file for an instant."""

_REST: Final = 20.0
"""So many times as long as writing news takes there is none: the search has the rest."""

_LOOK_SECONDS: Final = 0.1
"""How often it is looked whether the run is to end."""

_Row = dict[str, Any]
"""A lay, to be drawn."""


class _CancelledError(Exception):
    """The run is to leave nothing."""


class _Teller:
    """What is known of a run, written down from a thread of its own, so that no search waits."""

    def __init__(self, folder: RunFolder) -> None:
        self._folder = folder
        self._table: dict[str, Any] = {
            "state": "nesting", "began": None, "step": 0, "lays": [], "findings": [], "note": "",
        }  # fmt: skip
        self._news: dict[str, Callable[[], list[_Row]]] = {}
        self._drawn: dict[str, list[_Row]] = {}
        self._lock = threading.Lock()
        self._over = threading.Event()
        self.is_stopped = False
        self.is_cancelled = False
        self._say()
        self._thread = threading.Thread(target=self._watch, daemon=True)
        self._thread.start()

    def hear(self, cloth: str, lays: Callable[[], list[_Row]]) -> None:
        """News of a cloth: how its lays look is only worked out when it is written down."""
        with self._lock:
            self._news[cloth] = lays
            self._table["began"] = self._table["began"] or time.time()

    def now(self, state: str, **more: Any) -> None:
        """Write down a new state at once."""
        with self._lock:
            self._table |= {"state": state, **more}
            if "lays" in more:
                self._table["step"] += 1
            self._say()

    def end(self, state: str, **more: Any) -> None:
        """Write down the last state."""
        self._over.set()
        self._thread.join()
        self.now(state, **{"ended": self._table.get("ended", time.time()), **more})

    def _watch(self) -> None:
        ready = time.monotonic()
        while not self._over.wait(_LOOK_SECONDS):
            self.is_cancelled = self.is_cancelled or self._folder.is_asked("cancel")
            self.is_stopped = self.is_stopped or self.is_cancelled or self._folder.is_asked("stop")
            if time.monotonic() >= ready:
                began = time.monotonic()
                with suppress(OSError):  # a full disk: marks are looked for all the same
                    self._draw()
                now = time.monotonic()
                ready = now + max(_SAY_SECONDS, _REST * (now - began))

    def _draw(self) -> None:
        with self._lock:
            news, self._news = self._news, {}
            if not news or self._table["state"] != "nesting":
                return
        drawn = {cloth: lays() for cloth, lays in news.items()}
        with self._lock:
            if self._table["state"] != "nesting":
                return
            self._drawn |= drawn
            lays = [lay for of_cloth in self._drawn.values() for lay in of_cloth]
            named = [{**lay, "name": f"lay-{number:02d}"} for number, lay in enumerate(lays, 1)]
            self._table |= {"lays": named, "step": self._table["step"] + 1}
            self._say()

    def _say(self) -> None:
        self._folder.say(self._table)


def main(path: Path) -> None:
    """Do the run of a folder, and say how it ended."""
    folder = RunFolder(path)
    held = Held(folder.alive, wait_s=_LOOKED_AT_SECONDS)
    teller = _Teller(folder)
    try:
        _make(folder, teller)
    except BaseException:
        traceback.print_exc()
        note = f"the program made a mistake of its own; {folder.log} tells more; the job is kept"
        teller.end("failed", note=note)
    finally:
        held.let_go()


def _make(folder: RunFolder, teller: _Teller) -> None:
    # loaded when there is somebody to tell of it
    from cutfiles.effort import Effort, Progress
    from cutfiles.errors import CutfilesError
    from cutfiles.pipeline.make import make_job
    from cutfiles.pipeline.shown_lays import lay_rows, shown_lays
    from cutfiles.pipeline.store import Store

    task = folder.task()

    def report(news: Progress) -> None:
        teller.hear(news.cloth, lambda: lay_rows(news.lays()))

    def found(lays: Any) -> None:
        if teller.is_cancelled:
            raise _CancelledError
        teller.now("writing", ended=time.time(), lays=lay_rows(shown_lays(lays)))

    effort = Effort(task["seconds"], task["seed"], lambda: teller.is_stopped, report)
    if not task["anew"]:
        store = Store()
        effort = Effort(
            task["seconds"], task["seed"], effort.stop, report, store.recall, store.keep
        )
    try:
        made = make_job(folder.job, folder.out, effort, found)
    except CutfilesError as error:
        rows = [finding.table() for finding in error.findings]
        teller.end("failed", findings=rows, note="the job cannot be nested: see the findings")
    except _CancelledError:
        teller.end("cancelled", lays=[])
    except KeyboardInterrupt:
        teller.end("cancelled", note="stopped before there was a lay: nothing was written")
    else:
        if folder.is_asked("cancel"):  # while its files were being written
            shutil.rmtree(folder.out)
            teller.end("cancelled", lays=[])
            return
        state = "stopped" if teller.is_stopped else "done"
        rows = [finding.table() for finding in made.findings]
        teller.end(state, findings=rows, cautions=made.cautions)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
