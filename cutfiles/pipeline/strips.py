"""Strips out of an offcut, as a person asks for them."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable

from cutfiles.errors import Finding, JobError
from cutfiles.job.job import StripGrain
from cutfiles.pieces.bias import SAFE_SHARE
from cutfiles.pieces.offcut import Offcut, StripPlan, continuous_mm, most_mm, strip_plan
from cutfiles.units import counted, format_length, parse_length_mm

_MOST_MM = 200_000.0
_LEAST_MM = 3.0
"""Of a strip's width: narrower is a thread."""


def strip_lines(
    *, width: str, length: str, offcut: str, grain: StripGrain, seam: str, unit: str
) -> tuple[str, ...]:
    """How a strip of a width and length is cut out of an offcut ("22 in x 18 in"), line by line.

    Plain numbers are in ``unit``, and so are the answers.

    Raises
    ------
    JobError
        If a measure is none or out of its limits, or the offcut does not give so much.
    """
    if unit not in ("mm", "cm", "in"):
        raise JobError.of("unit", f"--unit: {unit!r} is not known: use mm, cm or in")
    sides = re.split(r"\s+x\s+|\s*×\s*", offcut.strip())
    wrong: list[Finding] = []
    if len(sides) != 2:
        text = f'--from: {offcut!r} is no width and height: write it like "22 in x 18 in"'
        wrong.append(Finding("bad-value", "error", text))
        sides = ["1", "1"]
    measures = [
        _measure("--width", width, unit, wrong, least=_LEAST_MM),
        _measure("--length", length, unit, wrong),
        _measure("--seam", seam, unit, wrong),
        *(_measure("--from", side, unit, wrong) for side in sides),
    ]
    if wrong:
        raise JobError(wrong)
    width_mm, length_mm, seam_mm, across, along = measures
    cloth = Offcut(across, along)
    plan = strip_plan(cloth, width_mm, length_mm, grain, seam_mm)
    if plan is None:
        most = max(0.0, most_mm(cloth, width_mm, grain, seam_mm))
        text = (
            f"--from: {offcut}: gives at most {format_length(most, unit)} of "
            f"{'bias' if grain == 'bias' else 'straight'} strip {format_length(width_mm, unit)} "
            f"wide, and {format_length(length_mm, unit)} are wanted: have a larger piece, or ask "
            "for a narrower or shorter strip"
        )
        raise JobError.of("offcut-small", text)
    return tuple(_told(plan, cloth, length_mm, unit))


def _measure(
    option: str, text: str, unit: str, wrong: list[Finding], *, least: float = 0.0
) -> float:
    try:
        length_mm = parse_length_mm(text, default_unit=unit)
        if not least < length_mm <= _MOST_MM:
            raise ValueError(
                f"is {length_mm:.6g} mm, and must be more than {least:g} and at most "
                f"{_MOST_MM:g} mm: measure it again"
            )
    except ValueError as error:
        wrong.append(Finding("bad-value", "error", f"{option}: {text!r} {error}"))
        return 1.0
    return length_mm


def _told(plan: StripPlan, offcut: Offcut, length_mm: float, unit: str) -> Iterable[str]:
    def said(length: float) -> str:
        return format_length(length, unit)

    kind = "bias strip" if plan.grain == "bias" else "straight strip"
    how = (
        "at 45 degrees to the grain, ends on the grain" if plan.grain == "bias" else "side by side"
    )
    yield f"Cut {counted(len(plan.each_mm), kind)} {said(plan.width_mm)} wide, {how}:"
    for each, same in itertools.groupby(plan.each_mm):
        yield f"  {len(list(same))} of {said(each)}"
    if plan.joins:
        yield (
            f"Join them: {counted(plan.joins, 'join')}, each taking {said(plan.join_mm)}: "
            f"{said(plan.joined_mm)} in all."
        )
    over = plan.joined_mm - length_mm
    yield f"Of that {said(length_mm)} are wanted: {said(over)} are left over."
    if plan.rest is not None:
        yield (
            f"A rectangle of {said(plan.rest.width_mm)} by {said(plan.rest.height_mm)} is left "
            "whole."
        )
    else:
        yield (
            f"The corners give {counted(len(plan.spare_mm), 'strip')} more, "
            f"{said(sum(plan.spare_mm))} before they are joined."
        )
        ideal = continuous_mm(offcut, plan.width_mm)
        yield (
            f"Sewn to a tube and cut in one, the piece gives up to {said(ideal)}; plan on "
            f"{said(SAFE_SHARE * ideal)}."
        )
