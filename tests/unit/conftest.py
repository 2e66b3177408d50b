"""Small lays with their plans of cuts and what the judge expects of them. Read only."""

from __future__ import annotations

import pytest

from cutfiles.cuts.plan import CutPlan
from cutfiles.job.job import PanelLine
from cutfiles.lay.lay import Lay
from cutfiles.verdict.expected import ExpectedLay, expected_of
from tests.conftest import ROOT
from tests.small_lay import LASER, LAYERS, planned, small_lay, small_panel_lay, tie_backs


@pytest.fixture(scope="session")
def lay() -> Lay:
    """Two tie-back caps."""
    return small_lay(tie_backs(2))


@pytest.fixture(scope="session")
def plan(lay: Lay) -> CutPlan:
    return planned(lay, LASER)


@pytest.fixture(scope="session")
def expected(lay: Lay) -> ExpectedLay:
    return expected_of(lay, LASER, LAYERS)


@pytest.fixture(scope="session")
def panel_lay() -> Lay:
    """Two pockets, each with one cut-out."""
    content = (ROOT / "fixtures" / "pieces" / "pocket.svg").read_bytes()
    return small_panel_lay(content, PanelLine(1, "pocket.svg", "pocket", 2, "kelp"))
