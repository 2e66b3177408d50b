"""The sheet of a plan: what to cut with what, step by step, as plain text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cutfiles.ruler.plan import BlockRow, RulerPlan
from cutfiles.units import RULER_STEP_MM, format_length, format_steps

_GRAIN = {
    "along": "along the cloth",
    "across": "across the cloth",
    "either": "along or across the cloth",
    "bias": "at 45 degrees",
}


def plan_lines(
    plan: RulerPlan, rows: Sequence[BlockRow], steps: Sequence[str], nested_mm: float | None
) -> Iterator[str]:
    """The plan of one cloth, line by line. ``nested_mm`` is the length that the order takes where
    its outlines are nested, None where that was not asked for."""
    unit = plan.unit
    width = format_steps(plan.rules.width, unit)
    layers = "one layer" if plan.layers == 1 else f"{plan.layers} layers cut at once"
    yield f"{plan.cloth}: {width} wide to cut from, {layers}, cuts in {plan.rules.stages} stages"
    yield ""
    yield _length_line(plan)
    if plan.on_hand is not None:
        left = format_steps(plan.on_hand - plan.length, unit)
        yield f"Of {format_steps(plan.on_hand, unit)} on hand, {left} are left."
    if nested_mm is not None:
        yield _nested_line(plan, nested_mm)
    yield ""
    yield f"Blocks, along by across the cloth, rounded up to whole {_step(unit)}"
    for row in rows:
        sizes = " or ".join(
            f"{format_steps(along, unit)} x {format_steps(across, unit)}"
            for along, across in row.sizes
        )
        yield f"  {row.count} x {row.name}: {sizes}, grain line {_GRAIN[row.grain]}"
    yield ""
    for number, text in enumerate(steps, 1):
        yield f"{number}. {text}"


def _length_line(plan: RulerPlan) -> str:
    unit = plan.unit
    length = format_steps(plan.length, unit)
    widest = format_steps(plan.rules.widest, unit)
    rules = f"in {plan.rules.stages} stages, with no strip wider than {widest}"
    if plan.is_proved:
        return f"It takes {length} of cloth: proved to be the least for these blocks {rules}."
    least = format_steps(plan.bound, unit)
    share = plan.length / plan.bound - 1.0
    return (
        f"It takes {length} of cloth. No plan for these blocks {rules}, takes less than {least}: "
        f"this one is at most {share:.1%} longer than need be."
    )


def _nested_line(plan: RulerPlan, nested_mm: float) -> str:
    taken_mm = plan.length * RULER_STEP_MM[plan.unit]
    nested = format_length(nested_mm, plan.unit)
    saved = format_length(abs(taken_mm - nested_mm), plan.unit)
    share = abs(1.0 - nested_mm / taken_mm)
    word = "less" if nested_mm <= taken_mm else "more"
    return (
        f"Nested by their outlines and cut by machine, the same caps take {nested}: {saved} "
        f"({share:.0%}) {word}."
    )


def _step(unit: str) -> str:
    return "eighths of an inch" if unit == "in" else "millimetres"
