"""Time what the local page's server does while somebody works; print one JSON line a row.

``python tests/bench/page.py``. Milliseconds of the processor, the least of five: a change of one
line and the checks of the whole job; a pattern drawn anew after a change of one line; and, for
lays of some caps, news of a nest with all its outlines as JSON, and a trial of one dragged piece.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from itertools import count
from pathlib import Path

from cutfiles.effort import Effort
from cutfiles.lay.arrange import arrange
from cutfiles.lay.shown import shown
from cutfiles.lay.table import spacing_for
from cutfiles.pipeline.job_text import job_of_text, text_findings
from cutfiles.pipeline.pattern import pattern_table
from cutfiles.pipeline.shown_lays import lay_rows
from cutfiles.pipeline.tryout import Place, tryout_of_job
from cutfiles.web.edits import Change, edited
from tests.conftest import ONE_CAP, SMALL_JOB

HERE = Path()


def main() -> None:
    """Print the rows."""
    for lines in (1, 100, 500):
        print(json.dumps(job_row(lines)), flush=True)
    for caps in (20, 125, 1000):
        print(json.dumps(lay_row(caps)), flush=True)


def job_row(lines: int) -> dict[str, float]:
    """A change in the last line of a job of so many, its checks, and its pattern."""
    text = SMALL_JOB + ONE_CAP * (lines - 1)
    line = ("caps", lines - 1)
    snug = count(100)

    def drawn_anew() -> None:
        new = edited(text, [Change((*line, "measures", "snug"), "set", next(snug) / 10.0)])
        pattern_table(job_of_text(new, HERE, ()), HERE)

    return {
        "lines": lines,
        "change_ms": least_ms(lambda: edited(text, [Change((*line, "size"), "set", "L")])),
        "checks_ms": least_ms(lambda: text_findings(text, HERE, ())),
        "pattern_ms": least_ms(drawn_anew),
    }


def lay_row(caps: int) -> dict[str, float]:
    """News and a trial of a lay of so many caps, four pieces each."""
    text = SMALL_JOB.replace("quantity = 1", f"quantity = {caps}")
    tryout = tryout_of_job(job_of_text(text, HERE, ()), HERE)
    (cuts,) = tryout.lists
    spacing = spacing_for(cuts.cloth, tryout.job.machine)
    (lay,) = arrange(
        cuts, tryout.job.machine, Effort(0.0, 1), unit="mm", source="job.toml", spacing=spacing
    )
    places = {p.id: Place(*p.at_mm, p.turn_deg) for p in shown(lay).pieces}
    name, place = next(iter(places.items()))
    news = json.dumps(lay_rows([shown(lay)]))
    return {
        "pieces": len(places),
        "news_kb": round(len(news) / 1000),
        "news_ms": least_ms(lambda: json.dumps(lay_rows([shown(lay)]))),
        "trial_ms": least_ms(lambda: tryout.trial(places, name, place)),
    }


def least_ms(work: Callable[[], object]) -> float:
    """The least of five, after one that fills caches."""
    work()
    taken = []
    for _ in range(5):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return round(1000.0 * min(taken), 1)


if __name__ == "__main__":
    main()
