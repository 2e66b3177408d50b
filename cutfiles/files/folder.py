"""The output folder: files are written aside, and get their names only when all are good.

A staging folder inside the output folder holds the new files until `Staging.publish`; whatever
happens before, the output folder keeps what it had, and nothing half-written is seen in it. Only
files that an earlier run wrote, by its own account, are ever replaced or removed.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from cutfiles.errors import Finding, OutputError

_STAGING = ".unfinished-"
_RETIRED = "retired"
_OLDER = "older-results"


@dataclass(frozen=True, slots=True)
class Staging:
    """Files on their way into an output folder.

    ``earlier`` are the names that an earlier run wrote there, and that may be replaced.
    """

    target: Path
    folder: Path
    earlier: frozenset[str]

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
        """Give every staged file its name; earlier results that it does not replace go.

        Either all of it happens, or nothing.

        Raises
        ------
        OutputError
            If a file that is not ours stands in the way, or one cannot be moved.
        """
        new = sorted(path.name for path in self.folder.iterdir())
        refuse_foreign(self.target, new, self.earlier)
        retired = self.folder / _RETIRED
        moves: list[tuple[Path, Path]] = []
        try:
            retired.mkdir()
            for name in sorted(self.earlier):
                if (self.target / name).is_file():
                    _move(self.target / name, retired / name, moves)
            for name in new:
                _move(self.folder / name, self.target / name, moves)
        except BaseException as error:
            for source, place in reversed(moves):
                place.replace(source)
            if isinstance(error, OSError):
                raise _output_error("results", self.target, error) from error
            raise

    def withdraw_older(self) -> Path | None:
        """After a refusal: move earlier results out of the way, so that none is taken for the
        new one. Returns where they are, or None if there were none.

        Raises
        ------
        OutputError
            If they cannot be moved.
        """
        older = [self.target / name for name in sorted(self.earlier)]
        older = [path for path in older if path.is_file()]
        if not older:
            return None
        number = 1
        while (self.target / f"{_OLDER}-{number}").exists():
            number += 1
        place = self.target / f"{_OLDER}-{number}"
        try:
            place.mkdir()
            for path in older:
                path.replace(place / path.name)
        except OSError as error:
            raise _output_error(_OLDER, self.target, error) from error
        return place


@contextlib.contextmanager
def staging(target: Path, *manifests: str) -> Iterator[Staging]:
    """A staging folder in ``target``, which is made if need be; always cleaned up.

    ``manifests`` are the names of the JSON files in which earlier runs list, under ``written``,
    the names they wrote that the new files replace.

    Raises
    ------
    OutputError
        If the folder cannot be made or written to.
    """
    made: list[Path] = []
    try:
        made = [path for path in (target, *target.parents) if not path.exists()]
        target.mkdir(parents=True, exist_ok=True)
        _sweep(target)
        folder = Path(tempfile.mkdtemp(prefix=f"{_STAGING}{os.getpid()}-", dir=target))
    except OSError as error:
        raise _output_error("folder", target, error) from error
    try:
        before = (_written_before(target / manifest) for manifest in manifests)
        yield Staging(target, folder, frozenset().union(*before))
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        for path in made:  # a folder we made for nothing goes again
            with contextlib.suppress(OSError):
                path.rmdir()


def check_folder(target: Path, manifest: str, names: tuple[str, ...]) -> None:
    """Fail before a long nest if the folder cannot take files of these names.

    Raises
    ------
    OutputError
        As `staging` and `Staging.publish` do.
    """
    with staging(target, manifest) as place:
        place.write("probe", b"")
        refuse_foreign(target, names, place.earlier)


def refuse_foreign(
    target: Path, names: tuple[str, ...] | list[str], earlier: frozenset[str]
) -> None:
    """Refuse to replace what no earlier run wrote.

    Raises
    ------
    OutputError
        With one finding for each such file or folder.
    """
    foreign = [
        name
        for name in names
        if os.path.lexists(target / name) and (name not in earlier or (target / name).is_dir())
    ]
    if foreign:
        raise OutputError(
            Finding(
                "output",
                "error",
                f"{target}: {name}: is there already and was not written by cutfiles: move it, or "
                "name another folder with --out",
            )
            for name in foreign
        )


def _move(source: Path, place: Path, moves: list[tuple[Path, Path]]) -> None:
    source.replace(place)
    moves.append((source, place))


def _written_before(manifest: Path) -> frozenset[str]:
    """The names that an earlier run of ours lists; none if there was no such run."""
    try:
        table = json.loads(manifest.read_bytes())
    except (OSError, ValueError, RecursionError):
        return frozenset()
    if not isinstance(table, dict) or not str(table.get("format", "")).startswith("cutfiles-"):
        return frozenset()
    written = table.get("written", [])
    names = written if isinstance(written, list) else []
    plain = re.compile(r"[\w.-]+")
    return frozenset(
        name for name in names if isinstance(name, str) and plain.fullmatch(name) and name[0] != "."
    )


def _sweep(target: Path) -> None:
    """Remove staging folders of runs that were killed."""
    for path in target.glob(f"{_STAGING}*"):
        owner = re.match(rf"{re.escape(_STAGING)}(\d+)-", path.name)
        if owner and not _is_running(int(owner[1])):
            shutil.rmtree(path, ignore_errors=True)


def _is_running(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


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
