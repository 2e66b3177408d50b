"""The output folder: files are written aside, and get their names only when all are good.

A staging folder inside the output folder holds the new files until `publish`; whatever happens
before, the output folder keeps what it had, and nothing half-written is seen in it.
"""

from __future__ import annotations

import contextlib
import errno
import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from cutfiles.errors import Finding, OutputError

LAY_FILES = re.compile(r"^(lay-\d+\.(dxf|svg)|summary\.json|preview\.html)$")
PATTERN_FILES = re.compile(r"^pattern-[\w-]+\.(dxf|svg|pdf|astm\.dxf)$")
"""Names that only we give; nothing else in an output folder is ever touched."""

_OLDER = "older-results"


@dataclass(frozen=True, slots=True)
class Staging:
    """Files on their way into an output folder. ``ours`` are the names that they replace."""

    target: Path
    folder: Path
    ours: re.Pattern[str]

    def write(self, name: str, content: bytes) -> Path:
        """Write one file aside, down to the disk.

        Raises
        ------
        OutputError
            If it cannot be written, a full disk included.
        """
        path = self.folder / name
        try:
            with path.open("wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
        except OSError as error:
            raise _output_error(path.name, self.target, error) from error
        return path

    def publish(self) -> None:
        """Give every staged file its name; older results of ours that it does not replace go.

        Raises
        ------
        OutputError
            If a file cannot be moved.
        """
        try:
            new = sorted(path.name for path in self.folder.iterdir())
            for old in self._older():
                if old.name not in new:
                    old.unlink()
            for name in new:
                (self.folder / name).replace(self.target / name)
        except OSError as error:
            raise _output_error("results", self.target, error) from error

    def withdraw_older(self) -> Path | None:
        """After a refusal: move older cut files out of the way, so that none is taken for the
        new one. Returns where they are, or None if there were none."""
        older = self._older()
        if not older:
            return None
        for number in range(1, 10_000):
            place = self.target / f"{_OLDER}-{number}"
            if not place.exists():
                break
        try:
            place.mkdir()
            for path in older:
                path.replace(place / path.name)
        except OSError as error:
            raise _output_error(_OLDER, self.target, error) from error
        return place

    def _older(self) -> list[Path]:
        return sorted(p for p in self.target.iterdir() if p.is_file() and self.ours.match(p.name))


@contextlib.contextmanager
def staging(target: Path, ours: re.Pattern[str] = LAY_FILES) -> Iterator[Staging]:
    """A staging folder in ``target``, which is made if need be; always cleaned up.

    Raises
    ------
    OutputError
        If the folder cannot be made or written to.
    """
    made = [p for p in (target, *target.parents) if not p.exists()]
    try:
        target.mkdir(parents=True, exist_ok=True)
        folder = Path(tempfile.mkdtemp(prefix=".unfinished-", dir=target))
    except OSError as error:
        raise _output_error("folder", target, error) from error
    try:
        yield Staging(target, folder, ours)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        for path in made:  # a folder we made for nothing goes again
            with contextlib.suppress(OSError):
                path.rmdir()


def check_folder(target: Path) -> None:
    """Fail before a long nest if the folder cannot take files.

    Raises
    ------
    OutputError
        As `staging` does.
    """
    with staging(target) as place:
        place.write("probe", b"")


def _output_error(what: str, target: Path, error: OSError) -> OutputError:
    reason = error.strerror or str(error)
    mend = {
        errno.ENOSPC: "free some space, or name a folder on another disk with --out",
        errno.EACCES: "name a folder that you may write to with --out",
        errno.EROFS: "name a folder that can be written to with --out",
        errno.ENOTDIR: "a file stands in the way: name another folder with --out",
        errno.EEXIST: "a file stands in the way: name another folder with --out",
    }.get(error.errno or 0, "name another folder with --out")
    text = f"{target}: {what}: cannot be written: {reason}; {mend}"
    return OutputError([Finding("output", "error", text)])
