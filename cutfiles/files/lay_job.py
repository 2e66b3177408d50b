"""The job file of one lay of a plan: the order's own file, but for what lies in that lay."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import tomlkit

_COUNTED: Final = ("wearers", "women", "quantity", "sets", "overcut", "cloth")


@dataclass(frozen=True, slots=True)
class LayLine:
    """Caps of a lay: the number of the order's table of caps, from 1, the size where that table
    counts heads, how many are cut, and which pieces of them, where not all."""

    number: int
    size: str
    quantity: int
    pieces: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LayPanels:
    """Panels of a lay: the number of the order's table of panels, from 1, its drawing as seen from
    where the lay's job is written, and the key and number of how many are cut."""

    number: int
    file: str
    key: str
    count: int


def lay_job_bytes(
    order: dict[str, Any],
    *,
    cloth: str,
    roll: str | None,
    plies: int,
    lines: Sequence[LayLine],
    panels: Sequence[LayPanels],
    title: str,
    machine_file: str | None,
    shelf: str | None,
) -> bytes:
    """The bytes of a lay's job file, from the tables of the order's.

    A ``roll`` is named where the cloth has several. ``machine_file`` and ``shelf`` are these files
    seen from where the lay's is written; there is a ``shelf`` where the cloth is drawn from one.
    Other cloth has no length: that there is enough of it is for the plan to see to. Nor are there
    costs where only pieces of caps are cut.
    """
    tables = [one for one in order["cloth"] if one["name"] == cloth]
    table = next(one for one in tables if roll is None or one.get("roll", roll) == roll)
    spread = {key: value for key, value in table.items() if key != "length"} | {"plies": plies}
    spread |= {} if roll is None else {"roll": roll}
    caps = []
    for line in lines:
        of_order = order["caps"][line.number - 1]
        row = {key: value for key, value in of_order.items() if key not in _COUNTED}
        if line.pieces:
            row = _of_pieces(row, line.pieces)
        if "wearers" in of_order:
            row["size"] = line.size
        caps.append(row | {"quantity": line.quantity})
    machine = dict(order["machine"])
    if machine_file is not None:
        machine["file"] = machine_file
    job: dict[str, Any] = {"title": title}
    if "length_unit" in order:
        job["length_unit"] = order["length_unit"]
    if shelf is not None:
        job["shelf"] = shelf
    job |= {"cloth": [spread]}
    if caps:
        job["caps"] = caps
    if panels:
        job["panels"] = [
            {k: v for k, v in order["panels"][one.number - 1].items() if k not in _COUNTED}
            | {"file": one.file, one.key: one.count}
            for one in panels
        ]
    job["machine"] = machine
    if "costs" in order and not any(line.pieces for line in lines):
        job["costs"] = order["costs"]
    return tomlkit.dumps(job).encode("utf-8")


def _of_pieces(row: dict[str, Any], pieces: Sequence[str]) -> dict[str, Any]:
    """A table of caps for some of their pieces."""
    kept: dict[str, Any] = {}
    for key, value in row.items():
        if key == "match":
            kept[key] = [name for name in value if name in pieces]
        elif key in ("grain", "tilt"):
            kept[key] = {name: one for name, one in value.items() if name in pieces}
        elif key not in ("from", "pieces"):
            kept[key] = value
    return kept | {"pieces": list(pieces)}
