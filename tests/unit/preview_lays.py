"""Lays as the preview shows them, written and read back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from cutfiles.files.dxf import dxf_bytes
from cutfiles.files.roles import INKS
from cutfiles.files.summary import summary_table
from cutfiles.files.svg import svg_bytes
from cutfiles.job.job import Cloth, Job
from cutfiles.job.machine import Machine
from cutfiles.lay.lay import Lay
from cutfiles.preview.lay import PreviewLay
from cutfiles.preview.page import PreviewSheet
from cutfiles.verdict.read_dxf import read_dxf
from tests.small_lay import CLOTH, LASER, planned, small_lay, tie_backs

COLOURS = {role: ink.hex for role, ink in INKS.items()}


@dataclass(frozen=True)
class Example:
    """A nested lay, and what is shown of it."""

    lay: Lay
    shown: PreviewLay
    sheet: PreviewSheet


def example(
    folder: Path,
    machine: Machine = LASER,
    cloth: Cloth = CLOTH,
    *,
    title: str = "Caps",
    lay: Lay | None = None,
) -> Example:
    """Two caps, or another lay, on a machine and cloth."""
    lay = lay or small_lay(replace(tie_backs(2), cloth=cloth.name), cloth=cloth, machine=machine)
    job = Job("job.toml", title, "mm", (cloth,), (tie_backs(2),), machine)
    plan = planned(lay, machine)
    content = dxf_bytes(plan)
    path = folder / "lay-01.dxf"
    path.write_bytes(content)
    contents = {"lay-01.dxf": content, "lay-01.svg": svg_bytes(plan, title)}
    summary = summary_table(
        job, (lay,), (plan,), (), seed=1, contents=contents, written=tuple(contents)
    )
    shown = PreviewLay(read_dxf(path), summary["lays"][0], plan, summary["roles"])
    sheet = PreviewSheet(summary, (shown,), COLOURS, ("Mind your hands.",), (), "mm")
    return Example(lay, shown, sheet)
