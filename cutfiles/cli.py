"""The command line: the only module that prints. Heavy imports wait inside the commands, and most
of them until the job is read, so that what is wrong with it is said at once."""

from __future__ import annotations

import importlib.util
import io
import os
import signal
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Annotated, Literal

import typer

from cutfiles.asked import Asked, EndedError
from cutfiles.effort import Effort, Progress
from cutfiles.errors import INTERRUPTED, CutfilesError, Finding, JobError, errors_of
from cutfiles.units import counted, format_order

DEFAULT_SECONDS = 10.0
QUICK_SECONDS = 1.0
PLAN_SECONDS = 60.0

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    help="From an order of sewn caps to cut files that have been read back and proved.",
)

JobPath = Annotated[Path, typer.Argument(metavar="JOB.toml", help="The job file.")]
OutPath = Annotated[Path, typer.Option("--out", help="The folder for the results.")]
Seed = Annotated[int, typer.Option(min=0, max=2**31, help="Where the search begins.")]


@app.command()
def make(
    job: JobPath,
    out: OutPath,
    *,
    seconds: Annotated[
        float, typer.Option(min=0.1, max=86_400, help="How long to search for a short lay.")
    ] = DEFAULT_SECONDS,
    seed: Seed = 1,
    quick: Annotated[bool, typer.Option("--quick", help="A decent lay at once.")] = False,
    anew: Annotated[
        bool, typer.Option("--anew", help="Search anew: take and keep no lay found before.")
    ] = False,
    png: Annotated[bool, typer.Option("--png", help="A picture of each lay, too.")] = False,
) -> None:
    """The whole way: draft, nest, order the cuts, write, read back, show."""
    from cutfiles.pipeline.load import load_job

    order = load_job(job)
    from cutfiles.pipeline.make import make_loaded
    from cutfiles.pipeline.store import Store

    _ASKED.go_on_unless_stopped()
    with _nest_shown() as shown:
        effort = Effort(QUICK_SECONDS if quick else seconds, seed, _ASKED.stop_nest, shown)
        if not anew:
            store = Store()
            effort = replace(effort, recall=store.recall, keep=store.keep)
        made = make_loaded(order, job.parent, out, effort, pictures=png)
    _print_findings(made.findings)
    typer.echo("\n".join(made.report()))
    _say_if_stopped()


@app.command()
def draft(
    job: JobPath,
    out: OutPath,
    paper: Annotated[
        str, typer.Option(metavar="A4|Letter", help="What the PDF is printed on.")
    ] = "A4",
    together: Annotated[
        bool, typer.Option("--together", help="All sizes of a style in one PDF.")
    ] = False,
) -> None:
    """The pattern pieces alone, at 1:1, as drafted: no shrinkage, no kerf."""
    from cutfiles.pipeline.load import load_job

    order = load_job(job)
    from cutfiles.pipeline.draft import draft_job

    _ASKED.go_on_unless_stopped()
    drafted = draft_job(order, job.parent, out, paper_name=paper, together=together)
    _print_findings(drafted.findings)
    typer.echo(f"Read back and found right, in {out}: {', '.join(drafted.names)}")


@app.command()
def ruler(
    job: JobPath,
    out: OutPath,
    *,
    stages: Annotated[
        int, typer.Option(min=2, max=3, help="Strips and cross cuts; with 3, trims in them.")
    ] = 3,
    folded: Annotated[
        bool, typer.Option("--folded", help="Fold the cloth selvedge to selvedge.")
    ] = False,
    nest: Annotated[
        float | None,
        typer.Option(min=0.1, max=86_400, help="Nest the outlines so long, to compare."),
    ] = None,
) -> None:
    """By ruler and rotary cutter: straight cuts, step by step."""
    from cutfiles.pipeline.load import load_order

    order = load_order(job)
    from cutfiles.pipeline.ruler import ruler_job

    _ASKED.go_on_unless_stopped()
    rule = partial(ruler_job, order, job.parent, out, stages=2 if stages == 2 else 3, folded=folded)
    if nest is None:
        ruled = rule()
    else:
        with _nest_shown() as shown:
            ruled = rule(effort=Effort(nest, 1, _ASKED.stop_nest, shown))
    _print_findings(ruled.findings)
    typer.echo("\n".join(ruled.lines))
    _say_if_stopped()


@app.command()
def strips(
    *,
    width: Annotated[str, typer.Option(help='Of the strip as cut, such as "1 1/2 in".')],
    length: Annotated[str, typer.Option(help='Of the whole strip, such as "1 yd".')],
    offcut: Annotated[str, typer.Option("--from", help='The cloth, such as "22 in x 18 in".')],
    bias: Annotated[bool, typer.Option("--bias", help="At 45 degrees to the grain.")] = False,
    seam: Annotated[str, typer.Option(help="The allowance of a join on the bias.")] = "1/4 in",
    unit: Annotated[
        str, typer.Option(metavar="mm|cm|in", help="Of plain numbers, and of the answer.")
    ] = "in",
) -> None:
    """Strips for ties and binding out of an offcut."""
    from cutfiles.pipeline.strips import strip_lines

    grain: Literal["straight", "bias"] = "bias" if bias else "straight"
    told = strip_lines(width=width, length=length, offcut=offcut, grain=grain, seam=seam, unit=unit)
    typer.echo("\n".join(told))


@app.command()
def estimate(
    job: JobPath,
    *,
    nest: Annotated[
        float | None,
        typer.Option(
            min=0.1, max=86_400, metavar="SECONDS", help="Nest for so long, as make does."
        ),
    ] = None,
    seed: Seed = 1,
    json_file: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write the figures there, too.")
    ] = None,
) -> None:
    """How much cloth the order takes, and how many caps the cloth on hand gives."""
    from cutfiles.pipeline.load import load_job

    order = load_job(job)
    from cutfiles.pipeline.estimate import estimate_loaded, write_figures

    _ASKED.go_on_unless_stopped()
    if nest is None:
        estimated = estimate_loaded(order, job.parent)
    else:
        with _nest_shown() as shown:
            effort = Effort(nest, seed, _ASKED.stop_nest, shown)
            estimated = estimate_loaded(order, job.parent, effort)
    _print_findings(estimated.findings)
    typer.echo("\n".join(estimated.report()))
    if json_file is not None:
        write_figures(estimated, json_file)
    _say_if_stopped()


@app.command()
def plan(
    job: JobPath,
    out: OutPath,
    *,
    seconds: Annotated[
        float, typer.Option(min=0.1, max=86_400, help="How long to look for a plan.")
    ] = PLAN_SECONDS,
    seed: Annotated[int, typer.Option(min=0, max=2**31, help="Where nests begin.")] = 1,
    workers: Annotated[
        int | None,
        typer.Option(min=1, max=256, help="Nests at once; one for every core unless said."),
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Nest on the cluster with this scheduler."),
    ] = None,
) -> None:
    """Which caps to cut in which lay, and in how many plies; a job file for each lay."""
    from cutfiles.pipeline.load import load_job

    order = load_job(job)
    from cutfiles.pipeline.plan import plan_job
    from cutfiles.pipeline.store import Store

    _ASKED.go_on_unless_stopped()
    with _said() as hear:
        effort = Effort(seconds, seed, _ASKED.stop_nest, keep=Store().keep)
        planned = plan_job(
            order,
            job,
            out,
            effort,
            workers=workers or os.cpu_count() or 1,
            cluster=cluster,
            hear=hear,
        )
    _print_findings(planned.findings)
    typer.echo(planned.text, nl=False)
    _say_if_stopped()


@app.command()
def check(
    path: Annotated[Path, typer.Argument(help="A DXF, SVG or PDF file, or a folder.")],
) -> None:
    """Read a written file or folder again, and judge it."""
    from cutfiles.pipeline.check import check_path

    _ASKED.go_on_unless_stopped()
    checked = check_path(path)
    _print_findings(checked.findings)
    faults = errors_of(checked.findings)
    if faults:
        typer.echo(f"{counted(len(faults), 'fault')} in {', '.join(checked.files)}", err=True)
        raise typer.Exit(1)
    typer.echo(f"{checked.verdict}: {', '.join(checked.files)}")


@app.command()
def show(
    path: Annotated[
        Path, typer.Argument(metavar="PATH", help="A folder that make wrote, or a drawing in it.")
    ],
) -> None:
    """The lays in letters and dots, as wide as the terminal."""
    from rich.console import Console
    from rich.text import Text

    from cutfiles.pipeline.show import show_lays

    _ASKED.go_on_unless_stopped()
    console = Console(markup=False, highlight=False)
    shown = show_lays(path, console.width, plain=console.options.ascii_only)
    _print_findings(shown.findings)
    for line in shown.lines:
        text = Text()
        for letters, kind in line:
            text.append(letters, None if kind is None else _KINDS[kind % len(_KINDS)])
        console.print(text, soft_wrap=True)


_KINDS = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9", "#f0e442")
"""Colours of kinds of pieces, of the palette of Okabe and Ito."""


@app.command()
def sheets(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A folder that make wrote.")],
    paper: Annotated[
        str, typer.Option(metavar="A4|Letter", help="What the sheets are printed on.")
    ] = "A4",
    date: Annotated[str, typer.Option(help="A date to print on them, as you write it.")] = "",
) -> None:
    """The paper for the table: job sheet, bundle tickets, list of pieces."""
    from cutfiles.pipeline.sheets import print_sheets

    _ASKED.go_on_unless_stopped()
    printed = print_sheets(folder, paper_name=paper, date=date)
    _print_findings(printed.findings)
    typer.echo("\n".join(printed.report()))


@app.command()
def take(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A folder that make wrote.")],
) -> None:
    """Take the cloth of lays that were cut off the shelf."""
    from cutfiles.pipeline.take import take_lays

    _ASKED.go_on_unless_stopped()
    taken = take_lays(folder)
    for line in taken.lines:
        typer.echo(f"taken off {taken.shelf}: {line}")
    typer.echo(f"The shelf as it was: {taken.before}")


@app.command()
def serve(
    *,
    port: Annotated[
        int, typer.Option(min=0, max=65_535, help="Where to listen; 0 for any that is free.")
    ] = 8420,
    host: Annotated[
        str, typer.Option(help="The address to listen on: this machine alone, unless said.")
    ] = "127.0.0.1",
    folder: Annotated[Path | None, typer.Option(metavar="DIR", help="Where jobs are kept.")] = None,
) -> None:
    """The local page: edit jobs, watch them being nested, take the files."""
    _ask_for_extra("web", ("starlette", "uvicorn", "jinja2", "python_multipart"), "serve")
    from cutfiles.web.serve import serve_jobs

    _ASKED.go_on_unless_stopped()
    serve_jobs(host, port, folder, typer.echo)


@app.command()
def sizes() -> None:
    """The size chart, by head girth."""
    from cutfiles.job.size_chart import chart_lines

    typer.echo("\n".join(chart_lines()))


def _ask_for_extra(extra: str, libraries: Iterable[str], command: str) -> None:
    """Say how to install what a command needs, where it is not there."""
    missing = [name for name in libraries if importlib.util.find_spec(name) is None]
    if missing:
        text = (
            f"{command} needs {', '.join(missing)}, which {'is' if len(missing) == 1 else 'are'} "
            f"not installed: pip install 'cutfiles[{extra}]'"
        )
        raise JobError.of("not-installed", text)


def run() -> None:
    """Run the program; findings go to standard error, and no traceback does."""
    signal.signal(signal.SIGINT, _ASKED.on_interrupt)
    signal.signal(signal.SIGTERM, _ASKED.on_terminate)
    if isinstance(sys.stdout, io.TextIOWrapper):  # names may hold letters that a terminal lacks
        sys.stdout.reconfigure(errors="replace")
    try:
        app()
    except CutfilesError as error:
        _print_findings(error.findings)
        sys.exit(error.exit_status)
    except EndedError:
        typer.echo("Interrupted; nothing was written.", err=True)
        sys.exit(INTERRUPTED)
    finally:
        _ASKED.end_if_terminated()


_ASKED = Asked()


def _say_if_stopped() -> None:
    """A search that Ctrl-C ended has its own exit status."""
    if _ASKED.nest_was_stopped:
        typer.echo("Stopped early: this is the best that had been found.")
        raise typer.Exit(INTERRUPTED)


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
    line = _NestLine()
    with _said(line):
        yield line.hear


@contextmanager
def _said(first: _NestLine | str = "Drafting ...") -> Iterator[Callable[[str], None]]:
    """One line of news on the terminal, where there is one."""
    from rich.console import Console
    from rich.live import Live

    console = Console(stderr=True, markup=False, highlight=False)
    with Live(first, console=console, refresh_per_second=5, transient=True) as live:
        yield live.update


def _print_findings(findings: Iterable[Finding]) -> None:
    """Findings as a terminal may have them: what a file says may hold orders to it."""
    for finding in findings:
        text = "".join(c if c.isprintable() or c == "\n" else "?" for c in finding.text)
        typer.echo(f"{finding.severity}: {text}", err=True)
