"""What a single key of a job file may hold: validators of lengths, counts, choices and texts.

Each raises ``ValueError`` with what is wrong, the limit and the mend. Lengths come out in
millimetres; the validation context's ``length_unit`` is the unit of plain numbers.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

from pydantic import BeforeValidator, ValidationInfo

from cutfiles.errors import nearest
from cutfiles.job.job import MOST_PIECES
from cutfiles.units import (
    parse_acceleration_mm_s2,
    parse_length_mm,
    parse_speed_mm_s,
    parse_time_s,
)

PANEL_FORMATS: Final = (".svg", ".dxf")

MOST_CORNERS: Final = 500
FARTHEST_MM: Final = 200_000.0
"""Along any cloth."""

AS_MANY: Final = "as many as fit"
"""In place of a quantity: all the caps that the cloth on hand gives."""


Kind = Literal[
    "length", "number", "count", "quantity", "two lengths", "choice", "text", "colour", "names",
    "drawing", "outline", "speed", "acceleration", "time",
]  # fmt: skip


@dataclass(frozen=True)
class Rule(BeforeValidator):
    """The check of a key, and what whoever fills it in is told of it: lengths in mm, speeds in
    mm/s, accelerations in mm/s2, times in s."""

    kind: Kind = "text"
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    mend: str = ""


def length(low_mm: float, high_mm: float, mend: str, *, zero: bool = False) -> Rule:
    """A length above ``low_mm`` (from 0 where ``zero``) and up to ``high_mm``."""

    def parse(value: object, info: ValidationInfo) -> float:
        context: dict[str, str] = info.context or {}
        length_mm = parse_length_mm(value, default_unit=context.get("length_unit", "mm"))
        if not (low_mm < length_mm <= high_mm or (zero and length_mm == 0.0)):
            bound = "0 or more" if zero else f"more than {low_mm:g}"
            raise ValueError(
                f"is {length_mm:.7g} mm, and must be {bound} and at most {high_mm:g} mm: {mend}"
            )
        return length_mm

    return Rule(parse, kind="length", low=low_mm, high=high_mm, mend=mend)


def number(low: float, high: float, mend: str) -> Rule:
    """A plain number from ``low`` to ``high``."""

    def parse(value: object) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ValueError(f"is not a number: {mend}")
        if not low <= value <= high:
            raise ValueError(f"must be {low:.9g} to {high:.9g}: {mend}")
        return float(value)

    return Rule(parse, kind="number", low=low, high=high, mend=mend)


def price(mend: str) -> Rule:
    """What something costs."""
    return number(0, 1_000_000, mend)


def _counted(value: object, low: int, high: int, mend: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError(f"is not a whole number: {mend}")
    if not low <= value <= high:
        raise ValueError(f"must be {low} to {high}: {mend}")
    return value


def count(low: int, high: int, mend: str) -> Rule:
    """A whole number from ``low`` to ``high``."""

    def parse(value: object) -> int:
        return _counted(value, low, high, mend)

    return Rule(parse, kind="count", low=low, high=high, mend=mend)


def quantity(mend: str) -> Rule:
    """A count, or `AS_MANY`."""

    def parse(value: object) -> int | str:
        if isinstance(value, str):
            if value != AS_MANY:
                raise ValueError(f'must be a number, or "{AS_MANY}": {mend}')
            return value
        return _counted(value, 1, MOST_PIECES, mend)

    return Rule(parse, kind="quantity", low=1, high=MOST_PIECES, choices=(AS_MANY,), mend=mend)


def _two_lengths(
    value: object, info: ValidationInfo, what: str, *, zero: bool
) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise ValueError(f"must be two lengths, [along, across]: give {what}")
    context: dict[str, str] = info.context or {}
    unit = context.get("length_unit", "mm")
    along, across = (parse_length_mm(part, default_unit=unit) for part in value)
    least = min(along, across)
    if least < 0.0 or (least == 0.0 and not zero):
        raise ValueError(f"must be {'0 or more' if zero else 'more than 0'}: give {what}")
    if max(along, across) > FARTHEST_MM:
        raise ValueError(f"must be at most {FARTHEST_MM:g} mm: give {what}")
    return along, across


def pair(what: str, *, zero: bool) -> Rule:
    """Two lengths, along the cloth and across it."""

    def parse(value: object, info: ValidationInfo) -> tuple[float, float]:
        return _two_lengths(value, info, what, zero=zero)

    return Rule(parse, kind="two lengths", low=0.0, high=FARTHEST_MM, mend=f"give {what}")


def place(what: str) -> Rule:
    """Two lengths of either sign, along the cloth and across it."""

    def parse(value: object, info: ValidationInfo) -> tuple[float, float]:
        if not isinstance(value, list) or len(value) != 2:
            raise ValueError(f"must be two lengths, [along, across]: give {what}")
        context: dict[str, str] = info.context or {}
        unit = context.get("length_unit", "mm")
        along, across = (parse_length_mm(part, default_unit=unit) for part in value)
        if max(abs(along), abs(across)) > FARTHEST_MM:
            raise ValueError(f"must be at most {FARTHEST_MM:g} mm either way: give {what}")
        return along, across

    return Rule(parse, kind="two lengths", low=-FARTHEST_MM, high=FARTHEST_MM, mend=f"give {what}")


def choice(*names: str) -> Rule:
    """One of some names."""

    def parse(value: object) -> str:
        if isinstance(value, str) and value in names:
            return value
        listed = ", ".join(f'"{name}"' for name in names)
        same = (name for name in names if name.lower() == str(value).lower())
        near = next(same, None) or nearest(str(value), names)
        hint = f' (did you mean "{near}"?)' if near else ""
        raise ValueError(f"must be one of {listed}{hint}")

    return Rule(parse, kind="choice", choices=names)


def text(most: int) -> Rule:
    """Text that can be shown and written anywhere: not blank, no control characters."""

    def parse(value: object) -> str:
        if not isinstance(value, str):
            raise ValueError("must be text in quotes")
        if not value.strip():
            raise ValueError("must not be empty")
        if len(value) > most:
            raise ValueError(f"must be at most {most} characters")
        if any(unicodedata.category(c) in ("Cc", "Cs", "Cn", "Co") for c in value):
            raise ValueError("holds control characters or ones that no file can show: retype it")
        return value

    return Rule(parse, kind="text", high=most)


def colour() -> Rule:
    """``#rrggbb``, in small letters."""

    def parse(value: object) -> str:
        if not isinstance(value, str) or not re.fullmatch("#[0-9A-Fa-f]{6}", value):
            raise ValueError('is no colour: give red, green and blue as "#rrggbb"')
        return value.lower()

    return Rule(parse, kind="colour")


def names(what: str) -> Rule:
    """A name, or a list of names."""

    def parse(value: object) -> tuple[str, ...]:
        names = [value] if isinstance(value, str) else value
        if not isinstance(names, list) or not all(isinstance(n, str) and n for n in names):
            raise ValueError(f"is no name: give {what}, or a list of them, in quotes")
        return tuple(names)

    return Rule(parse, kind="names", mend=f"give {what}, or several")


def _drawing_name(value: object) -> str:
    if not isinstance(value, str) or not value.lower().endswith(PANEL_FORMATS):
        raise ValueError("must be an SVG or DXF file: give its name with .svg or .dxf")
    return value


def drawing() -> Rule:
    """The name of a drawing."""
    return Rule(_drawing_name, kind="drawing")


def outline() -> Rule:
    """The name of a drawing, or the corners of a remnant in order."""

    def parse(value: object, info: ValidationInfo) -> object:
        if isinstance(value, str):
            return _drawing_name(value)
        if not isinstance(value, list) or not 3 <= len(value) <= MOST_CORNERS:
            raise ValueError(
                f"must be the name of a drawing, or a list of 3 to {MOST_CORNERS} corners, each "
                "[along, across]"
            )
        return tuple(_two_lengths(part, info, "every corner", zero=True) for part in value)

    return Rule(parse, kind="outline")


def speed(high_mm_s: float, mend: str) -> Rule:
    """A speed above 0, in mm/s."""
    return _rate("speed", parse_speed_mm_s, high_mm_s, "mm/s", mend)


def acceleration(high_mm_s2: float, mend: str) -> Rule:
    """An acceleration above 0, in mm/s2."""
    return _rate("acceleration", parse_acceleration_mm_s2, high_mm_s2, "mm/s2", mend)


def _rate(kind: Kind, parse_rate: Callable[..., float], high: float, unit: str, mend: str) -> Rule:
    def parse(value: object, info: ValidationInfo) -> float:
        context: dict[str, str] = info.context or {}
        rate = parse_rate(value, default_unit=context.get("length_unit", "mm"))
        if not 0.0 < rate <= high:
            raise ValueError(
                f"is {rate:.7g} {unit}, and must be more than 0 and at most {high:g} {unit}: {mend}"
            )
        return rate

    return Rule(parse, kind=kind, low=0.0, high=high, mend=mend)


def time(high_s: float, mend: str) -> Rule:
    """A time from 0 on, in s."""

    def parse(value: object) -> float:
        time_s = parse_time_s(value)
        if not 0.0 <= time_s <= high_s:
            raise ValueError(f"is {time_s:g} s, and must be 0 to {high_s:g} s: {mend}")
        return time_s

    return Rule(parse, kind="time", low=0.0, high=high_s, mend=mend)
