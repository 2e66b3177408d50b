"""Walking the seams and truing the corners of a draft, and checking that it fits.

*To walk* a seam is to lay one stitch line along the other from notch to notch and see that
they stay together; *to true* a corner is to see that two sewn pieces make one fair edge
there. Both are done on stitch lines, never on cut lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from cutfiles.errors import Finding
from cutfiles.geometry.vector import Vector
from cutfiles.pieces.piece import Corner, Draft, Piece, Seam, SewnCorner
from cutfiles.tolerances import COINCIDENT_MM, TRUE_DEG, WALK_MM


@dataclass(frozen=True, slots=True)
class WalkedSpan:
    """The stretch of a seam between two marks; lengths on the stitch lines, in mm."""

    from_fraction: float
    to_fraction: float
    first_mm: float
    second_mm: float
    ease_mm: float

    @property
    def error_mm(self) -> float:
        """How far the two lengths are from differing by just the stated ease."""
        return self.first_mm - self.second_mm - self.ease_mm


@dataclass(frozen=True, slots=True)
class WalkedSeam:
    """A seam walked from end to end."""

    seam: Seam
    spans: tuple[WalkedSpan, ...]

    @property
    def worst_error_mm(self) -> float:
        """The largest error of any span, or of the seam as a whole."""
        whole = sum(span.error_mm for span in self.spans)
        return max(abs(whole), *(abs(span.error_mm) for span in self.spans))


def walk_seam(draft: Draft, seam: Seam) -> WalkedSeam:
    """Walk one seam between every pair of its notches.

    The notches of the first edge are met by those of the second, whose stitch line runs the
    other way. Raises ``ValueError`` if the two edges do not carry the same number of notches.
    """
    first, second = draft.piece(seam.first.piece), draft.piece(seam.second.piece)
    marks = _marks(first, seam.first.edge)
    met = [1.0 - fraction for fraction in reversed(_marks(second, seam.second.edge))]
    if len(marks) != len(met):
        raise ValueError(
            f"seam {seam.name!r}: {len(marks)} marks on one edge, {len(met)} on the other"
        )
    first_mm = first.edge(seam.first.edge).stitch.length()
    second_mm = second.edge(seam.second.edge).stitch.length()
    spans = tuple(
        WalkedSpan(a, b, (b - a) * first_mm, (d - c) * second_mm, seam.ease_mm * (b - a))
        for (a, b), (c, d) in zip(pairwise(marks), pairwise(met), strict=True)
    )
    return WalkedSeam(seam, spans)


def sewn_angle_deg(draft: Draft, corner: SewnCorner) -> float:
    """The sum of the two interior corner angles that meet at a seam's end, on stitch lines."""
    return sum(corner_angle_deg(draft.piece(at.piece), at) for at in (corner.first, corner.second))


def corner_angle_deg(piece: Piece, corner: Corner) -> float:
    """The interior angle of one corner of a piece, on stitch lines.

    Raises
    ------
    ValueError
        If the two edges do not meet there.
    """
    ending, starting = piece.edge(corner.ending).stitch, piece.edge(corner.starting).stitch
    if ending.end.distance(starting.start) > COINCIDENT_MM:
        raise ValueError(
            f"piece {piece.name!r}: {corner.starting!r} does not start where {corner.ending!r} ends"
        )
    into, out = ending.end_tangent, starting.start_tangent
    return 180.0 - Vector(into.dot(out), into.cross(out)).angle_deg


def check_draft(draft: Draft) -> tuple[Finding, ...]:
    """Findings on every seam, sewn corner and the fit; empty for a sound draft."""
    findings = []
    for seam in draft.seams:
        walked = walk_seam(draft, seam)
        if walked.worst_error_mm > WALK_MM:
            findings.append(
                Finding(
                    "walk",
                    "error",
                    f"{draft.title}: seam {seam.name!r} does not walk: the stitch lines differ by "
                    f"{walked.worst_error_mm:.2f} mm beyond the stated ease of {seam.ease_mm:.2f} "
                    f"mm (limit {WALK_MM} mm); match the seam lines, not the cut lines",
                )
            )
    for corner in draft.corners:
        angle = sewn_angle_deg(draft, corner)
        if abs(angle - 180.0) > TRUE_DEG:
            findings.append(
                Finding(
                    "true",
                    "error",
                    f"{draft.title}: corner {corner.name!r} is not true: its two angles make "
                    f"{angle:.2f} degrees (180 within {TRUE_DEG}); true the two edges together",
                )
            )
    fit = draft.fit
    loose = fit.smallest_girth_mm > draft.girth_low_mm + WALK_MM
    tight = fit.largest_girth_mm < draft.girth_high_mm - WALK_MM
    if loose or tight:
        faults = [*(["loose at rest"] if loose else []), *(["tight drawn out"] if tight else [])]
        change = _listed(fit.measures, "or") if fit.measures else "the elastic or the lower edge"
        findings.append(
            Finding(
                "fit",
                "error",
                f"{draft.title}: the open edge goes round heads of {fit.smallest_girth_mm:.0f} to "
                f"{fit.largest_girth_mm:.0f} mm, and the size asks for {draft.girth_low_mm:.0f} to "
                f"{draft.girth_high_mm:.0f} mm: it is too {_listed(faults, 'and too')}; "
                f"change {change}",
            )
        )
    return tuple(findings)


def _listed(words: Sequence[str], last: str) -> str:
    """``"a, b or c"``, where ``last`` is "or"."""
    *others, final = words
    return f"{', '.join(others)} {last} {final}" if others else final


def _marks(piece: Piece, edge: str) -> list[float]:
    return [0.0, *(notch.fraction for notch in piece.notches_on(edge)), 1.0]
