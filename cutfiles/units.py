"""Lengths, speeds and times as people write them, to millimetres and seconds: the only place where
other units exist."""

from __future__ import annotations

import math
import re
import unicodedata
from typing import Final

MM_PER_UNIT: Final[dict[str, float]] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": 25.4,
    "ft": 304.8,
    "yd": 914.4,
}
"""Millimetres in one of each unit. The inch and yard are exact since the international yard
and pound agreement of 1959."""

MM_PER_CSS_UNIT: Final[dict[str, float]] = {
    "mm": 1.0, "cm": 10.0, "q": 0.25, "in": 25.4, "px": 25.4 / 96, "pt": 25.4 / 72,
    "pc": 25.4 / 6,
}  # fmt: skip
"""The lengths of a page (CSS Values and Units 3, chapter 6.2): 1 in = 96 px = 72 pt = 6 pc."""

MM_PER_DXF_UNIT: Final[dict[int, float]] = {
    1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 10: 914.4, 14: 100.0,
}  # fmt: skip
"""``$INSUNITS`` of a drawing, as the format's owner documents it; 0 is no unit."""

RULER_STEP_MM: Final[dict[str, float]] = {"mm": 1.0, "cm": 1.0, "in": 25.4 / 8}
"""The least that is measured with a ruler, by a job's length unit: a millimetre, or 1/8 in."""

_OTHER_NAMES: Final[dict[str, str]] = {
    "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
    "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "inch": "in", "inches": "in", '"': "in", "″": "in", "”": "in",
    "foot": "ft", "feet": "ft", "'": "ft", "′": "ft",
    "yard": "yd", "yards": "yd", "yds": "yd",
}  # fmt: skip

_NUMBER: Final = re.compile(
    r"""^(?P<sign>[+-]?)
    (?: (?P<whole>\d+(?:\.\d*)?|\.\d+) (?: (?:\s+|-|\s*\+\s*) (?P<num>\d+)/(?P<den>\d+) )?
      | (?P<only_num>\d+)/(?P<only_den>\d+) )
    \s* (?P<unit>[^\d\s./+-][^\d]*)?$""",
    re.VERBOSE,
)


def parse_length_mm(value: object, *, default_unit: str) -> float:
    """A length as the user wrote it, in millimetres.

    Parameters
    ----------
    value
        A number in ``default_unit``, or text such as ``"165 mm"``, ``"6 1/2 in"``, ``"6½ in"``
        or ``"1 1/4 yd"``. Text without a unit is in ``default_unit`` too.
    default_unit
        A key of `MM_PER_UNIT`.

    Raises
    ------
    ValueError
        If it is not a length, not finite, or in a unit that does not exist; the text says which
        and how to write it.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValueError('is not a length: write a number, or text such as "6 1/2 in" or "165 mm"')
    if isinstance(value, str):
        return _parse_text_mm(value, default_unit)
    if not math.isfinite(number := _finite(value)):
        raise ValueError("is not a finite length: write a number, such as 165")
    return number * MM_PER_UNIT[default_unit]


_SECONDS: Final[dict[str, float]] = {
    "s": 1.0, "sec": 1.0, "second": 1.0, "seconds": 1.0, "ms": 0.001, "min": 60.0,
    "minute": 60.0, "minutes": 60.0,
}  # fmt: skip


def parse_speed_mm_s(value: object, *, default_unit: str) -> float:
    """A speed, in mm/s: a number of ``default_unit`` a second, or text such as ``"100 mm/s"``,
    ``"6 m/min"``.

    Raises
    ------
    ValueError
        If it is not a speed; the text says how to write it.
    """
    return _per_time(value, default_unit, "speed", "100 mm/s", times=1)


def parse_acceleration_mm_s2(value: object, *, default_unit: str) -> float:
    """An acceleration, in mm/s2: a number of ``default_unit`` a second squared, or text such as
    ``"1000 mm/s2"``.

    Raises
    ------
    ValueError
        If it is not an acceleration; the text says how to write it.
    """
    return _per_time(value, default_unit, "acceleration", "1000 mm/s2", times=2)


def parse_time_s(value: object) -> float:
    """A time, in s: a number of seconds, or text such as ``"0.2 s"``, ``"200 ms"``.

    Raises
    ------
    ValueError
        If it is not a time; the text says how to write it.
    """
    mend = 'write a number of seconds, or text such as "0.2 s"'
    if isinstance(value, str):
        match = re.match(r"^\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*([a-z]*)\s*$", value.lower())
        if match is None or (match[2] or "s") not in _SECONDS:
            raise ValueError(f"is not a time: {mend}")
        return _finite(match[1]) * _SECONDS[match[2] or "s"]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"is not a time: {mend}")
    if not math.isfinite(number := _finite(value)):
        raise ValueError(f"is not a finite time: {mend}")
    return number


def _per_time(value: object, default_unit: str, what: str, example: str, *, times: int) -> float:
    """A length per second, or per second squared where ``times`` is 2."""
    mend = f'write it like "{example}", or as a number of {default_unit} a second'
    mend += " squared" if times == 2 else ""
    if not isinstance(value, str):
        try:
            return parse_length_mm(value, default_unit=default_unit)
        except ValueError:
            raise ValueError(f"is not a finite {what}: {mend}") from None
    plain = value.strip().lower().replace("\N{SUPERSCRIPT TWO}", "2").replace("^", "")
    power = r"(?:2|\s*/\s*(?P=unit))" if times == 2 else ""
    match = re.match(rf"^(?P<length>.*[^\s\d].*?)\s*/\s*(?P<unit>[a-z]+){power}$", plain)
    if match is None or match["unit"] not in _SECONDS:
        raise ValueError(f"is not a{'n' if what[0] == 'a' else ''} {what}: {mend}")
    return _parse_text_mm(match["length"], default_unit) / _SECONDS[match["unit"]] ** times


def format_length(length_mm: float, unit: str) -> str:
    """A length for people, in the unit of their job: ``"1583 mm"``, ``"62.3 in"``."""
    decimals = {"mm": 0, "cm": 1, "m": 3, "in": 1, "ft": 2, "yd": 2}[unit]
    return f"{length_mm / MM_PER_UNIT[unit]:.{decimals}f} {unit}"


def ruler_steps(length_mm: float, unit: str, *, up: bool) -> int:
    """Whole steps of the ruler that a length has, or with ``up`` that it takes."""
    steps = length_mm / RULER_STEP_MM[unit]
    # a hair of rounding neither costs a step nor gives one
    return math.ceil(steps - 1e-6) if up else math.floor(steps + 1e-6)


def format_steps(steps: int, unit: str) -> str:
    """A length in steps of the ruler: ``"6 1/2 in"``, ``"16.5 cm"``, ``"165 mm"``."""
    if unit == "mm":
        return f"{steps} mm"
    if unit == "cm":
        return f"{steps / 10:.1f} cm"
    return f"{_eighths(steps)} in"


def _eighths(count: int) -> str:
    """So many eighths as whole ones and a fraction: ``"6 1/2"``."""
    whole, rest = divmod(count, 8)
    divisor = math.gcd(rest, 8)
    fraction = [f"{rest // divisor}/{8 // divisor}"] if rest else []
    return " ".join([*([str(whole)] if whole or not rest else []), *fraction])


def priced_mm(unit: str) -> float:
    """The length that prices are for: a metre, or a yard where the unit of the job is the inch."""
    return MM_PER_UNIT["yd" if unit == "in" else "m"]


def format_like(written: object, length_mm: float, *, default_unit: str) -> float | str:
    """A length as a number in the default unit, or as text with its unit, as another was written;
    no longer than it is, and at most 0.001 of its unit shorter."""
    unit, is_text = default_unit, isinstance(written, str)
    if isinstance(written, str):
        match = _NUMBER.match(_spell_out_fractions(written).strip())
        unit = _known_unit(match["unit"] if match else None, default_unit)
    number = math.floor(length_mm / MM_PER_UNIT[unit] * 1000.0 + 1e-6) / 1000.0
    return f"{number:.12g} {unit}" if is_text else number


def bought_mm(length_mm: float, unit: str) -> float:
    """A length made longer to what shops sell: whole tenths of a metre, or of a yard whole eighths
    where the unit of the job is the inch."""
    step = _bought_step_mm(unit)
    return step * math.ceil(length_mm / step - 1e-9)


def format_bought(length_mm: float, unit: str) -> str:
    """A length as shops sell it: ``"1.8 m"``, ``"2 1/8 yd"``."""
    if unit != "in":
        return f"{bought_mm(length_mm, unit) / MM_PER_UNIT['m']:.1f} m"
    return f"{_eighths(round(bought_mm(length_mm, unit) / _bought_step_mm(unit)))} yd"


def _bought_step_mm(unit: str) -> float:
    return MM_PER_UNIT["yd"] / 8.0 if unit == "in" else MM_PER_UNIT["m"] / 10.0


def format_order(caps: int, panels: int) -> str:
    """``"12 caps"``, ``"10 panels"`` or both."""
    parts = [counted(caps, "cap")] if caps or not panels else []
    return " and ".join([*parts, counted(panels, "panel")] if panels else parts)


def counted(count: int, noun: str, plural: str = "") -> str:
    """``"1 cap"``, ``"2 caps"``, ``"2 plies"``: a noun whose plural takes an s, or has its own."""
    return f"{count} {noun}" if count == 1 else f"{count} {plural or f'{noun}s'}"


def _parse_text_mm(text: str, default_unit: str) -> float:
    plain = _spell_out_fractions(text).strip()
    match = _NUMBER.match(plain)
    if match is None:
        if re.match(r"^\d+,\d+\s*\D*$", plain):
            raise ValueError("has a decimal comma: write a decimal point")
        raise ValueError('is not a length: write it like "6 1/2 in", "16.5 cm" or "165 mm"')
    parts = match.groupdict()
    number = _finite(parts["whole"] or 0)
    numerator = parts["num"] or parts["only_num"]
    denominator = parts["den"] or parts["only_den"]
    if numerator is not None and denominator is not None:
        if _finite(denominator) == 0:
            raise ValueError("divides by zero: write the fraction again")
        number += _finite(numerator) / _finite(denominator)
    if parts["sign"] == "-":
        number = -number
    if not math.isfinite(number):
        raise ValueError("is not a finite length: write a number, such as 165")
    return number * MM_PER_UNIT[_known_unit(parts["unit"], default_unit)]


def _finite(value: str | float) -> float:
    """A number of any size; one beyond all measure is infinite."""
    try:
        return float(value)
    except OverflowError:
        return math.inf


def _known_unit(written: str | None, default_unit: str) -> str:
    if written is None or not written.strip():
        return default_unit
    word = written.strip().rstrip(".").lower()
    unit = _OTHER_NAMES.get(word, word)
    if unit not in MM_PER_UNIT:
        known = ", ".join(MM_PER_UNIT)
        raise ValueError(f"is in {written.strip()!r}, which is no unit known here: use {known}")
    return unit


def _spell_out_fractions(text: str) -> str:
    """``"6½ in"`` to ``"6 1/2 in"``, and the fraction slash to a plain one."""
    spelled = []
    for character in text:
        if unicodedata.decomposition(character).startswith("<fraction>"):
            spelled.append(" " + unicodedata.normalize("NFKC", character))
        else:
            spelled.append(character)
    return "".join(spelled).replace("\N{FRACTION SLASH}", "/").replace("\N{NO-BREAK SPACE}", " ")
