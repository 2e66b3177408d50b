"""Reading ``sheets.json`` again: which sheets were printed of which lays."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from pydantic import ValidationError

from cutfiles.errors import Finding, JobError
from cutfiles.verdict.paper_rows import FileName, Row


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
    try:
        return SheetsFile.model_validate_json(path.read_bytes())
    except OSError as error:
        raise JobError.of("unreadable", f"{path}: cannot be read: {error.strerror}") from error
    except ValidationError as error:
        raise JobError(
            Finding(
                "sheets",
                "error",
                f"{path}: {'.'.join(str(part) for part in item['loc']) or 'file'}: {item['msg']}",
            )
            for item in error.errors(include_url=False)
        ) from None
