"""One file written whole or not at all, and a table as the bytes of one."""

from __future__ import annotations

import json
import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

from cutfiles.errors import Finding, OutputError


def table_bytes(table: dict[str, Any]) -> bytes:
    """The table as JSON in UTF-8."""
    return (json.dumps(table, indent=2, ensure_ascii=False) + "\n").encode("utf-8")


def write_whole(path: Path, content: bytes) -> None:
    """Put a file in its place in one step: whoever reads it sees the old one or the new one.

    Raises
    ------
    OutputError
        If it cannot be written; the old file is as it was.
    """
    aside: Path | None = None
    try:
        target = path.resolve()
        number, name = tempfile.mkstemp(prefix=f".{target.name}-", dir=target.parent)
        aside = Path(name)
        with os.fdopen(number, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        aside.chmod(target.stat().st_mode & 0o777 if target.exists() else 0o644)
        aside.replace(target)
    except OSError as error:
        reason = error.strerror or str(error)
        text = f"{path}: cannot be written: {reason}; give a place that you may write to"
        raise OutputError([Finding("output", "error", text)]) from error
    finally:
        if aside is not None:
            with suppress(OSError):
                aside.unlink(missing_ok=True)
