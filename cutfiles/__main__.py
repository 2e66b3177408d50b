"""``python -m cutfiles``, and the command of that name."""

from __future__ import annotations

import atexit
import gc
import os
import signal
import sys
import threading
from contextlib import suppress

from cutfiles.errors import INTERRUPTED, TERMINATED

_THREADS_S = 20.0
"""So long a run that was terminated waits for each of its threads to end."""


def start() -> None:
    """Load the program and run it; whoever interrupts it while it loads is told nothing."""
    # not as an exception: Python ends by the signal, not by a status, after one within ``exec``,
    # which dataclasses use while they load
    signal.signal(signal.SIGINT, lambda _signal, _frame: os._exit(INTERRUPTED))
    # most of what is made here lives to the end: looking it through for garbage so often as Python
    # does by itself takes a tenth of a short command's time
    gc.set_threshold(100_000, 50, 50)
    atexit.register(gc.freeze)  # nor need it be looked through before the process ends
    # no matrix here is large enough for threads of numpy's, whose start takes longer than the work
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # its plugins, of which none is used, would be looked for among all that is installed
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    from cutfiles.cli import run

    try:
        run()
    except SystemExit as ended:
        if ended.code == TERMINATED:
            _end_at_once()
        raise


def _end_at_once() -> None:
    """End when half files are away and searches have ended their own processes, and leave the
    taking apart of libraries out: what was stopped midway may crash in it."""
    for thread in threading.enumerate():
        if thread is not threading.current_thread() and not thread.daemon:
            thread.join(_THREADS_S)
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError):  # nobody reads it any more
            stream.flush()
    os._exit(TERMINATED)


if __name__ == "__main__":
    start()
