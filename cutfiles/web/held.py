"""Files that a process holds as long as it lives, however it ends.

SQLite's lock on a database does it on every system: who dies lets go of it.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path


class Held:
    """A file held by this process until it is let go, or the process ends."""

    def __init__(self, path: Path, *, wait_s: float = 0.0) -> None:
        """Take hold of a file, which is made; so long it may be held by another first.

        Raises
        ------
        BlockingIOError
            If another process, or this one, holds it.
        sqlite3.Error
            If it cannot be opened or written.
        """
        self._base = sqlite3.connect(path, timeout=wait_s, isolation_level=None)
        try:
            self._base.execute("begin exclusive")
        except sqlite3.Error as error:
            self._base.close()
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY:
                raise
            raise BlockingIOError(str(error)) from None

    def let_go(self) -> None:
        """Let others take hold of it."""
        self._base.close()


def is_held(path: Path) -> bool:
    """Whether some process holds a file."""
    if not path.is_file():
        return False
    try:
        Held(path).let_go()
    except BlockingIOError:
        return True
    return False
