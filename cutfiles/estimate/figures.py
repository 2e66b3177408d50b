"""The figures of an estimate: what an order takes of a cloth, and what the cloth on hand gives."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from cutfiles.estimate.likely import WITHIN
from cutfiles.job.job import Cloth
from cutfiles.units import bought_mm, counted, format_bought, format_length, format_order


@dataclass(frozen=True, slots=True)
class Takes:
    """The cloth that an order takes, over all its plies and with their ends, in mm.

    It cannot be less than ``least_mm``; ``likely_mm`` is for ``lays`` lays. ``most_mm`` is always
    enough, None where no plain lay is known. ``nested_mm`` is what a nest took, if there was one.
    """

    lays: int
    least_mm: float
    likely_mm: float
    most_mm: float | None
    nested_mm: float | None = None

    @property
    def enough_mm(self) -> float:
        """What to have: what was nested, or the likely length and what that may be off by."""
        if self.nested_mm is not None:
            return self.nested_mm
        safe = self.likely_mm * (1.0 + WITHIN)
        return safe if self.most_mm is None else min(safe, self.most_mm)


@dataclass(frozen=True, slots=True)
class Gives:
    """Complete caps of the cloth on hand: at least, likely, and at most so many, by area.
    ``nested`` is what a nest placed, if there was one: these are proved, and more may fit."""

    least: int
    likely: int
    most: int
    nested: int | None = None

    def table(self) -> dict[str, Any]:
        """As plain values."""
        return {
            "least": self.least,
            "likely": self.likely,
            "most": self.most,
            "nested": self.nested,
        }


@dataclass(frozen=True, slots=True)
class LayFigures:
    """A nested lay: the cloth drawn for all its plies, and how long the machine cuts it."""

    drawn_mm: float
    seconds: float


@dataclass(frozen=True, slots=True)
class ClothFigures:
    """One cloth of a job: caps and panels ordered of it, what they take, what it gives. An order on
    remnants takes no length, and cloth without an end gives no number. ``is_part`` says that some
    caps have pieces from other cloths, too."""

    cloth: Cloth
    caps: int
    panels: int
    net_mm2: float
    takes: Takes | None
    gives: Gives | None
    lays: tuple[LayFigures, ...] = ()
    is_part: bool = False

    def lines(self, unit: str) -> Iterator[str]:
        """In words."""
        name, order = self.cloth.name, format_order(self.caps, self.panels)
        order = f"parts of {order}" if self.is_part else order
        if self.takes:
            yield f"{name}: {order}, {_takes_text(self.takes, unit)}"
        if self.gives:
            given = _gives_text(self.gives, is_part=self.is_part)
            yield f"{name}: {_on_hand(self.cloth, unit)} for {given}"

    def table(self, unit: str) -> dict[str, Any]:
        """As plain values."""
        table: dict[str, Any] = {
            "cloth": self.cloth.name,
            "usable_width_mm": round(self.cloth.usable_width_mm, 3),
            "plies": self.cloth.layers,
            "caps": self.caps,
            "panels": self.panels,
            "pieces_area_mm2": round(self.net_mm2, 1),
        }
        if self.takes:
            takes = self.takes
            table["takes"] = {
                "lays": takes.lays,
                "least_mm": round(takes.least_mm, 1),
                "likely_mm": round(takes.likely_mm, 1),
                "most_mm": None if takes.most_mm is None else round(takes.most_mm, 1),
                "nested_mm": None if takes.nested_mm is None else round(takes.nested_mm, 1),
                "buy_mm": round(bought_mm(takes.enough_mm, unit), 1),
                "buy": format_bought(takes.enough_mm, unit),
            }
        if self.gives:
            table["gives"] = self.gives.table()
        return table


def complete(figures: Sequence[ClothFigures]) -> Gives | None:
    """Whole caps of cloths that each give parts of the same ones: as many as the scarcest gives.
    None where fewer than two of them have an end."""
    given = [one.gives for one in figures if one.gives is not None]
    if len(given) < 2:
        return None
    nested = [one.nested for one in given if one.nested is not None]
    return Gives(
        least=min(one.least for one in given),
        likely=min(one.likely for one in given),
        most=min(one.most for one in given),
        nested=min(nested) if len(nested) == len(given) else None,
    )


def _takes_text(takes: Takes, unit: str) -> str:
    bounds = f"at least {format_length(takes.least_mm, unit)}"
    if takes.most_mm is not None:
        bounds += f", at most {format_length(takes.most_mm, unit)}"
    buy = f"buy {format_bought(takes.enough_mm, unit)}"
    lays = counted(takes.lays, "lay")
    if takes.nested_mm is not None:
        return f"nested on {format_length(takes.nested_mm, unit)} in {lays} ({bounds}): {buy}"
    return f"about {format_length(takes.likely_mm, unit)} in {lays} ({bounds}): {buy}"


def complete_text(gives: Gives) -> str:
    """Whole caps of several cloths, in words."""
    return f"all cloths on hand together for {_gives_text(gives, is_part=False)}"


def _on_hand(cloth: Cloth, unit: str) -> str:
    if cloth.remnants:
        return f"{counted(len(cloth.remnants), 'remnant')}"
    rolls = f" in {len(cloth.rolls)} rolls" if cloth.rolls else ""
    return f"{format_length(cloth.length_mm or 0.0, unit)} on hand{rolls}"


def _gives_text(gives: Gives, *, is_part: bool) -> str:
    parts = "parts of " if is_part else ""
    bounds = f"at least {gives.least}, at most {gives.most}"
    if gives.nested is not None:
        return f"{parts}{counted(gives.nested, 'cap')}, nested ({bounds})"
    return f"{parts}about {counted(gives.likely, 'cap')} ({bounds})"
