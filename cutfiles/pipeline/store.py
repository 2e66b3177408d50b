"""Texts kept from run to run in a folder of the user's: lays, by the name of their problem."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Final

import platformdirs

FOLDER_VARIABLE: Final = "CUTFILES_KEPT_LAYS"
"""The environment variable that names another folder."""

_MOST: Final = 1000
"""So many are kept; the ones longest unused go first."""


class Store:
    """A folder of texts. What cannot be read or written is left alone: it only saves time."""

    def __init__(self, folder: Path | None = None) -> None:
        named = os.environ.get(FOLDER_VARIABLE)
        usual = Path(named) if named else platformdirs.user_cache_path("cutfiles") / "lays"
        self.folder = folder or usual

    def recall(self, key: str) -> str | None:
        """The text under a name; None if there is none."""
        path = self._path(key)
        try:
            text = path.read_text(encoding="utf-8")
        except (OSError, ValueError):
            return None
        with suppress(OSError):
            path.touch()
        return text

    def keep(self, key: str, text: str) -> None:
        """Keep a text whole or not at all."""
        with suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            with tempfile.NamedTemporaryFile(
                "w", encoding="utf-8", dir=self.folder, suffix=".part", delete=False
            ) as file:
                file.write(text)
            Path(file.name).replace(self._path(key))
            self._thin_out()

    def _path(self, key: str) -> Path:
        return self.folder / f"{key}.json"

    def _thin_out(self) -> None:
        kept = sorted(self.folder.glob("*.json"), key=lambda path: path.stat().st_mtime)
        for path in kept[:-_MOST]:
            path.unlink(missing_ok=True)
