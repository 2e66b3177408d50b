"""The command line: the only module that prints. Heavy imports wait inside the commands."""

from __future__ import annotations

import signal
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from cutfiles.effort import Effort, Progress
from cutfiles.errors import CutfilesError, Finding, errors_of
from cutfiles.units import format_order

DEFAULT_SECONDS = 10.0
QUICK_SECONDS = 1.0
INTERRUPTED = 130

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="From an order of sewn caps to cut files that have been read back and proved.",
)

JobPath = Annotated[Path, typer.Argument(metavar="JOB.toml", help="The job file.")]
OutPath = Annotated[Path, typer.Option("--out", help="The folder for the results.")]


@app.command()
def make(
    job: JobPath,
    out: OutPath,
    seconds: Annotated[
        float, typer.Option(min=0.1, max=86_400, help="How long to search for a short lay.")
    ] = DEFAULT_SECONDS,
    seed: Annotated[int, typer.Option(min=0, max=2**31, help="Where the search begins.")] = 1,
    quick: Annotated[bool, typer.Option("--quick", help="A decent lay at once.")] = False,
) -> None:
    """The whole way: draft, nest, order the cuts, write, read back, show."""
    from cutfiles.pipeline import make_job

    with _stopping() as stop, _nest_shown() as shown:
        effort = Effort(QUICK_SECONDS if quick else seconds, seed, stop.is_set, shown)
        made = make_job(job, out, effort)
        interrupted = stop.is_set()
    _print_findings(made.findings)
    typer.echo("\n".join(made.report()))
    if interrupted:
        typer.echo("Stopped early: this is the best that had been found.")
        raise typer.Exit(INTERRUPTED)


@app.command()
def draft(job: JobPath, out: OutPath) -> None:
    """The pattern pieces alone, at 1:1, as drafted: no shrinkage, no kerf."""
    from cutfiles.pipeline import draft_job

    names = draft_job(job, out)
    typer.echo(f"Read back and found right, in {out}: {', '.join(names)}")


@app.command()
def check(
    path: Annotated[Path, typer.Argument(help="A DXF or SVG file, or a folder that make wrote.")],
) -> None:
    """Read a written file or folder again, and judge it."""
    from cutfiles.pipeline import check_path

    checked = check_path(path)
    _print_findings(checked.findings)
    faults = errors_of(checked.findings)
    if faults:
        typer.echo(f"{len(faults)} faults in {', '.join(checked.files)}", err=True)
        raise typer.Exit(1)
    typer.echo(f"Sound: {', '.join(checked.files)}")


@app.command()
def sizes() -> None:
    """The size chart, by head girth."""
    from cutfiles.job.sizes import SIZES, us_hat_size

    typer.echo("size   head girth, cm   drafted for, cm   hat size, US")
    for size in SIZES:
        reach = f"{size.girth_low_mm / 10:.1f}-{size.girth_high_mm / 10:.1f}"
        middle = f"{size.girth_mm / 10:.1f}"
        typer.echo(f"{size.name:<6} {reach:<16} {middle:<17} {us_hat_size(size.girth_mm)}")


def run() -> None:
    """Run the program; findings go to standard error, and no traceback does."""
    try:
        app(standalone_mode=True)
    except CutfilesError as error:
        _print_findings(error.findings)
        sys.exit(error.exit_status)
    except KeyboardInterrupt:
        typer.echo("Interrupted; nothing was written.", err=True)
        sys.exit(INTERRUPTED)


@contextmanager
def _stopping() -> Iterator[threading.Event]:
    """The first Ctrl-C asks the search to end with its best; the second ends the program."""
    stop = threading.Event()

    def ask(_signal: int, _frame: object) -> None:
        if stop.is_set():
            raise KeyboardInterrupt
        stop.set()

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield stop
    finally:
        signal.signal(signal.SIGINT, before)


class _NestLine:
    """One line about the nest, its time left counted on between two pieces of news."""

    def __init__(self) -> None:
        self._news: Progress | None = None
        self._heard = 0.0

    def hear(self, news: Progress) -> None:
        self._news, self._heard = news, time.monotonic()

    def __rich__(self) -> str:
        news = self._news
        if news is None:
            return "Drafting ..."
        left = max(0.0, news.seconds_left - (time.monotonic() - self._heard))
        order = format_order(news.caps, news.panels)
        return (
            f"{news.cloth}: {order} on {news.length_mm:.0f} mm, {news.efficiency:.1%} of "
            f"the cloth used, {left:.0f} s left (Ctrl-C keeps this)"
        )


@contextmanager
def _nest_shown() -> Iterator[Callable[[Progress], None]]:
    """Progress on the terminal, where there is one."""
    from rich.console import Console
    from rich.live import Live

    line = _NestLine()
    console = Console(stderr=True, markup=False, highlight=False)
    with Live(line, console=console, refresh_per_second=5, transient=True):
        yield line.hear


def _print_findings(findings: Iterable[Finding]) -> None:
    for finding in findings:
        typer.echo(f"{finding.severity}: {finding.text}", err=True)
