"""Small lays that tests of what comes after them share, and the cloth and machine they are for."""

from __future__ import annotations

from functools import lru_cache

from cutfiles.cuts.plan import CutPlan
from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.effort import Effort
from cutfiles.files.roles import INKS
from cutfiles.job.job import CapLine, Cloth, Job, PanelLine
from cutfiles.job.machine import Machine
from cutfiles.job.sizes import size_named
from cutfiles.lay.arrange import arrange
from cutfiles.lay.lay import Lay
from cutfiles.pieces.cut_list import cut_list
from cutfiles.pieces.ordered import CutList
from cutfiles.pieces.panel import read_panels

CLOTH = Cloth("kelp", 1117.6, 12.7, None, False, 1, 3.0, 2.0, "cotton")
LASER = Machine("laser", 0.2, None, None)
LAYERS = {role: ink.layer for role, ink in INKS.items()}


def tie_backs(count: int) -> CapLine:
    """An order of so many tie-back caps, size M, hemmed."""
    return CapLine("tie-back", size_named("M"), count, "hem", "kelp")


def small_lay(line: CapLine, *, cloth: Cloth = CLOTH, machine: Machine = LASER) -> Lay:
    """The caps of one line, arranged without a search."""
    job = Job("job.toml", "t", "mm", (cloth,), (line,), machine)
    return _arranged(cut_list(job, cloth), machine)


def small_panel_lay(content: bytes, line: PanelLine, *, machine: Machine = LASER) -> Lay:
    """The panels of one SVG drawing, arranged without a search."""
    panels, _ = read_panels(content, line, source="job.toml")
    job = Job("job.toml", "t", "mm", (CLOTH,), (), machine, (line,))
    return _arranged(cut_list(job, CLOTH, panels), machine)


@lru_cache(maxsize=30)
def planned(lay: Lay, machine: Machine = LASER) -> CutPlan:
    """The cuts of a lay; asked for again they are not planned again."""
    return cut_plan(lay, machine, seed=1)


def _arranged(cuts: CutList, machine: Machine) -> Lay:
    (lay,) = arrange(cuts, machine, Effort(0.0, 1), unit="mm", source="job.toml")
    return lay
