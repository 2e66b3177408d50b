"""The output folder is whole or untouched, whatever fails."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path

import pytest

from cutfiles.errors import OutputError
from cutfiles.files.folder import check_folder, staging

MANIFEST = "summary.json"


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def earlier_run(folder: Path, *written: str) -> None:
    """Leave what a run of ours leaves: files, and the list of them."""
    for name in written:
        (folder / name).write_text("older")
    table = {"format": "cutfiles-summary/1", "written": [*written, MANIFEST]}
    (folder / MANIFEST).write_text(json.dumps(table))


def test_files_appear_only_when_published(tmp_path: Path) -> None:
    with staging(tmp_path, MANIFEST) as place:
        place.write("lay-01.dxf", b"whole")
        assert not (tmp_path / "lay-01.dxf").exists()
        place.publish()
        assert (tmp_path / "lay-01.dxf").read_bytes() == b"whole"
    assert names(tmp_path) == ["lay-01.dxf"]


def test_a_failure_leaves_what_was_there(tmp_path: Path) -> None:
    earlier_run(tmp_path, "lay-01.dxf")

    def fail_half_way() -> None:
        with staging(tmp_path, MANIFEST) as place:
            place.write("lay-01.dxf", b"newer")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_half_way()
    assert names(tmp_path) == ["lay-01.dxf", MANIFEST]
    assert (tmp_path / "lay-01.dxf").read_bytes() == b"older"


def test_older_lays_go_and_nothing_else_is_touched(tmp_path: Path) -> None:
    earlier_run(tmp_path, "lay-01.dxf", "lay-02.dxf")
    for name in ("my-notes.txt", "lay-3.svg", "pattern-shirt.svg", "lay-07.dxf"):
        (tmp_path / name).write_text("mine")
    with staging(tmp_path, MANIFEST) as place:
        place.write("lay-01.dxf", b"new")
        place.write(MANIFEST, b"new")
        place.publish()
    assert names(tmp_path) == [
        "lay-01.dxf", "lay-07.dxf", "lay-3.svg", "my-notes.txt", "pattern-shirt.svg", MANIFEST,
    ]  # fmt: skip
    assert (tmp_path / "lay-01.dxf").read_text() == "new"
    assert (tmp_path / "lay-07.dxf").read_text() == "mine"


@pytest.mark.parametrize("foreign", ["file", "folder", "link", "manifest"])
def test_what_is_not_ours_is_never_replaced(foreign: str, tmp_path: Path) -> None:
    path = tmp_path / "lay-01.dxf"
    if foreign == "file":
        path.write_text("mine")
    elif foreign == "folder":
        earlier_run(tmp_path, "lay-01.dxf")
        path.unlink()
        path.mkdir()
    elif foreign == "link":
        path.symlink_to(tmp_path / "elsewhere")
    else:
        (tmp_path / MANIFEST).write_text('{"format": "another program", "written": ["lay-01.dxf"]}')
        path.write_text("mine")
    before = names(tmp_path)
    with pytest.raises(OutputError, match="was not written by cutfiles"):
        check_folder(tmp_path, MANIFEST, ("lay-01.dxf",))
    with staging(tmp_path, MANIFEST) as place:
        place.write("lay-01.dxf", b"new")
        with pytest.raises(OutputError, match="was not written by cutfiles"):
            place.publish()
    assert names(tmp_path) == before


def test_a_move_that_fails_is_rolled_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    earlier_run(tmp_path, "lay-01.dxf", "lay-02.dxf")
    real = Path.replace

    def jammed(self: Path, target: Path) -> Path:
        if self.name == "lay-01.svg" and "unfinished" in str(self.parent):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        return real(self, target)

    monkeypatch.setattr(Path, "replace", jammed)
    with staging(tmp_path, MANIFEST) as place:
        place.write("lay-01.dxf", b"new")
        place.write("lay-01.svg", b"new")
        with pytest.raises(OutputError, match="Permission denied"):
            place.publish()
    assert names(tmp_path) == ["lay-01.dxf", "lay-02.dxf", MANIFEST]
    assert (tmp_path / "lay-01.dxf").read_text() == "older"


def test_older_cut_files_are_moved_away_after_a_refusal(tmp_path: Path) -> None:
    earlier_run(tmp_path, "lay-01.dxf")
    (tmp_path / "older-results-1").mkdir()
    with staging(tmp_path, MANIFEST) as place:
        moved = place.withdraw_older()
    assert moved == tmp_path / "older-results-2"
    assert names(tmp_path) == ["older-results-1", "older-results-2"]
    with staging(tmp_path / "new", MANIFEST) as place:
        assert place.withdraw_older() is None


def test_a_full_disk_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)

    def write_to_it() -> None:
        with staging(tmp_path, MANIFEST) as place:
            place.write("lay-01.dxf", b"half")

    with pytest.raises(OutputError, match="No space left on device; free some space"):
        write_to_it()
    assert names(tmp_path) == []


def test_a_folder_that_cannot_be(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    for path in (tmp_path / "out", tmp_path / "out" / "deeper"):
        with pytest.raises(OutputError, match="a file stands in the way"):
            check_folder(path, MANIFEST, ())
    with pytest.raises(OutputError, match="File name too long"):
        check_folder(tmp_path / ("x" * 300), MANIFEST, ())


def test_a_folder_made_for_nothing_goes_again(tmp_path: Path) -> None:
    check_folder(tmp_path / "a" / "b", MANIFEST, ())
    assert names(tmp_path) == []


def test_what_a_killed_run_left_is_swept(tmp_path: Path) -> None:
    (tmp_path / ".unfinished-999999999-abc").mkdir()
    living = tmp_path / f".unfinished-{os.getpid()}-abc"
    living.mkdir()
    check_folder(tmp_path, MANIFEST, ())
    assert names(tmp_path) == [living.name]
