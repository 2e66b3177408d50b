"""The strip engine's own process: ``python -m cutfiles.lay.strip_worker``.

Reads one JSON line from standard input, writes a JSON line for every better layout to standard
output, the last one marked ``"final": true``. It ends by itself when the solver does, and at
once when standard input closes: when the program that started it is gone.

In: ``{"width", "gap", "seconds", "seed", "workers", "explore_only", "shapes": [{"points",
"turns", "count"}]}``.
Out: ``{"length", "spots": [[shape, turn_deg, dx, dy], …], "final"}``.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from typing import Any

import spyrrow

_POLL_SECONDS = 0.05


def main() -> None:
    """Solve the one problem on standard input."""
    request = json.loads(sys.stdin.readline())
    threading.Thread(target=_end_with_parent, daemon=True).start()
    instance, config = _instance(request), _config(request)
    progress = spyrrow.ProgressQueue()
    answer: list[Any] = []
    solver = threading.Thread(
        target=lambda: answer.append(instance.solve(config, progress=progress)), daemon=True
    )
    solver.start()
    best = float("inf")
    while solver.is_alive():
        solver.join(_POLL_SECONDS)
        for kind, solution in progress.drain():
            feasible = kind in (spyrrow.ReportType.ExplFeas, spyrrow.ReportType.CmprFeas)
            if feasible and solution.width < best:
                best = solution.width
                _say(solution, final=False)
    if answer:
        _say(answer[0], final=True)


def _instance(request: dict[str, Any]) -> spyrrow.StripPackingInstance:
    items = [
        spyrrow.Item(
            str(index),
            [tuple(point) for point in shape["points"]],
            demand=shape["count"],
            allowed_orientations=shape["turns"],
        )
        for index, shape in enumerate(request["shapes"])
    ]
    return spyrrow.StripPackingInstance("strip", strip_height=request["width"], items=items)


def _config(request: dict[str, Any]) -> spyrrow.StripPackingConfig:
    seconds = request["seconds"]
    if request.get("explore_only"):  # whoever asks ends the process when the time is up
        times = {"total": None, "explore": seconds + 1, "compress": 1}
    else:
        times = {"total": seconds, "explore": None, "compress": None}
    return spyrrow.StripPackingConfig(
        early_termination=False,
        min_items_separation=request["gap"] or None,
        total_computation_time=times["total"],
        exploration_time=times["explore"],
        compression_time=times["compress"],
        num_workers=request["workers"],
        seed=request["seed"],
    )


def _say(solution: Any, *, final: bool) -> None:
    spots = [
        [int(item.id), item.rotation, item.translation[0], item.translation[1]]
        for item in solution.placed_items
    ]
    line = json.dumps({"length": solution.width, "spots": spots, "final": final})
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def _end_with_parent() -> None:
    sys.stdin.read()
    os._exit(0)


if __name__ == "__main__":
    main()
