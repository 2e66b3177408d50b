"""The names of what a run writes beside its drawings."""

from __future__ import annotations

from typing import Final

SUMMARY: Final = "summary.json"
PREVIEW: Final = "preview.html"
PICTURE: Final = ".png"
"""What the name of the picture of a lay ends in."""

PATTERN: Final = "pattern.json"
RULER_PLAN: Final = "ruler-plan.json"
SHEETS: Final = "sheets.json"
"""The files of a run that list the others: of `make`, of `draft`, of `ruler` and of `sheets`."""
