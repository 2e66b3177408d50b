"""``python -m tests.compiled``: runs what is compiled at first use, so that it is kept on disk."""

from __future__ import annotations

import subprocess
import sys

from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.lay.grid_engine import compile_engine
from tests.conftest import ROOT
from tests.small_lay import LASER, small_lay, tie_backs


def main() -> None:
    """One order of cuts with its arcs, one nest, and, side by side, the tests' own modules."""
    # what is wrong with them, the stage of the tests says
    collect = [sys.executable, "-m", "pytest", "--collect-only"]
    with subprocess.Popen(collect, cwd=ROOT, stdout=subprocess.DEVNULL):
        compile_engine()
        cut_plan(small_lay(tie_backs(1)), LASER, seed=1)


if __name__ == "__main__":
    main()
