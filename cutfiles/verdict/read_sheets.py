"""Reading ``sheets.json`` again: which sheets were printed of which lays."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from cutfiles.verdict.rows import FileName, Row, read_rows


class SheetsFile(Row):
    """The whole file: the fingerprint of the summary that was printed, and of every sheet."""

    format: Literal["cutfiles-sheets/1"]
    summary_sha256: str
    sha256: dict[FileName, str]


def read_sheets(path: Path) -> SheetsFile:
    """Read and check the list of a folder's sheets.

    Raises
    ------
    JobError
        If it cannot be read or is no such list; every fault at once.
    """
    return read_rows(path, SheetsFile, "sheets")
