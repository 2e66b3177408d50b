"""``python -m cutfiles``, and the command of that name."""

from __future__ import annotations

import atexit
import gc
import os
import signal

from cutfiles.errors import INTERRUPTED


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

    run()


if __name__ == "__main__":
    start()
