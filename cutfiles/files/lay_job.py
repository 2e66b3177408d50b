"""The job file of one lay of a plan: the order's own file, but for what lies in that lay."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import tomlkit

_COUNTED: Final = ("wearers", "women", "quantity", "overcut", "cloth")


@dataclass(frozen=True, slots=True)
class LayLine:
    """Caps of a lay: the number of the order's table of caps, from 1, the size where that table
    counts heads, and how many are cut."""

    number: int
    size: str
    quantity: int


def lay_job_bytes(
    order: dict[str, Any],
    *,
    cloth: str,
    plies: int,
    lines: Sequence[LayLine],
    title: str,
    machine_file: str | None,
) -> bytes:
    """The bytes of a lay's job file, from the tables of the order's.

    ``machine_file`` is the machine's file seen from where the lay's is written. The cloth has no
    length: that there is enough of it is for the plan to see to.
    """
    (table,) = (one for one in order["cloth"] if one["name"] == cloth)
    spread = {key: value for key, value in table.items() if key != "length"} | {"plies": plies}
    caps = []
    for line in lines:
        of_order = order["caps"][line.number - 1]
        row = {key: value for key, value in of_order.items() if key not in _COUNTED}
        if "wearers" in of_order:
            row["size"] = line.size
        caps.append(row | {"quantity": line.quantity})
    machine = dict(order["machine"])
    if machine_file is not None:
        machine["file"] = machine_file
    tables: dict[str, Any] = {"title": title}
    if "length_unit" in order:
        tables["length_unit"] = order["length_unit"]
    tables |= {"cloth": [spread], "caps": caps, "machine": machine}
    if "costs" in order:
        tables["costs"] = order["costs"]
    return tomlkit.dumps(tables).encode("utf-8")
