from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from cutfiles.errors import OutputError
from cutfiles.files.folder import check_folder, staging


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_files_appear_only_when_published(tmp_path: Path) -> None:
    with staging(tmp_path) as place:
        place.write("lay-01.dxf", b"whole")
        assert not (tmp_path / "lay-01.dxf").exists()
        place.publish()
        assert (tmp_path / "lay-01.dxf").read_bytes() == b"whole"
    assert names(tmp_path) == ["lay-01.dxf"]


def test_a_failure_leaves_what_was_there(tmp_path: Path) -> None:
    (tmp_path / "lay-01.dxf").write_bytes(b"older")

    def fail_half_way() -> None:
        with staging(tmp_path) as place:
            place.write("lay-01.dxf", b"newer")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_half_way()
    assert names(tmp_path) == ["lay-01.dxf"]
    assert (tmp_path / "lay-01.dxf").read_bytes() == b"older"


def test_older_lays_go_and_nothing_else_is_touched(tmp_path: Path) -> None:
    for name in ("lay-01.dxf", "lay-02.dxf", "lay-02.svg", "summary.json", "my-notes.txt",
                 "lay-plan.dxf"):  # fmt: skip
        (tmp_path / name).write_text("older")
    with staging(tmp_path) as place:
        place.write("lay-01.dxf", b"new")
        place.write("summary.json", b"new")
        place.publish()
    assert names(tmp_path) == ["lay-01.dxf", "lay-plan.dxf", "my-notes.txt", "summary.json"]
    assert (tmp_path / "lay-01.dxf").read_text() == "new"
    assert (tmp_path / "my-notes.txt").read_text() == "older"


def test_older_cut_files_are_moved_away_after_a_refusal(tmp_path: Path) -> None:
    (tmp_path / "lay-01.dxf").write_text("older")
    (tmp_path / "older-results-1").mkdir()
    with staging(tmp_path) as place:
        moved = place.withdraw_older()
    assert moved == tmp_path / "older-results-2"
    assert names(tmp_path) == ["older-results-1", "older-results-2"]
    with staging(tmp_path / "new") as place:
        assert place.withdraw_older() is None


def test_a_full_disk_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)

    def write_to_it() -> None:
        with staging(tmp_path) as place:
            place.write("lay-01.dxf", b"half")

    with pytest.raises(OutputError, match="No space left on device; free some space"):
        write_to_it()
    assert names(tmp_path) == []


def test_a_folder_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(OutputError, match="a file stands in the way"):
        check_folder(tmp_path / "out")
    with pytest.raises(OutputError, match="a file stands in the way"):
        check_folder(tmp_path / "out" / "deeper")


def test_a_folder_made_for_nothing_goes_again(tmp_path: Path) -> None:
    check_folder(tmp_path / "a" / "b")
    assert names(tmp_path) == []
