"""Taking the cloth of lays that were cut off the shelf."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from cutfiles.errors import Finding, JobError, OutputError
from cutfiles.files.shelf_text import Taken as TakenOff
from cutfiles.files.shelf_text import shelf_after
from cutfiles.files.whole_file import write_whole
from cutfiles.job.shelf import read_shelf
from cutfiles.pipeline.manifests import SUMMARY
from cutfiles.units import format_length
from cutfiles.verdict.read_summary import ShelfRow, read_summary


@dataclass(frozen=True, slots=True)
class Taken:
    """What `take_lays` took off which shelf, and where the shelf as it was lies."""

    shelf: Path
    before: Path
    lines: tuple[str, ...]


def take_lays(folder: Path) -> Taken:
    """Take what the lays of a folder used off the shelf that its job was made with.

    The shelf gets its new text in one step, comments and order kept; a copy of the old one lies
    beside it. An interruption leaves the old shelf.

    Raises
    ------
    JobError
        If there is no such shelf, or it is not as it was when the lays were made.
    OutputError
        If it cannot be written.
    """
    summary = read_summary(folder / SUMMARY)
    if summary.shelf is None:
        text = (
            f"{folder / SUMMARY}: shelf: is missing: the job drew no cloth from a shelf: name one "
            "in the job, and make it again"
        )
        raise JobError.of("no-shelf", text)
    row = summary.shelf
    shelf = Path(os.path.normpath(folder.resolve() / row.file))
    with _alone(shelf):
        content = _unchanged(shelf, row, folder)
        try:
            after = shelf_after(
                content,
                {take.stock: TakenOff(take.length_mm, tuple(take.rest_mm)) for take in row.takes},
            )
        except (ValueError, KeyError, IndexError) as error:
            text = f"{shelf}: does not fit {folder / SUMMARY}: {error}: make the job again"
            raise JobError.of("shelf-changed", text) from error
        read_shelf(after.content, file=shelf.name)  # what is written can be read again
        before = shelf.with_name(f"{shelf.name}.before")
        write_whole(before, content)
        write_whole(shelf, after.content)
    lines = (
        f"{take.name}: "
        + ("the remnant" if take.length_mm is None else format_length(take.length_mm, "m"))
        + f"; left: {after.left[take.stock]}"
        for take in row.takes
    )
    return Taken(shelf, before, tuple(lines))


def _unchanged(shelf: Path, row: ShelfRow, folder: Path) -> bytes:
    try:
        content = shelf.read_bytes()
    except OSError as error:
        text = (
            f"{shelf}: cannot be read: {error.strerror}; put the shelf back where it was when "
            f"{folder} was made"
        )
        raise JobError.of("no-file", text) from error
    if hashlib.sha256(content).hexdigest() != row.sha256:
        text = (
            f"{shelf}: is not the shelf that {folder} was made with: these lays were taken off it "
            "already, others were, or somebody changed it; make the job again, or change the shelf "
            "by hand"
        )
        raise JobError.of("shelf-changed", text)
    return content


@contextmanager
def _alone(shelf: Path) -> Iterator[None]:
    """Keep every other run off a shelf meanwhile."""
    mark = shelf.with_name(f"{shelf.name}.in-use")
    try:
        os.close(os.open(mark, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
    except FileExistsError:
        text = (
            f"{mark}: is there: another run is writing the shelf, or was ended while it did: wait, "
            "or delete that file"
        )
        raise OutputError([Finding("shelf-in-use", "error", text)]) from None
    except OSError as error:
        text = f"{shelf}: cannot be written beside: {error.strerror}; see that its folder can be"
        raise OutputError([Finding("output", "error", text)]) from error
    try:
        yield
    finally:
        with suppress(OSError):
            mark.unlink()
