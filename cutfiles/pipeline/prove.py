"""Writing lay files aside, reading them again and judging them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from cutfiles.cuts.plan import CutPlan
from cutfiles.errors import Finding, VerdictError, errors_of
from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.folder import Staging
from cutfiles.files.roles import INKS
from cutfiles.files.svg import svg_bytes
from cutfiles.job.job import Job
from cutfiles.lay.lay import Lay
from cutfiles.verdict.drawing import ReadDrawing
from cutfiles.verdict.expected import expected_of, in_frames
from cutfiles.verdict.judge import judge_lay
from cutfiles.verdict.read_dxf import read_dxf
from cutfiles.verdict.read_svg import read_svg

SUMMARY: Final = "summary.json"
PREVIEW: Final = "preview.html"
PATTERN: Final = "pattern.json"
"""The files of a run that list the others: of `make`, and of `draft`."""

READERS: Final[dict[str, Callable[[Path], ReadDrawing]]] = {".dxf": read_dxf, ".svg": read_svg}
LAYERS: Final = {role: ink.layer for role, ink in INKS.items()}


@dataclass(frozen=True, slots=True)
class Proved:
    """Lay files that were written aside, read again and found right: their bytes by name, and
    each lay's drawing as it was read."""

    contents: dict[str, bytes]
    drawings: tuple[ReadDrawing, ...]


def written_and_proved(
    job: Job, lays: Sequence[Lay], plans: Sequence[CutPlan], place: Staging
) -> Proved:
    """Write every lay's files aside, read them again and judge them against their lays.

    Raises
    ------
    VerdictError
        If any of them is wrong; earlier results have been moved out of the way by then.
    """
    contents: dict[str, bytes] = {}
    drawings: list[ReadDrawing] = []
    wrong: list[Finding] = []
    for lay, plan in zip(lays, plans, strict=True):
        expected = in_frames(expected_of(lay, job.machine, LAYERS, job.pinned), plan)
        for suffix, content in ((".dxf", dxf_bytes(plan)), (".svg", svg_bytes(plan, job.title))):
            written = place.write(lay.name + suffix, content)
            contents[written.name] = content
            drawing = READERS[suffix](written)
            wrong.extend(errors_of(judge_lay(drawing, expected)))
            if suffix == ".dxf":
                drawings.append(drawing)
    refuse(wrong, place)
    return Proved(contents, tuple(drawings))


def refuse(wrong: Sequence[Finding], place: Staging) -> None:
    """Raise `VerdictError` if anything is wrong, earlier results moved out of the way first."""
    if not wrong:
        return
    older = place.withdraw_older()
    text = (
        f"older results were moved to {older.name}, so that none is cut by mistake" if older else ""
    )
    raise VerdictError([*wrong, *([Finding("older-results", "note", text)] if older else [])])
