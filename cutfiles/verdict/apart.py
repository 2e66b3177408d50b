"""A lay in two drawings, one to cut and one to mark: put together again to be judged as one."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from cutfiles.cuts.plan import Role
from cutfiles.errors import Finding
from cutfiles.verdict.drawing import ReadDrawing, lines_of
from cutfiles.verdict.expected import ExpectedLay
from cutfiles.verdict.on_cloth import judge_sheet


def joined(
    main: ReadDrawing, marks: ReadDrawing, expected: ExpectedLay, apart: Collection[Role]
) -> ReadDrawing:
    """The one drawing that both make up.

    The cloth is in both, so that they can be laid on each other; lines and texts in the wrong one
    are findings.
    """
    findings = [*main.findings, *marks.findings]
    cloth = expected.layers["cloth"]
    moved = {expected.layers[role] for role in apart}
    for drawing, barred in (
        (main, moved),
        (marks, set(expected.layers.values()) - moved - {cloth}),
    ):
        found = drawing.layers & barred
        if found:
            text = f"{drawing.name}: holds {', '.join(sorted(found))}, which belongs beside it"
            findings.append(Finding("apart", "error", text))

    def say(code: str, text: str) -> None:
        findings.append(Finding(code, "error", f"{marks.name}: {text}"))

    judge_sheet(marks, expected, say)
    return replace(
        main,
        name=f"{main.name}, {marks.name}",
        lines=lines_of((*main.lines, *(line for line in marks.lines if line.layer != cloth))),
        texts=(*main.texts, *marks.texts),
        findings=tuple(findings),
    )
