"""``python -m tests.compiled``: runs what is compiled at first use, so that it is kept on disk."""

from __future__ import annotations

from cutfiles.cuts.plan_cuts import cut_plan
from cutfiles.lay.grid_engine import compile_engine
from tests.small_lay import LASER, small_lay, tie_backs


def main() -> None:
    """One order of cuts with its arcs, and one nest."""
    compile_engine()
    cut_plan(small_lay(tie_backs(1)), LASER, seed=1)


if __name__ == "__main__":
    main()
