"""The strip engine: the strip-packing library `spyrrow`, held at arm's length.

It runs in a child process, so that neither a crash nor a stop of the solver can take the
program with it. The child reports every better layout; whatever ends the search, the best of
them is what comes back.
"""

from __future__ import annotations

import json
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

import shapely

from cutfiles.geometry.polygons import moved_polygon
from cutfiles.geometry.vector import Motion, Vector
from cutfiles.lay.problem import Shape, Spot, StripLayout, StripProblem, Watch

ENGINE = "strip"

_POLL_SECONDS = 0.05
_GRACE_SECONDS = 0.2
"""The solver counts whole seconds from its own start, and may overrun them a little."""


def nest_on_strip(
    problem: StripProblem, *, seed: int, workers: int, watch: Watch, explore_only: bool = False
) -> StripLayout | None:
    """The shortest layout found before the watch ends the search; None if there was none.

    ``workers`` is the number of threads that the solver gives its search. Where the caller
    compacts layouts itself, ``explore_only`` leaves the solver's own compression out and keeps to
    the watch's time to a part of a second.

    The search is bound by time alone: the same seed need not find the same layout twice. The
    layout is as the engine gives it, in single precision, and is for the caller to judge.
    """
    best: StripLayout | None = None
    grace = 0.0 if explore_only else _GRACE_SECONDS
    end = time.monotonic() + watch.seconds_left + grace
    request = _request(problem, seed, workers, watch.seconds_left, explore_only)
    with _child(request) as lines:
        while time.monotonic() < end and not watch.stop():
            try:
                line = lines.get(timeout=_POLL_SECONDS)
            except queue.Empty:
                continue
            if line is None:
                break
            message = json.loads(line)
            layout = _layout(problem, message)
            if best is None or layout.length < best.length:
                best = layout
                watch.improved(layout, watch.seconds_left)
            if message["final"] or watch.is_enough(layout):
                break
    return best


def _request(
    problem: StripProblem, seed: int, workers: int, seconds: float, explore_only: bool
) -> bytes:
    """The problem for the child. The solver keeps its gap to the strip's edges too, so the
    strip is widened by what that is more than the margin."""
    shapes = [
        {
            "points": shapely.get_coordinates(shape.search_outline.exterior)[:-1].tolist(),
            "turns": list(shape.turns_deg),
            "count": shape.count,
        }
        for shape in problem.shapes
    ]
    request = {
        "width": problem.width + 2.0 * (problem.gap - problem.margin),
        "gap": problem.gap,
        "seconds": max(1, round(seconds)),
        "seed": seed,
        "workers": workers,
        "explore_only": explore_only,
        "shapes": shapes,
    }
    return json.dumps(request).encode() + b"\n"


def _layout(problem: StripProblem, message: dict[str, Any]) -> StripLayout:
    """The child's answer on our strip, moved so that the first piece lies on the margin."""
    spots = [
        Spot(index, Motion(_nearest_turn(problem.shapes[index], turn), Vector(dx, dy)))
        for index, turn, dx, dy in message["spots"]
    ]
    boxes = [moved_polygon(problem.shapes[s.shape].outline, s.motion).bounds for s in spots]
    back = problem.margin - min(box[0] for box in boxes)
    down = problem.margin - problem.gap
    moved = tuple(
        Spot(s.shape, Motion(s.motion.turn_deg, s.motion.shift + Vector(back, down))) for s in spots
    )
    length = max(box[2] for box in boxes) + back + problem.margin
    return StripLayout(moved, length, ENGINE)


def _nearest_turn(shape: Shape, turn_deg: float) -> float:
    """The allowed turn that a single-precision angle stands for."""
    return min(shape.turns_deg, key=lambda allowed: abs((turn_deg - allowed + 180) % 360 - 180))


@contextmanager
def _child(request: bytes) -> Iterator[queue.Queue[bytes | None]]:
    """A running solver and its lines as they come; None once it has ended. Always reaped."""
    process = subprocess.Popen(
        [sys.executable, "-m", "cutfiles.lay.strip_worker"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        start_new_session=True,  # Ctrl-C is for the parent, which keeps the best so far
    )
    lines: queue.Queue[bytes | None] = queue.Queue()
    assert process.stdin is not None
    assert process.stdout is not None
    out = process.stdout

    def listen() -> None:
        for line in out:
            if line.endswith(b"\n"):  # a torn line is what a killed child leaves
                lines.put(line)
        lines.put(None)

    listener = threading.Thread(target=listen, daemon=True)
    listener.start()
    try:
        try:
            process.stdin.write(request)
            process.stdin.flush()
        except BrokenPipeError:
            pass  # it died at once: the listener says so
        yield lines
    finally:
        process.kill()
        process.wait()
        listener.join()
        for stream in (process.stdin, process.stdout):
            with suppress(BrokenPipeError):
                stream.close()
