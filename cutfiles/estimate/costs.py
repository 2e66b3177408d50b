"""What an order costs: only what is measured of its pieces and lays, times the job's own prices."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from cutfiles.estimate.figures import ClothFigures
from cutfiles.job.job import Costs
from cutfiles.units import counted


@dataclass(frozen=True, slots=True)
class CapNeeds:
    """What all caps of an order take beside cloth: how many they are, elastic and thread in mm."""

    caps: int
    elastic_mm: float
    thread_mm: float


@dataclass(frozen=True, slots=True)
class Bill:
    """What an order costs, part by part, in a currency. ``lays`` has the cloth and machine time of
    every lay that was nested."""

    currency: str
    caps: int
    parts: tuple[tuple[str, float], ...]
    lays: tuple[tuple[str, float], ...]

    @property
    def total(self) -> float:
        """All parts."""
        return sum(cost for _, cost in self.parts)

    def lines(self) -> Iterator[str]:
        """In words."""
        money = [f"{name} {cost:.2f}" for name, cost in self.parts]
        each = f", {self.total / self.caps:.2f} a cap" if self.caps else ""
        what = counted(self.caps, "cap")
        yield f"{what}: {self.total:.2f} {self.currency}{each} ({', '.join(money)})"
        for name, cost in self.lays:
            yield f"{name}: {cost:.2f} {self.currency} of cloth and machine"

    def table(self) -> dict[str, Any]:
        """As plain values."""
        return {
            "currency": self.currency,
            "parts": {name: round(cost, 4) for name, cost in self.parts},
            "total": round(self.total, 4),
            "a_cap": round(self.total / self.caps, 4) if self.caps else None,
            "lays": {name: round(cost, 4) for name, cost in self.lays},
        }


def bill_of(costs: Costs, figures: Sequence[ClothFigures], needs: CapNeeds) -> Bill:
    """The bill of an order.

    Cloth is what was drawn for the nested lays, or the likely length; machine time is known of
    nested lays alone, and hands take the job's own minutes a cap. Parts without a price are left
    out.
    """
    parts: list[tuple[str, float]] = []
    lays: list[tuple[str, float]] = []
    machine_s = 0.0
    for one in figures:
        price = one.cloth.price_mm or 0.0
        if one.takes is None:
            continue
        if one.cloth.price_mm is not None:
            nested = one.takes.nested_mm
            parts.append((one.cloth.name, price * (nested or one.takes.likely_mm)))
        for lay in one.lays:
            machine_s += lay.seconds
            cost = price * lay.drawn_mm + costs.machine_hour * lay.seconds / 3600.0
            lays.append((f"{one.cloth.name}, lay {len(lays) + 1}", cost))
    for name, cost in (
        ("elastic", costs.elastic_mm * needs.elastic_mm),
        ("thread", costs.thread_mm * needs.thread_mm),
        ("machine", costs.machine_hour * machine_s / 3600.0),
        ("hands", costs.hands_hour * costs.minutes_a_cap * needs.caps / 60.0),
    ):
        if cost:
            parts.append((name, cost))
    return Bill(costs.currency, needs.caps, tuple(parts), tuple(lays))
