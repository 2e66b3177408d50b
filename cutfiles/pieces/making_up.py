"""How a cap is sewn: its seams walked, its steps with their lengths, and the thread they take.

Stitch and seam classes are those of ISO 4915 and ISO 4916, as secondary pages give them: 301
lockstitch, 504 three-thread overedge; class 1 superimposed, 3 bound, 6 edge finish. The order of
the steps is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Final

from cutfiles.job.job import EdgeFinish, Style
from cutfiles.pieces.clips import clip_marks
from cutfiles.pieces.piece import Draft, PieceEdge, Seam
from cutfiles.pieces.strips import STRIP_WIDTH_MM, finished_width_mm
from cutfiles.pieces.walk import sewn_angle_deg, walk_seam

THREAD_RATIO: Final[Mapping[str, float]] = {"301": 2.5, "304": 5.5, "504": 14.0}
"""Thread over seam length, by the stitches of ISO 4915. 301 and 304: a page on apparel science (for
304 others give 7.0); 504: from memory."""

_MM_PER_INCH: Final = 25.4


def thread_mm(seam_mm: float, stitch: str) -> float:
    """Thread for a seam, all threads of the stitch together; ``KeyError`` for an unknown one."""
    return seam_mm * THREAD_RATIO[stitch]


def walk_lines(draft: Draft) -> Iterator[str]:
    """The walk report: for every seam both edges from notch to notch, its ease, its corners."""
    for seam in draft.seams:
        walked = walk_seam(draft, seam)
        first, second = _edge_name(seam.first), _edge_name(seam.second)
        yield f"{seam.name}: {first} onto {second}"
        for span in walked.spans:
            yield (
                f"  {span.from_fraction:6.1%} to {span.to_fraction:6.1%}: {span.first_mm:7.2f} mm "
                f"on {span.second_mm:7.2f} mm, ease {span.ease_mm:6.2f} mm, "
                f"off by {abs(span.error_mm):.2f} mm"
            )
        total = sum(span.first_mm for span in walked.spans)
        other = sum(span.second_mm for span in walked.spans)
        yield f"  in all {total:.2f} mm on {other:.2f} mm, ease {seam.ease_mm / other:.1%}"
    for corner in draft.corners:
        yield f"{corner.name}: the two corners make {sewn_angle_deg(draft, corner):.2f} degrees"
    fit = draft.fit
    yield (
        f"open edge: {fit.smallest_girth_mm:.0f} mm at rest, {fit.largest_girth_mm:.0f} mm drawn "
        f"out, for heads of {draft.girth_low_mm:.0f} to {draft.girth_high_mm:.0f} mm"
    )


def cap_thread_mm(draft: Draft) -> float:
    """Thread for one cap: the seams between pieces, and one row of 301 along every edge that is
    hemmed, bound or a casing. What strips are folded and sewn with is not counted."""
    seams = sum(
        thread_mm(_sewn_mm(draft, seam), stitch) for seam in draft.seams for stitch in seam.stitches
    )
    edges = sum(
        part.count * edge.stitch.length()
        for part in draft.parts
        for edge in part.piece.edges
        if edge.finish in ("hem", "binding", "casing")
    )
    return seams + thread_mm(edges, "301")


def thread_lines(draft: Draft) -> Iterator[str]:
    """Thread for the seams between pieces, by stitch; edges and ties are not counted."""
    lengths: dict[str, float] = {}
    for seam in draft.seams:
        for stitch in seam.stitches:
            lengths[stitch] = lengths.get(stitch, 0.0) + _sewn_mm(draft, seam)
    for stitch, length in sorted(lengths.items()):
        yield (
            f"{stitch}: {thread_mm(length, stitch) / 1000:.1f} m for {length / 1000:.2f} m of seam "
            f"({THREAD_RATIO[stitch]:g} to 1)"
        )


def steps(draft: Draft, style: Style, edge: EdgeFinish) -> tuple[str, ...]:
    """What to do, one step after the other, with this size's lengths."""
    return tuple(_STEPS[style](draft, edge))


def sewing_sheet(draft: Draft, style: Style, edge: EdgeFinish) -> str:
    """The whole sheet as plain text."""
    numbered = (f"{number}. {text}" for number, text in enumerate(steps(draft, style, edge), 1))
    pieces = (f"{part.count} x {part.piece.name}" for part in draft.parts)
    blocks = (
        [f"{draft.title}, {edge}"],
        ["Cut: " + ", ".join(pieces) + "."],
        ["Lengths are in mm, on stitch lines; those in brackets in inches.", *numbered],
        ["Walk report", *walk_lines(draft)],
        ["Thread for the seams between pieces (ISO 4915 classes)", *thread_lines(draft)],
        [
            "Not certified protective equipment and not a medical device: follow the attire and "
            "laundry policy of the place where it is worn."
        ],
    )
    return "\n\n".join("\n".join(block) for block in blocks if len(block) > 1 or block[0]) + "\n"


def _tie_back(draft: Draft, edge: EdgeFinish) -> Iterator[str]:
    if edge == "hem":
        yield _ties()
    if draft.pleats:
        yield _pleats(draft)
    yield _crown_to_band(draft)
    yield _lower_edge(draft, edge, ties=True)
    yield (
        "Turn the back edge, band end to crown to band end, over for the casing: "
        f"{_mm(draft.fit.gathered_flat_mm)} long, 1/4 in turned under, and stitch it down, its "
        "ends left open (301; class 6)."
    )
    yield _elastic(draft, "1/2 in", "both ends of the casing")
    yield _try_on(draft)


def _three_panel(draft: Draft, edge: EdgeFinish) -> Iterator[str]:
    for side in ("left", "right"):
        yield _sew(draft, f"{side} seam", "The double notch is at the back.")
    yield _lower_edge(draft, edge, ties=False)
    yield (
        f"Turn the nape end of the strip over for the casing: {_mm(draft.fit.gathered_flat_mm)} "
        "long, 1/4 in turned under, and stitch it down, its "
        "ends left open (301; class 6)."
    )
    yield _elastic(draft, "1/2 in", "both ends of the casing")
    yield _try_on(draft)


def _bouffant(draft: Draft, edge: EdgeFinish) -> Iterator[str]:
    fit = draft.fit
    if edge == "hem":
        yield (
            f"Run a gathering thread along the edge of the crown, {_mm(fit.gathered_flat_mm)}, "
            "draw it up just enough for the edge to turn flat, and turn it over for the casing, "
            "1/4 in turned under; stitch it down, a gap of two inches left open (301; class 6)."
        )
        yield _elastic(draft, "1/4 in", "the gap, its ends lapped and sewn to each other")
        yield _try_on(draft)
        return
    yield "Sew the band's two ends together into a ring (301; class 1), and mark its quarters."
    yield _sew(draft, "crown to band", "Gather the crown evenly between the quarter notches.")
    yield (
        "Fold the band in half along its length, turn its free edge under, and stitch it down over "
        "the seam, the middle of the back left open over "
        f"{_mm(fit.gathered_flat_mm)} (301; class 1)."
    )
    yield _elastic(draft, "1/2 in", f"both ends of the back {_mm(fit.gathered_flat_mm)}")
    yield _try_on(draft)


def _long_hair(draft: Draft, edge: EdgeFinish) -> Iterator[str]:
    if edge == "hem":
        yield _ties()
    yield _crown_to_band(draft)
    yield (
        "Turn the lower edge of the hair pocket over for the casing: "
        f"{_mm(draft.fit.gathered_flat_mm)} long, 1/4 in turned under, and stitch it down, its "
        "ends left open (301; class 6)."
    )
    yield _elastic(draft, "1/2 in", "both ends of the casing")
    yield _sew(draft, "pocket to crown", "Gather the pocket's top evenly between the notches.")
    for side in ("left", "right"):
        yield _sew(draft, f"pocket to {side} end", "Gather the pocket's side to the band's end.")
    yield _lower_edge(draft, edge, ties=True)
    yield _try_on(draft)


_STEPS: Final[Mapping[Style, Callable[[Draft, EdgeFinish], Iterator[str]]]] = {
    "tie-back": _tie_back,
    "three-panel": _three_panel,
    "bouffant": _bouffant,
    "long-hair": _long_hair,
}


def _ties() -> str:
    return (
        "Ties: turn in 1/2 in at one end, fold each strip in four along its length, "
        f"{_mm(STRIP_WIDTH_MM)} to {_mm(finished_width_mm(STRIP_WIDTH_MM))}, and stitch along the "
        "open side (301; class 8)."
    )


def _pleats(draft: Draft) -> str:
    first = draft.pleats[0]
    length = draft.piece(first.piece).edge(first.edge).stitch.length()
    folded = length - sum(pleat.take_up_mm for pleat in draft.pleats)
    fold, meet = (abs(at - length / 2.0) for at in (first.fold_mm, first.meet_mm))
    inner_first = fold < meet
    kind = "One box pleat" if inner_first else "Two knife pleats"
    where = "inner" if inner_first else "outer"
    way = "further from" if inner_first else "nearer to"
    facing = "away from each other" if inner_first else "to the centre back"
    return (
        f"{kind}: right side up, fold {_edge_name(PieceEdge(first.piece, first.edge))} at its two "
        f"{where} notches, {_mm(fold)} from the centre back, and lay each fold on the notch "
        f"{_mm(first.take_up_mm)} {way} the centre back; both folds point {facing}. Baste across "
        f"each pleat at the cut edge and at the stitch line: {_mm(length)} become {_mm(folded)}."
    )


def _crown_to_band(draft: Draft) -> str:
    return _sew(
        draft,
        "crown to band",
        "Begin at the single notch, the centre front, then the double notches at the quarters, "
        "then the back corners.",
    )


def _sew(draft: Draft, name: str, advice: str) -> str:
    seam = next(seam for seam in draft.seams if seam.name == name)
    length = _sewn_mm(draft, seam)
    ease = f", {_mm(seam.ease_mm)} of it taken up" if abs(seam.ease_mm) >= 0.05 else ""
    marked = any(_has_clips(draft, at) for at in (seam.first, seam.second))
    clip = " Clip the allowance at its marks, short of the stitching." if marked else ""
    return (
        f"{seam.name.capitalize()}: lay {_edge_name(seam.first)} on {_edge_name(seam.second)}, "
        f"right sides together, notch to notch{ease}. {advice} Sew {_mm(length)} at the seam "
        f"allowance ({' and '.join(seam.stitches)}; class {seam.seam_class}).{clip}"
    )


def _lower_edge(draft: Draft, edge: EdgeFinish, *, ties: bool) -> str:
    length = _mm(draft.fit.plain_mm)
    if edge == "hem":
        caught = ", a tie caught in each end" if ties else ""
        return (
            f"Hem the lower edge, {length}: turn 1/4 in twice, straight through to the cut ends of "
            f"the casing{caught}, and stitch it (301; class 6)."
        )
    strips = sum(part.count for part in draft.parts if part.piece.name == "binding")
    joined = f"Join its {strips} strips on the diagonal. " if strips > 1 else ""
    ends = "run on at both ends into the ties" if ties else "turned in at both ends"
    return (
        f"Binding: {joined}Fold it in four along its length, put its middle to the centre front, "
        f"and stitch it round the lower edge, {length}, {ends} (301; class 3)."
    )


def _elastic(draft: Draft, width: str, where: str) -> str:
    fit = draft.fit
    ratio = fit.gathered_flat_mm / fit.elastic_relaxed_mm
    return (
        f"Elastic: cut {_mm(fit.elastic_cut_mm)} of {width} elastic, draw it in, and sew "
        f"{fit.elastic_anchor_mm:.0f} mm of it down at {where}: {_mm(fit.gathered_flat_mm)} of "
        f"cloth gathers to {_mm(fit.elastic_relaxed_mm)}, {ratio:.1f} to 1."
    )


def _try_on(draft: Draft) -> str:
    fit = draft.fit
    return (
        f"Measure the open edge: {_mm(fit.smallest_girth_mm)} at rest, up to "
        f"{_mm(fit.largest_girth_mm)} drawn out."
    )


def _sewn_mm(draft: Draft, seam: Seam) -> float:
    """A seam is as long as its shorter edge."""
    return min(
        draft.piece(at.piece).edge(at.edge).stitch.length() for at in (seam.first, seam.second)
    )


def _has_clips(draft: Draft, at: PieceEdge) -> bool:
    piece = draft.piece(at.piece)
    return bool(clip_marks((piece.edge(at.edge),), piece.notches_on(at.edge)))


def _edge_name(at: PieceEdge) -> str:
    return f"the {at.piece}'s {at.edge}"


def _mm(length_mm: float) -> str:
    return f"{length_mm:.0f} mm ({length_mm / _MM_PER_INCH:.1f})"
