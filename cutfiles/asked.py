"""What Ctrl-C and SIGTERM ask of the program, and when it may do so."""

from __future__ import annotations

import os
import signal
import sys
from types import FrameType

from cutfiles.errors import TERMINATED

_ASK_AGAIN_S = 0.05


class EndedError(Exception):
    """The program is to end at once. Not a KeyboardInterrupt, which typer takes for itself."""


class Asked:
    """What Ctrl-C has asked for: the first time, that the search end with its best; the second
    time, that the program end."""

    def __init__(self) -> None:
        self._is_loading = True
        self._stop = False
        self._is_terminated = False
        self.nest_was_stopped = False

    def go_on_unless_stopped(self) -> None:
        """The libraries are loaded: a Ctrl-C before that ends the program."""
        self._is_loading = False
        if self._stop:
            raise EndedError

    def on_interrupt(self, _signal: int, frame: FrameType | None) -> None:
        """Handle a Ctrl-C."""
        if self._stop and not _is_loading_or_compiling(frame):
            raise EndedError
        self._stop = True

    def on_terminate(self, _signal: int, frame: FrameType | None) -> None:
        """Handle a SIGTERM: end at once, by an exception that takes half files away."""
        if self._is_loading:  # libraries swallow an exception in their midst, or crash by it
            os._exit(TERMINATED)
        self._stop = True  # so that searches on other threads end too
        self._is_terminated = True
        # then, too: ask again when it is done, where there are timers to wake it
        if hasattr(signal, "setitimer") and _is_loading_or_compiling(frame):
            signal.signal(signal.SIGALRM, self.on_terminate)
            signal.setitimer(signal.ITIMER_REAL, _ASK_AGAIN_S)
            return
        sys.exit(TERMINATED)

    def end_if_terminated(self) -> None:
        """End by SIGTERM where that is still to be asked again, however the program was to end: a
        timer that ran on would end it while it is taken apart."""
        if self._is_terminated:
            if hasattr(signal, "setitimer"):
                signal.setitimer(signal.ITIMER_REAL, 0.0)
            sys.exit(TERMINATED)

    def stop_nest(self) -> bool:
        """Whether a search is to end with its best so far."""
        self.nest_was_stopped = self.nest_was_stopped or self._stop
        return self._stop


def _is_loading_or_compiling(frame: FrameType | None) -> bool:
    """Whether what the program is doing goes through the import system or numba."""
    while frame is not None:
        module = str(frame.f_globals.get("__name__", "")).partition(".")[0]
        if module in ("importlib", "_frozen_importlib", "numba", "llvmlite"):
            return True
        frame = frame.f_back
    return False
