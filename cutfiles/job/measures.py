"""The measures of each style that an order may change, with their limits.

Where an order gives none, a style works its measures out from the head girth.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from cutfiles.errors import did_you_mean
from cutfiles.job.job import Style
from cutfiles.units import parse_length_mm

Kind = Literal["length", "percent", "times", "count"]


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure: what it is, in which unit, and from where to where it may be changed (mm,
    percent, times, or a whole number). ``only_with`` is another measure without which it says
    nothing."""

    kind: Kind
    low: float
    high: float
    meaning: str
    only_with: str | None = None


_SNUG: Final = Measure("length", 0.0, 40.0, "how much smaller the open edge is at rest")
_ELASTIC: Final = Measure("length", 40.0, 200.0, "the elastic, finished, at rest")
_STRETCH: Final = Measure("times", 1.1, 2.5, "how far the elastic may be drawn out")
_EASE: Final = Measure("percent", 0.0, 4.0, "how much longer the crown's seam line is")

_CROWN_AND_BAND: Final = {
    "snug": _SNUG,
    "elastic_relaxed": _ELASTIC,
    "elastic_stretch": _STRETCH,
    "front_height": Measure("length", 90.0, 220.0, "the band at the centre front"),
    "end_height": Measure("length", 35.0, 110.0, "the band at its ends"),
    "crown_width": Measure("length", 130.0, 240.0, "the crown at its widest: room for hair"),
    "crown_back": Measure("length", 100.0, 230.0, "the crown's back edge"),
    "ease_percent": _EASE,
}

MEASURES: Final[Mapping[Style, Mapping[str, Measure]]] = {
    "tie-back": {
        **_CROWN_AND_BAND,
        "crown_back": Measure(
            "length", 100.0, 230.0, "the crown's back edge on the elastic, its pleats folded"
        ),
        "pleat_depth": Measure(
            "length", 0.0, 20.0, "pleats in the crown's back edge: 0, or from 5 mm"
        ),
        "pleats": Measure(
            "count", 1.0, 2.0, "1 box pleat, or 2 knife pleats that face the middle", "pleat_depth"
        ),
    },
    "long-hair": {
        **_CROWN_AND_BAND,
        "side_gather": Measure("times", 1.0, 2.5, "the pocket's side over the band's end"),
        "top_width": Measure("times", 1.0, 2.0, "the pocket's top over the crown's back edge"),
        "fullness": Measure("length", 15.0, 120.0, "how far the pocket's top bulges"),
    },
    "three-panel": {
        "snug": _SNUG,
        "elastic_relaxed": _ELASTIC,
        "elastic_stretch": _STRETCH,
        "front_width": Measure("length", 70.0, 160.0, "the strip at the front"),
        "nape_width": Measure("length", 70.0, 160.0, "the strip at the nape, flat"),
        "belly": Measure("length", 0.0, 50.0, "how much wider the strip is in its middle"),
        "side_height": Measure("length", 110.0, 220.0, "the side panels: room for hair"),
        "ease_percent": Measure("percent", 0.0, 4.0, "how much longer the side's seam line is"),
    },
    "bouffant": {
        "snug": _SNUG,
        "fullness": Measure("times", 1.3, 4.0, "the crown's edge over the head's girth"),
        "longer": Measure("times", 1.0, 1.4, "the crown's length over its width"),
        "elastic_stretch": _STRETCH,
        "band_height": Measure("length", 12.0, 60.0, "the band, finished"),
        "band_back": Measure("length", 80.0, 260.0, "the part of the band on elastic, flat"),
    },
}


def read_measures(
    style: Style, written: Mapping[str, object], *, default_unit: str
) -> tuple[dict[str, float], list[str]]:
    """Measures as written to values by field of the style's measures, and what is wrong.

    Lengths come out in millimetres. Each fault names the measure, its value, the limit and the
    mend.
    """
    known = MEASURES[style]
    values: dict[str, float] = {}
    faults: list[str] = []
    for name, value in written.items():
        measure = known.get(name)
        if measure is None:
            hint = did_you_mean(name, known, f"known: {', '.join(known)}")
            faults.append(f"measures.{name}: is no measure of the {style} cap; {hint}")
            continue
        try:
            number = _number(value, measure, default_unit)
        except ValueError as error:
            faults.append(f"measures.{name}: {value!r} {error}")
            continue
        values[f"{name}_mm" if measure.kind == "length" else name] = number
        other = measure.only_with
        if other is not None and (other not in written or written[other] == 0):
            faults.append(f"measures.{name}: {value!r} goes with {other} only: give {other}")
    return values, faults


def _number(value: object, measure: Measure, default_unit: str) -> float:
    if measure.kind == "length":
        number = parse_length_mm(value, default_unit=default_unit)
        unit = "mm"
    elif isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError("is not a number: write it without a unit")
    elif measure.kind == "count":
        if not isinstance(value, int):
            raise ValueError("is not a whole number")
        number, unit = value, "in number"
    else:
        number, unit = float(value), measure.kind
    if not measure.low <= number <= measure.high:
        raise ValueError(
            f"must be {measure.low:g} to {measure.high:g} {unit}: it is {measure.meaning}"
        )
    return number
