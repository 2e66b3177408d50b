"""The cut list: every cap and panel of an order as the pieces to be placed on one cloth."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from shapely.geometry import Polygon

from cutfiles.errors import Finding, JobError, did_you_mean, errors_of
from cutfiles.geometry.polygons import polygon_of
from cutfiles.job.cloth import ON_GRAIN, GrainRule
from cutfiles.job.job import CapLine, Cloth, Job, StripGrain
from cutfiles.pieces.growth import Growth, growth_factor
from cutfiles.pieces.hands import one_handed
from cutfiles.pieces.match import match_point
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
    job: Job,
    cloth: Cloth,
    panels: Sequence[Panel] = (),
    *,
    first_number: int = 1,
    numbers: Mapping[CapLine, int] | None = None,
) -> CutList:
    """Every cap, and every one of the given panels, that is cut from one cloth, grown for its
    shrinkage; caps come first.

    Where plies do not divide a line's quantity, the last layer is cut in full and a finding says
    how many caps there are too many. Caps are numbered from ``first_number``, but those of lines
    that have ``numbers`` from another cloth, by these. Of a line whose pieces come from several
    cloths, a cap has the pieces that come from this one.
    """
    plain = [line for line in job.lines_for(cloth) if not line.as_many]
    last = [line for line in job.lines_for(cloth) if line.as_many]
    known = dict(numbers or {})
    own: list[tuple[CapLine, int]] = []
    caps: list[OrderedCap] = []
    findings: list[Finding] = []
    free = first_number
    for line in plain:
        first = known.get(line, free)
        own.append((line, first))
        said = findings if line.cloth == cloth.name else []  # of each line once
        draft, whole = _draft_on(cloth, line, job, findings)
        what = f"{job.source}: {draft.title}, {line.edge}"
        count = _positions(line.quantity, cloth.layers, what, "caps", said)
        caps.extend(_ordered_cap(draft, line, first + k, whole) for k in range(count))
        free += count if line not in known else 0
    here = [panel for panel in panels if panel.line.cloth == cloth.name]
    _check_panel_hands(here, cloth, job.source)
    ordered: list[OrderedCap] = []
    for number, panel in enumerate(panels, 1):
        if panel in here:
            what = f"{job.source}: {panel.name}"
            each = cloth.layers if panel.fold_turn_deg is None else cloth.plies
            positions = _positions(panel.quantity, each, what, "panels", findings)
            ordered.extend(_ordered_panels(panel, cloth, number, positions))
            findings.extend(_uneven(cloth, panel.line.grain, what))
    most = 0
    for line in last:
        draft, whole = _draft_on(cloth, line, job, findings)
        most = _most_positions(draft, cloth, [*caps, *ordered])
        ordered.extend(_ordered_cap(draft, line, free + k, whole) for k in range(most))
        own.append((line, free))
    cuts = CutList(cloth, (*caps, *ordered), tuple(findings), most, numbers=tuple(own))
    ids = cuts.piece_ids
    return replace(cuts, pins=tuple(pin for pin in job.pinned if pin.piece in ids))


def _draft_on(cloth: Cloth, line: CapLine, job: Job, findings: list[Finding]) -> tuple[Draft, int]:
    """What of a line comes from a cloth, drafted and grown for it, and of how many pieces the
    whole cap is made."""
    where = f"{job.source}: [[caps]] {line.number}"
    rules = dict(line.grains)
    drafted = _drafted(line, job, job.cloth_named(line.cloth_of("binding")))
    named = {
        "grain or tilt": tuple(rules),
        "match": line.matched,
        "from": tuple(dict(line.sources)),
        "pieces": line.pieces,
    }
    _check_names(named, drafted, where)
    drafted = replace(
        drafted, parts=tuple(part for part in drafted.parts if line.cuts(part.piece.name))
    )
    _check_rest(drafted, line, where)
    parts = tuple(p for p in drafted.parts if line.cloth_of(p.piece.name) == cloth.name)
    draft = _grown(replace(drafted, parts=parts), cloth, rules)
    what = f"{job.source}: {draft.title}, {line.edge}"
    strips = sum(part.count for part in draft.parts if part.piece.name == "binding")
    if strips > 1:
        text = (
            f"{what}: each binding is cut as {strips} strips, to be joined on the diagonal: cloth "
            "or bed is shorter than one strip"
        )
        findings.append(Finding("joined-binding", "note", text))
    wanted = [
        (part.piece, rules.get(part.piece.name, ON_GRAIN), part.count) for part in draft.parts
    ]
    wrong = list(one_handed(wanted, cloth, what=what))
    if wrong:
        raise JobError(wrong)
    for name, rule in rules.items():
        if line.cloth_of(name) == cloth.name:
            findings.extend(_uneven(cloth, rule, f"{what}: {name}"))
    return draft, sum(part.count for part in drafted.parts)


def _check_rest(draft: Draft, line: CapLine, where: str) -> None:
    """Raise `JobError` for a line of whose own cloth nothing is cut."""
    if all(line.cloth_of(part.piece.name) != line.cloth for part in draft.parts):
        text = (
            f"{where}: from: every piece comes from another cloth, and none from {line.cloth!r}: "
            "give the cloth of most pieces as cloth, and leave them out of from"
        )
        raise JobError.of("bad-value", text)


def _check_panel_hands(panels: Sequence[Panel], cloth: Cloth, source: str) -> None:
    wanted = [
        (panel.piece, panel.line.grain, panel.quantity)
        for panel in panels
        if panel.fold_turn_deg is None
    ]
    wrong = list(one_handed(wanted, cloth, what=f"{source}: [[panels]]"))
    if wrong:
        raise JobError(wrong)


def _most_positions(draft: Draft, cloth: Cloth, others: Sequence[OrderedCap]) -> int:
    """More caps of a draft than that have no room beside the others, by area alone; at least one,
    so that there is something to try."""
    taken = sum(polygon_of(p.piece.cut).area for cap in others for p in cap.pieces)
    each = sum(polygon_of(part.piece.cut).area * part.count for part in draft.parts)
    return max(1, int((surface_mm2(cloth) - taken) / each))


def surface_mm2(cloth: Cloth) -> float:
    """What of the cloth on hand can be laid out, in one layer; infinite where it has no end."""
    if cloth.remnants:
        return sum(Polygon(remnant.corners).area for remnant in cloth.remnants)
    if cloth.length_mm is None:
        return math.inf
    return cloth.length_mm / cloth.plies * cloth.lay_width_mm


def _check_names(named: Mapping[str, tuple[str, ...]], draft: Draft, where: str) -> None:
    """Raise `JobError` for pieces, by the key that names them, that a draft has not."""
    known = sorted({part.piece.name for part in draft.parts})
    wrong = []
    for key, names in named.items():
        for name in names:
            if name not in known:
                hint = did_you_mean(name, known, f"known here: {', '.join(known)}")
                text = f"{where}: {key}: {name!r} is no piece of {draft.title}; {hint}"
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


def _positions(quantity: int, each: int, what: str, kind: str, findings: list[Finding]) -> int:
    """How often something is placed of which one place gives ``each``, and a finding where that
    comes to more than is ordered."""
    positions = math.ceil(quantity / each)
    extra = positions * each - quantity
    if extra:
        findings.append(
            Finding(
                "over-cut",
                "warning",
                f"{what}: {each} plies do not divide {quantity} {kind}: "
                f"{positions * each} are cut, {extra} more than ordered; change the plies "
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
    on_fold = "" if panel.fold_turn_deg is None else " / on fold"
    label = f"{panel.name}{on_fold} / {words}"
    ordered = OrderedPiece(
        id=name,
        name="panel",
        cap=panel.name,
        cap_number=None,
        label=label,
        piece=piece,
        grain=panel.line.grain,
        fold_turn_deg=panel.fold_turn_deg,
        match=match_point(piece) if panel.line.is_matched else None,
    )
    return OrderedCap(panel.name, None, (ordered,))


def pattern_panel(panel: Panel, number: int) -> OrderedCap:
    """A panel as a pattern: once, as drawn, not grown; its label says how many to cut, and
    ``number`` tells panels apart in the ids of their pieces."""
    name = f"panel-{number:02d}-{_plain(panel.name)}"
    return _panel_of(panel, panel.piece, name, f"cut {panel.quantity}")


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
    longest = cloth.longest_lay_mm(job.machine.bed_along_mm or math.inf)
    if cloth.remnants:
        longest = min(longest, max(remnant.size_mm[0] for remnant in cloth.remnants))
    taken = 2.0 * job.machine.kerf_mm + _STRIP_END_MM
    along = (longest - taken) / growth_factor(cloth.shrinkage_along_percent)
    if grain == "straight":
        return along
    width = min(cloth.lay_width_mm, job.machine.bed_across_mm or math.inf)
    across = (width - taken) / growth_factor(cloth.shrinkage_across_percent)
    return min(along, across) * math.sqrt(2.0) - STRIP_WIDTH_MM


def pattern_cap(line: CapLine) -> OrderedCap:
    """One cap of a line as a pattern: every piece once, as drafted, not grown; its label says
    how many to cut."""
    draft = draft_line(line)
    _check_names({"pieces": line.pieces}, draft, f"[[caps]] {line.number}")
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
        if line.cuts(part.piece.name)
    )
    return OrderedCap(draft.title, line.edge, pieces)


def _grown(draft: Draft, cloth: Cloth, rules: Mapping[str, GrainRule]) -> Draft:
    parts = []
    for part in draft.parts:
        growth = Growth.on(cloth, rules.get(part.piece.name, ON_GRAIN))
        parts.append(replace(part, piece=growth.piece(part.piece)))
    return replace(draft, parts=tuple(parts))


def _ordered_cap(draft: Draft, line: CapLine, number: int, whole: int) -> OrderedCap:
    rules = dict(line.grains)
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
                    match=match_point(part.piece) if name in line.matched else None,
                    cap_pieces=whole,
                    line=line,
                )
            )
    return OrderedCap(draft.title, line.edge, tuple(pieces))
