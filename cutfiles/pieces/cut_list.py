"""The cut list: every cap and panel of an order as the pieces to be placed on one cloth."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from cutfiles.errors import Finding, JobError, errors_of
from cutfiles.job.cloth import ON_GRAIN, GrainRule
from cutfiles.job.job import CapLine, Cloth, EdgeFinish, Job, StripGrain
from cutfiles.pieces.growth import Growth, growth_factor
from cutfiles.pieces.ordered import CutList, OrderedCap, OrderedPiece, Panel
from cutfiles.pieces.piece import Draft, Piece
from cutfiles.pieces.strips import STRIP_WIDTH_MM
from cutfiles.pieces.styles import draft_style
from cutfiles.pieces.walk import check_draft

_STRIP_END_MM = 1.0
"""Left free beyond the ends of a strip that is as long as the cloth."""


def draft_line(line: CapLine, *, longest_strip_mm: float = math.inf) -> Draft:
    """Draft one line of the order; bindings are joined from strips no longer than that.

    Raises
    ------
    JobError
        If the draft fails, or does not walk, true or fit.
    """
    try:
        draft = draft_style(line, longest_strip_mm=longest_strip_mm)
    except ValueError as error:
        text = f"{line.style} {line.size.name}: cannot be drafted: {error}"
        raise JobError.of("draft", text) from error
    wrong = errors_of(check_draft(draft))
    if wrong:
        raise JobError(wrong)
    return draft


def cut_list(
    job: Job, cloth: Cloth, panels: Sequence[Panel] = (), *, first_number: int = 1
) -> CutList:
    """Every cap, and every one of the given panels, that is cut from one cloth, grown for its
    shrinkage; caps come first.

    Where plies do not divide a line's quantity, the last layer is cut in full and a finding says
    how many caps there are too many. Caps are numbered from ``first_number``.
    """
    caps: list[OrderedCap] = []
    findings: list[Finding] = []
    for line in job.lines_for(cloth):
        rules = dict(line.grains)
        drafted = _drafted(line, job, cloth)
        _check_names(rules, drafted, f"{job.source}: [[caps]] {line.number}: grain or tilt")
        draft = _grown(drafted, cloth, rules)
        strips = sum(part.count for part in draft.parts if part.piece.name == "binding")
        if strips > 1:
            findings.append(
                Finding(
                    "joined-binding",
                    "note",
                    f"{job.source}: {draft.title}, {line.edge}: each binding is cut as {strips} "
                    "strips, to be joined on the diagonal: cloth or bed is shorter than one strip",
                )
            )
        what = f"{job.source}: {draft.title}, {line.edge}"
        positions = _positions(line.quantity, cloth, what, "caps", findings)
        for _ in range(positions):
            caps.append(_ordered_cap(draft, line.edge, first_number + len(caps), rules))
        for name, rule in rules.items():
            findings.extend(_uneven(cloth, rule, f"{what}: {name}"))
    for number, panel in enumerate(panels, 1):
        if panel.line.cloth == cloth.name:
            what = f"{job.source}: {panel.name}"
            positions = _positions(panel.line.quantity, cloth, what, "panels", findings)
            caps.extend(_ordered_panels(panel, cloth, number, positions))
            findings.extend(_uneven(cloth, panel.line.grain, what))
    return CutList(cloth, tuple(caps), tuple(findings))


def _check_names(rules: Mapping[str, GrainRule], draft: Draft, where: str) -> None:
    """Raise `JobError` for the rules of pieces that a draft has not."""
    known = sorted({part.piece.name for part in draft.parts})
    wrong = []
    for name in rules:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
            hint = f"did you mean {near[0]!r}?" if near else f"known here: {', '.join(known)}"
            text = f"{where}: {name!r} is no piece of {draft.title}; {hint}"
            wrong.append(Finding("unknown-piece", "error", text))
    if wrong:
        raise JobError(wrong)


def _uneven(cloth: Cloth, rule: GrainRule, what: str) -> Iterator[Finding]:
    """A warning where a piece may lie several ways on cloth that shrinks unevenly."""
    along, across = cloth.shrinkage_along_percent, cloth.shrinkage_across_percent
    if rule.grain in ("either", "bias") and along != across:
        text = (
            f"{what}: grain is {rule.grain!r} and {cloth.name!r} shrinks {along:g} % along and "
            f"{across:g} % across: the piece is cut larger by {max(along, across):g} % both ways "
            f"and may come out up to {abs(along - across):g} % too large; for its exact size "
            "give its grain as along or across"
        )
        yield Finding("grain-shrinkage", "warning", text)


def _positions(quantity: int, cloth: Cloth, what: str, kind: str, findings: list[Finding]) -> int:
    """How often something is placed, and a finding where the plies give more than is ordered."""
    positions = math.ceil(quantity / cloth.plies)
    extra = positions * cloth.plies - quantity
    if extra:
        findings.append(
            Finding(
                "over-cut",
                "warning",
                f"{what}: {cloth.plies} plies do not divide {quantity} {kind}: "
                f"{positions * cloth.plies} are cut, {extra} more than ordered; change the plies "
                "or the quantity to avoid it",
            )
        )
    return positions


def _ordered_panels(panel: Panel, cloth: Cloth, number: int, count: int) -> list[OrderedCap]:
    """Every copy of a panel; ``number`` tells panels apart in the ids of their pieces."""
    piece = Growth.on(cloth, panel.line.grain).piece(panel.piece)
    name = f"panel-{number:02d}-{_plain(panel.name)}"
    return [
        _panel_of(panel, piece, f"{name}-{copy:03d}", f"{copy} of {count}")
        for copy in range(1, count + 1)
    ]


def _panel_of(panel: Panel, piece: Piece, name: str, words: str) -> OrderedCap:
    label = f"{panel.name} / {words}"
    ordered = OrderedPiece(name, "panel", panel.name, None, label, piece, panel.line.grain)
    return OrderedCap(panel.name, None, (ordered,))


def pattern_panel(panel: Panel, number: int) -> OrderedCap:
    """A panel as a pattern: once, as drawn, not grown; its label says how many to cut, and
    ``number`` tells panels apart in the ids of their pieces."""
    name = f"panel-{number:02d}-{_plain(panel.name)}"
    return _panel_of(panel, panel.piece, name, f"cut {panel.line.quantity}")


def _plain(name: str) -> str:
    return re.sub(r"[^\w]+", "-", name)


def _drafted(line: CapLine, job: Job, cloth: Cloth) -> Draft:
    """A line drafted for a cloth; what is wrong with it names the job file and the line."""
    try:
        longest = _longest_strip_mm(job, cloth, line.binding_grain)
        return draft_line(line, longest_strip_mm=longest)
    except JobError as error:
        where = f"{job.source}: [[caps]] {line.number}"
        raise JobError(replace(f, text=f"{where}: {f.text}") for f in error.findings) from error


def _longest_strip_mm(job: Job, cloth: Cloth, grain: StripGrain) -> float:
    """The longest strip, before it is grown, that lies on the cloth and the bed: along them, or
    at 45 degrees."""
    lengths = [job.machine.bed_along_mm or math.inf]
    if cloth.length_mm is not None:
        lengths.append(cloth.length_mm / cloth.plies)
    taken = 2.0 * job.machine.kerf_mm + _STRIP_END_MM
    along = (min(lengths) - taken) / growth_factor(cloth.shrinkage_along_percent)
    if grain == "straight":
        return along
    width = min(cloth.usable_width_mm, job.machine.bed_across_mm or math.inf)
    across = (width - taken) / growth_factor(cloth.shrinkage_across_percent)
    return min(along, across) * math.sqrt(2.0) - STRIP_WIDTH_MM


def pattern_cap(line: CapLine) -> OrderedCap:
    """One cap of a line as a pattern: every piece once, as drafted, not grown; its label says
    how many to cut."""
    draft = draft_line(line)
    pieces = tuple(
        OrderedPiece(
            id=f"{draft.title} {line.edge} {part.piece.name}".replace(" ", "-"),
            name=part.piece.name,
            cap=draft.title,
            cap_number=1,
            label=f"{draft.title} / {part.piece.name} / cut {part.count}",
            piece=part.piece,
        )
        for part in draft.parts
    )
    return OrderedCap(draft.title, line.edge, pieces)


def _grown(draft: Draft, cloth: Cloth, rules: Mapping[str, GrainRule]) -> Draft:
    parts = []
    for part in draft.parts:
        growth = Growth.on(cloth, rules.get(part.piece.name, ON_GRAIN))
        parts.append(replace(part, piece=growth.piece(part.piece)))
    return replace(draft, parts=tuple(parts))


def _ordered_cap(
    draft: Draft, edge: EdgeFinish, number: int, rules: Mapping[str, GrainRule]
) -> OrderedCap:
    pieces = []
    for part in draft.parts:
        name = part.piece.name
        for index in range(1, part.count + 1):
            suffix = f"-{index}" if part.count > 1 else ""
            pieces.append(
                OrderedPiece(
                    id=f"cap-{number:03d}-{name}{suffix}",
                    name=name,
                    cap=draft.title,
                    cap_number=number,
                    label=f"{draft.title} / {name} {index} of {part.count} / cap {number}",
                    piece=part.piece,
                    grain=rules.get(name, ON_GRAIN),
                )
            )
    return OrderedCap(draft.title, edge, tuple(pieces))
